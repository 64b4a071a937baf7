#include "stages/interpretation/elevations.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <span>

#include "stages/interpretation/words.h"

namespace papillote::interpretation {
namespace {

constexpr double kMetresPerEnglishFoot = 0.3048;
constexpr double kHighest_m = 8900, kLowest_m = -450;  // the ground of the earth, rounded outwards

enum class Unit { none, metre, foot, foreign_foot };

double metres_per(Unit unit) { return unit == Unit::metre ? 1 : kMetresPerEnglishFoot; }

// Local feet that a foreign word may mean, beside the English one (from memory, six digits).
struct LocalFoot {
  std::string_view word;
  std::string_view name;
  double metres;
};
constexpr LocalFoot kLocalFeet[] = {
    {"fuss", "Vienna foot", 0.316081}, {"fus", "Vienna foot", 0.316081},    {"pied", "Paris foot", 0.324839},
    {"pieds", "Paris foot", 0.324839}, {"pie", "Castilian foot", 0.278635}, {"pies", "Castilian foot", 0.278635},
    {"piedi", "Paris foot", 0.324839}, {"pes", "Portuguese foot", 0.33},    {"voet", "Rhineland foot", 0.313947},
    {"fot", "Swedish foot", 0.296904}, {"fod", "Danish foot", 0.313853},
};

constexpr std::array kMetreWords = std::to_array<std::string_view>(
    {"m",     "mt",     "mts",  "mtr",  "mtrs", "met",  "metr", "meter", "meters", "metern", "metre", "metres", "metri",
     "metro", "metros", "metr", "mets", "msnm", "masl", "msm",  "mslm",  "moh",    "moeh",   "mum",   "м",      "метров"});
constexpr std::array kFootWords = std::to_array<std::string_view>({"ft", "fts", "feet", "foot", "футов"});
constexpr std::array kElevationWords =
    std::to_array<std::string_view>({"alt",       "altit", "altitude", "altitud", "altitudine", "elev",  "elevation", "el",
                                     "elevacion", "hohe",  "hoehe",    "seehohe", "meereshohe", "h",     "hauteur",   "ht",
                                     "height",    "quota", "hoogte",   "hojd",    "hojde",      "hoyde", "at",        "asl"});
constexpr std::array kAboutWords = std::to_array<std::string_view>(
    {"ca",    "c",    "circa", "about", "abt",    "approx", "approximately", "env",  "environ",  "etwa",  "cerca", "over",
     "above", "uber", "bei",   "to",    "around", "cca",    "between",       "from", "zwischen", "entre", "tra",   "de"});
constexpr std::array kToWords =
    std::to_array<std::string_view>({"to", "bis", "a", "al", "tot", "till", "til", "and", "und", "et", "y", "e"});
constexpr std::array kDirections = std::to_array<std::string_view>(
    {"n",     "s",    "e",     "w",         "ne",        "nw",        "se",        "sw",        "o",   "no",  "so",
     "nno",   "sso",  "nne",   "nnw",       "sse",       "ssw",       "ene",       "ese",       "wnw", "wsw", "north",
     "south", "east", "west",  "northeast", "northwest", "southeast", "southwest", "nord",      "sud", "ost", "norte",
     "sur",   "este", "oeste", "from",      "off",       "inland",    "upstream",  "downstream"});
constexpr std::array kDepthWords =
    std::to_array<std::string_view>({"depth", "deep", "tiefe", "profondeur", "profundidad", "dist", "distance"});
constexpr std::array kNotElevation = std::to_array<std::string_view>(
    {"deep",  "depth", "tief",     "tiefe",    "profondeur", "profundidad", "wide", "long", "apart",
     "breit", "lang",  "diameter", "diam",     "below",      "above",       "over", "high", "hoch",
     "tall",  "from",  "off",      "wingspan", "distant",    "away",        "ab"});

bool is_one_of(std::string_view word, std::span<const std::string_view> words) {
  return std::ranges::find(words, word) != words.end();
}

const LocalFoot* local_foot(std::string_view word) {
  const auto found = std::ranges::find(kLocalFeet, word, &LocalFoot::word);
  return found == std::end(kLocalFeet) ? nullptr : found;
}

struct Number {
  double value = 0;
  std::size_t first = 0, last = 0;  // words
  int digits = 0;
  bool noisy = false;
};

struct Found {
  std::size_t begin = 0, end = 0;
  Number low, high;
  bool range = false, mark_only = false, plus_minus = false, limit = false;
  Unit unit = Unit::none;
  const LocalFoot* foot = nullptr;
  bool named = false;  // an elevation word stands before, or a sea level after
  bool below_sea = false;
  bool unit_first = false;  // "m. 1500"
  bool refused = false;     // a depth, or one side of something
  bool heading_follows = false;
  double score = 0;
};

class Scanner {
 public:
  explicit Scanner(std::string_view text) : text_(text), words_(cut_words(text)) {}

