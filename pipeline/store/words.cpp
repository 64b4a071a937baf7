#include "pipeline/store/words.h"

#include <fmt/format.h>
#include <unicode/translit.h>
#include <unicode/uchar.h>
#include <unicode/unistr.h>

#include <algorithm>
#include <array>
#include <memory>
#include <stdexcept>

namespace papillote::store {
namespace {

constexpr std::size_t kLongestWord = 32;

bool is_ascii(std::string_view text) {
  return std::all_of(text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < 0x80; });
}

void lower_ascii(std::string& text) {
  for (char& c : text)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
}

const icu::Transliterator& folding() {
  thread_local const std::unique_ptr<icu::Transliterator> made = [] {
    UErrorCode status = U_ZERO_ERROR;
    std::unique_ptr<icu::Transliterator> t(icu::Transliterator::createInstance(
        "NFKD; [:Nonspacing Mark:] Remove; Any-Latin; NFKD; [:Nonspacing Mark:] Remove; Latin-ASCII; Lower", UTRANS_FORWARD,
        status));
    if (U_FAILURE(status) || !t) throw std::runtime_error("ICU cannot fold text: is its data installed?");
    return t;
  }();
  return *made;
}

struct Character {
  UChar32 point = 0;
  std::size_t bytes = 1;
};
// Of a folded text, which is sound UTF-8: where it is more than ASCII, ICU wrote it.
Character character_at(std::string_view text, std::size_t at) {
  const auto lead = static_cast<unsigned char>(text[at]);
  if (lead < 0x80) return {lead, 1};
  const std::size_t bytes = std::min<std::size_t>(lead < 0xE0 ? 2 : lead < 0xF0 ? 3 : 4, text.size() - at);
  UChar32 point = lead & (0xFF >> (bytes + 1));
  for (std::size_t i = 1; i < bytes; ++i) point = (point << 6) | (static_cast<unsigned char>(text[at + i]) & 0x3F);
  return {point, bytes};
}

// What the tokenizer of the search index takes for part of a word: letters, numbers and private use of Unicode 6.1 (SQLite's
// documentation of FTS5, unicode61). A word that it would cut would be asked for as a phrase, which the index does not keep.
bool is_of_a_word(UChar32 c) {
  if (c < 0x80) return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9');
  if ((U_GET_GC_MASK(c) & (U_GC_L_MASK | U_GC_N_MASK | U_GC_CO_MASK)) == 0) return false;
  // Marks then, letters since: vowel signs of New Tai Lue, and two Vedic signs.
  if ((c >= 0x19B0 && c <= 0x19C0) || c == 0x19C8 || c == 0x19C9 || c == 0x1CF2 || c == 0x1CF3) return false;
  UVersionInfo since;
  u_charAge(c, since);
  return since[0] < 6 || (since[0] == 6 && since[1] <= 1);
}

// One letter for all that a hand or a reader confuses with it.
char look_alike(char c) {
  switch (c) {
    case 'l':
    case 'j':
    case '1':
    case 't':
      return 'i';
    case 'u':
    case 'v':
      return 'n';
    case 'o':
    case '0':
      return 'a';
    case 'e':
      return 'c';
    case '5':
      return 's';
    case 'q':
    case '9':
      return 'g';
    default:
      return c;
  }
}

std::string letter_skeleton(std::string_view word) {
  std::string out(word);
  for (char& c : out) c = look_alike(c);
  return out;
}

// Pairs that read as one letter too.
std::string skeleton(std::string_view word) {
  static constexpr std::array<std::pair<std::string_view, char>, 5> pairs{
      {{"rn", 'm'}, {"nn", 'm'}, {"vv", 'w'}, {"cl", 'd'}, {"ii", 'n'}}};
  std::string out;
  for (std::size_t i = 0; i < word.size(); ++i) {
    const auto pair = std::find_if(pairs.begin(), pairs.end(), [&](const auto& p) { return word.substr(i, 2) == p.first; });
    if (pair != pairs.end()) {
      out += pair->second;
      ++i;
    } else {
      out += look_alike(word[i]);
    }
  }
  return out;
}

// FNV-1a; 40 bits keep the rows short.
std::int64_t hash_of(std::string_view text) {
  std::uint64_t hash = 14695981039346656037ULL;
  for (const char c : text) {
    hash ^= static_cast<unsigned char>(c);
    hash *= 1099511628211ULL;
  }
  return static_cast<std::int64_t>(hash >> 24);
}

}  // namespace

