#include "stages/interpretation/coordinates.h"

#include <fmt/format.h>
#include <proj.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <memory>
#include <span>

#include "stages/interpretation/point_radius.h"
#include "stages/interpretation/words.h"

namespace papillote::interpretation {
namespace {

constexpr double kMinutes = 60, kSeconds = 3600;

bool is_one_of(std::string_view word, std::span<const std::string_view> words) {
  return std::ranges::find(words, word) != words.end();
}

// --- PROJ --------------------------------------------------------------------------------------------------------

class Projection {
 public:
  explicit Projection(const std::string& pipeline)
      : context_(proj_context_create()), transform_(proj_create(context_.get(), pipeline.c_str())) {}

  [[nodiscard]] std::optional<std::pair<double, double>> operator()(double x, double y, PJ_DIRECTION direction = PJ_FWD) const {
    if (!transform_) return std::nullopt;
    const PJ_COORD out = proj_trans(transform_.get(), direction, proj_coord(x, y, 0, 0));
    if (!std::isfinite(out.xy.x) || !std::isfinite(out.xy.y)) return std::nullopt;
    return std::pair{out.xy.x, out.xy.y};
  }

 private:
  struct Free {
    void operator()(PJ_CONTEXT* context) const { proj_context_destroy(context); }
    void operator()(PJ* transform) const { proj_destroy(transform); }
  };
  std::unique_ptr<PJ_CONTEXT, Free> context_;
  std::unique_ptr<PJ, Free> transform_;
};

// Easting and northing to longitude and latitude in degrees.
Projection utm(int zone, bool south) {
  return Projection(
      fmt::format("+proj=pipeline +step +inv +proj=utm +zone={}{} +ellps=WGS84 +step +proj=unitconvert +xy_in=rad +xy_out=deg",
                  zone, south ? " +south" : ""));
}

std::optional<double> from_meridian(std::string_view meridian, double lon_deg) {
  const Projection shift(
      fmt::format("+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad +step +inv +proj=longlat +ellps=WGS84 +pm={} "
                  "+step +proj=unitconvert +xy_in=rad +xy_out=deg",
                  meridian));
  const auto out = shift(lon_deg, 0);
  return out ? std::optional(out->first) : std::nullopt;
}

// Words for the meridians that PROJ knows under its own names.
constexpr std::pair<std::string_view, std::string_view> kMeridians[] = {
    {"greenwich", "greenwich"},
    {"greenw", "greenwich"},
    {"grw", "greenwich"},
    {"gr", "greenwich"},
    {"paris", "paris"},
    {"ferro", "ferro"},
    {"hierro", "ferro"},
    {"fer", "ferro"},
    {"madrid", "madrid"},
    {"rom", "rome"},
    {"roma", "rome"},
    {"rome", "rome"},
    {"lisboa", "lisbon"},
    {"lisbon", "lisbon"},
    {"lissabon", "lisbon"},
    {"bern", "bern"},
    {"berne", "bern"},
    {"bruxelles", "brussels"},
    {"brussel", "brussels"},
    {"brussels", "brussels"},
    {"stockholm", "stockholm"},
    {"athen", "athens"},
    {"athens", "athens"},
    {"oslo", "oslo"},
    {"kristiania", "oslo"},
    {"christiania", "oslo"},
    {"kobenhavn", "copenhagen"},
    {"kopenhagen", "copenhagen"},
    {"copenhagen", "copenhagen"},
    {"batavia", "jakarta"},
    {"jakarta", "jakarta"},
    {"bogota", "bogota"},
};
// Meridians that PROJ does not list: a longitude from them is left open.
constexpr std::array kOtherMeridians =
    std::to_array<std::string_view>({"pulkowa", "pulkovo", "washington", "amsterdam", "berlin", "cadiz", "tenerife", "rio"});

constexpr std::array kMeridianLinks = std::to_array<std::string_view>(
    {"v", "von", "of", "from", "de", "du", "meridien", "meridian", "mer", "ab", "di", "da", "van", "vom"});

// --- Angles ------------------------------------------------------------------------------------------------------

enum class Axis { unknown, lat, lon };
enum class Hemisphere { none, north, south, east, west, east_or_west };

Axis axis_of(Hemisphere hemisphere) {
  if (hemisphere == Hemisphere::none) return Axis::unknown;
  return hemisphere == Hemisphere::north || hemisphere == Hemisphere::south ? Axis::lat : Axis::lon;
}

struct Number {
  double value = 0;
  int decimals = 0;
  std::size_t last = 0;  // word
  bool sane = true;
};

struct Angle {
  double degrees = 0;  // without sign
  double precision_deg = 1;
  bool negative = false;
  bool degree_mark = false, point = false;
  int parts = 1;
  bool impossible = false;    // minutes or seconds of 60 or more
  bool mismarked = false;     // a wrong sign for minutes or seconds
  bool two_readings = false;  // "15.30": decimal, or degrees and minutes
  double as_minutes = 0;      // the other reading
  Axis axis = Axis::unknown;
  Hemisphere hemisphere = Hemisphere::none;
  bool leading = false;             // the hemisphere stands before
  bool range = false;               // "42-43°"
  std::string_view meridian{};      // PROJ name, where it stands before the number
  std::size_t first = 0, last = 0;  // words, hemisphere included
};

class Scanner {
 public:
  explicit Scanner(std::string_view text) : text_(text), words_(cut_words(text)) {}