  ElevationReading read() {
    ElevationReading reading;
    std::optional<Found> best;
    for (std::size_t i = 0; i < words_.size(); ++i) {
      if (words_[i].kind != Word::Kind::digits) continue;
      if (i > 0 && words_[i - 1].kind == Word::Kind::letters && words_[i - 1].end == words_[i].begin &&
          !glued_prefix(words_[i - 1].folded)) {
        i = skip_number(i);
        continue;
      }
      const auto found = found_at(i);
      if (!found) {
        i = number_at(i).last;
        continue;
      }
      if (!best || found->score > best->score) best = found;
      i = std::max(i, found->high.last);
    }
    if (best && best->unit != Unit::none) {
      write(*best, reading);
      return reading;
    }
    if (sea_level(reading)) return reading;
    if (best) {
      set_span(best->begin, best->end, reading);
      reading.reasons.push_back("The unit is not stated.");
      return reading;
    }
    reading.reasons.push_back("No elevation was found.");
    return reading;
  }

 private:
  static bool glued_prefix(std::string_view word) {
    return word == "c" || word == "ca" || word == "alt" || word == "h" || word == "elev";
  }

  std::size_t skip_number(std::size_t i) const { return number_at(i).last; }

  bool touches(std::size_t left, std::size_t right) const { return words_[left].end == words_[right].begin; }
  bool is_sign(std::size_t i, std::string_view sign) const {
    return i < words_.size() && words_[i].kind == Word::Kind::sign && words_[i].folded == sign;
  }
  bool is_digits(std::size_t i) const { return i < words_.size() && words_[i].kind == Word::Kind::digits; }
  bool is_letters(std::size_t i) const { return i < words_.size() && words_[i].kind == Word::Kind::letters; }

  static double value_of(std::string_view digits) {
    double value = 0;
    std::from_chars(digits.data(), digits.data() + digits.size(), value);
    return value;
  }

  // "2.300", "1,200", "2'300" and "1 200" are thousands; "12.5" is a decimal.
  Number number_at(std::size_t i) const {
    constexpr std::size_t kMostDigits = 6;
    constexpr double kMostThousands = 29;  // in feet
    Number number{.value = 0, .first = i, .last = i, .digits = static_cast<int>(words_[i].folded.size())};
    if (words_[i].folded.size() > kMostDigits) {
      number.value = 1e9;
      return number;
    }
    number.value = value_of(words_[i].folded);
    const bool lead = words_[i].folded.size() <= 2 && words_[i].folded.front() != '0';
    if (lead && i + 2 < words_.size() && is_digits(i + 2) && words_[i + 2].folded.size() == 3 && touches(i, i + 1) &&
        touches(i + 1, i + 2) && (is_sign(i + 1, ".") || is_sign(i + 1, ",") || is_sign(i + 1, "'") || is_sign(i + 1, "’"))) {
      number.value = number.value * 1000 + value_of(words_[i + 2].folded);
      number.last = i + 2;
      number.digits += 3;
    } else if (lead && number.value <= kMostThousands && (i == 0 || !touches(i - 1, i)) && is_digits(i + 1) &&
               words_[i + 1].folded.size() == 3 && words_[i + 1].begin - words_[i].end == 1 && unit_at(i + 2) != Unit::none) {
      number.value = number.value * 1000 + value_of(words_[i + 1].folded);
      number.last = i + 1;
      number.digits += 3;
    } else if (i + 2 < words_.size() && is_digits(i + 2) && touches(i, i + 1) && touches(i + 1, i + 2) &&
               (is_sign(i + 1, ".") || is_sign(i + 1, ",")) && words_[i + 2].folded.size() <= kMostDigits) {
      number.value += value_of(words_[i + 2].folded) / std::pow(10.0, static_cast<double>(words_[i + 2].folded.size()));
      number.last = i + 2;
    }
    return number;
  }

