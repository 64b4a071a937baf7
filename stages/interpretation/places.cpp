#include "stages/interpretation/places.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <set>
#include <string_view>

#include "stages/interpretation/place_names.h"
#include "stages/interpretation/place_words.h"
#include "stages/interpretation/point_radius.h"

namespace papillote::interpretation {
namespace {

constexpr std::size_t kMostBytes = 4000;  // longer texts are no locality; the rest is not looked at
constexpr std::size_t kLongestName = 6;   // words
constexpr std::size_t kMostFuzzyLookups = 10;
constexpr std::size_t kMostCandidates = 400;  // of one name, best first

// ---- the weights; fitted on dated records with known positions (tests and DEVELOPERS say how well)

struct Weights {
  double unlisted = 120;          // a place of the same name that no gazetteer has, nothing known of the area
  double unlisted_country = 0.2;  // ... factor when the country is known and the candidate lies in it
  double unlisted_state = 0.25;   // ... and when the state is known, or a chain in the text agrees
  double wrong_country = 0.002;
  double wrong_state = 0.01;
  double wrong_chain = 0.05;    // another name in the text is a division that does not hold the candidate
  double other_name = 0.5;      // an alternate name, not the main one
  double lone_code = 0.02;      // "CA" with nothing around it that says which
  double distance_decay = 1.7;  // per unit of reading distance in a name of eight letters
  double near_other = 4;        // another mention lies within 60 km
};
constexpr Weights kWeights;

double prior_of(const GazetteerPlace& place) {
  switch (place.kind) {
    case PlaceKind::country:
      return 1500;
    case PlaceKind::former_country:
      return 500;
    case PlaceKind::division1:
      return 300 + std::pow(place.population, 0.35);
    case PlaceKind::division2:
      return 25;
    case PlaceKind::settlement:
      return std::pow(place.population + 300.0, 0.4);
    case PlaceKind::island:
    case PlaceKind::mountain:
    case PlaceKind::region:
      return place.radius_m > 100'000 ? 250 : 80;
    case PlaceKind::water:
      return 25;
    case PlaceKind::other:
      break;
  }
  return 8;
}

bool is_wide(PlaceKind kind) {
  return kind == PlaceKind::country || kind == PlaceKind::former_country || kind == PlaceKind::division1 ||
         kind == PlaceKind::division2;
}

// How particular a place is: 3 a place, 2 a county, 1 a state, 0 a country.
int level_of(const GazetteerPlace& place) {
  switch (place.kind) {
    case PlaceKind::country:
    case PlaceKind::former_country:
      return 0;
    case PlaceKind::division1:
      return 1;
    case PlaceKind::division2:
      return 2;
    case PlaceKind::settlement:
      return 3;
    default:
      return place.radius_m > 1'000'000 ? 0 : place.radius_m > 150'000 ? 1 : place.radius_m > 40'000 ? 2 : 3;
  }
}

// Countries where O in a heading is west, the Romance languages; elsewhere it is east.
bool o_is_west_in(std::string_view country) {
  static const std::set<std::string_view> romance{
      "ES", "PT", "FR", "IT", "MX", "GT", "HN", "SV", "NI", "CR", "PA", "CU", "DO", "PR", "CO", "VE", "EC", "PE",
      "BO", "CL", "AR", "UY", "PY", "BR", "GF", "GP", "MQ", "HT", "MZ", "AO", "CV", "ST", "GQ", "SN", "ML", "BF",
      "CI", "BJ", "TG", "GA", "CG", "CD", "CF", "TD", "NE", "GN", "MG", "MA", "DZ", "TN", "NC", "RE", "RO", "AD"};
  return romance.contains(country.substr(0, 2));
}

// ---- offsets

struct Leg {
  double distance_m = 0;
  double half_precision_m = 0;
  std::optional<Heading> heading;
};

struct Offset {
  std::size_t first = 0, last = 0;  // words it takes up
  std::vector<Leg> legs;            // several: so far north and so far east
  bool of = false;                  // "of", "from" follows: the next name is where it starts
  bool by_road = false;
  bool metres_or_miles = false;  // "m" may be either
};

struct Candidate {
  PlaceIndex index = 0;
  GazetteerPlace place;
  double distance = 0;
  bool main_name = false;
  bool code = false;  // written as a code or a short abbreviation
  double weight = 0;
  double share = 0;  // probability
  bool in_country = false, in_state = false, in_chain = false;
};

struct Mention {
  std::size_t first = 0, last = 0;  // words [first, last)
  std::vector<Candidate> candidates;
  bool fuzzy = false;
  bool near = false, offshore = false, towards = false;
  double unlisted_factor = 1;
  std::size_t letters = 0;
  std::string doubt;  // why, in words
  std::vector<const Offset*> offsets;
};

struct Context {
  std::string country;              // codes, "MX" or "ID,MY"; empty when not known
  std::vector<std::string> states;  // division codes
  std::string state_name;
  std::optional<GazetteerPlace> country_place, state_place;
};

bool same_area(const GazetteerPlace& inner, const GazetteerPlace& outer) {
  switch (outer.kind) {
    case PlaceKind::country:
    case PlaceKind::former_country:
    case PlaceKind::division1:
    case PlaceKind::division2:
      return lies_in(inner.division, outer.division);
    default:
      return outer.radius_m > 20'000 &&
             distance_m(inner.lat_deg, inner.lon_deg, outer.lat_deg, outer.lon_deg) < outer.radius_m * 1.1 + 5'000 &&
             inner.radius_m < outer.radius_m;
  }
}

Context context_of(const PlaceHint& hint, const Gazetteer& gazetteer) {
  Context context;
  if (!hint.country.empty()) {
    double best = 0;
    for (const auto& match : gazetteer.named(name_key(hint.country))) {
      const auto place = gazetteer.place(match.place);
      if (place.kind != PlaceKind::country && place.kind != PlaceKind::former_country) continue;
      const double weight = prior_of(place) * (match.abbreviation && place.division != hint.country ? 0.1 : 1);
      if (weight > best) {
        best = weight;
        context.country = place.division;
        context.country_place = place;
      }
    }
  }
  if (!hint.state.empty()) {
    const auto key = name_key(hint.state);
    double best_rank = -1;
    for (const auto& spelling : {key, without_kind_words(key)}) {
      for (const auto& match : gazetteer.named(spelling)) {
        const auto place = gazetteer.place(match.place);
        const bool division =
            place.kind == PlaceKind::division1 || (place.kind == PlaceKind::division2 && !context.country.empty());
        const bool area = place.kind == PlaceKind::region || place.kind == PlaceKind::island;
        if (!(division || area) || (!context.country.empty() && !lies_in(place.division, context.country))) continue;
        if (division && std::find(context.states.begin(), context.states.end(), place.division) == context.states.end())
          context.states.emplace_back(place.division);
        // a state by its own name before one by another name, states before regions before counties
        const double rank = (place.kind == PlaceKind::division1   ? 1e9
                             : place.kind == PlaceKind::division2 ? 0
                                                                  : 1e8) +
                            (match.main_name ? 5e7 : 0) + place.radius_m;
        if (rank <= best_rank) continue;
        best_rank = rank;
        context.state_place = place;
      }
      if (context.state_place) break;
    }
    if (context.state_place && context.state_place->kind == PlaceKind::division1)
      std::erase_if(context.states, [&](const std::string& code) { return std::count(code.begin(), code.end(), '.') > 1; });
    context.state_name = hint.state;
    // one state of a known name, no country given: the country follows
    if (context.country.empty() && context.states.size() == 1) context.country = context.states.front().substr(0, 2);
  }
  return context;
}

class Scene {
 public:
  Scene(std::string_view text, const Gazetteer& gazetteer, const Context& context)
      : text_(text.substr(0, kMostBytes)),
        gazetteer_(gazetteer),
        context_(context),
        words_(words_of(text_)),
        used_(words_.size()) {
    any_lower_ = std::any_of(words_.begin(), words_.end(), [](const NameWord& word) {
      return !word.number && word.letters.size() > 2 && word.capital && !word.upper;
    });
    any_capital_ = std::any_of(words_.begin(), words_.end(), [](const NameWord& word) { return word.capital; });
    mask_people();
    find_offsets();
    find_mentions();
    find_misread_mentions();
    attach_offsets();
    look_around();
    weigh();
  }