  CoordinateReading read() {
    CoordinateReading reading;
    if (grid(reading)) return reading;
    find_angles();
    if (pair_of_angles(reading)) return reading;
    if (plain_decimals(reading)) return reading;
    if (lone_angle(reading)) return reading;
    if (reading.reasons.empty()) reading.reasons.push_back("No coordinates were found.");
    return reading;
  }

 private:
  bool touches(std::size_t left, std::size_t right) const { return words_[left].end == words_[right].begin; }
  bool is_sign(std::size_t i, std::string_view sign) const {
    return i < words_.size() && words_[i].kind == Word::Kind::sign && words_[i].folded == sign;
  }
  bool is_digits(std::size_t i) const { return i < words_.size() && words_[i].kind == Word::Kind::digits; }
  bool is_letters(std::size_t i) const { return i < words_.size() && words_[i].kind == Word::Kind::letters; }
  std::string_view raw(std::size_t i) const { return text_.substr(words_[i].begin, words_[i].end - words_[i].begin); }

  // --- Signs

  // How many words a sign of degrees, minutes or seconds takes up at `i`; 0 = none.
  std::size_t degree_mark(std::size_t i) const {
    if (i >= words_.size()) return 0;
    const auto& word = words_[i].folded;
    if (words_[i].kind == Word::Kind::sign)
      return word == "°" || word == "º" || word == "˚" || word == "*" || word == "ᵒ" ? 1 : 0;
    if (word == "d" || word == "deg" || word == "degr" || word == "degrees" || word == "grad" || word == "grados" ||
        word == "degres") {
      return is_sign(i + 1, ".") && word != "d" ? 2 : 1;
    }
    // A raised o typed as a letter.
    return raw(i) == "o" && i > 0 && touches(i - 1, i) && is_digits(i + 1) ? 1 : 0;
  }
  bool one_stroke(std::size_t i) const {
    if (i >= words_.size() || words_[i].kind != Word::Kind::sign) return false;
    const auto& sign = words_[i].folded;
    return sign == "'" || sign == "′" || sign == "’" || sign == "‘" || sign == "´" || sign == "`" || sign == "ʹ";
  }
  bool double_sign(std::size_t i) const {
    return is_sign(i, "\"") || is_sign(i, "″") || is_sign(i, "”") || is_sign(i, "“") || is_sign(i, "ʺ");
  }
  std::size_t second_mark(std::size_t i) const {
    if (double_sign(i)) return 1;
    if (one_stroke(i) && one_stroke(i + 1) && touches(i, i + 1)) return 2;
    if (is_letters(i) && i > 0 && touches(i - 1, i) && (raw(i) == "s" || words_[i].folded == "sec")) return 1;
    return 0;
  }
  std::size_t minute_mark(std::size_t i) const {
    if (second_mark(i) == 2) return 0;
    if (one_stroke(i)) return 1;
    if (is_letters(i) && i > 0 && touches(i - 1, i) && (raw(i) == "m" || words_[i].folded == "min")) return 1;
    return 0;
  }

  Number number_at(std::size_t i) const {
    constexpr std::size_t kMostDigits = 9;
    constexpr std::size_t kMostDecimals = 18;
    Number number{.last = i};
    const auto& whole = words_[i].folded;
    if (whole.size() > kMostDigits) {
      number.sane = false;
      return number;
    }
    std::string digits = whole;
    if (i + 2 < words_.size() && is_digits(i + 2) && touches(i, i + 1) && touches(i + 1, i + 2)) {
      const bool point = is_sign(i + 1, ".");
      const bool comma = is_sign(i + 1, ",") && (minute_mark(i + 3) || second_mark(i + 3) || degree_mark(i + 3) ||
                                                 hemisphere_letter(i + 3) != Hemisphere::none);
      if ((point || comma) && words_[i + 2].folded.size() <= kMostDecimals) {
        digits += '.' + words_[i + 2].folded;
        number.decimals = static_cast<int>(words_[i + 2].folded.size());
        number.last = i + 2;
      }
    }
    std::from_chars(digits.data(), digits.data() + digits.size(), number.value);
    return number;
  }

  // --- Hemispheres

  Hemisphere hemisphere_letter(std::size_t i) const {
    if (!is_letters(i)) return Hemisphere::none;
    const auto& word = words_[i].folded;
    using enum Hemisphere;
    static constexpr std::pair<std::string_view, Hemisphere> kWords[] = {
        {"n", north},        {"north", north},  {"nord", north},  {"norte", north}, {"noord", north},   {"nordl", north},
        {"nordlich", north}, {"s", south},      {"south", south}, {"sud", south},   {"sur", south},     {"sul", south},
        {"zuid", south},     {"syd", south},    {"sor", south},   {"sudl", south},  {"sudlich", south}, {"e", east},
        {"east", east},      {"est", east},     {"este", east},   {"leste", east},  {"ost", east},      {"oost", east},
        {"ostl", east},      {"ostlich", east}, {"w", west},      {"west", west},   {"ouest", west},    {"oeste", west},
        {"ovest", west},     {"vast", west},    {"vest", west},   {"westl", west},  {"westlich", west}, {"с", north},
        {"ю", south},        {"в", east},       {"з", west},
    };
    for (const auto& [name, hemisphere] : kWords) {
      if (word == name) return hemisphere;
    }
    if (word == "o") return raw(i) == "ö" || raw(i) == "Ö" || raw(i) == "ø" || raw(i) == "Ø" ? east : east_or_west;
    return none;
  }

