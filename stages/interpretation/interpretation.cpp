#include "stages/interpretation/interpretation.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string_view>
#include <vector>

#include "stages/interpretation/claims.h"
#include "stages/interpretation/coordinates.h"
#include "stages/interpretation/dates.h"
#include "stages/interpretation/elevations.h"
#include "stages/interpretation/numbers.h"
#include "stages/interpretation/people.h"
#include "stages/interpretation/places.h"
#include "stages/interpretation/taxa.h"

namespace papillote::interpretation {
namespace {

// The lines that count, joined by '\n', and where each stands in the joined text.
struct Joined {
  std::string text;
  std::vector<int> lines;           // index into Annotation::lines
  std::vector<std::size_t> begins;  // of each of them in `text`

  void add(int line, std::string_view words) {
    if (!lines.empty()) text += '\n';
    lines.push_back(line);
    begins.push_back(text.size());
    text += words;
  }

  [[nodiscard]] std::vector<Evidence> evidence(std::size_t begin, std::size_t end) const {
    std::vector<Evidence> all;
    for (std::size_t i = 0; i < lines.size(); ++i) {
      const std::size_t line_end = i + 1 < lines.size() ? begins[i + 1] - 1 : text.size();
      const std::size_t from = std::max(begin, begins[i]), to = std::min(end, line_end);
      if (from < to) all.push_back({lines[i], static_cast<int>(from - begins[i]), static_cast<int>(to - begins[i])});
    }
    return all;
  }
};

Joined join(const Annotation& annotation, bool newsprint) {
  Joined joined;
  for (std::size_t i = 0; i < annotation.lines.size(); ++i) {
    const auto& reading = annotation.lines[i];
    if ((reading.line.kind == LineKind::newsprint) == newsprint) joined.add(static_cast<int>(i), reading.text);
  }
  return joined;
}

// Chance that the reader has every character of the evidence right.
double reader_confidence(const Annotation& annotation, const std::vector<Evidence>& evidence) {
  double confidence = 1;
  for (const auto& part : evidence) {
    const Reading& reading = annotation.lines[static_cast<std::size_t>(part.line)];
    if (reading.character_confidence.empty()) {
      confidence *= reading.confidence;
      continue;
    }
    std::size_t character = 0;
    for (int i = 0; i < part.end; ++i) {
      const bool starts = (static_cast<unsigned char>(reading.text[static_cast<std::size_t>(i)]) & 0xC0) != 0x80;
      if (!starts) continue;
      if (i >= part.begin && character < reading.character_confidence.size())
        confidence *= reading.character_confidence[character];
      ++character;
    }
  }
  return confidence;
}

// Everything read out of one text; `rest` is the text with what is claimed blanked out.
struct Facts {
  CoordinateReading coordinates;
  ElevationReading elevation;
  DateReading date;
  std::vector<PersonReading> people;
  TypeReading type;
  SexReading sex;
  TaxonReading taxon;
  NumberReading number;
  std::string rest;
};

constexpr double kLeastTaxon = 0.5, kLeastNumber = 0.5;  // below, the form alone says too little

void blank(std::string& text, std::size_t begin, std::size_t end) {
  // A bar parts what stands on its sides; line ends stay.
  for (std::size_t i = begin; i < end; ++i) {
    if (text[i] != '\n') text[i] = i == begin ? '|' : ' ';
  }
}

Facts read_text(const std::string& text, const DateContext& context) {
  Facts facts;
  facts.rest = text;
  const auto claim = [&](const auto& reading) { blank(facts.rest, reading.begin, reading.end); };
  facts.coordinates = read_coordinates(facts.rest);
  claim(facts.coordinates);
  facts.elevation = read_elevation(facts.rest);
  claim(facts.elevation);
  facts.date = read_date(facts.rest, context);
  claim(facts.date);
  facts.people = read_people(facts.rest);
  for (const auto& person : facts.people) claim(person);
  facts.type = read_type_status(facts.rest);
  claim(facts.type);
  facts.sex = read_sex(facts.rest);
  claim(facts.sex);
  facts.taxon = read_taxon(facts.rest);
  if (facts.taxon.confidence >= kLeastTaxon) claim(facts.taxon);
  facts.number = read_number(facts.rest);
  if (facts.number.confidence >= kLeastNumber) claim(facts.number);
  return facts;
}

// The same annotation with one line as the reader's next guesses have it.
struct OtherText {
  int line = 0;
  std::string text;
  double confidence = 0;
};

std::vector<OtherText> other_texts(const Annotation& annotation, const Joined& joined) {
  constexpr std::size_t kMostPerLine = 4, kMost = 24;
  std::vector<OtherText> others;
  for (const int line : joined.lines) {
    const auto& alternatives = annotation.lines[static_cast<std::size_t>(line)].alternatives;
    for (std::size_t i = 0; i < std::min(alternatives.size(), kMostPerLine) && others.size() < kMost; ++i) {
      Joined other;
      for (const int each : joined.lines) {
        other.add(each, each == line ? alternatives[i].text : annotation.lines[static_cast<std::size_t>(each)].text);
      }
      others.push_back({line, std::move(other.text), alternatives[i].confidence});
    }
  }
  return others;
}

// A claim that still stands in bytes of a joined text.
template <class Value>
struct Found {
  Claim<Value> claim;
  std::size_t begin = 0, end = 0;
};

// From any reading; no value = left open.
template <class Value, class AnyReading>
std::optional<Found<Value>> found(const AnyReading& reading, std::optional<Value> value) {
  if (reading.begin == reading.end) return std::nullopt;
  Found<Value> found{.claim = {}, .begin = reading.begin, .end = reading.end};
  found.claim.value = std::move(value);
  found.claim.confidence = found.claim.value ? reading.confidence : 0;
  found.claim.reasons = reading.reasons;
  return found;
}

std::optional<Found<std::string>> found_date(const DateReading& date) {
  auto claim = found<std::string>(date, date.edtf);
  if (claim) claim->claim.alternatives = date.alternatives;
  return claim;
}

std::optional<Found<GeoPoint>> found_coordinates(const CoordinateReading& coordinates) {
  const auto point = [&](const Coordinates& degrees) -> std::optional<GeoPoint> {
    if (!degrees.lat_deg || !degrees.lon_deg) return std::nullopt;
    return GeoPoint{*degrees.lat_deg, *degrees.lon_deg, coordinates.uncertainty_m};
  };
  auto claim = found<GeoPoint>(coordinates, coordinates.degrees ? point(*coordinates.degrees) : std::nullopt);
  if (!claim) return claim;
  for (const auto& [degrees, weight] : coordinates.alternatives) {
    if (const auto other = point(degrees)) claim->claim.alternatives.emplace_back(*other, weight);
  }
  return claim;
}

std::optional<Found<ElevationRange>> found_elevation(const ElevationReading& elevation) {
  auto claim = found<ElevationRange>(elevation, elevation.metres);
  if (claim) claim->claim.alternatives = elevation.alternatives;
  return claim;
}

std::optional<Found<std::string>> found_person(const std::vector<PersonReading>& people, Role role) {
  const PersonReading* best = nullptr;
  for (const auto& person : people) {
    if (person.role == role && (!best || person.confidence > best->confidence)) best = &person;
  }
  if (!best) return std::nullopt;
  return found<std::string>(*best, best->name);
}

// Chance that a date is what the paper says. Weights fitted to 141 dates on rendered sheets that the reader and this parser
// were not tuned on: by the confidence of its lines, by the share of the reader's guesses with a date that agree, and by
// whether the day is there (where it is not, it may have gone unseen).
constexpr double kLeastCertainty = 0.7;
constexpr double kLeastUnderstood = 0.5;

double date_certainty(double lines, double agreement, const std::string& edtf) {
  const double day = std::count(edtf.begin(), edtf.end(), '-') >= 2 ? 1 : 0;
  const double odds = 1.53 * std::log(lines + 1e-4) + 1.0 * agreement + 1.75 * day + 0.55;
  return 1 / (1 + std::exp(-odds));
}

// One envelope: its best text and the reader's other texts, each read once.
class Envelope {
 public:
  Envelope(const Annotation& annotation, const DateContext& context)
      : annotation_(annotation), joined_(join(annotation, false)), best_(read_text(joined_.text, context)) {
    for (auto& other : other_texts(annotation, joined_)) {
      Facts facts = read_text(other.text, context);
      others_.push_back({std::move(other), std::move(facts)});
    }
  }