  const std::vector<Mention>& mentions() const { return mentions_; }
  const std::vector<NameWord>& words() const { return words_; }
  std::string_view text() const { return text_; }

  std::string written(const Mention& mention) const {
    const auto begin = words_[mention.first].begin, end = words_[mention.last - 1].end;
    return std::string(text_.substr(begin, end - begin));
  }
  // Words of names before a mention that no mention explains: the place is a particular spot near it.
  std::size_t unexplained_names(const Mention& mention) const {
    std::size_t count = 0;
    for (std::size_t i = 0; i < words_.size(); ++i) {
      if (i >= mention.first && i < mention.last) continue;
      if (!looks_like_name(i) || feature_of(words_[i].key) != Feature::none || used_[i] == kOffset) continue;
      const bool explained = std::any_of(mentions_.begin(), mentions_.end(), [i](const Mention& other) {
        return i >= other.first && i < other.last && !other.candidates.empty() && other.candidates.front().share >= 0.3;
      });
      if (!explained) ++count;
    }
    return count;
  }
  // Whether the text says "off" a name or a coast.
  bool offshore() const {
    for (std::size_t i = 0; i + 1 < words_.size(); ++i) {
      if (!is_offshore_word(words_[i].letters) || words_[i + 1].number || words_[i + 1].gap > 1) continue;
      if (words_[i + 1].letters == "coast" || words_[i + 1].letters == "shore" ||
          (words_[i + 1].capital && feature_of(words_[i + 1].key) != Feature::road))
        return true;
    }
    return false;
  }
  std::pair<const Mention*, const Mention*> between() const { return between_; }

 private:
  const NameWord& word(std::size_t i) const { return words_[i]; }
  bool capital(std::size_t i) const { return words_[i].capital || !any_capital_; }

  bool looks_like_name(std::size_t i) const {
    const auto& one = words_[i];
    return !one.number && one.letters.size() >= 3 && capital(i) && used_[i] != kMasked && !is_link_word(one.letters) &&
           !is_near_word(one.letters) && !heading_of(one.letters) && !length_unit_m(one.letters) &&
           !is_never_a_place(one.letters);
  }

  // Names after "leg.", "coll." are people.
  void mask_people() {
    for (std::size_t i = 0; i < words_.size(); ++i) {
      if (!is_people_word(words_[i].letters) || !(words_[i].dotted || i + 1 == words_.size())) continue;
      used_[i] = kMasked;
      for (std::size_t j = i + 1; j < words_.size() && j < i + 5 && words_[j].gap < 2 && !words_[j].number; ++j)
        used_[j] = kMasked;
      for (std::size_t j = i; j-- > 0 && j + 4 > i;) {  // "A. Meyer coll.": the initials show a person
        if (words_[j].number) break;
        if (words_[j].letters.size() == 1 && words_[j].dotted)
          for (std::size_t k = j; k < i; ++k) used_[k] = kMasked;
        if (words_[j].gap >= 2) break;
      }
    }
  }

  struct Number {
    double value;
    double half_precision;
    std::size_t next;
  };
  std::optional<Number> number_at(std::size_t i) const {
    const auto& one = words_[i];
    if (const auto spoken = number_word(one.letters)) return Number{*spoken, 0.5, i + 1};
    if (!one.number || one.letters.size() > 6) return std::nullopt;
    const double value = std::strtod(one.letters.c_str(), nullptr);
    const auto digit_after = [&](std::size_t at) {
      return at + 1 < words_.size() && words_[at + 1].number && words_[at + 1].letters.size() <= 3;
    };
    const auto slash = [&](std::size_t at) {
      return digit_after(at) && words_[at + 1].begin == words_[at].end + 1 && text_[words_[at].end] == '/';
    };
    if (slash(i)) {  // 1/2
      const double below = std::strtod(words_[i + 1].letters.c_str(), nullptr);
      if (below >= 2 && value < below) return Number{value / below, 0.5 / below, i + 2};
    }
    if (digit_after(i) && words_[i + 1].gap == 0 && slash(i + 1)) {  // 3 1/2
      const double above = std::strtod(words_[i + 1].letters.c_str(), nullptr),
                   below = std::strtod(words_[i + 2].letters.c_str(), nullptr);
      if (below >= 2 && above < below) return Number{value + above / below, 0.5 / below, i + 3};
    }
    if (digit_after(i) && text_[words_[i].end] == '-' && words_[i + 1].begin == words_[i].end + 1) {  // 3-4
      const double other = std::strtod(words_[i + 1].letters.c_str(), nullptr);
      if (other > value) return Number{(value + other) / 2, (other - value) / 2, i + 2};
    }
    return Number{value, half_offset_precision(one.letters), i + 1};
  }

  struct Direction {
    Heading heading;
    std::size_t next;
  };
  std::optional<Direction> direction_at(std::size_t i, bool after_distance) const {
    if (i >= words_.size()) return std::nullopt;
    const auto& one = words_[i];
    auto heading = heading_of(one.letters);
    if (!heading) return std::nullopt;
    if (one.letters.size() <= 3 && !one.upper && !after_distance && !one.dotted) return std::nullopt;
    std::size_t next = i + 1;
    if (next < words_.size() && words_[next].gap <= 1) {  // "north west", "E-NE", "N. N. E."
      std::string joined = one.letters;
      const auto second = heading_of(words_[next].letters);
      if (second && (words_[next].upper || words_[next].letters.size() > 3 || after_distance)) {
        const auto short_form = [](const Heading& h) {
          constexpr std::array<std::string_view, 16> names{"n", "nne", "ne", "ene", "e", "ese", "se", "sse",
                                                           "s", "ssw", "sw", "wsw", "w", "wnw", "nw", "nnw"};
          return names[static_cast<std::size_t>(std::lround(h.deg / 22.5)) % 16];
        };
        joined = std::string(short_form(*heading)) + std::string(short_form(*second));
        if (auto both = heading_of(joined)) {
          both->o_is_east = heading->o_is_east || second->o_is_east;
          heading = both;
          ++next;
        }
      }
    }
    return Direction{*heading, next};
  }