  static Axis axis_word(std::string_view word) {
    if (word == "lat" || word == "latitude" || word == "latitud" || word == "latitudine" || word == "br" || word == "breite" ||
        word == "b" || word == "bredd") {
      return Axis::lat;
    }
    if (word == "long" || word == "lon" || word == "longitude" || word == "longitud" || word == "longitudine" ||
        word == "lng" || word == "l" || word == "lange" || word == "langd") {
      return Axis::lon;
    }
    return Axis::unknown;
  }

  // Does the text speak a language that settles "O"?
  Hemisphere meaning_of_o() const {
    bool german = false, romance = false;
    for (const auto& word : words_) {
      if (word.kind != Word::Kind::letters) continue;
      const std::string_view as_written = text_.substr(word.begin, word.end - word.begin);
      const auto& w = word.folded;
      german |= w == "ost" || w == "ostl" || w == "ostlich" || w == "nordl" || w == "sudl" || w == "br" || w == "breite" ||
                w == "lange" || w == "westl" || (w == "sud" && as_written.size() > 3) || w == "grad" || w == "hohe" ||
                w == "seehohe";
      romance |= w == "sur" || w == "norte" || w == "oeste" || w == "ouest" || w == "ovest" || w == "este" || w == "latitud" ||
                 w == "longitud" || w == "leste" || w == "sul" || w == "longitudine" || w == "degres" || w == "grados";
    }
    if (german == romance) return Hemisphere::east_or_west;
    return german ? Hemisphere::east : Hemisphere::west;
  }

  // --- One angle

  std::optional<Angle> angle_at(std::size_t i) const {
    const Number degrees = number_at(i);
    constexpr double kMostDegrees = 360;
    if (!degrees.sane || degrees.value > kMostDegrees) return std::nullopt;
    Angle angle{.first = i, .last = degrees.last};
    angle.degrees = degrees.value;
    angle.precision_deg = std::pow(10.0, -degrees.decimals);
    angle.point = degrees.decimals > 0;
    if (i > 0 && touches(i - 1, i) &&
        (is_sign(i - 1, "-") || is_sign(i - 1, "−") || is_sign(i - 1, "–") || is_sign(i - 1, "+"))) {
      const bool free = i < 2 || !touches(i - 2, i - 1) || words_[i - 2].folded == "/" || words_[i - 2].folded == "," ||
                        words_[i - 2].folded == "(";
      if (free) {
        angle.negative = !is_sign(i - 1, "+");
        angle.first = i - 1;
      } else {
        angle.range = is_digits(i - 2);
      }
    }
    std::size_t at = degrees.last + 1;
    const std::size_t mark = degree_mark(at);
    if (mark > 0) {
      angle.degree_mark = true;
      at += mark;
      angle.last = at - 1;
    }
    if (degrees.decimals == 0 && !angle.degree_mark && joint(at)) {
      // "12:20:42 S", "12-20-42 S": only with a letter behind, or it is a time or a date.
      Angle joined = angle;
      minutes(joined, at + 1);
      trailing(joined);
      if (joined.parts > 1 && joined.hemisphere != Hemisphere::none) return joined;
    }
    if (degrees.decimals == 0) minutes(angle, at);
    if (degrees.decimals == 2 && !angle.degree_mark) {
      const double minutes = std::round((degrees.value - std::floor(degrees.value)) * 100);
      angle.two_readings = minutes < kMinutes;
      angle.as_minutes = std::floor(degrees.value) + minutes / kMinutes;
    }
    trailing(angle);
    return angle;
  }

  bool spaces_only(std::size_t left, std::size_t right) const {
    return right < words_.size() && words_[right].begin - words_[left].end <= 2;
  }

  // A colon or a dash with figures on both sides.
  bool joint(std::size_t i) const {
    return (is_sign(i, ":") || is_sign(i, "-") || is_sign(i, "–")) && is_digits(i + 1) && touches(i - 1, i) &&
           touches(i, i + 1);
  }

  void minutes(Angle& angle, std::size_t at) const {
    if (!is_digits(at) || !spaces_only(at - 1, at)) return;
    if (!angle.degree_mark && touches(at - 1, at) && !joint(at - 1)) return;
    const Number minutes = number_at(at);
    if (!minutes.sane || minutes.value >= kMinutes) {
      angle.impossible |= angle.degree_mark && touches(at - 1, at);
      return;
    }
    std::size_t next = minutes.last + 1;
    const bool strokes = minute_mark(next) > 0;
    // A number after a space and without a mark of its own may be anything.
    const bool marked = strokes || second_mark(next) > 0 || hemisphere_letter(next) != Hemisphere::none;
    if (angle.degree_mark && !touches(at - 1, at) && !marked) return;
    angle.degrees += minutes.value / kMinutes;
    angle.precision_deg = std::pow(10.0, -minutes.decimals) / kMinutes;
    angle.parts = 2;
    angle.last = minutes.last;
    if (strokes) {
      angle.last = next;
      ++next;
    } else if (const auto wrong = second_mark(next); wrong > 0 && angle.degree_mark) {
      // 10°47" has the sign of seconds where only minutes can be meant.
      angle.mismarked = true;
      angle.last = next + wrong - 1;
      return;
    }
    if (!angle.degree_mark && joint(next)) ++next;
    if (minutes.decimals == 0) seconds(angle, next, strokes);
  }

