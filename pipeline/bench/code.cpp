#include "pipeline/bench/code.h"

#include <ZXing/BarcodeFormat.h>
#include <ZXing/BitMatrix.h>
#include <ZXing/CharacterSet.h>
#include <ZXing/MultiFormatWriter.h>
#include <fmt/format.h>

#include <exception>

#include "pipeline/bench/look.h"

namespace papillote::bench {
namespace {

constexpr int kQuietQr = 4;          // ISO/IEC 18004, from memory
constexpr int kQuietDataMatrix = 1;  // on each side (source: Linx, Data Matrix coding manual)

Result<Code> encoded(const std::string& text, ZXing::BarcodeFormat format, int quiet) {
  try {
    ZXing::MultiFormatWriter writer(format);
    writer.setMargin(0);
    if (format == ZXing::BarcodeFormat::QRCode) writer.setEncoding(ZXing::CharacterSet::UTF8);
    const ZXing::BitMatrix bits = writer.encode(text, 0, 0);
    Code code{bits.width(), bits.height(), {}, quiet};
    for (int y = 0; y < bits.height(); ++y)
      for (int x = 0; x < bits.width(); ++x)
        if (bits.get(x, y)) code.dark.push_back({static_cast<double>(x), static_cast<double>(y)});
    return code;
  } catch (const std::exception& problem) {
    return Failure{"bench", "not_encodable", fmt::format("\"{}\" cannot be printed as a code: {}.", text, problem.what()),
                   "Shorten it, and keep to letters and digits."};
  }
}

}  // namespace

Result<Code> qr_code(const std::string& text) { return encoded(text, ZXing::BarcodeFormat::QRCode, kQuietQr); }

Result<Code> data_matrix(const std::string& text) { return encoded(text, ZXing::BarcodeFormat::DataMatrix, kQuietDataMatrix); }

void draw(Page& page, Point at, const Code& code, double module_mm) {
  std::vector<Point> corners;
  corners.reserve(code.dark.size());
  for (const Point& module : code.dark) corners.push_back({at.x + module.x * module_mm, at.y + module.y * module_mm});
  page.cells(corners, module_mm, kBlack);
}

}  // namespace papillote::bench
