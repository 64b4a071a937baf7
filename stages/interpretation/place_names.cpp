#include "stages/interpretation/place_names.h"

#include <unicode/normalizer2.h>
#include <unicode/uchar.h>
#include <unicode/unistr.h>
#include <unicode/uscript.h>
#include <unicode/utf8.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <set>
#include <unordered_map>

#include "stages/interpretation/confusions.h"

namespace papillote::interpretation {
namespace {

// Letters that do not decompose into a plain letter and a mark (Unicode Latin-ASCII transliteration, the part
// that occurs in place names).
std::string_view plain_letters(UChar32 c) {
  switch (c) {
    case 0x00DF:
    case 0x1E9E:
      return "ss";
    case 0x00E6:
    case 0x00C6:
      return "ae";
    case 0x0153:
    case 0x0152:
      return "oe";
    case 0x00F8:
    case 0x00D8:
      return "o";
    case 0x0111:
    case 0x0110:
    case 0x00F0:
    case 0x00D0:
      return "d";
    case 0x0142:
    case 0x0141:
      return "l";
    case 0x0131:
      return "i";
    case 0x00FE:
    case 0x00DE:
      return "th";
    case 0x0127:
    case 0x0126:
      return "h";
    case 0x0167:
    case 0x0166:
      return "t";
    case 0x014B:
    case 0x014A:
      return "ng";
    case 0x0138:
      return "k";
    case 0x017F:
      return "s";
    case 0x0259:
    case 0x018F:
      return "a";
    case 0x0253:
    case 0x0181:
      return "b";
    case 0x0257:
    case 0x018A:
      return "d";
    case 0x0199:
    case 0x0198:
      return "k";
    case 0x01B4:
    case 0x01B3:
      return "y";
    case 0x025B:
    case 0x0190:
      return "e";
    case 0x0254:
    case 0x0186:
      return "o";
    case 0x0133:
    case 0x0132:
      return "ij";
    default:
      return {};
  }
}

bool is_apostrophe(UChar32 c) {
  return c == '\'' || c == '`' || c == 0x00B4 || c == 0x2018 || c == 0x2019 || c == 0x02BB || c == 0x02BC || c == 0x02B9 ||
         c == 0x02BE || c == 0x02BF;
}

// Appends the plain letters of one character; false when it is neither a letter nor a digit.
bool append_plain(UChar32 c, std::string& out) {
  if (c < 0x80) {
    if (!std::isalnum(static_cast<int>(c))) return false;
    out += static_cast<char>(std::tolower(static_cast<int>(c)));
    return true;
  }
  if (const auto plain = plain_letters(c); !plain.empty()) {
    out += plain;
    return true;
  }
  if (!u_isalnum(c)) return u_getCombiningClass(c) != 0;  // a mark belongs to its word
  static const icu::Normalizer2* const nfkd = [] {
    UErrorCode status = U_ZERO_ERROR;
    return icu::Normalizer2::getNFKDInstance(status);
  }();
  icu::UnicodeString parts;
  if (nfkd == nullptr || !nfkd->getDecomposition(c, parts)) return false;
  bool any = false;
  for (int32_t i = 0; i < parts.length(); i = parts.moveIndex32(i, 1)) {
    const UChar32 part = parts.char32At(i);
    if (part < 0x80 && std::isalnum(static_cast<int>(part))) {
      out += static_cast<char>(std::tolower(static_cast<int>(part)));
      any = true;
    } else if (const auto plain = plain_letters(part); !plain.empty()) {
      out += plain;
      any = true;
    }
  }
  return any;
}

struct Decoded {
  UChar32 c = -1;  // -1: not UTF-8
  std::size_t length = 1;
};

Decoded decode(std::string_view text, std::size_t at) {
  const auto rest = text.substr(at);
  // <U+00E5>
  if (rest.size() >= 8 && rest[0] == '<' && rest[1] == 'U' && rest[2] == '+' && rest[7] == '>') {
    UChar32 c = 0;
    for (std::size_t i = 3; i < 7; ++i) {
      const auto digit = static_cast<unsigned char>(rest[i]);
      if (!std::isxdigit(digit)) {
        c = -1;
        break;
      }
      c = c * 16 + (std::isdigit(digit) ? digit - '0' : std::tolower(digit) - 'a' + 10);
    }
    if (c > 0x7F) return {c, 8};
  }
  int32_t i = 0;
  UChar32 c;
  const auto* bytes = reinterpret_cast<const uint8_t*>(rest.data());
  const auto length = static_cast<int32_t>(std::min<std::size_t>(rest.size(), 4));
  U8_NEXT(bytes, i, length, c);
  return {c, static_cast<std::size_t>(std::max(i, 1))};
}

// One form for the words that names share. Only words whose shortening is safe in every language.
std::string_view common_form(std::string_view word) {
  static const std::unordered_map<std::string_view, std::string_view> forms{{"saint", "st"},
                                                                            {"sankt", "st"},
                                                                            {"sant", "san"},
                                                                            {"sainte", "ste"},
                                                                            {"santa", "sta"},
                                                                            {"santo", "sto"},
                                                                            {"mount", "mt"},
                                                                            {"mtn", "mts"},
                                                                            {"mtns", "mts"},
                                                                            {"mountain", "mts"},
                                                                            {"mountains", "mts"},
                                                                            {"fort", "ft"},
                                                                            {"island", "is"},
                                                                            {"islands", "is"},
                                                                            {"isle", "is"},
                                                                            {"isles", "is"},
                                                                            {"isl", "is"},
                                                                            {"isld", "is"},
                                                                            {"isds", "is"},
                                                                            {"ins", "is"},
                                                                            {"insel", "is"},
                                                                            {"inseln", "is"},
                                                                            {"eiland", "is"},
                                                                            {"eilanden", "is"},
                                                                            {"isla", "is"},
                                                                            {"islas", "is"},
                                                                            {"ilha", "is"},
                                                                            {"ilhas", "is"},
                                                                            {"ile", "is"},
                                                                            {"iles", "is"},
                                                                            {"isola", "is"},
                                                                            {"isole", "is"},
                                                                            {"pulau", "is"},
                                                                            {"pulo", "is"},
                                                                            {"riv", "river"},
                                                                            {"county", "co"},
                                                                            {"cty", "co"},
                                                                            {"counties", "co"},
                                                                            {"cos", "co"},
                                                                            {"district", "distr"},
                                                                            {"dist", "distr"},
                                                                            {"distrito", "distr"},
                                                                            {"distretto", "distr"},
                                                                            {"distrikt", "distr"},
                                                                            {"province", "prov"},
                                                                            {"provincia", "prov"},
                                                                            {"provinz", "prov"},
                                                                            {"provincie", "prov"},
                                                                            {"department", "dept"},
                                                                            {"departamento", "dept"},
                                                                            {"departement", "dept"},
                                                                            {"depto", "dept"},
                                                                            {"dep", "dept"},
                                                                            {"municipality", "mpio"},
                                                                            {"municipio", "mpio"},
                                                                            {"mun", "mpio"},
                                                                            {"point", "pt"},
                                                                            {"pto", "puerto"},
                                                                            {"hacienda", "hda"},
                                                                            {"hac", "hda"},
                                                                            {"kampong", "kp"},
                                                                            {"kampung", "kp"},
                                                                            {"lk", "lake"},
                                                                            {"crk", "creek"},
                                                                            {"cyn", "canyon"},
                                                                            {"canon", "canyon"},
                                                                            {"vly", "valley"},
                                                                            {"north", "n"},
                                                                            {"nord", "n"},
                                                                            {"norte", "n"},
                                                                            {"south", "s"},
                                                                            {"sud", "s"},
                                                                            {"sur", "s"},
                                                                            {"east", "e"},
                                                                            {"west", "w"},
                                                                            {"british", "brit"},
                                                                            {"br", "brit"},
                                                                            {"national", "natl"},
                                                                            {"nat", "natl"},
                                                                            {"nac", "natl"},
                                                                            {"nacional", "natl"},
                                                                            {"gebirge", "mts"},
                                                                            {"geb", "mts"},
                                                                            {"archipelago", "arch"},
                                                                            {"archipel", "arch"},
                                                                            {"republic", "rep"},
                                                                            {"republik", "rep"},
                                                                            {"territory", "terr"},
                                                                            {"spgs", "springs"},
                                                                            {"spr", "springs"},
                                                                            {"sprs", "springs"},
                                                                            {"stn", "station"},
                                                                            {"sn", "san"},
                                                                            {"heights", "hts"},
                                                                            {"bch", "beach"},
                                                                            {"hbr", "harbor"},
                                                                            {"harbour", "harbor"},
                                                                            {"center", "centre"},
                                                                            {"ctr", "centre"}};
  const auto found = forms.find(word);
  return found == forms.end() ? word : found->second;
}

}  // namespace

bool is_latin(std::string_view utf8) {
  for (std::size_t at = 0; at < utf8.size();) {
    const auto [c, length] = decode(utf8, at);
    at += length;
    if (c < 0x80) continue;
    UErrorCode status = U_ZERO_ERROR;
    const auto script = uscript_getScript(c, &status);
    if (u_isalpha(c) && script != USCRIPT_LATIN && script != USCRIPT_COMMON && script != USCRIPT_INHERITED) return false;
  }
  return true;
}

std::vector<NameWord> words_of(std::string_view text) {
  std::vector<NameWord> words;
  NameWord word;
  bool open = false;
  int gap = 3;
  std::size_t letters = 0, capitals = 0;
  bool stop_pending = false;  // a full stop stands since the last word
  const auto close = [&](std::size_t end) {
    if (!open) return;
    open = false;
    word.end = end;
    if (word.letters.empty()) return;
    word.upper = letters > 0 && capitals == letters;
    word.number = letters == 0;
    word.key = common_form(word.letters);
    words.push_back(word);
    gap = 0;
    stop_pending = false;
  };
  for (std::size_t at = 0; at < text.size();) {
    const auto [c, length] = decode(text, at);
    const std::size_t next = at + length;
    std::string plain;
    const bool part_of_word = c >= 0 && append_plain(c, plain);
    if (part_of_word) {
      const bool digit = u_isdigit(c);
      // "3kmW" is a number and a word; a decimal sign keeps a number together (below)
      if (open && !word.letters.empty() && (std::isalpha(static_cast<unsigned char>(word.letters.back())) == 0) != digit &&
          !plain.empty())
        close(at);
      if (!open) {
        if (plain.empty()) {
          at = next;
          continue;
        }
        word = NameWord{};
        word.begin = at;
        letters = capitals = 0;
        open = true;
        if (stop_pending && !words.empty()) {
          // a full stop ends a sentence only after a long word that no name shortens
          const auto& before = words.back();
          const bool abbreviation = before.letters.size() <= 4 || before.key != before.letters || before.number;
          gap = std::max(gap, abbreviation ? 1 : 3);
        }
        word.gap = gap;
        word.capital = u_isupper(c) || u_istitle(c);
      }
      if (!digit && !plain.empty()) {
        ++letters;
        if (u_isupper(c)) ++capitals;
      }
      word.letters += plain;
      at = next;
      continue;
    }
    if (const std::string_view part = c == 0x00BD ? ".5" : c == 0x00BC ? ".25" : c == 0x00BE ? ".75" : ""; !part.empty()) {
      if (!open || letters > 0) {
        close(at);
        word = NameWord{};
        word.begin = at;
        word.gap = gap;
        word.letters = "0";
        letters = capitals = 0;
        open = true;
      }
      word.letters += part;
      at = next;
      close(at);
      continue;
    }
    const bool digit_before = open && !word.letters.empty() && std::isdigit(static_cast<unsigned char>(word.letters.back()));
    const bool digit_after = next < text.size() && std::isdigit(static_cast<unsigned char>(text[next]));
    if ((c == '.' || c == ',') && digit_before && digit_after) {  // 3.5 or 3,5
      word.letters += '.';
      at = next;
      continue;
    }
    if (c == '.' && !open && digit_after) {  // .25
      if (stop_pending) gap = std::max(gap, 1);
      word = NameWord{};
      word.begin = at;
      word.gap = gap;
      word.letters = "0.";
      letters = capitals = 0;
      open = true;
      at = next;
      continue;
    }
    if (is_apostrophe(c) && open) {
      at = next;
      continue;
    }
    close(at);
    if (c == '.') {
      if (!words.empty() && words.back().end == at) words.back().dotted = true;
      stop_pending = true;
    } else if (c == ',') {
      gap = std::max(gap, 2);
    } else if (c == ';' || c == ':' || c == '|' || c == '\n' || c == '\r' || c == '/' || c == '(' || c == ')' || c == '[' ||
               c == ']' || c == '=' || c == '"' || c == '+' || c == 0x2013 || c == 0x2014 || c < 0 ||
               (c == '-' && (at == 0 || text[at - 1] == ' '))) {
      gap = 3;
    }
    at = next;
  }
  close(text.size());
  return words;
}

std::string folded(std::string_view utf8) {
  std::string out;
  for (const auto& word : words_of(utf8)) {
    if (!out.empty()) out += ' ';
    out += word.letters;
  }
  return out;
}

std::string key_of(const NameWord* first, const NameWord* last) {
  std::string key;
  const NameWord* before = nullptr;
  for (const NameWord* word = first; word != last; ++word) {
    const bool initials = before != nullptr && before->letters.size() == 1 && word->letters.size() == 1;
    if (before != nullptr && !initials) key += ' ';
    key += word->key;
    before = word;
  }
  return key;
}

std::string name_key(std::string_view utf8) {
  const auto words = words_of(utf8);
  return key_of(words.data(), words.data() + words.size());
}

std::string without_kind_words(std::string_view key) {
  static const std::set<std::string_view> kinds{
      "prov",        "dept",         "distr",     "co",      "mpio",     "state",     "region",       "regione",
      "regiao",      "oblast",       "krai",      "kray",    "raion",    "rayon",     "parish",       "prefecture",
      "governorate", "kommun",       "kommune",   "lan",     "fylke",    "amt",       "landkreis",    "kreis",
      "kanton",      "canton",       "kabupaten", "kota",    "comarca",  "estado",    "estado libre", "comunidad",
      "autonomous",  "rep",          "republic",  "free",    "wilaya",   "terr",      "territory",    "zone",
      "division",    "borough",      "census",    "area",    "autonoma", "comunitat", "gobierno",     "regency",
      "city",        "metropolitan", "okres",     "kraj",    "judetul",  "powiat",    "wojewodztwo",  "voivodeship",
      "megye",       "maakunta",     "sysla",     "upazila", "town",     "shire"};
  static const std::set<std::string_view> links{"of", "de", "da", "do", "del", "di", "des", "du", "d", "la", "the", "den", "y"};
  std::vector<std::string_view> words;
  for (auto rest = key; !rest.empty();) {
    const auto end = rest.find(' ');
    words.push_back(rest.substr(0, end));
    rest = end == std::string_view::npos ? std::string_view{} : rest.substr(end + 1);
  }
  std::size_t first = 0, last = words.size();
  while (first < last && kinds.contains(words[first])) ++first;
  const bool led = first > 0;
  if (led && first < last && links.contains(words[first])) ++first;
  while (last > first + 1 && kinds.contains(words[last - 1])) --last;
  if (first >= last) return std::string{key};
  std::string out;
  for (std::size_t i = first; i < last; ++i) {
    if (!out.empty()) out += ' ';
    out += words[i];
  }
  return out;
}

std::string skeleton(std::string_view key) {
  std::string out;
  out.reserve(key.size());
  for (std::size_t i = 0; i < key.size(); ++i) {
    const char c = key[i];
    const char next = i + 1 < key.size() ? key[i + 1] : '\0';
    char plain = c;
    if (c == ' ') continue;
    if (c == 'r' && next == 'n') {
      plain = 'm';
      ++i;
    } else if (c == 'c' && next == 'l') {
      plain = 'd';
      ++i;
    } else if (c == 'v' && next == 'v') {
      plain = 'w';
      ++i;
    } else if (c == 'a' && next == 'e') {
      plain = 'a';
      ++i;
    } else if (c == 'o' && next == 'e') {
      plain = 'a';
      ++i;
    } else if (c == 'u' && next == 'e') {
      plain = 'n';
      ++i;
    } else {
      switch (c) {
        case 'u':
        case 'v':
          plain = 'n';
          break;
        case 'f':
          plain = 's';
          break;
        case 'l':
        case 'j':
        case '1':
        case 't':
        case 'y':
          plain = 'i';
          break;
        case 'o':
        case '0':
          plain = 'a';
          break;
        case 'e':
          plain = 'c';
          break;
        case 'q':
        case '9':
          plain = 'g';
          break;
        case 'h':
        case 'k':
          plain = 'b';
          break;
        case '5':
        case 'z':
          plain = 's';
          break;
        default:
          break;
      }
    }
    if (out.empty() || out.back() != plain) out += plain;
  }
  return out;
}

namespace {

// By pair of bytes: what the project's reader was seen to do.
const std::array<float, 256 * 256>& learnt_costs() {
  static const auto costs = [] {
    std::array<float, 256 * 256> all;
    all.fill(1);
    const auto at = [&](char a, char b) -> float& {
      return all[static_cast<unsigned char>(a) * 256U + static_cast<unsigned char>(b)];
    };
    for (const Confusion& confusion : learnt_confusions())
      if (confusion.one.size() == 1 && confusion.other.size() == 1)
        at(confusion.one[0], confusion.other[0]) = at(confusion.other[0], confusion.one[0]) =
            static_cast<float>(confusion.cost);
    return all;
  }();
  return costs;
}

// Pairs that look alike in old hands and in print seen dimly; common practice of transcribers.
double customary_cost(char a, char b) {
  static constexpr std::array<std::string_view, 24> alike{"un", "nu", "uv", "vu", "ce", "ec", "ao", "oa",
                                                          "il", "li", "fs", "sf", "ij", "ji", "tl", "lt",
                                                          "hb", "bh", "hk", "kh", "gq", "qg", "iy", "yi"};
  for (const auto pair : alike)
    if (pair[0] == a && pair[1] == b) return 0.4;
  static constexpr std::string_view digits_as_letters = "0o1l1i5s8b9g6b2z";
  for (std::size_t i = 0; i + 1 < digits_as_letters.size(); i += 2)
    if ((digits_as_letters[i] == a && digits_as_letters[i + 1] == b) ||
        (digits_as_letters[i] == b && digits_as_letters[i + 1] == a))
      return 0.3;
  static constexpr std::string_view sounds = "ckkccssczssziiyyjiijvwwvpbdtgkouuo";
  for (std::size_t i = 0; i + 1 < sounds.size(); i += 2)
    if ((sounds[i] == a && sounds[i + 1] == b) || (sounds[i] == b && sounds[i + 1] == a)) return 0.6;
  if (a == ' ' || b == ' ') return 0.8;
  return 1;
}

// Cost of reading one letter for another: the less of what custom and the reader's own mistakes say.
double letter_cost(char a, char b) {
  if (a == b) return 0;
  const double learnt =
      static_cast<double>(learnt_costs()[static_cast<unsigned char>(a) * 256U + static_cast<unsigned char>(b)]);
  return std::min(learnt, customary_cost(a, b));
}

struct Ligature {
  std::string_view two;
  char one;
  double cost;
};
constexpr std::array<Ligature, 12> kLigatures{{{"rn", 'm', 0.3},
                                               {"cl", 'd', 0.3},
                                               {"vv", 'w', 0.2},
                                               {"ii", 'u', 0.4},
                                               {"in", 'm', 0.4},
                                               {"ni", 'm', 0.4},
                                               {"ae", 'a', 0.1},
                                               {"oe", 'o', 0.1},
                                               {"ue", 'u', 0.1},
                                               {"aa", 'a', 0.1},
                                               {"oe", 'u', 0.3},
                                               {"ck", 'k', 0.2}}};

}  // namespace

double reading_distance(std::string_view a, std::string_view b, double most) {
  constexpr std::size_t kLongest = 64;
  if (a.size() > kLongest || b.size() > kLongest) return a == b ? 0 : most + 1;
  std::array<std::array<double, kLongest + 1>, 4> rows;
  const auto gap_cost = [](std::string_view text, std::size_t i) {
    if (text[i] == ' ') return 0.2;
    if (i > 0 && text[i] == text[i - 1]) return 0.3;  // a doubled letter
    if (text[i] == 'h') return 0.6;
    return 1.0;
  };
  rows[0][0] = 0;
  for (std::size_t j = 1; j <= b.size(); ++j) rows[0][j] = rows[0][j - 1] + gap_cost(b, j - 1);
  double before_least = 0;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    auto& row = rows[i % 4];
    const auto& up = rows[(i - 1) % 4];
    const auto& up2 = rows[(i + 2) % 4];
    row[0] = up[0] + gap_cost(a, i - 1);
    double least = row[0];
    for (std::size_t j = 1; j <= b.size(); ++j) {
      double best = up[j - 1] + letter_cost(a[i - 1], b[j - 1]);
      best = std::min(best, up[j] + gap_cost(a, i - 1));
      best = std::min(best, row[j - 1] + gap_cost(b, j - 1));
      if (i >= 2 && j >= 2 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) best = std::min(best, up2[j - 2] + 0.8);
      for (const auto& ligature : kLigatures) {
        if (i >= 2 && a[i - 2] == ligature.two[0] && a[i - 1] == ligature.two[1] && b[j - 1] == ligature.one)
          best = std::min(best, up2[j - 1] + ligature.cost);
        if (j >= 2 && b[j - 2] == ligature.two[0] && b[j - 1] == ligature.two[1] && a[i - 1] == ligature.one)
          best = std::min(best, up[j - 2] + ligature.cost);
      }
      row[j] = best;
      least = std::min(least, best);
    }
    if (least > most && before_least > most) return most + 1;
    before_least = least;
  }
  return rows[a.size() % 4][b.size()];
}

}  // namespace papillote::interpretation