  void seconds(Angle& angle, std::size_t at, bool after_stroke) const {
    if (!is_digits(at) || !spaces_only(at - 1, at)) return;
    if (!after_stroke && (angle.degree_mark || (touches(at - 1, at) && !joint(at - 1)))) return;
    const Number seconds = number_at(at);
    const std::size_t next = seconds.last + 1;
    const bool marked = second_mark(next) > 0 || one_stroke(next) || hemisphere_letter(next) != Hemisphere::none;
    if (!seconds.sane || seconds.value >= kMinutes) {
      angle.impossible |= after_stroke && touches(at - 1, at) && marked;
      return;
    }
    if (!marked) return;
    angle.degrees += seconds.value / kSeconds;
    angle.precision_deg = std::pow(10.0, -seconds.decimals) / kSeconds;
    angle.parts = 3;
    angle.last = seconds.last;
    if (const auto mark = second_mark(next); mark > 0) {
      angle.last = next + mark - 1;
    } else if (one_stroke(next)) {
      angle.mismarked = true;
      angle.last = next;
    }
  }

  // "N", "S.", "n. Br.", "ö.L.", "north latitude" after the numbers.
  void trailing(Angle& angle) const {
    std::size_t at = angle.last + 1;
    if (is_sign(at, ".") || is_sign(at, ",")) {
      if (hemisphere_letter(at + 1) == Hemisphere::none || !touches(at - 1, at)) return;
      ++at;
    }
    if (!is_letters(at) || words_[at].begin - words_[angle.last].end > 4) return;
    if (angle.degree_mark && side_of_axis(angle, at)) return;
    const auto hemisphere = hemisphere_letter(at);
    if (hemisphere == Hemisphere::none) {
      // "lat 12.3 lon: -4.5": the second word belongs to the second number.
      std::size_t next = at + 1;
      while (is_sign(next, ".") || is_sign(next, ":") || is_sign(next, "=") || is_sign(next, "-") || is_sign(next, "−") ||
             is_sign(next, "+"))
        ++next;
      if (const auto axis = axis_word(words_[at].folded);
          axis != Axis::unknown && words_[at].folded.size() > 1 && !is_digits(next)) {
        angle.axis = axis;
        angle.last = at;
      }
      return;
    }
    angle.hemisphere = hemisphere;
    angle.axis = axis_of(hemisphere);
    angle.last = at;
    std::size_t next = at + 1;
    while (is_sign(next, ".") && next < at + 2) ++next;
    if (is_letters(next) && words_[next].begin - words_[at].end <= 3 && axis_word(words_[next].folded) != Axis::unknown &&
        !is_digits(next + 1))
      angle.last = next;
    if (is_sign(angle.last + 1, ".") && touches(angle.last, angle.last + 1)) ++angle.last;
  }

  // "8°30' L.S.", "63°54' L.W.G.", "12° lat. S.": the axis, then the side, after the numbers.
  bool side_of_axis(Angle& angle, std::size_t at) const {
    if (axis_word(words_[at].folded) == Axis::unknown || !is_sign(at + 1, ".")) return false;
    const std::size_t side = at + 2;
    const auto hemisphere = hemisphere_letter(side);
    if (hemisphere == Hemisphere::none || words_[side].begin - words_[at].end > 2) return false;
    if (words_[at].folded.size() > 1 && axis_word(words_[at].folded) != axis_of(hemisphere)) return false;
    std::size_t last = is_sign(side + 1, ".") && touches(side, side + 1) ? side + 1 : side;
    // "3°4' Long. E. Greenw. 37°21'": the words lead the next number.
    const bool ends = last + 1 == words_.size() || is_sign(last + 1, ",") || is_sign(last + 1, ";");
    if (words_[at].folded != "l" && !ends) return false;
    if (is_digits(last + 1) && words_[last].folded != ".") return false;
    if (axis_of(hemisphere) == Axis::lon && is_letters(last + 1) && touches(last, last + 1) && words_[last + 1].folded == "g") ++last;
    angle.hemisphere = hemisphere;
    angle.axis = axis_of(hemisphere);
    angle.last = last;
    return true;
  }

  // "S 17°", "lat. 4°", "W. Long. 12" before the numbers.
  void leading(Angle& angle, std::size_t not_before) const {
    std::size_t at = angle.first;
    constexpr int kMostWords = 5;
    std::string_view meridian;
    for (int n = 0; n < kMostWords && at > not_before; ++n) {
      std::size_t before = at - 1;
      while (before > not_before && before + 2 > at - 1 &&
             (is_sign(before, ".") || is_sign(before, ":") || is_sign(before, "=")))
        --before;
      if (!is_letters(before) || words_[at].begin - words_[before].end > 3) return;
      const auto hemisphere = hemisphere_letter(before);
      const auto axis = axis_word(words_[before].folded);
      if (hemisphere != Hemisphere::none && angle.hemisphere == Hemisphere::none) {
        angle.meridian = meridian;
        angle.hemisphere = hemisphere;
        angle.axis = axis_of(hemisphere);
        angle.leading = true;
      } else if (axis != Axis::unknown && (words_[before].folded.size() > 1)) {
        angle.meridian = meridian;
        if (angle.axis == Axis::unknown) angle.axis = axis;
      } else if (const auto known = std::ranges::find(kMeridians, std::string_view(words_[before].folded),
                                                      [](const auto& row) { return row.first; });
                 known != std::end(kMeridians) && meridian.empty()) {
        meridian = known->second;
        at = before;
        continue;
      } else if (!is_one_of(words_[before].folded, kMeridianLinks)) {
        return;
      } else {
        at = before;
        continue;
      }
      at = before;
      angle.first = before;
    }
  }

