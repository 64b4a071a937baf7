#include "fonts.h"

#include <fontconfig/fcfreetype.h>
#include <pango/pangofc-fontmap.h>

#include <algorithm>
#include <opencv2/imgproc.hpp>
#include <filesystem>
#include <stdexcept>

namespace papillote::samples {
namespace fs = std::filesystem;

namespace {

double ink_height(PangoContext* context, const PangoFontDescription* description, const char* letter) {
  PangoLayout* layout = pango_layout_new(context);
  pango_layout_set_font_description(layout, description);
  pango_layout_set_text(layout, letter, -1);
  PangoRectangle ink;
  pango_layout_get_extents(layout, &ink, nullptr);
  g_object_unref(layout);
  return static_cast<double>(ink.height) / PANGO_SCALE;
}

// Mean width of the strokes: twice the inked area over the length of its outline.
double stroke_width(PangoContext* context, const PangoFontDescription* description) {
  PangoLayout* layout = pango_layout_new(context);
  pango_layout_set_font_description(layout, description);
  pango_layout_set_text(layout, "nioeu", -1);
  cv::Mat ink(260, 640, CV_8U, cv::Scalar(0));
  cairo_surface_t* surface = cairo_image_surface_create_for_data(ink.data, CAIRO_FORMAT_A8, ink.cols, ink.rows, static_cast<int>(ink.step));
  cairo_t* cairo = cairo_create(surface);
  cairo_move_to(cairo, 60, 40);
  pango_cairo_show_layout(cairo, layout);
  cairo_surface_flush(surface);
  cairo_destroy(cairo);
  cairo_surface_destroy(surface);
  g_object_unref(layout);
  std::vector<std::vector<cv::Point>> outlines;
  cv::threshold(ink, ink, 127, 255, cv::THRESH_BINARY);
  const double area = cv::countNonZero(ink);
  cv::findContours(ink, outlines, cv::RETR_CCOMP, cv::CHAIN_APPROX_NONE);
  double around = 0;
  for (const auto& outline : outlines) around += cv::arcLength(outline, true);
  return around > 0 ? 2 * area / around : 0.0;
}

}  // namespace

FontShelf::FontShelf(const std::string& folder) {
  config_ = FcConfigCreate();
  map_ = pango_cairo_font_map_new_for_font_type(CAIRO_FONT_TYPE_FT);
  std::vector<std::pair<fs::path, FontUse>> files;
  for (const auto& [name, use] : {std::pair{"hand", FontUse::hand}, std::pair{"type", FontUse::type},
                                  std::pair{"print", FontUse::print}, std::pair{"stamp", FontUse::stamp}}) {
    const fs::path place = fs::path(folder) / name;
    if (!fs::is_directory(place))
      throw std::runtime_error(place.string() + ": no fonts here; run scripts/fetch_fonts first");
    std::vector<fs::path> found;
    for (const auto& entry : fs::directory_iterator(place))
      if (entry.path().extension() == ".ttf") found.push_back(entry.path());
    std::sort(found.begin(), found.end());
    for (const auto& file : found) files.emplace_back(file, use);
  }
  for (const auto& [file, use] : files)
    FcConfigAppFontAddFile(config_, reinterpret_cast<const FcChar8*>(file.c_str()));
  pango_fc_font_map_set_config(PANGO_FC_FONT_MAP(map_), config_);
  // Layout units are taken as 1 per em/100: every font is measured and set at this size and scaled afterwards.
  pango_cairo_font_map_set_resolution(PANGO_CAIRO_FONT_MAP(map_), 72.0);
  context_ = pango_font_map_create_context(map_);
  cairo_font_options_t* options = cairo_font_options_create();
  cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
  cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
  pango_cairo_context_set_font_options(context_, options);
  cairo_font_options_destroy(options);
  pango_context_set_round_glyph_positions(context_, FALSE);

  for (const auto& [file, use] : files) {
    int faces = 0;
    FcPattern* pattern = FcFreeTypeQuery(reinterpret_cast<const FcChar8*>(file.c_str()), 0, nullptr, &faces);
    if (pattern == nullptr) throw std::runtime_error(file.string() + ": not a font; run scripts/fetch_fonts again");
    PangoFontDescription* description = pango_fc_font_description_from_pattern(pattern, FALSE);
    pango_font_description_set_absolute_size(description, 100.0 * PANGO_SCALE);
    char* text = pango_font_description_to_string(description);
    fonts_.push_back({file.stem().string(), use, text, ink_height(context_, description, "x") / 100.0,
                      ink_height(context_, description, "H") / 100.0, stroke_width(context_, description) / 100.0});
    patterns_.push_back(pattern);
    g_free(text);
    pango_font_description_free(description);
  }
}

FontShelf::~FontShelf() {
  for (FcPattern* pattern : patterns_) FcPatternDestroy(pattern);
  if (context_ != nullptr) g_object_unref(context_);
  if (map_ != nullptr) g_object_unref(map_);
  if (config_ != nullptr) FcConfigDestroy(config_);
}

bool FontShelf::covers(const Font& font, const std::string& text) const {
  const auto index = static_cast<std::size_t>(&font - fonts_.data());
  FcCharSet* letters = nullptr;
  if (FcPatternGetCharSet(patterns_[index], FC_CHARSET, 0, &letters) != FcResultMatch) return false;
  for (const char* p = text.c_str(); *p != '\0'; p = g_utf8_next_char(p)) {
    const gunichar letter = g_utf8_get_char(p);
    if (letter == 0x2642 || letter == 0x2640 || letter == ' ') continue;
    if (!FcCharSetHasChar(letters, letter)) return false;
  }
  return true;
}

const Font& FontShelf::pick(FontUse use, const std::string& text, Random& random) const {
  std::vector<const Font*> fit;
  for (const Font& font : fonts_)
    if (font.use == use && covers(font, text)) fit.push_back(&font);
  if (fit.empty()) throw std::runtime_error("no font of the shelf has every letter of: " + text);
  return *random.pick(fit);
}

const Font& FontShelf::named(const std::string& family) const {
  for (const Font& font : fonts_)
    if (font.family == family) return font;
  throw std::runtime_error("font " + family + " is not on the shelf; run scripts/fetch_fonts again");
}

}  // namespace papillote::samples
