#include "stages/interpretation/interpretation.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string_view>
#include <vector>

#include "stages/interpretation/braces.h"
#include "stages/interpretation/claims.h"
#include "stages/interpretation/coordinates.h"
#include "stages/interpretation/date_atoms.h"
#include "stages/interpretation/dates.h"
#include "stages/interpretation/edtf.h"
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

// What a line says for the parsers: no braces, and not the lone word of a stamp ("DETERMINED"), which governs no other line.
// As many bytes as the line has.
std::string plain_line(const Annotation& annotation, const std::vector<Brace>& braces, int line) {
  const Reading& reading = annotation.lines[static_cast<std::size_t>(line)];
  std::string text = reading.text;
  for (const Brace& brace : braces)
    for (const LinePart& sign : brace.signs)
      if (sign.line == line)
        std::fill(text.begin() + static_cast<std::ptrdiff_t>(sign.begin), text.begin() + static_cast<std::ptrdiff_t>(sign.end),
                  ' ');
  if (reading.line.kind == LineKind::stamped) {
    const auto atoms = cut_atoms(text);
    if (atoms.size() == 1 && atoms.front().sense == Sense::other_event) std::ranges::fill(text, ' ');
  }
  return text;
}

// The annotation without newsprint; where a tall brace stands between lines, what it joins comes before what it shares.
Joined join_annotation(const Annotation& annotation, const std::vector<Brace>& braces) {
  std::vector<int> order;
  for (std::size_t i = 0; i < annotation.lines.size(); ++i)
    if (annotation.lines[i].line.kind != LineKind::newsprint) order.push_back(static_cast<int>(i));
  for (const Brace& brace : braces) {
    const auto joins = [&](int line) { return std::ranges::find(brace.joined, line, &LinePart::line) != brace.joined.end(); };
    for (const LinePart& part : brace.shared) {
      if (joins(part.line)) continue;
      std::erase(order, part.line);
      const auto last = std::find_if(order.rbegin(), order.rend(), joins);
      order.insert(last.base(), part.line);
    }
  }
  Joined joined;
  for (const int line : order) joined.add(line, plain_line(annotation, braces, line));
  return joined;
}