  void find_angles() {
    std::size_t free_from = 0;  // the first word that no angle has taken
    bool previous_led = false;
    for (std::size_t i = 0; i < words_.size(); ++i) {
      if (!is_digits(i)) continue;
      const bool glued_name = i > 0 && is_letters(i - 1) && touches(i - 1, i) && hemisphere_letter(i - 1) == Hemisphere::none &&
                              axis_word(words_[i - 1].folded) == Axis::unknown;
      if (glued_name) continue;
      auto angle = angle_at(i);
      if (!angle) continue;
      // In a text that puts the letter first, "S 17° W 64°", the letter after an angle belongs to the next one.
      Angle led = *angle;
      if (led.hemisphere != Hemisphere::none && !led.leading) {
        led.hemisphere = Hemisphere::none;
        led.axis = Axis::unknown;
      }
      const bool number_follows = is_digits(angle->last + 1) || (is_sign(angle->last + 1, ".") && is_digits(angle->last + 2));
      leading(led, free_from);
      if (led.leading && (angle->hemisphere == Hemisphere::none || number_follows || previous_led)) {
        led.last = bare_last(i, led);
        angle = led;
      } else if (led.axis != Axis::unknown && angle->axis == Axis::unknown) {
        angle->axis = led.axis;
        angle->first = led.first;
      } else if (angle->axis == led.axis) {
        angle->first = std::min(angle->first, led.first);
      }
      const bool stated = angle->degree_mark || angle->axis != Axis::unknown;
      if (!stated) continue;
      if (!angle->degree_mark && angle->parts == 1 && !angle->point && angle->hemisphere == Hemisphere::none) continue;
      previous_led = angle->leading;
      angles_.push_back(*angle);
      free_from = angle->last + 1;
      i = angle->last;
    }
  }

  // The last word of the angle without a trailing letter.
  std::size_t bare_last(std::size_t i, const Angle& led) const {
    auto again = angle_at(i);
    if (!again || again->hemisphere == Hemisphere::none) return led.last;
    std::size_t last = again->last;
    while (last > i && !is_digits(last) && !degree_mark(last) && !one_stroke(last) && !double_sign(last)) --last;
    return last;
  }

  // --- Putting two together

  static bool in_range(const Angle& angle, Axis axis) { return angle.degrees <= (axis == Axis::lat ? 90 : 180); }

  double signed_degrees(const Angle& angle, Hemisphere hemisphere) const {
    const bool minus = hemisphere == Hemisphere::south || hemisphere == Hemisphere::west || angle.negative;
    return minus ? -angle.degrees : angle.degrees;
  }

  bool pair_of_angles(CoordinateReading& reading) const {
    constexpr std::size_t kFarApart = 40;  // bytes
    const Angle* best = nullptr;
    double best_score = 0;
    for (std::size_t i = 0; i + 1 < angles_.size(); ++i) {
      const Angle& a = angles_[i];
      const Angle& b = angles_[i + 1];
      if (words_[b.first].begin - words_[a.last].end > kFarApart) continue;
      if (a.axis == b.axis && a.axis != Axis::unknown) continue;
      const bool both_marked = a.degree_mark && b.degree_mark;
      const bool both_stated = a.axis != Axis::unknown && b.axis != Axis::unknown;
      const bool full = (a.parts > 1 || a.point || a.degree_mark) && (b.parts > 1 || b.point || b.degree_mark);
      constexpr std::size_t kBeside = 8;  // bytes: without degree signs only figures side by side are a pair
      const bool beside = words_[b.first].begin - words_[a.last].end <= kBeside;
      const bool bare = a.first == 0 && b.last + 1 == words_.size();
      if (!both_marked && !(both_stated && (full || bare) && beside)) continue;
      const double score =
          (both_marked ? 2 : 0) + (a.hemisphere != Hemisphere::none ? 2 : 0) + (b.hemisphere != Hemisphere::none ? 2 : 0);
      if (score > best_score || !best) {
        best = &a;
        best_score = score;
      }
    }
    if (!best) return false;
    Angle first = *best;
    // "12°20'N-12°40'N 3°W"
    if (best != &angles_.front()) {
      const Angle& before = *(best - 1);
      const std::string_view between =
          text_.substr(words_[before.last].end, words_[first.first].begin - words_[before.last].end);
      first.range |= before.axis == first.axis && (between == "-" || between == "–" || between == " - " || between == " – ");
    }
    settle(first, *(best + 1), reading);
    return true;
  }