std::string folded(std::string_view text) {
  std::string out;
  if (is_ascii(text)) {
    out = text;
  } else {
    icu::UnicodeString wide = icu::UnicodeString::fromUTF8(icu::StringPiece(text.data(), static_cast<int>(text.size())));
    folding().transliterate(wide);
    wide.toUTF8String(out);
  }
  lower_ascii(out);
  return out;
}

std::vector<std::string> words_of(std::string_view folded_text) {
  std::vector<std::string> words;
  std::size_t begin = 0;  // of the word that is going on
  std::size_t i = 0;
  const auto end_word = [&] {
    if (i > begin) words.emplace_back(folded_text.substr(begin, i - begin));
  };
  while (i < folded_text.size()) {
    const Character next = character_at(folded_text, i);
    if (!is_of_a_word(next.point)) {
      end_word();
      begin = i + next.bytes;
    }
    i += next.bytes;
  }
  end_word();
  return words;
}

std::vector<std::int64_t> traces_of(std::string_view word) {
  std::vector<std::int64_t> traces;
  const auto leave = [&](const std::string& bones) {
    traces.push_back(hash_of(bones));
    for (std::size_t i = 0; i < bones.size(); ++i) traces.push_back(hash_of(bones.substr(0, i) + bones.substr(i + 1)));
  };
  word = word.substr(0, kLongestWord);
  leave(letter_skeleton(word));
  // One letter changed can make or break a pair: both forms are needed.
  if (std::string bones = skeleton(word); bones.size() != word.size()) leave(bones);
  std::sort(traces.begin(), traces.end());
  traces.erase(std::unique(traces.begin(), traces.end()), traces.end());
  return traces;
}

double misreading(std::string_view a, std::string_view b, double most) {
  if (a.size() > kLongestWord || b.size() > kLongestWord) return a == b ? 0 : most + 1;
  const auto longer = std::max(a.size(), b.size());
  const auto shorter = std::min(a.size(), b.size());
  if (static_cast<double>(longer - shorter) > most + 0.5) return most + 1;
  // Rows of the edit table: two back for exchanged neighbours and for pairs that read as one letter.
  std::array<std::array<double, kLongestWord + 1>, 3> rows{};
  for (std::size_t j = 0; j <= b.size(); ++j) rows[0][j] = static_cast<double>(j);
  for (std::size_t i = 1; i <= a.size(); ++i) {
    auto& row = rows[i % 3];
    const auto& above = rows[(i + 2) % 3];
    const auto& above2 = rows[(i + 1) % 3];
    row[0] = static_cast<double>(i);
    double least = row[0];
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const char x = a[i - 1];
      const char y = b[j - 1];
      const double exchange = x == y ? 0 : look_alike(x) == look_alike(y) ? 0.5 : 1;
      double best = std::min({above[j - 1] + exchange, above[j] + 1, row[j - 1] + 1});
      if (i > 1 && j > 1 && x == b[j - 2] && a[i - 2] == y) best = std::min(best, above2[j - 2] + 1);
      if (i > 1 && skeleton(a.substr(i - 2, 2)) == std::string_view(&y, 1)) best = std::min(best, above2[j - 1] + 0.5);
      if (j > 1 && skeleton(b.substr(j - 2, 2)) == std::string_view(&x, 1)) best = std::min(best, above[j - 2] + 0.5);
      row[j] = best;
      least = std::min(least, best);
    }
    if (least > most + 1) return most + 1;
  }
  return rows[a.size() % 3][b.size()];
}

double near_enough(std::size_t letters) { return letters <= 4 ? 1 : letters <= 8 ? 2 : 3; }

bool is_word(std::string_view word) {
  return word.size() >= 3 && std::any_of(word.begin(), word.end(), [](char c) { return c < '0' || c > '9'; });
}

std::string natural_key(std::string_view text) {
  std::string key;
  std::size_t i = 0;
  while (i < text.size()) {
    if (text[i] < '0' || text[i] > '9') {
      key += text[i++];
      continue;
    }
    const std::size_t begin = i;
    while (i < text.size() && text[i] >= '0' && text[i] <= '9') ++i;
    const std::string_view digits = text.substr(begin, i - begin);
    const std::string_view number = digits.substr(std::min(digits.find_first_not_of('0'), digits.size() - 1));
    key += fmt::format("{:0>8}", number);
  }
  return key;
}

}  // namespace papillote::store
