#include "stages/interpretation/people.h"

#include <algorithm>
#include <array>
#include <optional>
#include <span>

#include "stages/interpretation/months.h"
#include "stages/interpretation/words.h"

namespace papillote::interpretation {
namespace {

bool is_one_of(std::string_view word, std::span<const std::string_view> words) {
  return std::ranges::find(words, word) != words.end();
}

constexpr std::array kCollected =
    std::to_array<std::string_view>({"leg",       "legit",     "lgt",       "legerunt", "col",       "coll",   "collected",
                                     "collector", "collr",     "captured",  "capt",     "gesammelt", "gef",    "gefangen",
                                     "recolte",   "recolecto", "colectado", "coletado", "raccolto",  "samlet", "saml"});
constexpr std::array kDetermined =
    std::to_array<std::string_view>({"det", "determ", "determined", "determinavit", "ident", "identified", "bestimmt"});
constexpr std::array kGiven = std::to_array<std::string_view>(
    {"ded", "dedit", "don", "donavit", "dono", "presented", "pres", "gift", "geschenk", "donum"});
constexpr std::array kCollection =
    std::to_array<std::string_view>({"coll", "collection", "collectio", "sammlung", "slg", "samml", "colln", "museo", "mus"});
constexpr std::array kBetween =
    std::to_array<std::string_view>({"by", "von", "par", "por", "da", "de", "of", "et", "av", "d", "vom"});
constexpr std::array kParticles = std::to_array<std::string_view>(
    {"de",  "van", "von", "da", "la", "le",  "di",  "du", "der", "den", "ten", "ter", "dos", "das", "del", "della", "zu",
     "zur", "af",  "y",   "e",  "st", "and", "und", "et", "och", "og",  "d",   "l",   "jr",  "sen", "jun", "fils"});
constexpr std::size_t kMostNameWords = 10;

std::optional<Role> role_of(std::string_view word) {
  if (is_one_of(word, kCollected)) return Role::collector;
  if (is_one_of(word, kDetermined)) return Role::determiner;
  if (is_one_of(word, kGiven)) return Role::donor;
  return std::nullopt;
}

class Scanner {
 public:
  explicit Scanner(std::string_view text) : text_(text), words_(cut_words(text)) {}

  std::vector<PersonReading> read() {
    std::vector<PersonReading> people;
    std::size_t free_from = 0;  // words before it belong to a person already
    for (std::size_t i = 0; i < words_.size(); ++i) {
      if (words_[i].kind != Word::Kind::letters) continue;
      const auto& word = words_[i].folded;
      const bool ex = word == "ex" && i + 1 < words_.size();
      std::size_t key = i;
      std::optional<Role> role;
      if (ex) {
        std::size_t next = i + 1;
        if (is_sign(next, ".")) ++next;
        if (next < words_.size() && is_one_of(words_[next].folded, kCollection)) {
          role = Role::previous_collection;
          key = next;
        }
      } else {
        role = names_a_pass(i) ? std::nullopt : role_of(word);
        if (!role && is_one_of(word, kCollection) && word != "mus" && word != "museo" && capital(i))
          role = Role::previous_collection;
      }
      if (!role) continue;
      auto person = beside(i, key, *role, free_from);
      if (!person) continue;
      free_from = last_word_;
      i = std::max(i, last_word_ - 1);
      people.push_back(std::move(*person));
    }
    return people;
  }

 private:
  bool is_sign(std::size_t i, std::string_view sign) const {
    return i < words_.size() && words_[i].kind == Word::Kind::sign && words_[i].folded == sign;
  }
  bool capital(std::size_t i) const {
    const auto as_written = text_.substr(words_[i].begin, words_[i].end - words_[i].begin);
    return as_written != words_[i].folded && fold(as_written.substr(0, 1)) != as_written.substr(0, 1);
  }
  // Letters beyond ASCII count as capital when folding changes more than an accent would need: good enough for "Ö".
  bool starts_name(std::size_t i) const { return capital(i) || static_cast<unsigned char>(text_[words_[i].begin]) >= 0x80; }
  bool new_line(std::size_t left, std::size_t right) const {
    return text_.substr(words_[left].end, words_[right].begin - words_[left].end).find('\n') != std::string_view::npos;
  }

  // "Col de Balme", "Col du Galibier": a mountain pass, where "Col." would be a collector.
  bool names_a_pass(std::size_t i) const {
    static constexpr std::array kOf = std::to_array<std::string_view>({"de", "du", "des", "d"});
    return words_[i].folded == "col" && i + 1 < words_.size() && words_[i + 1].kind == Word::Kind::letters && !starts_name(i + 1) &&
           is_one_of(words_[i + 1].folded, kOf);
  }

  // A month that begins a date is no name: "leg. Smith VII.1909".
  bool begins_date(std::size_t i) const {
    const auto next = i + 1 < words_.size() && words_[i + 1].kind == Word::Kind::sign ? i + 2 : i + 1;
    const bool number = next < words_.size() && words_[next].kind == Word::Kind::digits;
    return number && (roman_numeral(words_[i].folded) || month_named(words_[i].folded));
  }

  bool part_of_name(std::size_t i) const {
    const Word& word = words_[i];
    if (word.kind == Word::Kind::letters) {
      if (role_of(word.folded) && word.folded != "don") return false;
      if (word.folded == "ex" || begins_date(i)) return false;
      return starts_name(i) || is_one_of(word.folded, kParticles);
    }
    return word.kind == Word::Kind::sign && (word.folded == "." || word.folded == "&" || word.folded == "-" ||
                                             word.folded == "'" || word.folded == "’" || word.folded == "+");
  }

