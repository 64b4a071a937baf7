// The order of work: from one photograph to its rows in the index.
#pragma once

#include "models/crop_net.h"
#include "pipeline/run/photograph.h"
#include "pipeline/run/step.h"
#include "pipeline/store/index.h"
#include "stages/calibration/calibration.h"
#include "stages/interpretation/gazetteer.h"
#include "stages/interpretation/interpretation.h"
#include "stages/reading/reading.h"
#include "stages/segmentation/segmentation.h"
#include "stages/triage/rules.h"

namespace papillote::app {

// The options of all stages that have any.
struct LineOptions {
  calibration::Options calibration;
  segmentation::Options segmentation;
  reading::Options reading;
  interpretation::Options interpretation;
};

// What a worker keeps for all photographs.
struct Bench {
  segmentation::Finder finder;
  models::CropNet line_net;
  models::CropNet damage_net;
  reading::Readers readers;
  const interpretation::Gazetteer* gazetteer = nullptr;  // null: places are left open
  std::string gazetteer_identity;
  triage::Rules rules;
};

[[nodiscard]] store::Outcome run_line(run::Photograph&, run::Step&, Bench&, const LineOptions&);

}  // namespace papillote::app
