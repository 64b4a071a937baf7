#include "pipeline/bench/page.h"

#include <cairo-pdf.h>
#include <fmt/format.h>
#include <pango/pangocairo.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <opencv2/imgproc.hpp>

#include "pipeline/bench/look.h"
#include "pipeline/image/image.h"

namespace papillote::bench {
namespace {

constexpr double kPointsPerMm = 72.0 / 25.4;
constexpr double kA4ShortMm = 210;
constexpr double kA4LongMm = 297;
constexpr int kThumbnailQuality = 82;

struct Release {
  void operator()(cairo_t* cairo) const { cairo_destroy(cairo); }
  void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
  void operator()(cairo_font_options_t* options) const { cairo_font_options_destroy(options); }
  void operator()(PangoAttrList* attributes) const { pango_attr_list_unref(attributes); }
  void operator()(PangoFontDescription* font) const { pango_font_description_free(font); }
  void operator()(gchar* text) const { g_free(text); }
  void operator()(PangoContext* context) const { g_object_unref(context); }
  void operator()(PangoLayout* layout) const { g_object_unref(layout); }
};
template <class T>
using Held = std::unique_ptr<T, Release>;

const char* family_of(Face face) {
  switch (face) {
    case Face::serif:
      return "DejaVu Serif";
    case Face::mono:
      return "DejaVu Sans Mono";
    case Face::sans:
      break;
  }
  return "DejaVu Sans";
}

// Measures nothing but the text itself: one unit of the layout is one point, glyphs lie where their advances say.
Held<PangoLayout> layout_of(cairo_t* cairo, double width, const std::string& text, const Type& type) {
  const Held<PangoContext> context(pango_cairo_create_context(cairo));
  pango_cairo_context_set_resolution(context.get(), 72);
  pango_context_set_round_glyph_positions(context.get(), FALSE);
  const Held<cairo_font_options_t> options(cairo_font_options_create());
  cairo_font_options_set_hint_style(options.get(), CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options.get(), CAIRO_HINT_METRICS_OFF);
  pango_cairo_context_set_font_options(context.get(), options.get());

  Held<PangoLayout> layout(pango_layout_new(context.get()));
  const Held<PangoFontDescription> font(pango_font_description_new());
  pango_font_description_set_family_static(font.get(), family_of(type.face));
  if (type.face != Face::mono) pango_font_description_set_stretch(font.get(), PANGO_STRETCH_CONDENSED);
  pango_font_description_set_weight(font.get(), type.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_font_description_set_size(font.get(), static_cast<gint>(std::lround(type.size_pt * PANGO_SCALE)));
  pango_layout_set_font_description(layout.get(), font.get());
  if (width > 0) pango_layout_set_width(layout.get(), static_cast<int>(width * kPointsPerMm * PANGO_SCALE));
  pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
  const Held<PangoAttrList> attributes(pango_attr_list_new());
  pango_attr_list_insert(attributes.get(), pango_attr_insert_hyphens_new(FALSE));  // verbatim text gains no characters
  pango_layout_set_attributes(layout.get(), attributes.get());
  pango_layout_set_alignment(layout.get(), type.align == Align::right    ? PANGO_ALIGN_RIGHT
                                           : type.align == Align::centre ? PANGO_ALIGN_CENTER
                                                                         : PANGO_ALIGN_LEFT);
  pango_layout_set_text(layout.get(), text.data(), static_cast<int>(text.size()));
  return layout;
}

void drop_last_character(std::string& utf8) {
  while (!utf8.empty()) {
    const auto last = static_cast<unsigned char>(utf8.back());
    utf8.pop_back();
    if ((last & 0xC0u) != 0x80u) return;
  }
}

// Pango limits lines paragraph by paragraph; the limit here is on the whole text.
Held<PangoLayout> limited_layout(cairo_t* cairo, double width, std::string_view text, const Type& type) {
  std::string kept = harmless(text);
  Held<PangoLayout> layout = layout_of(cairo, width, kept, type);
  if (type.most_lines <= 0 || pango_layout_get_line_count(layout.get()) <= type.most_lines) return layout;
  const PangoLayoutLine* last = pango_layout_get_line_readonly(layout.get(), type.most_lines - 1);
  kept.resize(static_cast<std::size_t>(last->start_index + last->length));
  do {
    layout = layout_of(cairo, width, kept + "…", type);
    drop_last_character(kept);
  } while (!kept.empty() && pango_layout_get_line_count(layout.get()) > type.most_lines);
  return layout;
}

double height_mm(PangoLayout* layout) {
  int width = 0;
  int height = 0;
  pango_layout_get_size(layout, &width, &height);
  return height / static_cast<double>(PANGO_SCALE) / kPointsPerMm;
}

void set_ink(cairo_t* cairo, const Ink& ink, double opacity = 1) {
  cairo_set_source_rgba(cairo, ink.red, ink.green, ink.blue, opacity);
}

void trace(cairo_t* cairo, const Polygon& corners) {
  cairo_new_path(cairo);
  for (const Point& corner : corners) cairo_line_to(cairo, corner.x, corner.y);
  cairo_close_path(cairo);
}

cairo_status_t append(void* closure, const unsigned char* data, unsigned int length) {
  static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

cairo_status_t discard(void*, const unsigned char*, unsigned int) { return CAIRO_STATUS_SUCCESS; }

double paper_width(const Imprint& imprint) { return imprint.landscape ? kA4LongMm : kA4ShortMm; }
double paper_height(const Imprint& imprint) { return imprint.landscape ? kA4ShortMm : kA4LongMm; }

// Draws the whole book onto `surface`; answers how many pages it has.
int draw_pages(cairo_surface_t* surface, const Imprint& imprint, int pages, const std::function<void(Book&)>& draw) {
  const Held<cairo_t> cairo(cairo_create(surface));
  cairo_scale(cairo.get(), kPointsPerMm, kPointsPerMm);
  Book book(cairo.get(), imprint, pages);
  draw(book);
  if (book.turned() > 0) cairo_show_page(cairo.get());
  return book.turned();
}

}  // namespace

std::string harmless(std::string_view text) {
  if (text.empty()) return {};  // which may point nowhere
  const Held<gchar> valid(g_utf8_make_valid(text.data(), static_cast<gssize>(text.size())));
  std::string drawn;
  for (const gchar* at = valid.get(); *at != '\0'; at = g_utf8_next_char(at)) {
    const gunichar point = g_utf8_get_char(at);
    const bool turns_direction = point == 0x061C || point == 0x200E || point == 0x200F ||
                                 (point >= 0x202A && point <= 0x202E) || (point >= 0x2066 && point <= 0x2069);
    const bool breaks_line = point == 0x2028 || point == 0x2029;
    const bool controls = (point < 0x20 && point != '\n' && point != '\t') || (point >= 0x7F && point < 0xA0);
    if (turns_direction || breaks_line || controls || point == 0xFEFF)
      drawn += fmt::format("<U+{:04X}>", point);
    else
      drawn.append(at, static_cast<std::size_t>(g_utf8_next_char(at) - at));
  }
  return drawn;
}

Picture picture_of(const cv::Mat& bgr, int longest_px) {
  const double scale = std::min(1.0, longest_px / static_cast<double>(std::max(bgr.cols, bgr.rows)));
  cv::Mat small = bgr;
  if (scale < 1) cv::resize(bgr, small, {}, scale, scale, cv::INTER_AREA);
  return {image::encode_jpeg(small, kThumbnailQuality), small.cols, small.rows};
}

double Page::write(Point at, double width, std::string_view text, const Type& type) {
  const Held<PangoLayout> layout = limited_layout(cairo_, width, text, type);
  cairo_save(cairo_);
  cairo_translate(cairo_, at.x, at.y);
  cairo_scale(cairo_, 1 / kPointsPerMm, 1 / kPointsPerMm);
  set_ink(cairo_, type.ink);
  cairo_move_to(cairo_, 0, 0);
  pango_cairo_show_layout(cairo_, layout.get());
  cairo_restore(cairo_);
  return height_mm(layout.get());
}

double Page::height_of(double width, std::string_view text, const Type& type) const {
  return height_mm(limited_layout(cairo_, width, text, type).get());
}

double Page::width_of(std::string_view text, const Type& type) const {
  const Held<PangoLayout> layout = layout_of(cairo_, 0, harmless(text), type);
  int width = 0;
  int height = 0;
  pango_layout_get_size(layout.get(), &width, &height);
  return width / static_cast<double>(PANGO_SCALE) / kPointsPerMm;
}

Type Page::fitted(std::string_view text, double width, Type type, double least_pt) const {
  const double wide = width_of(text, type);
  if (wide > width) type.size_pt = std::max(least_pt, type.size_pt * width / wide * 0.99);
  return type;
}

void Page::fill(const Area& area, const Ink& ink) {
  set_ink(cairo_, ink);
  cairo_new_path(cairo_);
  cairo_rectangle(cairo_, area.x, area.y, area.width, area.height);
  cairo_fill(cairo_);
}

void Page::frame(const Area& area, const Ink& ink, double line) {
  set_ink(cairo_, ink);
  cairo_set_line_width(cairo_, line);
  cairo_new_path(cairo_);
  cairo_rectangle(cairo_, area.x, area.y, area.width, area.height);
  cairo_stroke(cairo_);
}

void Page::line(Point from, Point to, const Ink& ink, double line) {
  set_ink(cairo_, ink);
  cairo_set_line_width(cairo_, line);
  cairo_move_to(cairo_, from.x, from.y);
  cairo_line_to(cairo_, to.x, to.y);
  cairo_stroke(cairo_);
}

void Page::polygon(const Polygon& corners, const Ink& ink, double line) {
  trace(cairo_, corners);
  set_ink(cairo_, ink);
  cairo_set_line_width(cairo_, line);
  cairo_set_line_join(cairo_, CAIRO_LINE_JOIN_ROUND);
  cairo_stroke(cairo_);
}

void Page::shade(const Polygon& corners, const Ink& ink, double opacity) {
  trace(cairo_, corners);
  set_ink(cairo_, ink, opacity);
  cairo_fill(cairo_);
}

void Page::disc(Point centre, double radius, const Ink& ink) {
  set_ink(cairo_, ink);
  cairo_new_path(cairo_);
  cairo_arc(cairo_, centre.x, centre.y, radius, 0, 2 * CV_PI);
  cairo_fill(cairo_);
}

void Page::cells(const std::vector<Point>& corners, double side, const Ink& ink) {
  set_ink(cairo_, ink);
  cairo_new_path(cairo_);
  for (const Point& corner : corners) cairo_rectangle(cairo_, corner.x, corner.y, side, side);
  cairo_fill(cairo_);
}

Area Page::picture(const Area& area, const Picture& picture) {
  if (picture.width_px <= 0 || picture.height_px <= 0) return {area.x, area.y, 0, 0};
  const double scale = std::min(area.width / picture.width_px, area.height / picture.height_px);
  // The PDF takes the JPEG as it is and never looks at the pixels, so they stay empty.
  const Held<cairo_surface_t> surface(cairo_image_surface_create(CAIRO_FORMAT_RGB24, picture.width_px, picture.height_px));
  auto bytes = std::make_unique<std::vector<std::byte>>(picture.jpeg);
  const auto* data = reinterpret_cast<const unsigned char*>(bytes->data());
  const auto forget = [](void* held) { delete static_cast<std::vector<std::byte>*>(held); };
  if (cairo_surface_set_mime_data(surface.get(), CAIRO_MIME_TYPE_JPEG, data, bytes->size(), forget, bytes.get()) ==
      CAIRO_STATUS_SUCCESS)
    (void)bytes.release();  // cairo keeps it until the surface goes
  cairo_save(cairo_);
  cairo_translate(cairo_, area.x, area.y);
  cairo_scale(cairo_, scale, scale);
  cairo_set_source_surface(cairo_, surface.get(), 0, 0);
  cairo_paint(cairo_);
  cairo_restore(cairo_);
  return {area.x, area.y, picture.width_px * scale, picture.height_px * scale};
}

Book::Book(cairo_t* cairo, const Imprint& imprint, int pages)
    : cairo_(cairo), imprint_(imprint), pages_(pages), page_(cairo, paper_width(imprint), paper_height(imprint)) {}

Page& Book::turn() {
  if (number_ > 0) cairo_show_page(cairo_);
  ++number_;
  constexpr double kBaselineMm = 9.5;  // of the footer, above the paper's lower edge
  const double y = page_.height() - kBaselineMm;
  const double width = page_.width() - 2 * kMarginMm;
  page_.line({kMarginMm, y - 1.2}, {kMarginMm + width, y - 1.2}, kRule, kHairlineMm);
  page_.write({kMarginMm, y}, width * 0.8, imprint_.footer, lines(kSmall, 1));
  page_.write({kMarginMm + width * 0.8, y}, width * 0.2, fmt::format("page {} of {}", number_, pages_),
              aligned(lines(kSmall, 1), Align::right));
  return page_;
}

std::string pdf(const Imprint& imprint, const std::function<void(Book&)>& draw) {
  const double width_pt = paper_width(imprint) * kPointsPerMm;
  const double height_pt = paper_height(imprint) * kPointsPerMm;
  const Held<cairo_surface_t> counted(cairo_pdf_surface_create_for_stream(discard, nullptr, width_pt, height_pt));
  const int pages = draw_pages(counted.get(), imprint, 0, draw);

  std::string bytes;
  const Held<cairo_surface_t> surface(cairo_pdf_surface_create_for_stream(append, &bytes, width_pt, height_pt));
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE, harmless(imprint.title).c_str());
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_CREATOR, "papillote");
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_CREATE_DATE, imprint.made.c_str());
  draw_pages(surface.get(), imprint, pages, draw);
  cairo_surface_finish(surface.get());
  return bytes;
}

}  // namespace papillote::bench
