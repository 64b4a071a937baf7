// Makes the collection that the browser test works on: three of the sample photographs with what is truly written on their
// envelopes (their .expected.json), as a batch would have left it if it had read everything rightly; one envelope says what an
// attacker would write, and two were photographed again. So the test of the page does not change with the nets.
#include <array>
#include <cmath>
#include <fstream>
#include <iostream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <opencv2/imgproc.hpp>
#include <span>

#include "pipeline/app/days.h"
#include "pipeline/image/image.h"
#include "pipeline/record/codec.h"
#include "pipeline/store/index.h"
#include "pipeline/store/photographs.h"
#include "pipeline/store/store.h"
#include "stages/registration/portrait.h"

namespace papillote {
namespace {

using nlohmann::json;

constexpr const char* kHostile =
    "<img src=x onerror=\"document.title='broken in'\"><script>document.title='broken "
    "in'</script>\n=HYPERLINK(\"http://x\",\"y\")\nLewes \u202e\u2066 1929";

std::string bytes_of(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) throw std::runtime_error(file.string() + " cannot be read");
  return {std::istreambuf_iterator<char>(in), {}};
}

template <class Value>
Claim<Value> claimed(const std::string& verbatim, std::optional<Value> value) {
  Claim<Value> claim;
  claim.verbatim = verbatim;
  claim.confidence = value ? 0.9 : 0.3;
  claim.value = std::move(value);
  return claim;
}

Interpretation interpretation_of(const json& truth) {
  Interpretation facts;
  if (const json& date = truth.at("date"); !date.is_null())
    facts.date = claimed(date.at("verbatim"),
                         date.at("edtf").is_null() ? std::nullopt : std::optional(date.at("edtf").get<std::string>()));
  if (const json& place = truth.at("place"); !place.is_null())
    facts.place =
        claimed(place.at("verbatim"),
                std::optional(Place{place.at("name"), "", place.at("country"), place.at("lat"), place.at("lon"), 5000}));
  for (const auto& [term, fact] : {std::pair("collector", &facts.collector), {"taxon", &facts.taxon}, {"sex", &facts.sex}})
    if (truth.at(term).is_string()) *fact = claimed(truth.at(term), std::optional(truth.at(term).get<std::string>()));
  return facts;
}

IndexRecord record_of(const json& truth, int number, double px_per_mm) {
  IndexRecord record;
  record.catalogue_number = truth.at("slip").is_null() ? "" : truth.at("slip").get<std::string>();
  record.outline.number = number;
  record.outline.polygon_px = truth.at("polygon_px").get<Polygon>();
  record.outline.size_mm = Point{truth.at("size_mm")[0], truth.at("size_mm")[1]};
  record.outline.confidence = 1;
  record.outline.crop.quad_px = truth.at("crop_px").get<Quad>();
  record.outline.crop.width_px = static_cast<int>(record.outline.size_mm->x * px_per_mm);
  record.outline.crop.height_px = static_cast<int>(record.outline.size_mm->y * px_per_mm);
  for (const json& line : truth.at("lines")) {
    if (line.at("kind") == "newsprint") continue;
    Reading reading;
    reading.line.polygon_px = line.at("polygon_px").get<Polygon>();
    reading.text = line.at("text");
    reading.confidence = 0.9;
    record.annotation.lines.push_back(reading);
  }
  record.annotation.text = truth.at("text");
  record.interpretation = interpretation_of(truth);
  int worst = 0;
  for (const json& seen : truth.at("findings")) {
    const int severity = seen.at("severity");
    record.condition.findings.push_back(
        {seen.at("kind"), severity, 0.8, seen.at("polygon_px").get<Polygon>(), std::nullopt, "", ""});
    record.triage.reasons.push_back(seen.at("kind").get<std::string>());
    worst = std::max(worst, severity);
  }
  record.triage.level = worst == 4 ? "isolate" : worst >= 2 ? "stabilise" : "routine";
  record.triage.score = worst / 4.0;
  return record;
}

void write_on(IndexRecord& record, const std::string& text) {
  Reading line;
  line.line = record.annotation.lines.front().line;
  line.text = text;
  line.confidence = 0.9;
  record.annotation.lines = {line};
  record.annotation.text = text;
  record.interpretation = {};
  record.interpretation.collector = claimed(text, std::optional(text));
}

store::Outcome outcome_of(const json& truth, const std::filesystem::path& samples) {
  store::Outcome outcome;
  PhotoIndex& index = outcome.index;
  index.photo.path = truth.at("file");
  index.photo.sha256 = digest_of(bytes_of(samples / index.photo.path));
  index.photo.format = "jpeg";
  index.photo.width_px = truth.at("size_px")[0];
  index.photo.height_px = truth.at("size_px")[1];
  index.calibration.sheet = Sheet{truth.at("tin"), truth.at("sheet"), truth.at("side"), {}};
  for (const json& envelope : truth.at("envelopes"))
    index.envelopes.push_back(record_of(envelope, static_cast<int>(index.envelopes.size()), truth.at("px_per_mm")));
  if (index.photo.path == "tin03-sheet3.jpg") write_on(index.envelopes.back(), kHostile);
  for (const IndexRecord& record : index.envelopes) outcome.days.push_back(app::days_of(record.interpretation));
  return outcome;
}

void portray(IndexRecord& record, const Calibration& calibration, const image::Image& photo) {
  record.portrait = registration::portray(record.outline, calibration, photo).value();
}

void keep(store::Store& store, const std::filesystem::path& folder, const store::Outcome& outcome) {
  const auto known = store::take_up(store, folder.string(), {outcome.index.photo.path});
  store::keep_facts(store, known[0].key, {1, 1}, outcome.index.photo.sha256);
  store::replace_index(store, known[0].key, outcome.index.photo.path, outcome);
}

// These two envelopes of the sheet once more: under another lamp, turned, in another order, on a sheet of tin 05. The reader takes a
// letter for another.
constexpr std::array<std::size_t, 2> kAgain{11, 6};
store::Outcome photographed_again(store::Outcome& then, const image::Image& photo, const std::filesystem::path& file) {
  store::Outcome now;
  PhotoIndex& index = now.index;
  index.photo.path = file.filename();
  index.photo.format = "jpeg";
  index.photo.width_px = 2000;
  index.photo.height_px = 1200;
  index.photo.taken = "2026-05-02T10:00:00";
  index.calibration.sheet = Sheet{"05", "1", "front", {}};
  cv::Mat table(index.photo.height_px, index.photo.width_px, CV_8UC3, cv::Scalar(88, 96, 92));
  for (const std::size_t place : kAgain) {
    IndexRecord& before = then.index.envelopes.at(place);
    portray(before, then.index.calibration, photo);
    IndexRecord record = before;
    record.catalogue_number.clear();
    record.condition.findings.clear();
    record.triage = {};
    record.outline.number = static_cast<int>(index.envelopes.size());
    const double turned = (record.outline.number == 0 ? 12 : -95) * CV_PI / 180, c = std::cos(turned), s = std::sin(turned);
    const cv::Matx33d middle{1, 0, 550 + 900.0 * record.outline.number, 0, 1, 600, 0, 0, 1}, turn{c, -s, 0, s, c, 0, 0, 0, 1};
    const cv::Matx33d shift{1, 0, -record.outline.crop.width_px / 2.0, 0, 1, -record.outline.crop.height_px / 2.0, 0, 0, 1};
    const cv::Matx33d now_from_then = middle * turn * shift * image::crop_from_photo(record.outline.crop);
    const auto carry = [&](Polygon& polygon) { polygon = image::carried(polygon, now_from_then); };
    carry(record.outline.polygon_px);
    const Polygon corners = image::carried({record.outline.crop.quad_px.begin(), record.outline.crop.quad_px.end()}, now_from_then);
    std::copy(corners.begin(), corners.end(), record.outline.crop.quad_px.begin());
    for (Reading& line : record.annotation.lines) carry(line.line.polygon_px);
    std::vector<cv::Point> outline;
    for (const Point& p : record.outline.polygon_px) outline.emplace_back(cvRound(p.x), cvRound(p.y));
    cv::Mat mask(table.size(), CV_8U, cv::Scalar(0)), moved;
    cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{outline}, cv::Scalar(255));
    cv::warpPerspective(photo.bgr, moved, now_from_then, table.size(), cv::INTER_AREA);
    cv::Mat(moved * 0.9).copyTo(table, mask);
    index.envelopes.push_back(std::move(record));
  }
  const auto jpeg = image::encode_jpeg(table, 92);
  const std::string bytes(reinterpret_cast<const char*>(jpeg.data()), jpeg.size());
  std::ofstream(file, std::ios::binary) << bytes;
  index.photo.sha256 = digest_of(bytes);
  for (IndexRecord& record : index.envelopes) {
    portray(record, index.calibration, {table});
    now.days.push_back(app::days_of(record.interpretation));
  }
  std::string& misread = index.envelopes.front().annotation.text;
  misread.replace(misread.find("augustus"), 8, "auguslus");
  return now;
}

