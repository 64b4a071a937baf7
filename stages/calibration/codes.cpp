#include "stages/calibration/codes.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string>

#include <opencv2/imgproc.hpp>

#include <ZXing/ReadBarcode.h>

namespace papillote::calibration {
namespace {

constexpr double kSearchSide_px = 2000;
constexpr std::size_t kMostPatches = 120;

Quad quad_of(const ZXing::Position& position, const cv::Matx33d& photo_from_view) {
  const std::array corners{position.topLeft(), position.topRight(), position.bottomRight(), position.bottomLeft()};
  Quad quad{};
  for (std::size_t i = 0; i < 4; ++i) {
    const cv::Vec3d p = photo_from_view * cv::Vec3d(corners[i].x + 0.5, corners[i].y + 0.5, 1);
    quad[i] = {p[0] / p[2], p[1] / p[2]};
  }
  return quad;
}

double side_of(const Quad& quad) { return std::hypot(quad[2].x - quad[0].x, quad[2].y - quad[0].y) / std::sqrt(2.0); }

// The same code read twice, in two views, is one.
void add_new(std::vector<SeenCode>& codes, SeenCode code) {
  const Point c = middle_of(code.quad_px);
  for (const SeenCode& known : codes) {
    const Point k = middle_of(known.quad_px);
    if (known.text == code.text && std::hypot(c.x - k.x, c.y - k.y) < std::max(side_of(known.quad_px), side_of(code.quad_px)))
      return;
  }
  codes.push_back(std::move(code));
}

void read_view(const cv::Mat& view, const cv::Matx33d& photo_from_view, const ZXing::DecodeHints& hints, std::vector<SeenCode>& codes) {
  const ZXing::ImageView seen(view.data, view.cols, view.rows, ZXing::ImageFormat::Lum, static_cast<int>(view.step));
  for (const ZXing::Result& result : ZXing::ReadBarcodes(seen, hints)) {
    if (!result.isValid() || result.text().empty()) continue;
    const bool matrix = result.format() == ZXing::BarcodeFormat::DataMatrix;
    add_new(codes, {result.text(), matrix ? "data_matrix" : "qr", quad_of(result.position(), photo_from_view)});
  }
}

// Square patches where dark and light change densely, in pixels of the search picture, most promising first.
std::vector<cv::RotatedRect> dense_patches(const cv::Mat& small, double px_per_mm) {
  const double least_px = px_per_mm > 0 ? 4 * px_per_mm : 10;
  const double most_px = px_per_mm > 0 ? 40 * px_per_mm : 300;
  cv::Mat dark;
  cv::adaptiveThreshold(small, dark, 255, cv::ADAPTIVE_THRESH_MEAN_C, cv::THRESH_BINARY_INV, 31, 12);
  struct Patch {
    cv::RotatedRect box;
    double fill = 0;
  };
  std::vector<Patch> patches;
  for (const int join : {3, 5, 8, 12}) {
    cv::Mat joined;
    cv::morphologyEx(dark, joined, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_RECT, {join, join}));
    std::vector<std::vector<cv::Point>> contours;
    // The rim of the slip's paper is dark against it and lies around the code: outlines within outlines count too.
    std::vector<cv::Vec4i> tree;
    cv::findContours(joined, contours, tree, cv::RETR_CCOMP, cv::CHAIN_APPROX_SIMPLE);
    for (std::size_t i = 0; i < contours.size(); ++i) {
      const auto& contour = contours[i];
      if (tree[i][3] >= 0 || contour.size() < 4) continue;
      const cv::Rect upright = cv::boundingRect(contour);
      if (upright.width < least_px || upright.height < least_px || std::max(upright.width, upright.height) > 1.5 * most_px) continue;
      const cv::RotatedRect box = cv::minAreaRect(contour);
      const double longer = std::max(box.size.width, box.size.height) + 1.0;
      const double shorter = std::min(box.size.width, box.size.height) + 1.0;
      if (shorter < least_px || longer > most_px || longer > 1.45 * shorter) continue;
      std::vector<cv::Point> hull;
      cv::convexHull(contour, hull);
      const double fill = cv::contourArea(hull) / (longer * shorter);
      const double ink = cv::mean(dark(upright))[0] / 255 * upright.area() / (longer * shorter);
      if (fill < 0.75 || ink < 0.2 || ink > 0.85) continue;
      const bool known = std::any_of(patches.begin(), patches.end(), [&](const Patch& p) {
        return cv::norm(p.box.center - box.center) < 0.15 * shorter && std::abs(p.box.size.width - box.size.width) < 0.15 * shorter;
      });
      if (!known) patches.push_back({box, fill});
    }
  }
  std::sort(patches.begin(), patches.end(), [](const Patch& a, const Patch& b) { return a.fill > b.fill; });
  patches.resize(std::min(patches.size(), kMostPatches));
  std::vector<cv::RotatedRect> boxes;
  for (const Patch& p : patches) boxes.push_back(p.box);
  return boxes;
}

std::string trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t\r\n");
  if (first == std::string_view::npos) return {};
  return std::string(text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1));
}

}  // namespace