// The reader's confidence in the characters of one part of a line.
std::vector<double> confidences_of(const Reading& reading, const Evidence& part) {
  std::vector<double> confidences;
  std::size_t character = 0;
  for (int i = 0; i < part.end; ++i) {
    const bool starts = (static_cast<unsigned char>(reading.text[static_cast<std::size_t>(i)]) & 0xC0) != 0x80;
    if (!starts) continue;
    if (i >= part.begin && character < reading.character_confidence.size())
      confidences.push_back(reading.character_confidence[character]);
    ++character;
  }
  return confidences;
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
    for (const double character : confidences_of(reading, part)) confidence *= character;
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

// The date of a text, as read_text finds it.
DateReading read_date_alone(std::string text, const DateContext& context) {
  const auto claim = [&](const auto& reading) { blank(text, reading.begin, reading.end); };
  claim(read_coordinates(text));
  claim(read_elevation(text));
  return read_date(text, context);
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

// Chance that a date is what the paper says, by its share among what the reader's guesses at its line give, and by whether the
// best of them says it. Weights fitted to 820 handwritten dates that the reader was not tuned on: 581 on rendered sheets (seeds 9000 to
// 9080, 8060 to 8100 of the generator), 145 on drawn lines, 94 on real ones; the least sure character of the best guess tells nothing more.
constexpr double kLeastCertainty = 0.93;
constexpr double kLeastOfPart = 0.985;  // of a year or month: guesses that share it are often wrong together
constexpr double kLeastUnderstood = 0.5;

double date_certainty(double share, bool from_best) {
  share = std::clamp(share, 0.02, 0.995);
  const double odds = 0.4 + 1.85 * std::log(share / (1 - share)) + (from_best ? 0.4 : 0);
  return 1 / (1 + std::exp(-odds));
}

// "1909-07-12" without its day, or without day and month; nothing for what is no single day or month.
std::string without_day(const std::string& edtf) { return edtf.size() == 10 && edtf.front() != '[' ? edtf.substr(0, 7) : ""; }
std::string without_month(const std::string& edtf) {
  return (edtf.size() == 10 || edtf.size() == 7) && edtf.front() != '[' ? edtf.substr(0, 4) : "";
}

// One envelope: its best text and the reader's other texts, each read once.
class Envelope {
 public:
  Envelope(const Annotation& annotation, const DateContext& context)
      : annotation_(annotation),
        context_(context),
        braces_(braces_in(annotation)),
        joined_(join_annotation(annotation, braces_)),
        best_(read_text(joined_.text, context)) {
    constexpr std::size_t kMostPerLine = 4, kMost = 24;
    for (const int line : joined_.lines) {
      const auto& alternatives = reading(line).alternatives;
      for (std::size_t i = 0; i < std::min(alternatives.size(), kMostPerLine) && others_.size() < kMost; ++i) {
        OtherText other{line, with(line, alternatives[i].text).text, alternatives[i].confidence};
        Facts facts = read_text(other.text, context);
        others_.push_back({std::move(other), std::move(facts)});
      }
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

  // A date is given when the reader is sure enough of it: a misread figure is a date as good as any. Where the day alone is
  // doubtful, the month is given.
  [[nodiscard]] std::optional<Claim<std::string>> date(const ClearYears& years) const {
    if (auto several = braced_dates()) return several;
    const std::vector<Guess> guesses = guesses_of_date(years);
    auto best = found_date(best_.date);
    if (guesses.empty()) {
      if (!best) return std::nullopt;
      best->claim.verbatim = joined_.text.substr(best->begin, best->end - best->begin);
      best->claim.evidence = joined_.evidence(best->begin, best->end);
      return best->claim;
    }
    const Guess& top = guesses.front();
    Claim<std::string> claim = found_date(top.reading)->claim;
    const bool from_best = best && best_.date.edtf == top.reading.edtf;
    if (best) {
      if (!from_best) claim.reasons.insert(claim.reasons.begin(), best->claim.reasons.begin(), best->claim.reasons.end());
      claim.verbatim = joined_.text.substr(best->begin, best->end - best->begin);
      claim.evidence = joined_.evidence(best->begin, best->end);
    } else {
      claim.verbatim = reading(top.line).text;
      claim.evidence = whole_line(top.line);
    }
    if (!from_best) claim.reasons.push_back("The value comes from another reading of the line by the reader.");
    // The parser's own doubt: a year beside words that may be its day and month.
    const double understood = top.reading.confidence;
    const double sure = date_certainty(top.share, from_best);
    claim.confidence = understood * sure;
    if (sure >= kLeastCertainty && understood >= kLeastUnderstood) {
      add_guesses(guesses, claim);
      return claim;
    }
    // What the guesses agree on.
    for (const auto& shorter : {without_day, without_month}) {
      const std::string common = shorter(*top.reading.edtf);
      double share = 0;
      bool all_have_days = true;
      for (const Guess& guess : guesses) {
        if (!guess.reading.edtf->starts_with(common)) continue;
        share += guess.share;
        all_have_days = all_have_days && guess.reading.edtf->size() == 10;
      }
      const double common_sure = date_certainty(share, from_best);
      if (common.empty() || common.find('X') != std::string::npos || common_sure < kLeastOfPart ||
          understood < kLeastUnderstood)
        continue;
      add_guesses(guesses, claim);
      claim.value = common.size() == 7 && all_have_days ? common + "-XX" : common;
      claim.confidence = understood * common_sure;
      claim.reasons.push_back(
          fmt::format("The reader is sure of {}; more stands there, perhaps {}.", common, *top.reading.edtf));
      return claim;
    }
    claim.alternatives.insert(claim.alternatives.begin(), {*claim.value, claim.confidence});
    claim.reasons.push_back(sure >= kLeastCertainty
                                ? fmt::format("It may be {}, and more of the date may stand beside it.", *claim.value)
                                : fmt::format("It may be {}, but the reader is not sure enough of the letters.", *claim.value));
    claim.value.reset();
    claim.confidence = 0;
    add_guesses(guesses, claim);
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
    // A name that a gazetteer has is seldom a misreading of another: measured on rendered sheets, of places read with next to
    // no confidence in their letters 85 in 100 are right.
    constexpr double kWhateverTheLetters = 0.85;
    if (claim.value)
      claim.confidence *= kWhateverTheLetters + (1 - kWhateverTheLetters) * reader_confidence(annotation_, claim.evidence);
    return claim;
  }

 private:
  struct Other {
    OtherText text;
    Facts facts;
  };

  [[nodiscard]] const Reading& reading(int line) const { return annotation_.lines[static_cast<std::size_t>(line)]; }

  // The annotation with one line replaced.
  [[nodiscard]] Joined with(int line, const std::string& words) const {
    Joined other;
    for (const int each : joined_.lines) other.add(each, each == line ? words : plain_line(annotation_, braces_, each));
    return other;
  }

  // One date that the reader's guesses give.
  struct Guess {
    DateReading reading;
    int line = 0;
    double share = 0;  // of all guesses at the line that are dates, and of what the reader did not guess
    double weight = 1;
  };

  // Best first. Guesses at the line of the best text's date; where it has none, at the line whose guesses are dates most often.
  [[nodiscard]] std::vector<Guess> guesses_of_date(const ClearYears& years) const {
    std::vector<int> lines;
    for (const auto& part : joined_.evidence(best_.date.begin, best_.date.end)) lines.push_back(part.line);
    std::vector<Guess> best;
    double best_dated = 0;
    for (const int line : lines.empty() ? joined_.lines : lines) {
      std::vector<Guess> guesses;
      double all = 1e-9, dated = 0, impossible = 0, weightiest = 1e-9;
      const auto hear = [&](const DateReading& date, const std::vector<Evidence>& evidence, double confidence) {
        all += confidence;
        if (date.begin < date.end && !date.edtf) impossible += confidence;
        if (!date.edtf || std::ranges::find(evidence, line, &Evidence::line) == evidence.end()) return;
        const auto full = full_years(*date.edtf);
        const double weight = years.weight(full ? std::optional(full->first) : std::nullopt);
        weightiest = std::max(weightiest, weight);
        confidence = std::max(confidence, 1e-6);
        dated += confidence;
        auto known = std::ranges::find(guesses, date.edtf, [](const Guess& guess) { return guess.reading.edtf; });
        if (known == guesses.end()) known = guesses.insert(known, {date, line, 0, weight});
        known->share += confidence;
      };
      hear(best_.date, joined_.evidence(best_.date.begin, best_.date.end), reading(line).confidence);
      for (const auto& alternative : reading(line).alternatives) {
        const Joined other = with(line, alternative.text);
        const DateReading date = read_date_alone(other.text, context_);
        hear(date, other.evidence(date.begin, date.end), alternative.confidence);
      }
      // What counts against all of them: confidence that no guess has, as far as it falls on the date, and days that the calendar lacks.
      constexpr double kUnheard = 0.3, kImpossible = 0.1;
      double sum = kUnheard * doubt_on_date(line) * std::max(0.0, 1 - dated - impossible) + kImpossible * impossible;
      for (Guess& guess : guesses) sum += guess.share *= guess.weight / weightiest;
      for (Guess& guess : guesses) guess.share /= sum;
      std::ranges::stable_sort(guesses, std::greater{}, &Guess::share);
      if (guesses.empty()) continue;
      // A date over the end of a line is no surer than the less sure of its lines.
      const bool better = lines.empty() ? dated / all > best_dated : best.empty() || guesses.front().share < best.front().share;
      if (better) best = std::move(guesses), best_dated = dated / all;
    }
    return best;
  }

  // Of what the reader may have misread in a line, the share that falls on the best text's date.
  [[nodiscard]] double doubt_on_date(int line) const {
    const auto wrong = [&](const std::vector<Evidence>& of) { return std::max(1 - reader_confidence(annotation_, of), 1e-6); };
    double within = 0;
    for (const auto& part : joined_.evidence(best_.date.begin, best_.date.end))
      if (part.line == line) within = std::max(within, wrong({part}));
    return within == 0 ? 1 : std::min(1.0, within / wrong(whole_line(line)));
  }

  static void add_guesses(const std::vector<Guess>& guesses, Claim<std::string>& claim) {
    constexpr std::size_t kMost = 5;
    for (std::size_t i = 0; i < std::min(guesses.size(), kMost); ++i) {
      const std::string& other = *guesses[i].reading.edtf;
      const bool told =
          claim.value == other || std::ranges::any_of(claim.alternatives, [&](const auto& a) { return a.first == other; });
      if (!told) claim.alternatives.emplace_back(other, guesses[i].share * guesses[i].reading.confidence);
    }
  }

  // "3.vii." and "12.vii." before a brace, "1909" behind it: each of these days.
  [[nodiscard]] std::optional<Claim<std::string>> braced_dates() const {
    for (const Brace& brace : braces_) {
      const auto words = [&](const LinePart& part) {
        return reading(part.line).text.substr(part.begin, part.end - part.begin);
      };
      std::string shared;
      for (const LinePart& part : brace.shared) shared += ' ' + words(part);
      Claim<std::string> claim;
      claim.confidence = 1;
      std::vector<std::string> days;
      for (const LinePart& part : brace.joined) {
        const DateReading date = read_date_alone(words(part) + shared, context_);
        if (!date.edtf || date.edtf->find_first_of("[{/") != std::string::npos) break;
        if (std::ranges::find(days, *date.edtf) == days.end()) days.push_back(*date.edtf);
        claim.evidence.push_back({part.line, static_cast<int>(part.begin), static_cast<int>(part.end)});
        claim.confidence *= date.confidence * date_certainty(reading(part.line).confidence, true);
      }
      if (claim.evidence.size() != brace.joined.size() || days.size() < 2 || claim.confidence < kLeastUnderstood) continue;
      for (const LinePart& part : brace.shared)
        claim.evidence.push_back({part.line, static_cast<int>(part.begin), static_cast<int>(part.end)});
      for (const auto& part : claim.evidence)
        claim.verbatim += (claim.verbatim.empty() ? "" : "\n") +
                          reading(part.line).text.substr(static_cast<std::size_t>(part.begin),
                                                         static_cast<std::size_t>(part.end - part.begin));
      std::ranges::sort(days);
      claim.value = fmt::format("{{{}}}", fmt::join(days, ","));
      claim.reasons = {fmt::format("A brace joins {} lines to \"{}\".", brace.joined.size(), shared.substr(1))};
      return claim;
    }
    return std::nullopt;
  }

  // The characters of another text are not those of the best one, so the evidence is the line.
  [[nodiscard]] std::vector<Evidence> whole_line(int line) const {
    return {{line, 0, static_cast<int>(annotation_.lines[static_cast<std::size_t>(line)].text.size())}};
  }

  const Annotation& annotation_;
  DateContext context_;
  std::vector<Brace> braces_;
  Joined joined_;
  Facts best_;
  std::vector<Other> others_;
};

}  // namespace

std::optional<Claim<std::string>> date_claim(const Annotation& annotation, const DateContext& context,
                                             const ClearYears& years) {
  return Envelope(annotation, context).date(years);
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
  facts.date = envelope.date({});
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