  void find_offsets() {
    for (std::size_t i = 0; i < words_.size();) {
      Offset offset;
      offset.first = i;
      std::size_t at = i;
      while (auto leg = leg_at(at, offset)) {
        offset.legs.push_back(leg->first);
        at = leg->second;
        offset.last = at;
        if (at < words_.size() && (is_and_word(words_[at].letters) || words_[at].letters == "then")) ++at;
        if (at < words_.size() && words_[at].letters == "al") ++at;
      }
      if (offset.legs.empty()) {
        if (auto toward = bare_direction(i)) offsets_.push_back(*toward);
        ++i;
        continue;
      }
      at = offset.last;
      std::size_t links = 0;
      while (at < words_.size() && words_[at].gap <= 1 && links < 4 &&
             (is_link_word(words_[at].letters) || words_[at].letters == "air" || words_[at].letters == "road" ||
              words_[at].letters == "jct")) {
        if (words_[at].letters == "road") offset.by_road = true;
        offset.of = true;
        ++at;
        ++links;
      }
      for (std::size_t k = offset.first; k < offset.last; ++k) used_[k] = kOffset;
      i = std::max(i + 1, offset.last);
      offset.last = at;
      offsets_.push_back(offset);
    }
  }

  std::optional<std::pair<Leg, std::size_t>> leg_at(std::size_t i, Offset& offset) const {
    if (i >= words_.size()) return std::nullopt;
    // distance first: "5 mi. N", "12 road miles by air NW", "2.5 km al S"
    if (const auto number = number_at(i)) {
      std::size_t at = number->next;
      const auto filler = [&](std::size_t k) {
        const auto& letters = words_[k].letters;
        return letters == "road" || letters == "air" || letters == "air" || letters == "a" || letters == "by" ||
               letters == "rd" || letters == "linear";
      };
      while (at < words_.size() && at < number->next + 2 && filler(at)) offset.by_road |= words_[at++].letters.starts_with("r");
      if (at >= words_.size() || words_[at].gap > 1) return std::nullopt;
      auto unit = length_unit_m(words_[at].letters);
      const bool bare_m = words_[at].letters == "m";
      std::size_t after = at + 1;
      std::optional<Direction> direction;
      if (!unit && !bare_m) {
        // "3.25 NNW of Congerville": the unit was forgotten, the country's own is meant
        direction = direction_at(at, false);
        if (!direction || direction->next >= words_.size() || words_[direction->next].letters != "of") return std::nullopt;
        return std::pair{Leg{number->value * kMetresPerMile, number->value * kMetresPerMile * 0.4, direction->heading},
                         direction->next};
      }
      if (words_[at].letters == "nautical" && after < words_.size()) ++after;
      const std::size_t before_fill = after;
      while (after < words_.size() && after < before_fill + 4 && words_[after].gap <= 1 &&
             (filler(after) || words_[after].letters == "al" || words_[after].letters == "au" ||
              words_[after].letters == "to" || words_[after].letters == "the" || words_[after].letters == "due" ||
              words_[after].letters == "line" || words_[after].letters == "recta" || words_[after].letters == "linea" ||
              words_[after].letters == "hacia" || words_[after].letters == "el" || words_[after].letters == "mot" ||
              words_[after].letters == "in"))
        offset.by_road |= words_[after++].letters == "road";
      direction = direction_at(after, true);
      if (bare_m) {
        if (!direction) return std::nullopt;  // an elevation
        unit = number->value < 60 ? kMetresPerMile : 1.0;
        offset.metres_or_miles = true;
      }
      if (words_[at].letters == "ft" || words_[at].letters == "feet" || words_[at].letters == "mts" || *unit < 2) {
        if (!direction) return std::nullopt;
      }
      Leg leg{number->value * *unit, number->half_precision * *unit, std::nullopt};
      if (direction) {
        leg.heading = direction->heading;
        return std::pair{leg, direction->next};
      }
      // no direction: only "5 mi from X"
      if (before_fill < words_.size() && (words_[before_fill].letters == "from" || words_[before_fill].letters == "de" ||
                                          words_[before_fill].letters == "von" || words_[before_fill].letters == "fra" ||
                                          words_[before_fill].letters == "below" || words_[before_fill].letters == "above"))
        return std::pair{leg, before_fill};
      return std::nullopt;
    }
    return std::nullopt;
  }

  // "north of X", "E of X", "al norte de X": no distance.
  std::optional<Offset> bare_direction(std::size_t i) {
    const auto direction = direction_at(i, false);
    if (!direction || direction->next >= words_.size()) return std::nullopt;
    const auto& after = words_[direction->next];
    if (after.gap > 1 || !(after.letters == "of" || after.letters == "from" || after.letters == "de" ||
                           after.letters == "del" || after.letters == "von" || after.letters == "av" || after.letters == "om" ||
                           after.letters == "fra" || after.letters == "d"))
      return std::nullopt;
    Offset offset;
    offset.first = i;
    offset.last = direction->next + 1;
    offset.of = true;
    offset.legs.push_back({0, 0, direction->heading});
    for (std::size_t k = i; k < direction->next; ++k) used_[k] = kOffset;
    if (offset.last < words_.size() && is_link_word(words_[offset.last].letters)) ++offset.last;
    return offset;
  }

  // ---- mentions

  bool may_begin(std::size_t i) const {
    const auto& one = words_[i];
    return !one.number && used_[i] != kMasked && used_[i] != kOffset && capital(i);
  }

  std::vector<Candidate> candidates_of(const std::vector<NameMatch>& matches, std::size_t first, std::size_t last) const {
    std::map<PlaceIndex, Candidate> by_place;
    std::size_t letters = 0;
    bool all_upper = true;
    for (std::size_t i = first; i < last; ++i) {
      letters += words_[i].letters.size();
      all_upper = all_upper && (words_[i].upper || words_[i].letters.size() == 1);
    }
    const bool dotted = words_[last - 1].dotted;
    for (const auto& match : matches) {
      const auto place = gazetteer_.place(match.place);
      if (match.abbreviation) {
        // a code is believed in capitals or with a full stop, after a comma or at the end, never in running text
        const bool separate =
            words_[first].gap >= 2 || last == words_.size() || words_[last].gap >= 2 || words_[last].number || !any_lower_;
        if (!((all_upper && any_lower_) || dotted || (all_upper && last - first == 1 && letters <= 3)) || !(separate || dotted))
          continue;
        if (letters <= 1 || (!context_.country.empty() && !lies_in(place.division, context_.country))) continue;
      } else if (letters <= 2 || (letters == 3 && !match.main_name && !is_wide(place.kind))) {
        continue;
      }
      Candidate candidate;
      candidate.index = match.place;
      candidate.place = place;
      candidate.distance = match.distance;
      candidate.main_name = match.main_name || match.abbreviation;
      candidate.code = match.abbreviation && letters <= 3;
      auto [known, fresh] = by_place.try_emplace(match.place, candidate);
      if (!fresh && (candidate.distance < known->second.distance ||
                     (candidate.main_name && candidate.distance <= known->second.distance)))
        known->second = candidate;
    }
    std::vector<Candidate> candidates;
    for (auto& [index, candidate] : by_place) {
      const auto& place = candidate.place;
      candidate.in_country = !context_.country.empty() && (place.division.empty() ? around(place, context_.country_place)
                                                                                  : lies_in(place.division, context_.country));
      const bool coded = place.division.find('.') != std::string_view::npos;
      candidate.in_state =
          coded && !context_.states.empty()
              ? std::any_of(context_.states.begin(), context_.states.end(),
                            [&](const std::string& state) { return lies_in(place.division, state); })
              : !is_wide(place.kind) && (place.division.empty() || candidate.in_country) && around(place, context_.state_place);
      candidates.push_back(candidate);
    }
    return candidates;
  }