void make(const std::filesystem::path& collection) {
  const std::filesystem::path samples = std::filesystem::path(PAPILLOTE_SOURCE_DIR) / "sample-images";
  store::Store store = store::Store::open(collection, store::Access::batch).value();
  store::Transaction transaction(store);
  store::Outcome again;
  for (const char* name : {"tin01-sheet1-front", "tin03-sheet2", "tin03-sheet3"}) {
    const json truth = json::parse(bytes_of(samples / (std::string(name) + ".expected.json"))).at("photographs")[0];
    store::Outcome outcome = outcome_of(truth, samples);
    if (outcome.index.photo.path == "tin03-sheet2.jpg") {
      const std::string bytes = bytes_of(samples / outcome.index.photo.path);
      const image::Image photo = image::decode(std::as_bytes(std::span(bytes)), outcome.index.photo.path).value();
      again = photographed_again(outcome, photo, collection / "tin05-sheet1.jpg");
    }
    keep(store, samples, outcome);
  }
  keep(store, collection, again);
  transaction.commit();
}

}  // namespace
}  // namespace papillote

int main(int count, char** arguments) {
  if (count != 2) return 2;
  try {
    papillote::make(arguments[1]);
  } catch (const std::exception& fault) {
    std::cerr << fault.what() << '\n';
    return 1;
  }
  return 0;
}