  void span(std::size_t first, std::size_t last, CoordinateReading& reading) const {
    reading.begin = words_[first].begin;
    reading.end = words_[last].end;
    reading.verbatim = std::string(text_.substr(reading.begin, reading.end - reading.begin));
  }

  void settle(const Angle& a, const Angle& b, CoordinateReading& reading) const {
    std::size_t last = b.last;
    const Angle* lat = &a;
    const Angle* lon = &b;
    if (a.axis == Axis::lon || b.axis == Axis::lat) std::swap(lat, lon);
    std::string meridian = meridian_after(*lon, last);
    if (meridian.empty()) meridian = lon->meridian;
    span(a.first, std::max(b.last, last), reading);
    if (a.impossible || b.impossible) {
      reading.reasons.push_back("Minutes or seconds of 60 or more: the numbers are garbled and left open.");
      return;
    }
    if (!in_range(*lat, Axis::lat) || !in_range(*lon, Axis::lon)) {
      reading.reasons.push_back("A latitude beyond 90 or a longitude beyond 180 degrees is left open.");
      return;
    }
    if (a.range || b.range) {
      reading.reasons.push_back("A range of degrees is left open.");
      return;
    }
    double confidence = 0.98;
    if (a.mismarked || b.mismarked) {
      confidence = 0.8;
      reading.reasons.push_back("A sign of minutes or seconds stands in the other's place.");
    }
    const bool lat_known = lat->hemisphere != Hemisphere::none || lat->negative || lat->point;
    const bool lon_known = lon->hemisphere != Hemisphere::none || lon->negative || lon->point;
    Hemisphere lon_side = lon->hemisphere;
    if (lon_side == Hemisphere::east_or_west) lon_side = meaning_of_o();
    if (lat->two_readings && lon->two_readings) {
      reading.reasons.push_back("Without a degree sign this may be decimal degrees, or degrees and minutes.");
      offer_readings(*lat, *lon, lon_side, reading);
      return;
    }
    if (lon_side == Hemisphere::east_or_west) {
      reading.reasons.push_back("O may stand for east (Ost) or for west (Ouest, Oeste).");
      offer_readings(*lat, *lon, lon_side, reading);
      return;
    }
    Coordinates degrees;
    if (lat_known) degrees.lat_deg = signed_degrees(*lat, lat->hemisphere);
    if (lon_known) degrees.lon_deg = signed_degrees(*lon, lon_side);
    if (!lat_known || !lon_known) {
      confidence = 0.9;
      reading.reasons.push_back(lat_known ? "East or west is not stated, so the longitude is left open."
                                          : "North or south is not stated, so the latitude is left open.");
    }
    if (degrees.lon_deg && !apply(meridian, *degrees.lon_deg, reading)) return;
    if (!degrees.lat_deg && !degrees.lon_deg) return;
    finish(degrees, std::max(lat->precision_deg, lon->precision_deg), confidence, reading);
  }

  void offer_readings(const Angle& lat, const Angle& lon, Hemisphere lon_side, CoordinateReading& reading) const {
    const double south = lat.hemisphere == Hemisphere::south || lat.negative ? -1 : 1;
    std::vector<double> sides;
    if (lon_side != Hemisphere::west && !lon.negative) sides.push_back(1);
    if (lon_side == Hemisphere::west || lon_side == Hemisphere::east_or_west || lon.negative) sides.push_back(-1);
    const bool two = lat.two_readings && lon.two_readings;
    const double weight = 1.0 / static_cast<double>(sides.size() * (two ? 2 : 1));
    for (const double side : sides) {
      if (two) reading.alternatives.push_back({{south * lat.as_minutes, side * lon.as_minutes}, weight});
      reading.alternatives.push_back({{south * lat.degrees, side * lon.degrees}, weight});
    }
  }

  void finish(const Coordinates& degrees, double precision_deg, double confidence, CoordinateReading& reading) const {
    const auto tidy = [](std::optional<double> value) { return value ? std::optional(std::round(*value * 1e7) / 1e7) : value; };
    reading.degrees = Coordinates{tidy(degrees.lat_deg), tidy(degrees.lon_deg)};
    reading.confidence = confidence;
    if (degrees.lat_deg && degrees.lon_deg) reading.uncertainty_m = coordinate_precision_m(*degrees.lat_deg, precision_deg);
  }

  // --- Old meridians

  // The PROJ name of a meridian that is named just after the longitude ("östl. v. Ferro"), "?" for one it lacks.
  std::string meridian_after(const Angle& lon, std::size_t& last) const {
    constexpr int kMostWords = 6;
    int seen = 0;
    bool linked = is_sign(lon.last + 1, "(");
    for (std::size_t i = lon.last + 1; i < words_.size() && seen < kMostWords; ++i) {
      if (words_[i].begin - words_[lon.last].end > 40 || is_digits(i)) break;
      if (!is_letters(i)) continue;
      ++seen;
      const auto& word = words_[i].folded;
      for (const auto& [name, proj] : kMeridians) {
        if (word == name && (linked || proj == "greenwich")) {
          last = i;
          return std::string(proj);
        }
      }
      if (linked && is_one_of(word, kOtherMeridians)) {
        last = i;
        return "?";
      }
      constexpr std::array kBeside =
          std::to_array<std::string_view>({"ostl", "westl", "ostlich", "westlich", "east", "west", "l", "lange", "long",
                                           "longitude", "o", "e", "w", "est", "the", "le"});
      if (is_one_of(word, kMeridianLinks))
        linked = true;
      else if (!is_one_of(word, kBeside))
        break;
    }
    return {};
  }