  // The claim of the best text; where that is left open, the value of the reader's likeliest other text that has one.
  template <class Value, class Read>
  std::optional<Claim<Value>> claim(Read read) const {
    auto found = read(best_);
    if (!found) return std::nullopt;
    Claim<Value> claim = std::move(found->claim);
    claim.verbatim = joined_.text.substr(found->begin, found->end - found->begin);
    claim.evidence = joined_.evidence(found->begin, found->end);
    if (claim.value) {
      claim.confidence *= reader_confidence(annotation_, claim.evidence);
      return claim;
    }
    for (const auto& other : others_) {
      const auto candidate = read(other.facts);
      if (!candidate || !candidate->claim.value) continue;
      const double confidence = candidate->claim.confidence * other.text.confidence;
      if (claim.value && confidence <= claim.confidence) continue;
      if (!claim.value) claim.reasons.push_back("The value comes from another reading of the line by the reader.");
      claim.value = candidate->claim.value;
      claim.alternatives = candidate->claim.alternatives;
      claim.confidence = confidence;
      claim.evidence = whole_line(other.text.line);
    }
    return claim;
  }

  // A date is given when the reader is sure enough of it: a misread figure is a date as good as any.
  [[nodiscard]] std::optional<Claim<std::string>> date() const {
    auto claim = this->claim<std::string>([](const Facts& f) { return found_date(f.date); });
    if (!claim || !claim->value) return claim;
    const bool from_best = best_.date.edtf == claim->value;
    double lines = 1, agreeing = 0, dated = 0;
    for (const auto& part : claim->evidence) {
      const double confidence = annotation_.lines[static_cast<std::size_t>(part.line)].confidence;
      if (from_best) lines *= confidence;
      if (best_.date.edtf) {
        dated += confidence;
        agreeing += from_best ? confidence : 0;
      }
      for (const auto& other : others_) {
        if (other.text.line != part.line || !other.facts.date.edtf) continue;
        dated += other.text.confidence;
        agreeing += other.facts.date.edtf == claim->value ? other.text.confidence : 0;
        if (!from_best && other.facts.date.edtf == claim->value) lines = std::min(lines, other.text.confidence);
      }
    }
    const double sure = date_certainty(lines, dated > 0 ? agreeing / dated : 1, *claim->value);
    // The parser's own doubt: a year beside words that may be its day and month.
    const double understood = from_best ? best_.date.confidence : 1;
    claim->confidence = understood * sure;
    if (sure >= kLeastCertainty && understood >= kLeastUnderstood) return claim;
    claim->alternatives.insert(claim->alternatives.begin(), {*claim->value, claim->confidence});
    claim->reasons.push_back(
        sure >= kLeastCertainty
            ? fmt::format("It may be {}, and more of the date may stand beside it.", *claim->value)
            : fmt::format("It may be {}, but the reader is not sure enough of the letters.", *claim->value));
    claim->value.reset();
    claim->confidence = 0;
    return claim;
  }

