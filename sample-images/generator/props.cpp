#include "props.h"

#include <ZXing/BarcodeFormat.h>
#include <ZXing/BitMatrix.h>
#include <ZXing/MultiFormatWriter.h>

#include <array>

#include "colour.h"
#include "lettering.h"

namespace papillote::samples {
namespace {

Plane plane_of(double width_mm, double height_mm, double px_per_mm) {
  return Plane::around({0, 0, width_mm, height_mm}, 0, px_per_mm);
}

void write(const ColourPainter& painter, const FontShelf& shelf, const std::string& text, Point at, double height_mm, unsigned rgb = 0x1A1A1A) {
  const Font* font = nullptr;
  for (const Font& f : shelf.all())
    if (f.use == FontUse::print && shelf.covers(f, text)) {
      font = &f;
      break;
    }
  if (font == nullptr) return;
  Lettering lettering{font, LineKind::printed, height_mm * font->x_height_em / font->cap_height_em, 0.0, 0.0};
  const SetLine line = set_line(shelf, lettering, text, Random{1});
  cairo_save(painter.cairo());
  cairo_push_group(painter.cairo());
  draw(painter.cairo(), shelf, line, at, 0);
  cairo_pattern_t* letters = cairo_pop_group(painter.cairo());
  set_rgb(painter.cairo(), rgb);
  cairo_mask(painter.cairo(), letters);
  cairo_pattern_destroy(letters);
  cairo_restore(painter.cairo());
}

void draw_code(const ColourPainter& painter, const std::string& text, bool data_matrix, Point at, double size_mm) {
  ZXing::MultiFormatWriter writer(data_matrix ? ZXing::BarcodeFormat::DataMatrix : ZXing::BarcodeFormat::QRCode);
  writer.setMargin(0);
  const ZXing::BitMatrix bits = writer.encode(text, 0, 0);
  const double module = size_mm / bits.width();
  cairo_set_antialias(painter.cairo(), CAIRO_ANTIALIAS_DEFAULT);
  set_rgb(painter.cairo(), 0x141414);
  for (int y = 0; y < bits.height(); ++y)
    for (int x = 0; x < bits.width(); ++x)
      if (bits.get(x, y)) cairo_rectangle(painter.cairo(), at.x + x * module, at.y + y * module, module, module);
  cairo_fill(painter.cairo());
}

Prop finished(const ColourPainter& painter, double width_mm, double height_mm, cv::Size size) {
  Prop prop{cv::Mat(size, CV_32FC3, cv::Scalar::all(0.88)), width_mm, height_mm};
  painter.lay_over(prop.colour, nullptr);
  return prop;
}

}  // namespace

Prop capture_card(const FontShelf& shelf, double px_per_mm) {
  const Plane plane = plane_of(110, 60, px_per_mm);
  const ColourPainter painter{plane};
  painter.fill(rectangle(0, 0, 110, 60), 0xF6F5F2);
  cairo_t* cairo = painter.cairo();
  set_rgb(cairo, 0xB0B0B0);
  cairo_set_line_width(cairo, 0.3);
  cairo_rectangle(cairo, 0.3, 0.3, 109.4, 59.4);
  cairo_stroke(cairo);
  constexpr std::array<std::array<int, 2>, 4> bytes{{{181, 50}, {15, 154}, {51, 45}, {153, 70}}};
  const std::array<Point, 4> corners{Point{2, 2}, Point{93, 2}, Point{93, 43}, Point{2, 43}};
  constexpr double cell = 15.0 / 6;
  for (std::size_t id = 0; id < 4; ++id) {
    painter.fill(rectangle(corners[id].x, corners[id].y, corners[id].x + 15, corners[id].y + 15), 0x101010);
    for (int bit = 0; bit < 16; ++bit) {
      if (((bytes[id][static_cast<std::size_t>(bit / 8)] >> (7 - bit % 8)) & 1) == 0) continue;
      const double x = corners[id].x + cell * (1 + bit % 4);
      const double y = corners[id].y + cell * (1 + bit / 4);
      painter.fill(rectangle(x, y, x + cell, y + cell), 0xF6F5F2);
    }
  }
  set_rgb(cairo, 0x101010);
  cairo_set_line_cap(cairo, CAIRO_LINE_CAP_BUTT);
  cairo_set_line_width(cairo, 0.2);
  cairo_move_to(cairo, 5, 19);
  cairo_line_to(cairo, 105, 19);
  for (int mm = 0; mm <= 100; ++mm) {
    cairo_move_to(cairo, 5 + mm, 19);
    cairo_line_to(cairo, 5 + mm, 19 + (mm % 10 == 0 ? 4.0 : mm % 5 == 0 ? 3.0 : 2.0));
  }
  cairo_stroke(cairo);
  for (int mm = 0; mm <= 100; mm += 10) write(painter, shelf, std::to_string(mm), {4.2 + mm, 26.2}, 1.8);
  constexpr std::array<unsigned, 12> patches{0xF3F3F2, 0xC8C8C8, 0xA0A0A0, 0x7A7A79, 0x555555, 0x343434,
                                             0x383D96, 0x469449, 0xAF363C, 0xE7C71F, 0xBB5695, 0x0885A1};
  for (std::size_t k = 0; k < patches.size(); ++k) {
    const double x = 7 + 8.0 * static_cast<double>(k);
    painter.fill(rectangle(x, 29.5, x + 7.6, 41), patches[k]);
  }
  return finished(painter, 110, 60, plane.size);
}

Prop sheet_label(const FontShelf& shelf, const std::string& words, const std::string& period, const std::string& code, double px_per_mm) {
  const Plane plane = plane_of(80, 30, px_per_mm);
  const ColourPainter painter{plane};
  painter.fill(rectangle(0, 0, 80, 30), 0xF4F2EC);
  write(painter, shelf, words, {4, 12}, words.size() > 18 ? 3.1 : 4.2);
  if (!period.empty()) write(painter, shelf, period, {4, 22}, 3.2);
  draw_code(painter, code, false, {52, 3.5}, 23);
  return finished(painter, 80, 30, plane.size);
}

Prop identifier_slip(const FontShelf& shelf, const std::string& number, bool data_matrix, double px_per_mm) {
  const Plane plane = plane_of(30, 14, px_per_mm);
  const ColourPainter painter{plane};
  painter.fill(rectangle(0, 0, 30, 14), 0xF6F5F0);
  draw_code(painter, number, data_matrix, {2, 2}, 10);
  write(painter, shelf, number, {13.4, 8.2}, 1.9);
  return finished(painter, 30, 14, plane.size);
}

Prop ruler(const FontShelf& shelf, double length_mm, double px_per_mm) {
  const Plane plane = plane_of(length_mm + 8, 22, px_per_mm);
  const ColourPainter painter{plane};
  painter.fill(rectangle(0, 0, length_mm + 8, 22), 0xD9B778);
  set_rgb(painter.cairo(), 0x2A1E12);
  cairo_set_line_width(painter.cairo(), 0.18);
  for (int mm = 0; mm <= static_cast<int>(length_mm); ++mm) {
    cairo_move_to(painter.cairo(), 4 + mm, 0);
    cairo_line_to(painter.cairo(), 4 + mm, mm % 10 == 0 ? 6.0 : mm % 5 == 0 ? 4.5 : 3.0);
  }
  cairo_stroke(painter.cairo());
  for (int cm = 0; cm <= static_cast<int>(length_mm) / 10; ++cm) write(painter, shelf, std::to_string(cm), {3.2 + 10 * cm, 11}, 2.6, 0x2A1E12);
  return finished(painter, length_mm + 8, 22, plane.size);
}

}  // namespace papillote::samples