  static bool apply(const std::string& meridian, double& lon_deg, CoordinateReading& reading) {
    if (meridian.empty() || meridian == "greenwich") return true;
    if (meridian == "?") {
      reading.reasons.push_back("The longitude is counted from a meridian that is not known here, so it is left open.");
      return false;
    }
    const auto shifted = from_meridian(meridian, lon_deg);
    if (!shifted) return false;
    lon_deg = *shifted;
    reading.reasons.push_back(fmt::format("The longitude was counted from the meridian of {}.", meridian));
    return true;
  }

  // --- One angle alone, and pairs of plain numbers

  bool lone_angle(CoordinateReading& reading) const {
    for (const Angle& angle : angles_) {
      const bool bare = angle.first == 0 && angle.last + 2 >= words_.size();
      if (angle.axis == Axis::unknown ||
          !(angle.degree_mark ? angle.parts > 1 || angle.point || bare : bare && (angle.parts > 1 || angle.point)))
        continue;
      span(angle.first, angle.last, reading);
      if (angle.impossible || !in_range(angle, angle.axis)) {
        reading.reasons.push_back("The numbers make no latitude or longitude and are left open.");
        return true;
      }
      Hemisphere side = angle.hemisphere;
      if (side == Hemisphere::east_or_west) side = meaning_of_o();
      if (angle.two_readings || side == Hemisphere::none || side == Hemisphere::east_or_west) {
        reading.reasons.push_back("The side or the kind of degrees is not stated, so the number is left open.");
        return true;
      }
      Coordinates degrees;
      (angle.axis == Axis::lat ? degrees.lat_deg : degrees.lon_deg) = signed_degrees(angle, side);
      std::size_t last = angle.last;
      const auto meridian = meridian_after(angle, last);
      if (degrees.lon_deg && !apply(meridian, *degrees.lon_deg, reading)) return true;
      finish(degrees, angle.precision_deg, 0.95, reading);
      reading.reasons.push_back("Only one of latitude and longitude was found.");
      return true;
    }
    return false;
  }

  // "-33.875, 21.875": latitude first.
  bool plain_decimals(CoordinateReading& reading) const {
    for (std::size_t i = 0; i < words_.size(); ++i) {
      if (!is_digits(i) || (i > 0 && is_letters(i - 1) && touches(i - 1, i))) continue;
      const auto lat = angle_at(i);
      const Number first = number_at(i);
      i = first.last;
      if (!lat || lat->axis != Axis::unknown || lat->parts > 1) continue;
      std::size_t at = lat->last + 1;
      const bool comma = is_sign(at, ",") || is_sign(at, "/") || is_sign(at, ";");
      if (comma) ++at;
      if (is_sign(at, "-") || is_sign(at, "−") || is_sign(at, "+")) ++at;
      if (!is_digits(at) || words_[at].begin - words_[lat->last].end > 4) continue;
      const auto lon = angle_at(at);
      const Number second = number_at(at);
      if (!lon || lon->axis != Axis::unknown || lon->parts > 1) continue;
      constexpr int kTellingDecimals = 3, kSomeDecimals = 2;
      const bool with_decimals = std::min(first.decimals, second.decimals) >= kSomeDecimals;
      const bool bare = lat->first == 0 && lon->last + 1 == words_.size() && (comma || with_decimals);
      const bool telling = first.decimals >= kTellingDecimals && second.decimals >= kTellingDecimals;
      if (!bare && !telling) continue;
      if (!in_range(*lat, Axis::lat) || !in_range(*lon, Axis::lon)) continue;
      span(lat->first, lon->last, reading);
      finish({signed_degrees(*lat, Hemisphere::none), signed_degrees(*lon, Hemisphere::none)},
             std::max(lat->precision_deg, lon->precision_deg), telling ? 0.97 : 0.85, reading);
      reading.reasons.push_back("Two plain numbers are taken as latitude and longitude in this order.");
      return true;
    }
    return false;
  }

  // --- UTM and MGRS

  static constexpr std::string_view kBands = "cdefghjklmnpqrstuvwx";  // 8 degrees of latitude each, from 80 S

  bool grid(CoordinateReading& reading) const {
    for (std::size_t i = 0; i + 2 < words_.size(); ++i) {
      if (!is_digits(i) || !is_letters(i + 1) || words_[i].folded.size() > 2 || words_[i + 1].begin - words_[i].end > 1)
        continue;
      const int zone = std::atoi(words_[i].folded.c_str());
      const auto& letters = words_[i + 1].folded;
      if (zone < 1 || zone > 60 || kBands.find(letters.front()) == std::string_view::npos) continue;
      if (letters.size() == 1 && is_digits(i + 2)) {
        if (grid_metres(zone, letters.front(), i, reading)) return true;
      } else if (letters.size() == 3 && is_digits(i + 2)) {
        if (grid_square(zone, letters, i + 2, i, reading)) return true;
      } else if (letters.size() == 1 && is_letters(i + 2) && words_[i + 2].folded.size() == 2 && is_digits(i + 3)) {
        if (grid_square(zone, letters + words_[i + 2].folded, i + 3, i, reading)) return true;
      }
    }
    return false;
  }