  // What no other parser has claimed is the place.
  [[nodiscard]] std::optional<Claim<Place>> place(const Gazetteer* gazetteer, const PlaceHint& hint) const {
    Claim<Place> unclaimed;
    constexpr std::string_view kNotAName = " .,;:-()";
    for (std::size_t begin = 0; begin < best_.rest.size();) {
      const std::size_t stop = std::min(best_.rest.find_first_of("|\n", begin), best_.rest.size());
      const std::size_t first = best_.rest.find_first_not_of(kNotAName, begin);
      if (first < stop) {
        const std::size_t last = best_.rest.find_last_not_of(kNotAName, stop - 1) + 1;
        unclaimed.verbatim += (unclaimed.verbatim.empty() ? "" : "\n") + joined_.text.substr(first, last - first);
        for (const auto& part : joined_.evidence(first, last)) unclaimed.evidence.push_back(part);
      }
      begin = stop + 1;
    }
    if (unclaimed.evidence.empty()) return std::nullopt;
    if (!gazetteer) {
      unclaimed.reasons.push_back("No gazetteer is installed, so the place is left open.");
      return unclaimed;
    }
    std::vector<TextCandidate> texts{{best_.rest, 1}};
    for (const auto& other : others_) texts.push_back({other.facts.rest, other.text.confidence});
    const PlaceReading reading = read_place(texts, *gazetteer, hint);
    Claim<Place> claim = reading.claim;
    if (reading.text > 0) {
      const int line = others_[reading.text - 1].text.line;
      claim.evidence = whole_line(line);
      claim.verbatim = annotation_.lines[static_cast<std::size_t>(line)].text;
      claim.reasons.push_back("The value comes from another reading of the line by the reader.");
      return claim;
    }
    const bool named = reading.begin < reading.end;
    claim.verbatim = named ? joined_.text.substr(reading.begin, reading.end - reading.begin) : unclaimed.verbatim;
    claim.evidence = named ? joined_.evidence(reading.begin, reading.end) : unclaimed.evidence;
    if (claim.value) claim.confidence *= reader_confidence(annotation_, claim.evidence);
    return claim;
  }