  Unit unit_at(std::size_t i) const {
    if (i >= words_.size()) return Unit::none;
    if (words_[i].kind == Word::Kind::letters) {
      if (is_one_of(words_[i].folded, kMetreWords)) return Unit::metre;
      if (is_one_of(words_[i].folded, kFootWords)) return Unit::foot;
      if (local_foot(words_[i].folded)) return Unit::foreign_foot;
      return Unit::none;
    }
    const auto& sign = words_[i].folded;
    return sign == "'" || sign == "′" || sign == "’" || sign == "´" || sign == "`" ? Unit::foot : Unit::none;
  }

  bool is_to(std::size_t i) const {
    if (i >= words_.size()) return false;
    const auto& word = words_[i].folded;
    if (words_[i].kind == Word::Kind::letters) return is_one_of(word, kToWords);
    return word == "-" || word == "–" || word == "—" || word == "−" || word == "/" || word == "‐" || word == "÷";
  }

  // The number after "±" or "+/-"; 0 = there is none.
  std::size_t after_plus_minus(std::size_t at) const {
    if (is_sign(at, "±") && is_digits(at + 1)) return at + 1;
    return is_sign(at, "+") && is_sign(at + 1, "/") && is_sign(at + 2, "-") && is_digits(at + 3) ? at + 3 : 0;
  }

  std::optional<Found> found_at(std::size_t i) const {
    Found found;
    found.low = number_at(i);
    found.high = found.low;
    std::size_t at = found.low.last + 1;
    Unit low_unit = Unit::none;
    if (unit_at(at) != Unit::none && is_to(at + 1) && is_digits(at + 2)) low_unit = unit_at(at);  // "300m-600m"
    if (low_unit == Unit::none && unit_at(at) != Unit::none && is_sign(at + 1, ".") && is_to(at + 2) && is_digits(at + 3)) {
      low_unit = unit_at(at);
      ++at;
    }
    const std::size_t to_at = low_unit == Unit::none ? at : at + 1;
    if (is_to(to_at) && is_digits(to_at + 1) && words_[to_at + 1].begin - words_[to_at - 1].end <= 6) {
      const Number high = number_at(to_at + 1);
      const Unit unit = unit_at(high.last + 1);
      if (unit != Unit::none && (low_unit == Unit::none || low_unit == unit)) {
        found.high = high;
        found.range = true;
        at = high.last + 1;
      }
    }
    if (!found.range) at = found.low.last + 1;
    if (const std::size_t other = after_plus_minus(at); other > 0 && !found.range) {
      const Number spread = number_at(other);
      if (unit_at(spread.last + 1) != Unit::none && spread.value < found.low.value) {
        found.high = spread;
        found.high.value = found.low.value + spread.value;
        found.low.value -= spread.value;
        found.range = found.plus_minus = true;
        at = spread.last + 1;
      }
    }
    found.unit = unit_at(at);
    found.begin = words_[i].begin;
    found.end = words_[found.high.last].end;
    before(i, found);
    if (found.refused) return std::nullopt;
    if (found.unit == Unit::none && found.unit_first) {
      constexpr double kLeastWithoutName = 100, kFirstYear = 1700;
      const bool year = found.low.digits == 4 && found.low.value >= kFirstYear && found.low.value < kFirstYear + 330;
      if (!found.named && (found.low.value < kLeastWithoutName || year)) return std::nullopt;
      if (is_to(at) && is_digits(at + 1)) {
        found.high = number_at(at + 1);
        found.range = true;
        found.end = words_[found.high.last].end;
      }
      if (found.high.value > kHighest_m) return std::nullopt;
      found.unit = Unit::metre;
      found.score = found.named ? 14 : 6;
      return found;
    }
    if (found.unit == Unit::none) {
      if (!found.named || found.low.value > 9999) return std::nullopt;
      // "alt. 10 km" or "h 12.vii" names no height.
      if (is_letters(at) && touches(found.high.last, at)) return std::nullopt;
      found.score = 1;
      return found;
    }
    found.end = words_[at].end;
    if (words_[at].kind == Word::Kind::letters) found.foot = local_foot(words_[at].folded);
    found.mark_only = words_[at].kind == Word::Kind::sign;
    if (found.mark_only && !foot_mark(found, at)) return std::nullopt;
    if (capital_name(found, at) || !after(at, found)) return std::nullopt;
    const double metres = found.high.value * metres_per(found.unit);
    if (metres > kHighest_m * 1.1 || metres < 0) return std::nullopt;
    const bool small = metres < 10;
    found.score = 10 + (found.named ? 5 : 0) + (found.range ? 1 : 0) - (small ? 4 : 0) - (found.heading_follows ? 5 : 0);
    return found;
  }

