#include "stages/calibration/calibration.h"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

#include "pipeline/record/rank.h"
#include "stages/calibration/card.h"
#include "stages/calibration/codes.h"
#include "stages/calibration/markers.h"
#include "stages/calibration/sharpness.h"

namespace papillote::calibration {
namespace {

// Limits of reading, by trial on blurred photographs of handwriting with an x-height of 1.5 to 2.5 mm.
constexpr double kHopelessRise_mm = 0.75;
constexpr double kSoftRise_mm = 0.45;
constexpr double kHopelessRise_px = 9;  // without a scale
constexpr double kHopelessClipped = 0.4;
constexpr double kSomeClipped = 0.1;
constexpr double kHopelessScale_px_per_mm = 4;  // lower-case letters of 6 to 8 pixels

double rise_at_card(const cv::Mat& grey, const Card& card) {
  constexpr double kReach_mm = 1.8;  // frame and margin are 2 mm and more wide
  std::vector<double> rises;
  for (const Marker& marker : card.markers)
    for (std::size_t i = 0; i < 4; ++i)
      if (const auto rise = edge_rise_px(grey, marker.corners_px[i], marker.corners_px[(i + 1) % 4], kReach_mm * card.px_per_mm))
        rises.push_back(*rise);
  if (rises.empty()) return 0;
  return median(std::move(rises));
}

Quality judge(const cv::Mat& bgr, const cv::Mat& grey, const std::optional<Card>& card, const std::optional<double>& px_per_mm) {
  Quality quality;
  quality.sharpness = card ? rise_at_card(grey, *card) : 0;
  if (quality.sharpness == 0) quality.sharpness = sharper_rise_px(grey);

  std::size_t light = 0;
  std::size_t dark = 0;
  std::size_t seen = 0;
  constexpr int kStride = 3;  // a ninth of the pixels tells the shares well enough
  std::array<std::size_t, 256> histogram{};
  for (int y = 0; y < bgr.rows; y += kStride) {
    const auto* row = bgr.ptr<cv::Vec3b>(y);
    for (int x = 0; x < bgr.cols; x += kStride) {
      const auto [least, most] = std::minmax({row[x][0], row[x][1], row[x][2]});
      light += least >= 254;
      dark += most <= 1;
      ++histogram[row[x][1]];
      ++seen;
    }
  }
  quality.clipped_light = static_cast<double>(light) / static_cast<double>(seen);
  quality.clipped_dark = static_cast<double>(dark) / static_cast<double>(seen);
  std::size_t brightest = 255;
  for (std::size_t above = 0; brightest > 0 && (above += histogram[brightest]) < seen / 100;) --brightest;

  const auto retake = [&](const char* why) {
    quality.verdict = "retake";
    quality.reasons.emplace_back(why);
  };
  if (px_per_mm && quality.sharpness > 0) {
    const double rise_mm = quality.sharpness / *px_per_mm;
    if (rise_mm > kHopelessRise_mm)
      retake("the photograph is too blurred to read: focus, or keep camera and table still");
    else if (rise_mm > kSoftRise_mm)
      quality.reasons.emplace_back("the photograph is soft: small writing may not be readable");
  } else if (quality.sharpness > kHopelessRise_px) {
    retake("the photograph is too blurred to read: focus, or keep camera and table still");
  }
  if (px_per_mm && *px_per_mm < kHopelessScale_px_per_mm)
    retake("the letters are too small in the photograph: come closer or photograph fewer envelopes at a time");
  if (quality.clipped_light > kHopelessClipped)
    retake("most of the light parts are overexposed: shorten the exposure");
  else if (quality.clipped_light > kSomeClipped)
    quality.reasons.emplace_back("some light parts are overexposed: pencil may be lost there");
  if (brightest < 60) retake("the photograph is too dark: lengthen the exposure or add light");
  return quality;
}

}  // namespace

Result<Calibration> calibrate(const Photo& photo, const image::Image& image, const Options& options) {
  if (image.bgr.empty())
    return Failure{std::string(stage.name), "no_pixels", photo.path + ": the photograph has no pixels.", "Take the photograph again."};
  Calibration calibration;
  cv::Mat grey;
  cv::cvtColor(image.bgr, grey, cv::COLOR_BGR2GRAY);

  const std::optional<Card> card = locate_card(find_markers(grey));
  if (card) {
    calibration.px_per_mm = card->px_per_mm;
    calibration.scale_source = "card";
    calibration.mm_from_px.emplace();
    std::copy(card->mm_from_px.val, card->mm_from_px.val + 9, calibration.mm_from_px->begin());
    calibration.card_px = card->outline_px;
    calibration.confidence = card->confidence;
    if (const auto light = measure_light(image.bgr, *card)) {
      calibration.gain_rgb = light->gain_rgb;
      calibration.grey_error = light->grey_error;
    }
  } else if (options.px_per_mm > 0) {
    calibration.px_per_mm = options.px_per_mm;
    calibration.scale_source = "given";
    calibration.confidence = 1;
  }

  for (SeenCode& code : find_codes(grey, calibration.px_per_mm.value_or(0))) {
    std::optional<Sheet> sheet = code.symbology == "qr" ? parse_sheet_label(code.text) : std::nullopt;
    if (sheet && !calibration.sheet) {
      calibration.sheet = std::move(sheet);
      calibration.label_px = code.quad_px;
    } else if (!sheet) {
      calibration.slips.push_back(std::move(code));
    }
  }
  calibration.quality = judge(image.bgr, grey, card, calibration.px_per_mm);
  return calibration;
}

}  // namespace papillote::calibration