 private:
  struct Other {
    OtherText text;
    Facts facts;
  };

  // The characters of another text are not those of the best one, so the evidence is the line.
  [[nodiscard]] std::vector<Evidence> whole_line(int line) const {
    return {{line, 0, static_cast<int>(annotation_.lines[static_cast<std::size_t>(line)].text.size())}};
  }

  const Annotation& annotation_;
  Joined joined_;
  Facts best_;
  std::vector<Other> others_;
};

}  // namespace

std::optional<Claim<std::string>> date_claim(const Annotation& annotation, const DateContext& context) {
  return Envelope(annotation, context).date();
}

Result<Interpretation> interpret(const Annotation& annotation, const TinContext& tin, const Gazetteer* gazetteer,
                                 const Options& options) {
  DateContext context{.period = tin.period};
  if (!options.period.empty()) {
    const auto years = read_period(options.period);
    if (!years) {
      return Failure{"interpretation", "bad_option",
                     fmt::format("interpretation.period is \"{}\", which is no span of years.", options.period),
                     "Write two years, the earlier first, such as 1895/1904."};
    }
    if (!context.period) context.period = years;
  }
  const Envelope envelope(annotation, context);
  Interpretation facts;
  facts.date = envelope.date();
  facts.coordinates = envelope.claim<GeoPoint>([](const Facts& f) { return found_coordinates(f.coordinates); });
  facts.elevation = envelope.claim<ElevationRange>([](const Facts& f) { return found_elevation(f.elevation); });
  const auto person = [&](Role role) {
    return envelope.claim<std::string>([role](const Facts& f) { return found_person(f.people, role); });
  };
  facts.collector = person(Role::collector);
  facts.determiner = person(Role::determiner);
  facts.donor = person(Role::donor);
  facts.previous_collection = person(Role::previous_collection);
  facts.taxon = envelope.claim<std::string>([](const Facts& f) {
    return f.taxon.confidence >= kLeastTaxon ? found<std::string>(f.taxon, f.taxon.name) : std::nullopt;
  });
  facts.sex = envelope.claim<std::string>([](const Facts& f) { return found<std::string>(f.sex, f.sex.sexes); });
  facts.type_status = envelope.claim<std::string>([](const Facts& f) { return found<std::string>(f.type, f.type.status); });
  facts.number = envelope.claim<std::string>([](const Facts& f) {
    return f.number.confidence >= kLeastNumber ? found<std::string>(f.number, f.number.number) : std::nullopt;
  });
  facts.place = envelope.place(gazetteer, {.country = options.country, .state = {}});

  // Newsprint dates the paper, so it gets a claim of its own.
  const Joined newsprint = join(annotation, true);
  if (auto paper = found_date(read_date(newsprint.text, context))) {
    facts.newspaper_date = std::move(paper->claim);
    facts.newspaper_date->verbatim = newsprint.text.substr(paper->begin, paper->end - paper->begin);
    facts.newspaper_date->evidence = newsprint.evidence(paper->begin, paper->end);
    if (facts.newspaper_date->value)
      facts.newspaper_date->confidence *= reader_confidence(annotation, facts.newspaper_date->evidence);
  }
  return facts;
}

}  // namespace papillote::interpretation