  // "Mt. Kenya", "1983 MT" (a trap) and "1909 M. Smith" have no unit.
  bool capital_name(const Found& found, std::size_t at) const {
    const char initial = text_[words_[at].begin];
    if (initial != 'M' || found.named) return false;
    constexpr double kFirstYear = 1700, kLastYear = 2099;
    const auto& word = words_[at].folded;
    const bool year = found.low.digits == 4 && found.low.value >= kFirstYear && found.low.value <= kLastYear;
    return word == "mt" || (word == "mts" && text_[words_[at].begin + 1] == 't') ||
           (word == "m" && year && is_sign(at + 1, ".") && is_letters(at + 2));
  }

  // The mark of feet is also that of minutes of arc.
  bool foot_mark(const Found& found, std::size_t at) const {
    constexpr double kMinutesPerDegree = 60;
    if (!touches(at - 1, at)) return false;
    if (is_digits(at + 1) && touches(at, at + 1)) return false;
    if (is_sign(at + 1, words_[at].folded)) return false;
    if (found.low.first > 0) {
      const auto& left = words_[found.low.first - 1].folded;
      if (left == "°" || left == "º" || left == "d" || left == "o" || left == "'") return false;
    }
    return found.high.value >= kMinutesPerDegree;
  }

  // Words before the number: "alt. ca.", "Seehöhe".
  void before(std::size_t i, Found& found) const {
    constexpr int kMostWords = 3;
    std::size_t at = i;
    for (int n = 0; n < kMostWords && at > 0;) {
      const Word& word = words_[at - 1];
      if (words_[at].begin - word.end > 2) break;
      if (word.kind == Word::Kind::sign) {
        const bool passes = word.folded == "." || word.folded == ":" || word.folded == "±" || word.folded == "=" ||
                            word.folded == "~" || word.folded == "+" || word.folded == ">" || word.folded == "(" ||
                            word.folded == "<";
        if (!passes) {
          const bool minus = word.folded == "-" || word.folded == "−";
          const bool spaced = at < 2 || words_[at - 2].end < word.begin;
          if (minus && at == i && spaced && word.end == words_[i].begin) {
            found.below_sea = true;
            found.begin = word.begin;
          }
          break;
        }
        if (word.folded == "±" || word.folded == "~" || word.folded == ">" || word.folded == "<") found.begin = word.begin;
        found.limit |= word.folded == ">" || word.folded == "<";
        --at;
        continue;
      }
      if (is_one_of(word.folded, kElevationWords)) {
        if (word.folded != "at") found.named = true;
        found.begin = word.begin;
        return;
      }
      const bool measures_else = word.folded == "x" || is_one_of(word.folded, kDepthWords);
      if (measures_else) found.refused = true;
      // "alt. m. 1500": the unit stands first.
      if (unit_at(at - 1) == Unit::metre && !found.unit_first && word.folded != "mt" && word.folded != "mts") {
        found.unit_first = true;
        found.begin = word.begin;
        --at;
        continue;
      }
      if (!is_one_of(word.folded, kAboutWords)) return;
      constexpr std::array kLimits = std::to_array<std::string_view>({"over", "above", "uber", "to"});
      found.limit |= is_one_of(word.folded, kLimits);
      found.begin = word.begin;
      --at;
      ++n;
    }
  }