  // For places without a division code: within the circle of the area.
  static bool around(const GazetteerPlace& place, const std::optional<GazetteerPlace>& area) {
    return area && distance_m(place.lat_deg, place.lon_deg, area->lat_deg, area->lon_deg) < area->radius_m + place.radius_m;
  }

  // The same name with its common noun at the other end or left out: "Isla Magdalena", "Mt. Kinabalu".
  // `fitting` is set when the noun says what the place is.
  std::vector<NameMatch> variants(std::size_t first, std::size_t last, bool& fitting) const {
    if (last - first < 2) return {};
    std::vector<NameMatch> found;
    const auto try_key = [&](std::size_t from, std::size_t to, std::size_t noun, bool noun_first) {
      const auto feature = feature_of(words_[noun].key);
      if (feature == Feature::none || feature == Feature::road || feature == Feature::building) return;
      auto bare = key_of(&words_[from], &words_[to - 1] + 1);
      const auto turned = noun_first ? bare + ' ' + words_[noun].key : words_[noun].key + ' ' + bare;
      for (const auto& match : gazetteer_.named(turned)) found.push_back(match);
      for (auto match : gazetteer_.named(bare)) {
        const auto kind = gazetteer_.place(match.place).kind;
        const bool fits = (feature == Feature::island && kind == PlaceKind::island) ||
                          (feature == Feature::height && kind == PlaceKind::mountain) ||
                          (feature == Feature::water && kind == PlaceKind::water) ||
                          (feature == Feature::division && (kind == PlaceKind::division1 || kind == PlaceKind::division2)) ||
                          (feature == Feature::settlement && kind == PlaceKind::settlement);
        if (!fits) continue;
        fitting = true;
        found.push_back(match);
      }
    };
    std::size_t name = first + 1;
    while (name < last - 1 && is_link_word(words_[name].letters)) ++name;
    try_key(name, last, first, true);
    try_key(first, last - 1, last - 1, false);
    return found;
  }

  void find_mentions() {
    std::vector<Mention> found;
    for (std::size_t i = 0; i < words_.size(); ++i) {
      if (!may_begin(i)) continue;
      for (std::size_t length = std::min(kLongestName, words_.size() - i); length >= 1; --length) {
        const std::size_t last = i + length;
        bool whole = true;
        for (std::size_t k = i + 1; k < last; ++k) whole = whole && words_[k].gap <= 1 && used_[k] != kMasked;
        if (!whole) continue;
        const auto& end = words_[last - 1];
        if (length == 1 && (is_never_a_place(end.letters) || is_link_word(end.letters) || feature_of(end.key) != Feature::none))
          continue;
        if (length > 1 && !end.number && (is_link_word(end.letters) || !capital(last - 1))) continue;
        auto matches = gazetteer_.named(key_of(&words_[i], &end + 1));
        Mention mention;
        bool fitting = false;
        if (matches.empty()) matches = variants(i, last, fitting);
        if (matches.empty()) continue;
        if (fitting) mention.unlisted_factor = 0.3;
        mention.first = i;
        mention.last = last;
        mention.candidates = candidates_of(matches, i, last);
        if (!mention.candidates.empty()) found.push_back(std::move(mention));
      }
    }
    keep_outermost(std::move(found));
  }

  bool plausible(const Mention& mention) const {
    return std::any_of(mention.candidates.begin(), mention.candidates.end(),
                       [&](const Candidate& candidate) { return context_.country.empty() || candidate.in_country; });
  }

  // Of overlapping mentions the longer is meant, unless the context rules it out.
  void keep_outermost(std::vector<Mention> found) {
    std::stable_sort(found.begin(), found.end(), [&](const Mention& a, const Mention& b) {
      const bool pa = plausible(a), pb = plausible(b);
      if (pa != pb) return pa;
      return a.last - a.first > b.last - b.first;
    });
    std::vector<bool> taken(words_.size());
    for (auto& mention : found) {
      bool free = true;
      for (std::size_t i = mention.first; i < mention.last; ++i) free = free && !taken[i];
      if (!free) continue;
      for (std::size_t i = mention.first; i < mention.last; ++i) {
        taken[i] = true;
        used_[i] = kNamed;
      }
      mentions_.push_back(std::move(mention));
    }
    std::sort(mentions_.begin(), mentions_.end(), [](const Mention& a, const Mention& b) { return a.first < b.first; });
  }

  void find_misread_mentions() {
    std::vector<Mention> found;
    std::size_t lookups = 0;
    for (std::size_t length = 3; length >= 1; --length)
      for (std::size_t i = 0; i + length <= words_.size() && lookups < kMostFuzzyLookups; ++i) {
        bool free = may_begin(i);
        std::size_t letters = 0, nouns = 0;
        for (std::size_t k = i; free && k < i + length; ++k) {
          const auto& one = words_[k];
          free = used_[k] == 0 && !one.number && (k == i || one.gap <= 1) && (capital(k) || is_link_word(one.letters));
          if (is_link_word(one.letters) && (k == i || k + 1 == i + length)) free = false;
          if (is_never_a_place(one.letters) || feature_of(one.key) != Feature::none) ++nouns;
          letters += one.letters.size();
        }
        if (!free || letters < 6 || nouns == length) continue;
        ++lookups;
        const double most = std::min(1.5, 0.16 * static_cast<double>(letters));
        const auto matches = gazetteer_.named_about(key_of(&words_[i], &words_[i + length - 1] + 1), most);
        if (matches.empty()) continue;
        Mention mention;
        mention.first = i;
        mention.last = i + length;
        mention.fuzzy = true;
        mention.candidates = candidates_of(matches, i, i + length);
        if (!plausible(mention)) continue;
        found.push_back(std::move(mention));
      }
    const auto before = std::move(mentions_);
    mentions_.clear();
    keep_outermost(std::move(found));
    mentions_.insert(mentions_.end(), before.begin(), before.end());
    std::sort(mentions_.begin(), mentions_.end(), [](const Mention& a, const Mention& b) { return a.first < b.first; });
  }

