#include "pipeline/app/line.h"

#include <fmt/format.h>

#include "pipeline/app/days.h"
#include "pipeline/app/tins.h"
#include "pipeline/image/lazy.h"
#include "pipeline/record/codec.h"
#include "stages/condition/condition.h"
#include "stages/indexing/indexing.h"
#include "stages/lines/lines.h"
#include "stages/registration/portrait.h"
#include "stages/registration/registration.h"
#include "stages/triage/triage.h"

namespace papillote::app {
namespace {

// The detectors' versions are part of the key.
Result<Condition> assess_one(const EnvelopeOutline& envelope, const LineLayout& written, const Calibration& calibration,
                             const image::Image& photo, const models::CropNet& net, const std::string& /*detectors*/) {
  return condition::assess(envelope, written, calibration, photo, net);
}

// A photograph that is not worth reading is not read: guesses from a blur would stand in the index as text.
Result<LineLayout> find_lines_if_readable(const EnvelopeOutline& envelope, const Calibration& calibration,
                                          const image::Image& photo, const models::CropNet& net) {
  if (calibration.quality.verdict == "retake") return LineLayout{};
  return lines::find_lines(envelope, calibration, photo, net);
}

// By what the photograph alone says; what the collection adds, comes after the batch (priorities.h).
Result<Triage> rank_alone(const Annotation& annotation, const Interpretation& facts, const Condition& condition, const triage::Rules& rules) {
  return triage::rank(annotation, facts, condition, rules);
}

}  // namespace

store::Outcome run_line(run::Photograph& photograph, run::Step& step, Bench& bench, const LineOptions& options) {
  const auto file = photograph.file();
  const image::LazyPixels pixels(
      photograph.path(), photograph.sha256(), [&] { return photograph.bytes(); },
      [&](double megapixels) { photograph.reserve_megapixels(megapixels); });
  const auto path = run::given("path", photograph.path(), "");
  const auto damage_net = run::given("damage net", bench.damage_net, bench.damage_net.identity());
  const auto line_net = run::given("line net", bench.line_net, bench.line_net.identity());
  const auto finder = run::given("finder", bench.finder, bench.finder.identity());
  const auto readers = run::given("readers", bench.readers, bench.readers.identity());
  const std::string detector_versions = condition::detectors_identity();
  const auto detectors = run::given("detectors", detector_versions);

  const auto photo = step(registration::stage, NoOptions{}, registration::register_photo, path, file);
  const auto scale = step(calibration::stage, options.calibration, calibration::calibrate, photo, pixels);
  const auto found = step(segmentation::stage, options.segmentation, segmentation::find_envelopes, photo, scale, pixels, finder);

  store::Outcome outcome;
  if (photo.ok()) outcome.index.photo = *photo;
  if (scale.ok()) outcome.index.calibration = *scale;
  if (const Failure* failure = found.root_failure()) {
    outcome.failure = *failure;
    return outcome;
  }

  const interpretation::TinContext tin_facts = tin_context(outcome.index.calibration);
  const std::string tin_identity =
      tin_facts.period ? fmt::format("{}/{}", tin_facts.period->first, tin_facts.period->second) : "";
  const auto tin = run::given("tin", tin_facts, tin_identity);
  const auto rules = run::given("rules", bench.rules, triage::rules_csv(bench.rules));
  const auto gazetteer = run::given("gazetteer", bench.gazetteer, bench.gazetteer_identity);

  using run::each_of;
  const auto written = step(lines::stage, NoOptions{}, find_lines_if_readable, each_of(found), scale, pixels, line_net);
  const auto text =
      step(reading::stage, options.reading, reading::read_lines, each_of(found), each_of(written), pixels, readers);
  const auto facts =
      step(interpretation::stage, options.interpretation, interpretation::interpret, each_of(text), tin, gazetteer);
  const auto state =
      step(condition::stage, NoOptions{}, assess_one, each_of(found), each_of(written), scale, pixels, damage_net, detectors);
  const auto looks = step(registration::portrait_stage, NoOptions{}, registration::portray, each_of(found), scale, pixels);
  const auto order = step(triage::stage, NoOptions{}, rank_alone, each_of(text), each_of(facts), each_of(state), rules);
  const auto rows = step(indexing::stage, NoOptions{}, indexing::index_rows, photo, scale, found, text, facts, state, order);

  if (const Failure* failure = rows.root_failure()) {
    outcome.failure = *failure;
    return outcome;
  }
  outcome.index = *rows;
  for (std::size_t i = 0; i < outcome.index.envelopes.size() && i < looks->size(); ++i)
    if ((*looks)[i].ok()) outcome.index.envelopes[i].portrait = (*looks)[i].value();
  for (const IndexRecord& envelope : outcome.index.envelopes) outcome.days.push_back(days_of(envelope.interpretation));
  return outcome;
}

}  // namespace papillote::app
