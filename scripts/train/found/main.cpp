// What the program finds on generated photographs, for nets that learn from its outlines and lines instead of from perfect ones.
//
//   papillote_found FOLDER
//
// Beside each NAME.jpg in FOLDER: NAME.found.json, {"envelopes": [{polygon_px, crop_px, size_mm or null, lines: [{polygon_px, quad_px, newsprint}]}]}.
// Crops and quads begin at their upper left corner and go clockwise, as in the records of the program.
#include <array>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <span>
#include <stdexcept>
#include <string>

#include <nlohmann/json.hpp>
#include <opencv2/core/utility.hpp>

#include "models/crop_net.h"
#include "models/library.h"
#include "models/runtime.h"
#include "pipeline/image/image.h"
#include "stages/calibration/calibration.h"
#include "stages/lines/lines.h"
#include "stages/registration/registration.h"
#include "stages/segmentation/segmentation.h"

namespace {

namespace fs = std::filesystem;
using namespace papillote;
using nlohmann::json;

template <class T>
T must(Result<T> result) {
  if (!result.ok()) throw std::runtime_error(result.failure().reason);
  return std::move(result).value();
}

template <class Points>
json told(const Points& points) {
  json out = json::array();
  for (const Point& p : points) out.push_back({p.x, p.y});
  return out;
}

struct Finders {
  segmentation::Finder finder = must(segmentation::Finder::open(models::models_folder()));
  models::CropNet lines = must(models::CropNet::open(models::models_folder(), "lines"));
};

json found_on(const fs::path& file, const Finders& nets) {
  std::ifstream in(file, std::ios::binary);
  const std::string bytes{std::istreambuf_iterator<char>(in), {}};
  const auto data = std::as_bytes(std::span(bytes));
  const auto picture = must(image::decode(data, file.filename().string()));
  const auto photo = must(registration::register_photo(file.filename().string(), data));
  const auto calibration = must(calibration::calibrate(photo, picture, {}));
  json envelopes = json::array();
  for (const EnvelopeOutline& e : must(segmentation::find_envelopes(photo, calibration, picture, nets.finder, {}))) {
    json lines = json::array();
    for (const TextLine& line : must(lines::find_lines(e, calibration, picture, nets.lines)).lines)
      lines.push_back({{"polygon_px", told(line.polygon_px)}, {"quad_px", told(line.quad_px)}, {"newsprint", line.kind == LineKind::newsprint}});
    const json size = e.size_mm ? json{e.size_mm->x, e.size_mm->y} : json(nullptr);
    envelopes.push_back({{"polygon_px", told(e.polygon_px)}, {"crop_px", told(e.crop.quad_px)}, {"size_mm", size}, {"lines", lines}});
  }
  return {{"envelopes", envelopes}};
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) {
    std::cerr << "usage: papillote_found FOLDER\n";
    return 2;
  }
  try {
    cv::setNumThreads(1);
    const Finders nets;
    for (const auto& entry : fs::directory_iterator(argv[1]))
      if (entry.path().extension() == ".jpg") std::ofstream(fs::path(entry.path()).replace_extension(".found.json")) << found_on(entry.path(), nets);
    return 0;
  } catch (const std::exception& error) {
    std::cerr << "papillote_found: " << error.what() << "\n";
    return 1;
  }
}