  static bool fits(Feature feature, PlaceKind kind) {
    switch (feature) {
      case Feature::none:
        return true;
      case Feature::water:
        return kind == PlaceKind::water;
      case Feature::height:
        return kind == PlaceKind::mountain || kind == PlaceKind::region;
      case Feature::island:
        return kind == PlaceKind::island;
      case Feature::settlement:
        return kind == PlaceKind::settlement || kind == PlaceKind::division2;
      case Feature::division:
        return kind == PlaceKind::division1 || kind == PlaceKind::division2 || kind == PlaceKind::region ||
               kind == PlaceKind::country;
      case Feature::reserve:
      case Feature::low:
        return kind == PlaceKind::region || kind == PlaceKind::other;
      case Feature::coast:
        return kind == PlaceKind::region || kind == PlaceKind::water;
      default:
        return kind == PlaceKind::other;
    }
  }

  void look_around() {
    for (auto& mention : mentions_) {
      const auto& first = words_[mention.first];
      std::size_t before = mention.first;
      bool link = false;
      while (before > 0 && words_[before].gap <= 1 && is_link_word(words_[before - 1].letters)) {
        --before;
        link = true;
      }
      const bool has_before = before > 0 && words_[before].gap <= 1;
      if (has_before) {
        const auto& left = words_[before - 1];
        if (is_near_word(left.letters)) mention.near = true;
        if (is_offshore_word(left.letters)) mention.offshore = true;
        if (is_towards_word(left.letters)) mention.towards = true;
      }
      if (before > 0 && before < mention.first && words_[before].gap <= 1 && is_towards_word(words_[mention.first - 1].letters))
        mention.towards = true;

      // a common noun beside the name, or another name in one breath with it
      double factor = 1;
      std::string doubt;
      const auto beside = [&](std::size_t i, bool after, bool linked) {
        const auto& other = words_[i];
        if (used_[i] == kOffset || other.number || used_[i] == kMasked) return;
        if (used_[i] == kNamed) {
          // "Anza Borrego": two names in one breath, unless one of them is a country or a division
          const auto wide = [](const Mention& m) {
            return std::any_of(m.candidates.begin(), m.candidates.end(),
                               [](const Candidate& c) { return is_wide(c.place.kind); });
          };
          for (const auto& neighbour : mentions_)
            if (i >= neighbour.first && i < neighbour.last && !linked && !wide(neighbour) && !wide(mention) && factor < 3) {
              factor = 3;
              doubt = fmt::format("\"{}\" beside it may belong to the same name", written(neighbour));
            }
          return;
        }
        const auto feature = feature_of(other.key);
        const bool fitting = std::any_of(mention.candidates.begin(), mention.candidates.end(),
                                         [&](const Candidate& c) { return fits(feature, c.place.kind); });
        if (feature != Feature::none && (other.capital || !any_capital_ || feature == Feature::road)) {
          if (linked && after) return;
          if (fitting) return;
          const bool nature =
              feature == Feature::water || feature == Feature::height || feature == Feature::low || feature == Feature::island;
          const double one = linked                                                    ? (nature ? 8 : 3)
                             : feature == Feature::building                            ? 5
                             : feature == Feature::settlement                          ? 3
                             : feature == Feature::estate || feature == Feature::coast ? 15
                                                                                       : 40;
          if (one > factor) {
            factor = one;
            doubt = fmt::format("\"{}\" beside it may mean another place named after it",
                                std::string(text_.substr(other.begin, other.end - other.begin)));
          }
        } else if (!linked && looks_like_name(i) && !(other.upper && !first.upper)) {
          if (factor < 6) {
            factor = 6;
            doubt = fmt::format("\"{}\" beside it is not explained",
                                std::string(text_.substr(other.begin, other.end - other.begin)));
          }
        }
      };
      if (has_before && before > 0) beside(before - 1, false, link);
      if (mention.last < words_.size() && words_[mention.last].gap <= 1) beside(mention.last, true, false);
      // "Buckeye-Salome Road": the far end of the name is the road
      for (std::size_t i = mention.last; i < words_.size() && i < mention.last + 4 && words_[i].gap == 0 && words_[i].capital;
           ++i)
        if (i > mention.last && feature_of(words_[i].key) == Feature::road && factor < 30) {
          factor = 30;
          doubt = "part of the name of a road";
        }
      mention.unlisted_factor *= factor;
      mention.doubt = doubt;
      std::size_t letters = 0;
      for (std::size_t i = mention.first; i < mention.last; ++i) letters += words_[i].letters.size();
      if (letters <= 4) mention.unlisted_factor *= 2;
      bool common = true;
      for (std::size_t i = mention.first; i < mention.last; ++i)
        common = common && (feature_of(words_[i].key) != Feature::none || is_never_a_place(words_[i].letters));
      if (common) mention.unlisted_factor *= 5;
      if (letters >= 9) mention.unlisted_factor *= 0.6;  // long names are seldom shared by chance
      mention.letters = letters;
    }
  }

