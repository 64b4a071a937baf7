#include "lettering.h"

#include <algorithm>
#include <memory>
#include <sstream>

namespace papillote::samples {
namespace {

using Layout = std::unique_ptr<PangoLayout, decltype(&g_object_unref)>;

// All layouts are set at 100 units to the em.
Layout layout_of(const FontShelf& shelf, const Font& font, const std::string& text, double letter_space_em) {
  Layout layout{pango_layout_new(shelf.pango()), &g_object_unref};
  PangoFontDescription* description = pango_font_description_from_string(font.description.c_str());
  pango_layout_set_font_description(layout.get(), description);
  pango_font_description_free(description);
  PangoAttrList* attributes = pango_attr_list_new();
  pango_attr_list_insert(attributes, pango_attr_fallback_new(FALSE));
  if (letter_space_em != 0.0)
    pango_attr_list_insert(attributes, pango_attr_letter_spacing_new(static_cast<int>(letter_space_em * 100 * PANGO_SCALE)));
  pango_layout_set_attributes(layout.get(), attributes);
  pango_attr_list_unref(attributes);
  pango_layout_set_text(layout.get(), text.c_str(), -1);
  return layout;
}

// A size by which fonts of very different build look equally large.
double em_mm(const Lettering& lettering) {
  const double build = 0.55 * lettering.font->x_height_em + 0.45 * 0.62 * lettering.font->cap_height_em;
  return lettering.x_height_mm / std::max(0.12, build);
}

bool is_sex_sign(const std::string& word) { return word == "♂" || word == "♀"; }

void draw_sex_sign(cairo_t* cairo, bool male, double size, double width) {
  cairo_set_line_width(cairo, width);
  const double r = size * 0.3;
  const double cx = size * 0.38;
  cairo_new_path(cairo);
  if (male) {
    cairo_arc(cairo, cx, -r, r, 0, 6.3);
    cairo_move_to(cairo, cx + r * 0.7, -r * 1.7);
    cairo_line_to(cairo, cx + r * 1.8, -r * 2.9);
    cairo_move_to(cairo, cx + r * 1.0, -r * 2.85);
    cairo_line_to(cairo, cx + r * 1.8, -r * 2.9);
    cairo_line_to(cairo, cx + r * 1.75, -r * 2.0);
  } else {
    cairo_arc(cairo, cx, -r * 2.1, r, 0, 6.3);
    cairo_move_to(cairo, cx, -r * 1.1);
    cairo_line_to(cairo, cx, r * 0.6);
    cairo_move_to(cairo, cx - r * 0.75, -r * 0.25);
    cairo_line_to(cairo, cx + r * 0.75, -r * 0.3);
  }
  cairo_stroke(cairo);
}

struct Extent {
  double advance;
  Bounds ink;  // about the baseline start, in em/100
};

Extent measure(const FontShelf& shelf, const Lettering& lettering, const std::string& text) {
  if (is_sex_sign(text)) {
    const double size = 100 * std::max(0.75, lettering.font->cap_height_em * 1.15);
    return {size * 0.8, {size * 0.05, -size * 0.95, size * 0.92, size * 0.18}};
  }
  const Layout layout = layout_of(shelf, *lettering.font, text, lettering.letter_space_em);
  PangoRectangle ink;
  PangoRectangle logical;
  pango_layout_get_extents(layout.get(), &ink, &logical);
  const double baseline = pango_layout_get_baseline(layout.get());
  const auto units = [](double v) { return v / PANGO_SCALE; };
  return {units(logical.width),
          {units(ink.x), units(ink.y - baseline), units(ink.x + ink.width), units(ink.y + ink.height - baseline)}};
}

std::vector<std::string> pieces(const std::string& text, LineKind kind) {
  std::vector<std::string> out;
  if (kind == LineKind::typed) {
    for (const char* p = text.c_str(); *p != '\0'; p = g_utf8_next_char(p)) out.emplace_back(p, static_cast<const char*>(g_utf8_next_char(p)));
    return out;
  }
  const bool has_sign = text.find("♂") != std::string::npos || text.find("♀") != std::string::npos;
  if (kind != LineKind::handwritten && !has_sign) return {text};
  std::istringstream words(text);
  for (std::string word; words >> word;) {
    while (word.size() > 3 && is_sex_sign(word.substr(0, 3))) {
      out.push_back(word.substr(0, 3));
      word.erase(0, 3);
    }
    out.push_back(word);
  }
  return out;
}

}  // namespace

const char* name(LineKind kind) {
  switch (kind) {
    case LineKind::handwritten: return "handwritten";
    case LineKind::typed: return "typed";
    case LineKind::printed: return "printed";
    case LineKind::stamped: return "stamped";
    case LineKind::newsprint: return "newsprint";
  }
  return "";
}

SetLine set_line(const FontShelf& shelf, const Lettering& lettering, const std::string& text, Random random) {
  const double em = em_mm(lettering);
  const double unit_mm = em / 100.0;
  const bool hand = lettering.kind == LineKind::handwritten;
  const bool typed = lettering.kind == LineKind::typed;
  const double wander = lettering.wander;
  SetLine line{lettering, {}, {1e9, 1e9, -1e9, -1e9}};
  const double space = measure(shelf, lettering, "n").advance * unit_mm * (hand ? random.between(0.55, 0.85) : 0.5);
  double x = 0.0;
  double drift = 0.0;
  for (const std::string& piece : pieces(text, lettering.kind)) {
    SetWord word{piece, x, 0.0, 1.0, 0.0, 1.0};
    if (hand) {
      drift = 0.7 * drift + random.normal(0, 0.06) * lettering.x_height_mm * wander;
      word.rise_mm = drift;
      word.scale = 1.0 + random.normal(0, 0.035) * wander;
      word.turn_deg = random.normal(0, 0.5) * wander;
      word.strength = random.between(0.88, 1.0);
    } else if (typed) {
      word.rise_mm = random.normal(0, 0.02) * lettering.x_height_mm * wander;
      word.strength = std::clamp(1.0 + random.normal(-0.08, 0.08) * wander, 0.55, 1.0);
      word.x_mm += random.normal(0, 0.012) * lettering.x_height_mm * wander;
    }
    const Extent extent = measure(shelf, lettering, piece);
    const double scale = unit_mm * word.scale;
    if (piece != " ") {
      line.ink_mm.left = std::min(line.ink_mm.left, word.x_mm + extent.ink.left * scale);
      line.ink_mm.right = std::max(line.ink_mm.right, word.x_mm + extent.ink.right * scale);
      line.ink_mm.top = std::min(line.ink_mm.top, word.rise_mm + extent.ink.top * scale);
      line.ink_mm.bottom = std::max(line.ink_mm.bottom, word.rise_mm + extent.ink.bottom * scale);
      line.words.push_back(word);
    }
    x += extent.advance * scale;
    if (!typed) x += space * (hand ? random.between(0.85, 1.25) : 1.0);
  }
  return line;
}

void draw(cairo_t* cairo, const FontShelf& shelf, const SetLine& line, Point start_mm, double turned_deg) {
  const double unit_mm = em_mm(line.lettering) / 100.0;
  cairo_save(cairo);
  cairo_translate(cairo, start_mm.x, start_mm.y);
  cairo_rotate(cairo, turned_deg * 3.14159265358979 / 180.0);
  for (const SetWord& word : line.words) {
    cairo_save(cairo);
    cairo_translate(cairo, word.x_mm, word.rise_mm);
    cairo_rotate(cairo, word.turn_deg * 3.14159265358979 / 180.0);
    cairo_scale(cairo, unit_mm * word.scale, unit_mm * word.scale);
    cairo_set_source_rgba(cairo, 0, 0, 0, word.strength);
    if (is_sex_sign(word.text)) {
      const double size = 100 * std::max(0.75, line.lettering.font->cap_height_em * 1.15);
      draw_sex_sign(cairo, word.text == "♂", size, std::max(0.3, line.lettering.pen_mm) / (unit_mm * word.scale));
    } else {
      const Layout layout = layout_of(shelf, *line.lettering.font, word.text, line.lettering.letter_space_em);
      cairo_move_to(cairo, 0, -static_cast<double>(pango_layout_get_baseline(layout.get())) / PANGO_SCALE);
      const double pen_mm = std::min(line.lettering.pen_mm, 0.21 * line.lettering.x_height_mm);  // loops stay open
      const double thicker = pen_mm / unit_mm - 100 * line.lettering.font->stroke_em;
      if (thicker > 0) {
        pango_cairo_layout_path(cairo, layout.get());
        cairo_set_line_width(cairo, thicker / word.scale);
        cairo_set_line_join(cairo, CAIRO_LINE_JOIN_ROUND);
        cairo_fill_preserve(cairo);
        cairo_stroke(cairo);
      } else {
        pango_cairo_show_layout(cairo, layout.get());
      }
    }
    cairo_restore(cairo);
  }
  cairo_restore(cairo);
}

Cut characters_between(const FontShelf& shelf, const Lettering& lettering, const std::string& text, double from_mm, double to_mm) {
  const double unit_mm = em_mm(lettering) / 100.0;
  const Layout layout = layout_of(shelf, *lettering.font, text, lettering.letter_space_em);
  Cut cut{"", to_mm, from_mm};
  for (const char* p = text.c_str(); *p != '\0'; p = g_utf8_next_char(p)) {
    PangoRectangle box;
    pango_layout_index_to_pos(layout.get(), static_cast<int>(p - text.c_str()), &box);
    const double left = static_cast<double>(box.x) / PANGO_SCALE * unit_mm;
    const double right = left + static_cast<double>(box.width) / PANGO_SCALE * unit_mm;
    if (left < from_mm || right > to_mm) continue;
    cut.text.append(p, static_cast<const char*>(g_utf8_next_char(p)));
    cut.left_mm = std::min(cut.left_mm, left);
    cut.right_mm = std::max(cut.right_mm, right);
  }
  return cut;
}

}  // namespace papillote::samples