  // What follows the unit: a sea level, or a sign that this is no elevation.
  bool after(std::size_t at, Found& found) const {
    std::string tail;  // letters of the next words
    constexpr std::size_t kTail = 24;
    std::size_t next = at + 1;
    const bool glued_name = words_[at].folded.size() > 2 && found.unit == Unit::metre && words_[at].folded.starts_with("m") &&
                            (words_[at].folded == "msnm" || words_[at].folded == "masl" || words_[at].folded == "msm" ||
                             words_[at].folded == "mslm" || words_[at].folded == "moh");
    found.named |= glued_name;
    // "m/s", "m2", "m²"
    if (is_sign(next, "/") && is_letters(next + 1) && words_[next + 1].folded.size() == 1) return false;
    if (is_sign(next, "²") || (is_digits(next) && touches(at, next))) return false;
    for (std::size_t i = next; i < words_.size() && tail.size() < kTail; ++i) {
      if (words_[i].kind == Word::Kind::digits || words_[i].folded == ";" || words_[i].folded == ",") break;
      if (words_[i].kind != Word::Kind::letters) continue;
      tail += words_[i].folded;
      constexpr std::array kSeaLevels = std::to_array<std::string_view>(
          {"snm",     "asl",       "slm",           "sm",        "um",          "udm",          "oh",
           "uem",     "snmm",      "abovesealevel", "ubermeer",  "uberdemmeer", "uberdemmeere", "amsl",
           "unn",     "abovesea",  "dalt",          "daltitude", "dealtitud",   "altitude",     "alt",
           "elev",    "elevation", "high",          "hoch",      "overzee",     "smm",          "sobreelniveldelmar",
           "sulmare", "smare",     "above",         "od",        "ovh",         "overhavet",    "ufm",
           "supram",  "supramare"});
      if (is_one_of(tail, kSeaLevels)) {
        const bool ground = is_letters(i + 1) && (words_[i + 1].folded == "ground" || words_[i + 1].folded == "the" ||
                                                  words_[i + 1].folded == "boden");
        if (ground) return false;
        if (tail == "above") continue;
        found.named = true;
        found.end = words_[i].end;
        if (is_sign(i + 1, ".") && touches(i, i + 1)) found.end = words_[i + 1].end;
      }
      if (tail == "belowsealevel" || tail == "untermeer" || tail == "unterdemmeer") {
        found.below_sea = found.named = true;
        found.end = words_[i].end;
        return true;
      }
    }
    if (is_sign(next, ".") && touches(at, next) && found.end < words_[next].end) found.end = words_[next].end;
    if (is_sign(next, ".")) ++next;
    constexpr double kTallest_m = 100;  // a tree or a mast, not a mountain
    const bool tall =
        is_letters(next) && (words_[next].folded == "high" || words_[next].folded == "hoch" || words_[next].folded == "tall");
    if (tall && found.high.value * metres_per(found.unit) < kTallest_m) return false;
    if (!is_letters(next)) return true;
    const auto& word = words_[next].folded;
    if (is_one_of(word, kNotElevation) && !found.named) return false;
    if (is_one_of(word, kDirections) && !found.named) {
      // "5 m. N. of Kuching" is a distance, in miles or metres.
      constexpr double kFarForAName = 100;
      std::size_t then = next + 1;
      while (is_sign(then, ".") ||
             (is_letters(then) && words_[then].folded.size() == 1 && is_one_of(words_[then].folded, kDirections)))
        ++then;
      const bool of =
          is_letters(then) && (words_[then].folded == "of" || words_[then].folded == "from" || words_[then].folded == "de" ||
                               words_[then].folded == "von" || words_[then].folded == "vom" || words_[then].folded == "av");
      const bool apart = found.high.value < kFarForAName && !touches(at - 1, at);
      if (of || apart || word == "from" || word == "off") return false;
      found.heading_follows = true;
    }
    return true;
  }

  void set_span(std::size_t begin, std::size_t end, ElevationReading& reading) const {
    reading.begin = begin;
    reading.end = end;
    reading.verbatim = std::string(text_.substr(begin, end - begin));
  }

  bool sea_level(ElevationReading& reading) const {
    for (std::size_t i = 0; i + 1 < words_.size(); ++i) {
      const auto& a = words_[i].folded;
      const auto& b = words_[i + 1].folded;
      const bool hyphen = a == "sea" && b == "-" && i + 2 < words_.size() && words_[i + 2].folded == "level";
      const bool english = hyphen || (a == "sea" && b == "level") || (a == "sealevel");
      const bool french = a == "niveau" && i + 4 < words_.size() && words_[i + 3].folded == "mer";
      const bool spanish = a == "nivel" && i + 2 < words_.size() && (words_[i + 2].folded == "mar");
      if (!english && !french && !spanish) continue;
      const std::size_t last = english ? (a == "sealevel" ? i : hyphen ? i + 2 : i + 1) : french ? i + 3 : i + 2;
      if (i > 0 && (words_[i - 1].folded == "above" || words_[i - 1].folded == "below" || words_[i - 1].folded == "near"))
        continue;
      set_span(words_[i].begin, words_[last].end, reading);
      reading.metres = ElevationRange{0, 0};
      reading.confidence = 0.95;
      reading.reasons.push_back("Sea level is 0 m.");
      return true;
    }
    return false;
  }