  void weigh() {
    for (auto& mention : mentions_) {
      for (auto& candidate : mention.candidates) {
        double weight = prior_of(candidate.place);
        if (!candidate.main_name)
          weight *= candidate.place.kind == PlaceKind::division2 ? kWeights.other_name / 2 : kWeights.other_name;
        if (candidate.code && !candidate.in_country) weight *= kWeights.lone_code;
        // nobody measures from a county
        if (is_wide(candidate.place.kind) && !mention.offsets.empty() && !candidate.main_name) weight *= 0.1;
        weight *= std::exp(-kWeights.distance_decay * candidate.distance * 8 / static_cast<double>(mention.letters));
        if (!context_.country.empty() && !candidate.in_country && !candidate.place.division.empty())
          weight *= kWeights.wrong_country;
        if (context_.state_place && !candidate.in_state && !lies_in(context_.state_place->division, candidate.place.division))
          weight *= kWeights.wrong_state;
        candidate.weight = weight;
      }
      if (mention.candidates.size() > kMostCandidates) {
        std::nth_element(mention.candidates.begin(), mention.candidates.begin() + kMostCandidates, mention.candidates.end(),
                         [](const Candidate& a, const Candidate& b) { return a.weight > b.weight; });
        mention.candidates.resize(kMostCandidates);
      }
    }
    // Chains: what other mentions say, by how surely they say it.
    share_out();
    for (int round = 0; round < 2; ++round) {
      std::vector<std::vector<double>> factors;
      for (auto& mention : mentions_) {
        auto& mine = factors.emplace_back(mention.candidates.size(), 1.0);
        for (const auto& other : mentions_) {
          if (&other == &mention) continue;
          // the other mention as a division: does it hold my candidates?
          double wide_share = 0, top_share = 0;
          for (const auto& outer : other.candidates) {
            top_share = std::max(top_share, outer.share);
            if (is_wide(outer.place.kind) || (outer.place.radius_m > 40'000 && outer.place.kind != PlaceKind::settlement))
              wide_share += outer.share;
          }
          std::vector<bool> inside(mention.candidates.size(), false), holds(mention.candidates.size(), false);
          bool any_inside = false, any_holds = false;
          for (std::size_t i = 0; i < mention.candidates.size(); ++i) {
            auto& candidate = mention.candidates[i];
            for (const auto& outer : other.candidates) {
              if (outer.share < 0.005 && round > 0) continue;
              if (outer.index == candidate.index) continue;
              if (level_of(outer.place) < level_of(candidate.place) ||
                  (!is_wide(outer.place.kind) && outer.place.kind != PlaceKind::settlement && outer.place.radius_m > 20'000)) {
                if (same_area(candidate.place, outer.place)) {
                  inside[i] = true;
                  break;
                }
              } else if (candidate.place.kind != PlaceKind::settlement && is_wide(candidate.place.kind) &&
                         lies_in(outer.place.division, candidate.place.division) &&
                         level_of(outer.place) > level_of(candidate.place)) {
                inside[i] = holds[i] = any_holds = true;  // the division that holds it
                break;
              }
            }
            any_inside = any_inside || inside[i];
          }
          if (any_inside) {
            for (std::size_t i = 0; i < mine.size(); ++i) {
              if (inside[i])
                mention.candidates[i].in_chain = true;
              else
                mine[i] *= kWeights.wrong_chain + (1 - kWeights.wrong_chain) * (1 - wide_share);
              if (any_holds && !holds[i]) mine[i] *= 1 - 0.85 * std::min(1.0, top_share * 1.5);
            }
            continue;
          }
          // a division that holds none of them
          for (std::size_t i = 0; i < mine.size(); ++i)
            if (!other.near && !other.towards && other.offsets.empty()) {
              const bool wider = level_of(mention.candidates[i].place) <= 1;
              mine[i] *= 1 - (wider ? 0.3 : 0.9) * wide_share;
            }
          // two places near each other support each other
          for (std::size_t i = 0; i < mine.size(); ++i) {
            const auto& place = mention.candidates[i].place;
            if (is_wide(place.kind)) continue;
            for (const auto& neighbour : other.candidates) {
              if (is_wide(neighbour.place.kind) || neighbour.share < 0.02) continue;
              if (std::abs(neighbour.place.lat_deg - place.lat_deg) > 0.6 || neighbour.index == mention.candidates[i].index)
                continue;
              if (distance_m(place.lat_deg, place.lon_deg, neighbour.place.lat_deg, neighbour.place.lon_deg) < 60'000) {
                mine[i] *= 1 + (kWeights.near_other - 1) * std::min(1.0, neighbour.share * 3);
                break;
              }
            }
          }
        }
      }
      for (std::size_t m = 0; m < mentions_.size(); ++m)
        for (std::size_t i = 0; i < mentions_[m].candidates.size(); ++i) mentions_[m].candidates[i].weight *= factors[m][i];
      share_out();
      if (round == 0) {
        // the first round settles who is who; the second starts from the candidates' own weights again
        for (std::size_t m = 0; m < mentions_.size(); ++m)
          for (std::size_t i = 0; i < mentions_[m].candidates.size(); ++i) mentions_[m].candidates[i].weight /= factors[m][i];
      }
    }
    for (auto& mention : mentions_)
      std::stable_sort(mention.candidates.begin(), mention.candidates.end(),
                       [](const Candidate& a, const Candidate& b) { return a.share > b.share; });
  }

  void share_out() {
    for (auto& mention : mentions_) {
      double sum = 0;
      bool in_country = false, in_state = false, in_chain = false;
      for (const auto& candidate : mention.candidates) {
        sum += candidate.weight;
        in_country |= candidate.in_country;
        in_state |= candidate.in_state;
        in_chain |= candidate.in_chain;
      }
      // a name that many places have is a name that many more have
      double unlisted = kWeights.unlisted * mention.unlisted_factor * 0.5 *
                        std::sqrt(static_cast<double>(std::clamp<std::size_t>(mention.candidates.size(), 1, 9)));
      if (in_country || in_chain) unlisted *= kWeights.unlisted_country;
      if (in_state || in_chain) unlisted *= kWeights.unlisted_state;
      for (auto& candidate : mention.candidates) candidate.share = candidate.weight / (sum + unlisted);
    }
  }

  void attach_offsets() {
    for (const auto& offset : offsets_) {
      Mention* start = nullptr;
      for (auto& mention : mentions_) {  // forward
        if (mention.first < offset.last) continue;
        bool direct = mention.first - offset.last <= 2;
        for (std::size_t k = offset.last; direct && k <= mention.first; ++k)
          if (k > offset.last || !offset.of) direct = direct && words_[k].gap <= 1;
        if (offset.of && words_[std::min(offset.last, words_.size() - 1)].gap > 1) direct = false;
        if (direct) start = &mention;
        break;
      }
      // backward: "Meyers; 2 mi SSW", "Santa Fe, 11 mi NE of"
      const bool nothing_follows = offset.last >= words_.size() || words_[offset.last].gap >= 2;
      if (start == nullptr && nothing_follows && offset.legs.front().distance_m > 0) {
        for (auto& mention : mentions_)
          if (mention.last <= offset.first) start = &mention;
        if (start != nullptr && (offset.first - start->last > 1)) start = nullptr;
      }
      if (start != nullptr) start->offsets.push_back(&offset);
    }
    // between A and B
    for (std::size_t m = 0; m + 1 < mentions_.size(); ++m) {
      const auto& a = mentions_[m];
      const auto& b = mentions_[m + 1];
      std::size_t before = a.first;
      while (before > 0 && is_link_word(words_[before - 1].letters)) --before;
      bool between = before > 0 && is_between_word(words_[before - 1].letters);
      bool joined = false;
      for (std::size_t k = a.last; k < b.first; ++k) joined = joined || is_and_word(words_[k].letters);
      const auto from = words_[a.last - 1].end;
      joined = joined || text_.substr(from, words_[b.first].begin - from).find('&') != std::string_view::npos;
      if (between && joined && b.first - a.last <= 2 && between_.first == nullptr) between_ = {&a, &b};
    }
  }

  enum : int { kMasked = 1, kOffset = 2, kNamed = 3 };

  std::string_view text_;
  const Gazetteer& gazetteer_;
  const Context& context_;
  std::vector<NameWord> words_;
  std::vector<int> used_;
  bool any_lower_ = false, any_capital_ = false;
  std::vector<Offset> offsets_;
  std::vector<Mention> mentions_;
  std::pair<const Mention*, const Mention*> between_{nullptr, nullptr};
};

// ---- from mentions to an answer

struct Answer {
  Place place;
  double probability = 0;
  std::vector<std::string> reasons;
  std::size_t begin = 0, end = 0;
  std::vector<std::pair<Place, double>> alternatives;
  std::string division;
  bool wide = false;  // only a country or a division

  bool agrees_with(const Answer& other) const {
    return place.gazetteer_id == other.place.gazetteer_id ||
           (other.wide && !division.empty() && lies_in(division, other.division));
  }
};

std::string distance_in_words(const Leg& leg) {
  std::string text = leg.distance_m > 0 ? fmt::format("{:.1f} km", leg.distance_m / 1000) : "an unstated distance";
  if (leg.heading) text += fmt::format(" at {:g} deg", leg.heading->deg);
  return text;
}

// Country of a candidate when it has one, else of the hint.
std::string country_of(const GazetteerPlace& place) {
  const auto end = place.division.find_first_of(".,");
  const auto rest = end == std::string_view::npos ? "" : place.division.substr(end, 1);
  return rest == "," ? std::string{} : std::string(place.division.substr(0, end));
}

Place place_at(const Mention& mention, const Candidate& candidate, const Scene& scene, std::vector<std::string>* reasons) {
  const auto& found = candidate.place;
  Errors errors;
  errors.radial_m = found.radius_m;
  errors.coordinate_precision_m = coordinate_precision_m(found.lat_deg, 1e-4);
  if (mention.near) {
    errors.radial_m += std::max(5'000.0, found.radius_m * 0.5);
    if (reasons) reasons->push_back("near it: the radius is wider");
  }
  if (mention.offshore) {
    errors.radial_m += 60'000 + found.radius_m * 0.5;
    if (reasons) reasons->push_back("off it: an unstated distance at sea, the radius is wider");
  }
  if (mention.towards) {
    errors.radial_m += 40'000;
    if (reasons) reasons->push_back("on the way to it: the radius is wider");
  }
  if (level_of(found) == 3 && found.radius_m < 30'000) {
    const auto others = scene.unexplained_names(mention);
    if (others > 0) {
      errors.radial_m += 6'000 + 3'000 * static_cast<double>(std::min<std::size_t>(others, 4));
      if (reasons) reasons->push_back("other names in the text are not in the gazetteer: a spot near it, the radius is wider");
    }
  }
  PointRadius point = at_named_place(found.lat_deg, found.lon_deg, errors);
  for (const auto* offset : mention.offsets) {
    if (offset->legs.front().distance_m <= 0) {
      const bool alone = scene.words()[offset->first].gap >= 2 && scene.unexplained_names(mention) == 0;
      // with nothing beside it the text is about the direction alone: it may mean a long way
      errors.radial_m += (alone ? 100'000 : 20'000) + found.radius_m * 0.5;
      point = at_named_place(found.lat_deg, found.lon_deg, errors);
      if (reasons) reasons->push_back(distance_in_words(offset->legs.front()) + " from it: the radius is wider");
      continue;
    }
    if (is_wide(found.kind) && found.radius_m > 100'000) break;
    auto legs = offset->legs;
    for (auto& leg : legs) {
      errors.half_distance_precision_m += leg.half_precision_m;
      if (leg.heading && leg.heading->o_is_east && !o_is_west_in(found.division))
        leg.heading->deg = std::fmod(360 - leg.heading->deg, 360);
      if (offset->by_road) errors.measuring_m += leg.distance_m * 0.15;
      if (reasons) {
        reasons->push_back("moved " + distance_in_words(leg) + " from it");
        if (leg.heading && leg.heading->o_is_east) reasons->back() += " (O taken as the language of the country has it)";
        if (offset->metres_or_miles) reasons->back() += leg.distance_m > 1000 ? " (m. taken as miles)" : " (m taken as metres)";
      }
    }
    if (legs.size() == 2 && legs[0].heading && legs[1].heading) {
      double north = 0, east = 0;
      for (const auto& leg : legs) {
        north += leg.distance_m * std::cos(leg.heading->deg * 3.14159265358979 / 180);
        east += leg.distance_m * std::sin(leg.heading->deg * 3.14159265358979 / 180);
      }
      point = at_orthogonal_offset(found.lat_deg, found.lon_deg, north, east, errors);
    } else if (legs.front().heading) {
      point = at_heading(found.lat_deg, found.lon_deg, legs.front().distance_m, legs.front().heading->deg, errors);
    } else {
      point = at_distance_only(found.lat_deg, found.lon_deg, legs.front().distance_m, errors);
    }
    break;
  }
  Place place;
  place.name = found.name;
  place.gazetteer_id = found.id;
  place.country = country_of(found);
  place.lat_deg = std::round(point.lat_deg * 1e7) / 1e7;
  place.lon_deg = std::round(point.lon_deg * 1e7) / 1e7;
  place.uncertainty_m = std::clamp(std::ceil(point.uncertainty_m), 1.0, 20'037'509.0);
  return place;
}

double chance_of(const Mention& mention) {
  if (mention.candidates.empty()) return 0;
  double chance = mention.candidates.front().share;
  // places of the same name that lie together are one answer
  const auto& best = mention.candidates.front().place;
  for (std::size_t i = 1; i < mention.candidates.size(); ++i) {
    const auto& other = mention.candidates[i].place;
    if (distance_m(best.lat_deg, best.lon_deg, other.lat_deg, other.lon_deg) < std::max(best.radius_m, 10'000.0))
      chance += mention.candidates[i].share;
  }
  return std::min(chance, 1.0);
}

// A mention must be this likely before a wider, surer one gives way to it.
constexpr double kBelief = 0.6;

// From the weights' probability to how often such an answer is right (within 25 km or its own radius): a logistic
// curve fitted on the dated records.
double calibrated(double probability, bool in_state) {
  const double p = std::clamp(probability, 1e-4, 1 - 1e-4);
  return 1 / (1 + std::exp(-(0.35 + 0.73 * std::log(p / (1 - p)) + (in_state ? 0.69 : 0))));
}

// "East of X" and "off X" without a distance have no radius (Georeferencing Best Practices leaves it to the next named place).
constexpr double kHowFarIsOpen = 0.65;

bool how_far_is_open(const Mention& mention, const Scene& scene) {
  const bool toward = std::any_of(mention.offsets.begin(), mention.offsets.end(),
                                  [](const Offset* offset) { return offset->legs.front().distance_m <= 0; });
  return toward || scene.offshore();
}

std::optional<Answer> answer_for(const Scene& scene, const Context& context) {
  const Mention* chosen = nullptr;
  double chosen_score = 0;
  int chosen_level = -1;
  const Mention* doubtful = nullptr;
  for (const auto& mention : scene.mentions()) {
    if (mention.candidates.empty()) continue;
    const double chance = chance_of(mention);
    const int level = level_of(mention.candidates.front().place);
    if (chance < kBelief) {
      if (doubtful == nullptr || chance > chance_of(*doubtful)) doubtful = &mention;
      continue;
    }
    double score = chance;
    if (mention.towards) score *= 0.6;
    if (!mention.offsets.empty()) score *= 1.1;
    const bool better = level > chosen_level || (level == chosen_level && score > chosen_score * 1.15);
    if (better) {
      chosen = &mention;
      chosen_level = level;
      chosen_score = score;
    }
  }
  Answer answer;
  const auto [one, two] = scene.between();
  if (one != nullptr && !one->candidates.empty() && !two->candidates.empty() && chance_of(*one) >= kBelief &&
      chance_of(*two) >= kBelief) {
    const auto a = place_at(*one, one->candidates.front(), scene, nullptr);
    const auto b = place_at(*two, two->candidates.front(), scene, nullptr);
    const double apart = distance_m(a.lat_deg, a.lon_deg, b.lat_deg, b.lon_deg);
    if (apart < 500'000) {
      answer.place = a;
      answer.place.name = a.name + " - " + b.name;
      answer.place.gazetteer_id = a.gazetteer_id + " " + b.gazetteer_id;
      answer.place.lat_deg = (a.lat_deg + b.lat_deg) / 2;
      answer.place.lon_deg = (a.lon_deg + b.lon_deg) / 2;
      answer.place.uncertainty_m = std::ceil(apart / 2 + std::max(a.uncertainty_m, b.uncertainty_m));
      answer.probability = calibrated(chance_of(*one) * chance_of(*two), false);
      answer.reasons.push_back(fmt::format("between {} and {}: the middle, {:.0f} km apart", a.name, b.name, apart / 1000));
      answer.begin = scene.words()[one->first].begin;
      answer.end = scene.words()[two->last - 1].end;
      return answer;
    }
  }
  if (chosen == nullptr && !context.state_place) chosen = doubtful;
  const bool only_country = chosen != nullptr && chosen_level == 0;
  if (chosen != nullptr && !(only_country && context.state_place)) {
    const auto* named = &chosen->candidates.front();
    // a town and its division of one name: distances are measured from the town
    if (is_wide(named->place.kind) && (chosen->near || !chosen->offsets.empty()))
      for (const auto& candidate : chosen->candidates)
        if (candidate.place.kind == PlaceKind::settlement && lies_in(candidate.place.division, named->place.division) &&
            candidate.share > named->share * 0.02) {
          named = &candidate;
          break;
        }
    // a county and a town of one name, and a spot that is not in the gazetteer: the county is the safer reading
    if (named->place.kind == PlaceKind::settlement && chosen->offsets.empty() && !chosen->near &&
        scene.unexplained_names(*chosen) > 0)
      for (const auto& candidate : chosen->candidates)
        if (is_wide(candidate.place.kind) && candidate.share > named->share * 0.05 &&
            lies_in(named->place.division, candidate.place.division.substr(0, candidate.place.division.rfind('.')))) {
          named = &candidate;
          break;
        }
    const auto& best = *named;
    answer.probability = calibrated(chance_of(*chosen), best.in_state);
    if (how_far_is_open(*chosen, scene)) {
      answer.probability *= kHowFarIsOpen;
      answer.reasons.push_back("how far from it is not said");
    }
    const auto written = scene.written(*chosen);
    std::string how = best.distance > 0.25 ? "is close to the spelling of" : best.main_name ? "names" : "is another name of";
    answer.reasons.push_back(fmt::format("\"{}\" {} {} ({})", written, how, best.place.name, name_of(best.place.kind)));
    if (best.distance > 0.25) answer.reasons.push_back(fmt::format("spelling differs by {:.1f}", best.distance));
    if (best.in_country) answer.reasons.push_back("lies in the given country");
    if (best.in_state) answer.reasons.push_back("lies in the given state");
    for (const auto& other : scene.mentions())
      if (&other != chosen && !other.candidates.empty() && level_of(other.candidates.front().place) < level_of(best.place) &&
          same_area(best.place, other.candidates.front().place))
        answer.reasons.push_back(fmt::format("lies in {}, which the text names", other.candidates.front().place.name));
    if (chosen->candidates.size() > 1)
      answer.reasons.push_back(fmt::format("{} places have this name or one like it", chosen->candidates.size()));
    if (!chosen->doubt.empty()) answer.reasons.push_back(chosen->doubt);
    if (is_wide(best.place.kind)) answer.reasons.push_back(fmt::format("only the {} is found", name_of(best.place.kind)));
    answer.place = place_at(*chosen, best, scene, &answer.reasons);
    answer.division = best.place.division;
    answer.wide = is_wide(best.place.kind);
    answer.begin = scene.words()[chosen->first].begin;
    answer.end = scene.words()[chosen->last - 1].end;
    for (const auto& other : chosen->candidates)
      if (&other != named && other.share > 0.005 && answer.alternatives.size() < 5)
        answer.alternatives.emplace_back(place_at(*chosen, other, scene, nullptr), other.share);
    return answer;
  }
  if (context.state_place) {
    const auto& state = *context.state_place;
    answer.place = {std::string(state.name), std::string(state.id), country_of(state),
                    state.lat_deg,           state.lon_deg,         std::ceil(state.radius_m)};
    answer.division = state.division;
    answer.wide = true;
    answer.probability = 0.92;
    answer.reasons.push_back("no place in the text is found with enough certainty: only the given state");
    return answer;
  }
  return std::nullopt;
}

}  // namespace

PlaceReading read_place(std::span<const TextCandidate> texts, const Gazetteer& gazetteer, const PlaceHint& hint,
                        double threshold) {
  PlaceReading reading;
  if (texts.empty()) return reading;
  reading.claim.verbatim = texts.front().text;
  const auto context = context_of(hint, gazetteer);

  double sum = 0;
  for (const auto& text : texts) sum += std::max(0.0, text.confidence);
  struct Voice {
    std::size_t text;
    double weight;
    Answer answer;
  };
  std::vector<Voice> voices;
  for (std::size_t i = 0; i < texts.size(); ++i) {
    const Scene scene(texts[i].text, gazetteer, context);
    if (auto answer = answer_for(scene, context))
      voices.push_back({i, sum > 0 ? std::max(0.0, texts[i].confidence) / sum : 1.0 / static_cast<double>(texts.size()),
                        std::move(*answer)});
  }
  if (voices.empty()) {
    reading.claim.reasons.push_back("no name in the text is in the gazetteer with enough certainty");
    return reading;
  }
  // Readings of one writing that name the same place speak with one voice, and so does one that names only the
  // division around it; a reading that names a place well is itself more believable.
  std::size_t best = 0;
  double best_score = -1, all = 0;
  for (std::size_t i = 0; i < voices.size(); ++i) {
    double score = 0;
    for (const auto& voice : voices)
      if (voices[i].answer.agrees_with(voice.answer)) score += voice.weight * voice.answer.probability;
    all += voices[i].weight * voices[i].answer.probability;
    if (score > best_score) {
      best_score = score;
      best = i;
    }
  }
  auto& winner = voices[best];
  reading.text = winner.text;
  reading.claim.verbatim = texts[winner.text].text;
  reading.begin = winner.answer.begin;
  reading.end = winner.answer.end;
  reading.claim.confidence = std::min(winner.answer.probability, all > 0 ? best_score / all : 0);
  reading.claim.confidence = std::round(reading.claim.confidence * 1000) / 1000;
  reading.claim.reasons = std::move(winner.answer.reasons);
  reading.claim.alternatives = std::move(winner.answer.alternatives);
  for (const auto& voice : voices)
    if (voice.answer.place.gazetteer_id != winner.answer.place.gazetteer_id)
      reading.claim.alternatives.emplace_back(voice.answer.place, voice.weight * voice.answer.probability / all);
  if (reading.claim.confidence >= threshold)
    reading.claim.value = winner.answer.place;
  else
    reading.claim.alternatives.emplace(reading.claim.alternatives.begin(), winner.answer.place, reading.claim.confidence);
  return reading;
}

}  // namespace papillote::interpretation
