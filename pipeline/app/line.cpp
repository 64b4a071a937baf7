#include "pipeline/app/line.h"

#include <fmt/format.h>

#include <cstdlib>

#include "pipeline/app/days.h"
#include "pipeline/image/lazy.h"
#include "pipeline/record/codec.h"
#include "stages/condition/condition.h"
#include "stages/indexing/indexing.h"
#include "stages/interpretation/edtf.h"
#include "stages/lines/lines.h"
#include "stages/registration/registration.h"
#include "stages/triage/triage.h"

namespace papillote::app {
namespace {

using interpretation::TinContext;

// "1895-1904", "1895–1904", "1895/1904": two years of four digits.
std::optional<std::pair<int, int>> years_of(const std::string& words) {
  std::vector<int> years;
  for (std::size_t i = 0; i < words.size();) {
    std::size_t end = i;
    while (end < words.size() && words[end] >= '0' && words[end] <= '9') ++end;
    if (end - i == 4) years.push_back(std::atoi(words.substr(i, 4).c_str()));
    i = end + 1;
  }
  if (years.size() != 2 || years[0] > years[1]) return std::nullopt;
  return std::pair{years[0], years[1]};
}

// What the sheet label says of the tin; the stage itself falls back to the period of its options.
TinContext tin_context(const Calibration& calibration) {
  if (!calibration.sheet) return {};
  const auto period = calibration.sheet->more.find("period");
  return period == calibration.sheet->more.end() ? TinContext{} : TinContext{years_of(period->second)};
}

std::optional<store::DayRange> days_in(const Interpretation& facts) {
  if (!facts.date || !facts.date->value) return std::nullopt;
  const auto edtf = interpretation::parse_edtf(*facts.date->value);
  if (!edtf) return std::nullopt;
  const auto bounds = interpretation::day_bounds(*edtf);
  if (!bounds.first && !bounds.last) return std::nullopt;
  return days_of(bounds);
}

// Judging one envelope needs its neighbours; its number is its place among them.
Result<Condition> assess_one(const std::vector<EnvelopeOutline>& all, const EnvelopeOutline& one, const LineLayout& written,
                             const Calibration& calibration, const image::Image& photo, const std::string& /*detectors*/) {
  return condition::assess(all, static_cast<std::size_t>(one.number), written, calibration, photo);
}

// A photograph that is not worth reading is not read: guesses from a blur would stand in the index as text.
Result<LineLayout> find_lines_if_readable(const EnvelopeOutline& envelope, const Calibration& calibration,
                                          const image::Image& photo) {
  if (calibration.quality.verdict == "retake") return LineLayout{};
  return lines::find_lines(envelope, calibration, photo);
}

}  // namespace

store::Outcome run_line(run::Photograph& photograph, run::Step& step, Bench& bench, const LineOptions& options) {
  const auto file = photograph.file();
  const image::LazyPixels pixels(
      photograph.path(), photograph.sha256(), [&] { return photograph.bytes(); },
      [&](double megapixels) { photograph.reserve_megapixels(megapixels); });
  const auto path = run::given("path", photograph.path(), "");
  const auto readers = run::given("readers", bench.readers, bench.readers.identity());
  const std::string detector_versions = condition::detectors_identity();
  const auto detectors = run::given("detectors", detector_versions);

  const auto photo = step(registration::stage, NoOptions{}, registration::register_photo, path, file);
  const auto scale = step(calibration::stage, options.calibration, calibration::calibrate, photo, pixels);
  const auto found = step(segmentation::stage, options.segmentation, segmentation::find_envelopes, photo, scale, pixels);

  store::Outcome outcome;
  if (photo.ok()) outcome.index.photo = *photo;
  if (scale.ok()) outcome.index.calibration = *scale;
  if (const Failure* failure = found.root_failure()) {
    outcome.failure = *failure;
    return outcome;
  }

  const TinContext tin_facts = tin_context(outcome.index.calibration);
  const std::string tin_identity =
      tin_facts.period ? fmt::format("{}/{}", tin_facts.period->first, tin_facts.period->second) : "";
  const auto tin = run::given("tin", tin_facts, tin_identity);
  const auto gazetteer = run::given("gazetteer", bench.gazetteer, bench.gazetteer_identity);

  using run::each_of;
  const auto written = step(lines::stage, NoOptions{}, find_lines_if_readable, each_of(found), scale, pixels);
  const auto text =
      step(reading::stage, options.reading, reading::read_lines, each_of(found), each_of(written), pixels, readers);
  const auto facts =
      step(interpretation::stage, options.interpretation, interpretation::interpret, each_of(text), tin, gazetteer);
  const auto state =
      step(condition::stage, NoOptions{}, assess_one, found, each_of(found), each_of(written), scale, pixels, detectors);
  const auto order = step(triage::stage, NoOptions{}, triage::rank, each_of(text), each_of(facts), each_of(state));
  const auto rows = step(indexing::stage, NoOptions{}, indexing::index_rows, photo, scale, found, text, facts, state, order);

  if (const Failure* failure = rows.root_failure()) {
    outcome.failure = *failure;
    return outcome;
  }
  outcome.index = *rows;
  for (const IndexRecord& envelope : outcome.index.envelopes) outcome.days.push_back(days_in(envelope.interpretation));
  return outcome;
}

}  // namespace papillote::app