  void write(const Found& found, ElevationReading& reading) const {
    set_span(found.begin, found.end, reading);
    double low = found.low.value, high = found.high.value;
    double confidence = found.named ? 0.99 : found.unit_first ? 0.85 : 0.97;
    if (found.plus_minus) {
      confidence = 0.95;
    } else if (found.range && low > high && high > 0) {
      // "1500-50 m": the second number repeats the first one's leading digits.
      const double scale = std::pow(10.0, found.high.digits);
      if (found.high.digits == 3 && found.low.digits == 4) {
        reading.alternatives = {
            {ElevationRange{high * metres_per(found.unit), low * metres_per(found.unit)}, 0.6},
            {ElevationRange{low * metres_per(found.unit), (std::floor(low / scale) * scale + high) * metres_per(found.unit)},
             0.4}};
        reading.reasons.push_back(
            "The range runs downwards, or its second number is short for one with the leading digit of the first.");
        return;
      }
      if (found.high.digits < found.low.digits && std::floor(low / scale) * scale + high > low) {
        high += std::floor(low / scale) * scale;
        confidence = 0.75;
        reading.reasons.push_back("The second number is short for one with the leading digits of the first.");
      } else {
        std::swap(low, high);
        confidence = 0.9;
        reading.reasons.push_back("The range runs downwards.");
      }
    } else if (found.range && found.low.digits <= 2 && found.high.digits >= 3 && high >= 100) {
      // "5-6000 ft." says 5000 to 6000, "12-1500 m" 1200 to 1500.
      const bool thousands = found.high.digits >= 4 && std::fmod(high, 1000) == 0 && low * 1000 < high;
      const bool hundreds = found.high.digits >= 3 && std::fmod(high, 100) == 0 && low * 100 < high && !thousands;
      if (thousands || (hundreds && (found.high.digits == 3 ? low < 10 : low >= 10))) {
        const double literal = low;
        low *= thousands ? 1000 : 100;
        confidence = thousands ? 0.95 : 0.8;
        reading.reasons.push_back("The first number is short for hundreds or thousands like the second.");
        reading.alternatives.emplace_back(ElevationRange{literal * metres_per(found.unit), high * metres_per(found.unit)},
                                          1 - confidence);
      }
    }
    if (found.below_sea) {
      low = -low;
      high = -high;
      std::swap(low, high);
    }
    const auto in_metres = [&](double per_unit) {
      // Rounded to a tenth of a millimetre, so that 3000 ft is 914.4 m and nothing else.
      const auto tidy = [](double m) { return std::round(m * 1e4) / 1e4; };
      return ElevationRange{tidy(low * per_unit), tidy(high * per_unit)};
    };
    if (found.unit == Unit::foreign_foot) {
      reading.alternatives.insert(reading.alternatives.begin(),
                                  {{in_metres(found.foot->metres), 0.5}, {in_metres(kMetresPerEnglishFoot), 0.5}});
      reading.reasons.push_back(
          fmt::format("These may be English feet or another foot, such as the {}; it is not stated which.", found.foot->name));
      return;
    }
    const ElevationRange range = in_metres(metres_per(found.unit));
    if (range.min_m < kLowest_m || range.max_m > kHighest_m) {
      reading.reasons.push_back(fmt::format("{:.0f} m lies outside the ground of the earth.", range.max_m));
      return;
    }
    if (found.limit && !found.range) {
      confidence *= 0.7;
      reading.reasons.push_back("The text gives a limit, not the elevation itself.");
    }
    if (found.unit == Unit::foot) reading.reasons.push_back("Feet are taken as English feet of 0.3048 m.");
    if (range.max_m < 10 && !found.named) confidence *= 0.6;
    if (found.heading_follows) {
      confidence *= 0.7;
      reading.reasons.push_back("A direction follows, so this may be a distance.");
    }
    if (found.below_sea && !found.named) confidence *= 0.7;
    reading.metres = range;
    reading.confidence = confidence;
  }

  std::string_view text_;
  std::vector<Word> words_;
};

}  // namespace

ElevationReading read_elevation(std::string_view text) { return Scanner(text).read(); }

}  // namespace papillote::interpretation