  // "17T 630000 4833400", "17T 0630000mE 4833400mN"
  bool grid_metres(int zone, char band, std::size_t first, CoordinateReading& reading) const {
    const std::size_t east_at = first + 2;
    std::size_t at = east_at + 1;
    const auto skip_unit = [&] {
      for (int n = 0;
           n < 3 && (is_sign(at, ",") || is_sign(at, ".") || is_sign(at, "/") || is_sign(at, ";") ||
                     (is_letters(at) && (words_[at].folded == "e" || words_[at].folded == "n" || words_[at].folded == "m" ||
                                         words_[at].folded == "me" || words_[at].folded == "mn")));
           ++n) {
        ++at;
      }
    };
    skip_unit();
    if (!is_digits(at) || words_[east_at].folded.size() > 7 || words_[at].folded.size() > 8) return false;
    const double easting = std::atof(words_[east_at].folded.c_str()), northing = std::atof(words_[at].folded.c_str());
    constexpr double kLeastEasting = 100000, kMostEasting = 900000, kMostNorthing = 10000000;
    if (easting < kLeastEasting || easting > kMostEasting || northing > kMostNorthing) return false;
    std::size_t last = at++;
    skip_unit();
    last = std::max(last, at - 1);
    while (last > first && words_[last].kind == Word::Kind::sign) --last;
    // "N" and "S" are bands as well as hemispheres: the northing tells whether the band is meant.
    const double band_south = -80 + 8.0 * static_cast<double>(kBands.find(band)),
                 band_north = band_south + (band == 'x' ? 12 : 8);
    bool south = band < 'n';
    auto place = utm(zone, south)(easting, northing);
    const bool in_band = place && place->second > band_south - 0.5 && place->second < band_north + 0.5;
    double confidence = 0.97;
    if (!in_band) {
      if (band != 's' && band != 'n') {
        span(first, last, reading);
        reading.reasons.push_back("The northing does not lie in the band of its letter, so the grid reference is left open.");
        return true;
      }
      south = band == 's';
      place = utm(zone, south)(easting, northing);
      confidence = 0.9;
      reading.reasons.push_back("The letter is taken as the hemisphere: the northing does not lie in a band of that name.");
    }
    if (!place) return false;
    span(first, last, reading);
    finish({place->second, place->first}, 0, confidence, reading);
    reading.uncertainty_m = std::sqrt(2.0);
    reading.reasons.push_back("UTM on the WGS 84 ellipsoid; the datum is not stated.");
    return true;
  }

  bool grid_square(int zone, std::string_view letters, std::size_t digits_at, std::size_t first,
                   CoordinateReading& reading) const {
    std::string digits = words_[digits_at].folded;
    std::size_t last = digits_at;
    if (is_digits(digits_at + 1) && words_[digits_at + 1].folded.size() == digits.size() &&
        words_[digits_at + 1].begin - words_[digits_at].end == 1) {
      digits += words_[digits_at + 1].folded;
      last = digits_at + 1;
    }
    constexpr std::size_t kMostDigits = 10;
    if (digits.size() % 2 != 0 || digits.size() > kMostDigits || digits.size() < 2) return false;
    constexpr std::string_view kColumns[] = {"stuvwxyz", "abcdefgh", "jklmnpqr"};  // by zone modulo 3
    constexpr std::string_view kRows = "abcdefghjklmnpqrstuv";
    const auto column = kColumns[zone % 3].find(letters[1]);
    const auto row = kRows.find(letters[2]);
    if (column == std::string_view::npos || row == std::string_view::npos) return false;
    constexpr double kSquare_m = 100000, kRowCycle_m = 2000000;
    const auto half = digits.size() / 2;
    const double cell_m = std::pow(10.0, 5 - static_cast<double>(half));
    const double easting =
        kSquare_m * static_cast<double>(column + 1) + cell_m * (std::atof(digits.substr(0, half).c_str()) + 0.5);
    const std::size_t shifted_row = (row + kRows.size() - (zone % 2 == 0 ? 5 : 0)) % kRows.size();
    double northing = kSquare_m * static_cast<double>(shifted_row) + cell_m * (std::atof(digits.substr(half).c_str()) + 0.5);
    const bool south = letters[0] < 'n';
    const double band_south = -80 + 8.0 * static_cast<double>(kBands.find(letters[0]));
    const Projection projection = utm(zone, south);
    const auto edge = projection(zone * 6.0 - 183, band_south, PJ_INV);
    if (!edge) return false;
    while (northing < edge->second - kSquare_m) northing += kRowCycle_m;
    const auto place = projection(easting, northing);
    if (!place || place->second > band_south + 13) return false;
    span(first, last, reading);
    finish({place->second, place->first}, 0, 0.97, reading);
    reading.uncertainty_m = cell_m / std::sqrt(2.0);
    reading.reasons.push_back("MGRS on the WGS 84 ellipsoid; the point is the middle of the square.");
    return true;
  }

  std::string_view text_;
  std::vector<Word> words_;
  std::vector<Angle> angles_;
};

}  // namespace

CoordinateReading read_coordinates(std::string_view text) { return Scanner(text).read(); }

}  // namespace papillote::interpretation