std::vector<SeenCode> find_codes(const cv::Mat& grey, double px_per_mm) {
  std::vector<SeenCode> codes;
  const double scale = std::min(1.0, kSearchSide_px / std::max(grey.cols, grey.rows));
  cv::Mat small = grey;
  if (scale < 1) cv::resize(grey, small, {}, scale, scale, cv::INTER_AREA);
  const double up = static_cast<double>(grey.cols) / small.cols;

  ZXing::DecodeHints whole;
  whole.setFormats(ZXing::BarcodeFormat::QRCode).setTryHarder(true).setTryRotate(false).setTryDownscale(false);
  read_view(small, cv::Matx33d::diag({up, up, 1}), whole, codes);

  ZXing::DecodeHints one;
  one.setFormats(ZXing::BarcodeFormat::QRCode | ZXing::BarcodeFormat::DataMatrix).setTryHarder(true).setTryRotate(true);
  one.setTryDownscale(false).setMaxNumberOfSymbols(1);
  for (const cv::RotatedRect& patch : dense_patches(small, px_per_mm * scale)) {
    const bool known = std::any_of(codes.begin(), codes.end(), [&](const SeenCode& c) {
      const Point centre = middle_of(c.quad_px);
      return std::hypot(centre.x - patch.center.x * up, centre.y - patch.center.y * up) < 0.5 * side_of(c.quad_px);
    });
    if (known) continue;
    // Upright view with a quiet zone around, large enough for the reader's local thresholds.
    const double side_px = (std::max(patch.size.width, patch.size.height) + 1) * 1.4 * up;
    const double view_px = std::clamp(side_px, 160.0, 400.0);
    const double turn = patch.angle * CV_PI / 180;
    const double s = side_px / view_px;
    const double c = s * std::cos(turn);
    const double n = s * std::sin(turn);
    const double half = view_px / 2;
    const cv::Matx33d photo_from_view(c, -n, (patch.center.x + 0.5) * up - c * half + n * half,  //
                                      n, c, (patch.center.y + 0.5) * up - n * half - c * half,    //
                                      0, 0, 1);
    cv::Mat view;
    cv::warpPerspective(grey, view, photo_from_view, cv::Size(static_cast<int>(view_px), static_cast<int>(view_px)),
                        cv::INTER_LINEAR | cv::WARP_INVERSE_MAP, cv::BORDER_REPLICATE);
    read_view(view, photo_from_view, one, codes);
  }
  return codes;
}

std::optional<Sheet> parse_sheet_label(std::string_view text) {
  Sheet sheet;
  while (!text.empty()) {
    const auto end = std::min(text.find(';'), text.size());
    const std::string_view part = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    if (trimmed(part).empty()) continue;
    const auto equals = part.find('=');
    if (equals == std::string_view::npos) return std::nullopt;
    std::string key = trimmed(part.substr(0, equals));
    std::transform(key.begin(), key.end(), key.begin(), [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
    const std::string value = trimmed(part.substr(equals + 1));
    if (key == "tin")
      sheet.tin = value;
    else if (key == "sheet")
      sheet.sheet = value;
    else if (key == "side")
      sheet.side = value;
    else
      sheet.more[key] = value;
  }
  if (sheet.tin.empty() && sheet.sheet.empty()) return std::nullopt;
  return sheet;
}

}  // namespace papillote::calibration