  // A real name has a word of two letters with a capital, or two initials.
  bool is_name(std::size_t first, std::size_t end) const {
    std::size_t initials = 0;
    for (std::size_t i = first; i < end; ++i) {
      if (words_[i].kind != Word::Kind::letters || !starts_name(i)) continue;
      if (words_[i].end - words_[i].begin > 2) return true;
      ++initials;
    }
    return initials >= 2;
  }

  std::optional<PersonReading> beside(std::size_t first, std::size_t key, Role role, std::size_t free_from) {
    const auto& keyword = words_[key].folded;
    // After the word.
    std::size_t begin = key + 1;
    while (
        begin < words_.size() &&
        (is_sign(begin, ".") || is_sign(begin, ":") || is_sign(begin, ",") ||
         (words_[begin].kind == Word::Kind::letters && !starts_name(begin) && is_one_of(words_[begin].folded, kBetween)) ||
         (words_[begin].kind == Word::Kind::letters && role_of(words_[begin].folded) == Role::determiner && begin > key + 1))) {
      ++begin;
    }
    std::size_t end = begin;
    while (end < words_.size() && end - begin < kMostNameWords * 2 && part_of_name(end) &&
           (end == begin || !new_line(end - 1, end)))
      ++end;
    end = trim(begin, end);
    PersonReading person;
    person.role = role;
    person.confidence = 0.9;
    // "C. Ribbe leg. Celebes": a name with initials before the word, and none after it.
    const bool name_before =
        first > free_from && role != Role::previous_collection && role != Role::donor && initials_before(first, free_from) &&
        std::none_of(words_.begin() + static_cast<std::ptrdiff_t>(begin),
                     words_.begin() + static_cast<std::ptrdiff_t>(std::max(begin, end)),
                     [](const Word& word) { return word.kind == Word::Kind::letters && word.end - word.begin == 1; });
    if (end > begin && is_name(begin, end) && !name_before) {
      if (keyword == "coll" && role == Role::collector) {
        // "coll. Meyer" names a collector or a collection.
        person.confidence = 0.6;
        person.reasons.push_back("Coll. before a name may stand for the collector or for the collection.");
      }
      finish(words_[first].begin, begin, end, words_[end - 1].end, person);
      last_word_ = end;
      return person;
    }
    if (role == Role::previous_collection || role == Role::donor) return std::nullopt;
    // Before the word: "H. Smith leg."
    std::size_t start = first;
    while (start > free_from && first - start < kMostNameWords * 2 && part_of_name(start - 1) &&
           (start == first || !new_line(start - 1, start)))
      --start;
    while (start < first && (words_[start].kind == Word::Kind::sign || !starts_name(start))) ++start;
    // What stands before a full stop after a whole word is another statement: "Mt. Kenya. H. Smith leg."
    for (std::size_t i = start; i + 1 < first; ++i) {
      const bool stop = is_sign(i, ".") && i > start && words_[i - 1].end - words_[i - 1].begin > 4;
      if (stop) start = i + 1;
    }
    std::size_t stop = first;
    while (stop > start && words_[stop - 1].kind == Word::Kind::sign && words_[stop - 1].folded != ".") --stop;
    if (stop <= start || !is_name(start, stop)) return std::nullopt;
    person.confidence = 0.7;
    person.reasons.push_back("The name stands before the word, where its beginning is not marked.");
    std::size_t closing = words_[key].end;
    if (is_sign(key + 1, ".")) closing = words_[key + 1].end;
    finish(words_[start].begin, start, stop, closing, person);
    last_word_ = key + 1;
    return person;
  }

  bool initials_before(std::size_t first, std::size_t free_from) const {
    std::size_t at = first;
    if (at > free_from && words_[at - 1].kind == Word::Kind::letters && starts_name(at - 1) &&
        words_[at - 1].end - words_[at - 1].begin > 1 && !new_line(at - 1, at)) {
      --at;
    }
    return at < first && at >= free_from + 2 && is_sign(at - 1, ".") && words_[at - 2].kind == Word::Kind::letters &&
           words_[at - 2].end - words_[at - 2].begin == 1 && starts_name(at - 2);
  }

  std::size_t trim(std::size_t begin, std::size_t end) const {
    const auto dangling = [&](std::size_t i) {
      if (words_[i].kind == Word::Kind::sign)
        return words_[i].folded != "." || i == begin || words_[i - 1].kind != Word::Kind::letters ||
               words_[i - 1].end - words_[i - 1].begin > 3;
      return !starts_name(i) && words_[i].folded != "jr" && words_[i].folded != "sen" && words_[i].folded != "jun" &&
             words_[i].folded != "fils";
    };
    while (end > begin && dangling(end - 1)) --end;
    return end;
  }

  void finish(std::size_t begin_byte, std::size_t first, std::size_t end, std::size_t end_byte, PersonReading& person) const {
    person.name = std::string(text_.substr(words_[first].begin, words_[end - 1].end - words_[first].begin));
    person.begin = begin_byte;
    person.end = end_byte;
    person.verbatim = std::string(text_.substr(person.begin, person.end - person.begin));
  }

  std::string_view text_;
  std::vector<Word> words_;
  std::size_t last_word_ = 0;
};

}  // namespace

std::vector<PersonReading> read_people(std::string_view text) { return Scanner(text).read(); }

}  // namespace papillote::interpretation
