// The shelf of open-licensed fonts, private to the program: system fonts are never used, so the same seed
// gives the same lettering on every machine.
#pragma once
#include <fontconfig/fontconfig.h>
#include <pango/pangocairo.h>

#include <memory>
#include <string>
#include <vector>

#include "random.h"

namespace papillote::samples {

enum class FontUse { hand, type, print, stamp };

struct Font {
  std::string family;      // file name without suffix
  FontUse use;
  std::string description; // Pango's text form
  double x_height_em;      // ink height of a small x
  double cap_height_em;    // ink height of a capital H
  double stroke_em;        // mean width of the strokes of small letters
};

class FontShelf {
 public:
  // Reads <folder>/{hand,type,print,stamp}/*.ttf; throws std::runtime_error when a use has no font.
  explicit FontShelf(const std::string& folder);
  FontShelf(const FontShelf&) = delete;
  FontShelf& operator=(const FontShelf&) = delete;
  ~FontShelf();

  // A random font which has every letter of the text (sex signs apart: these are drawn as strokes).
  const Font& pick(FontUse use, const std::string& text, Random& random) const;
  bool covers(const Font& font, const std::string& text) const;
  const Font& named(const std::string& family) const;
  const std::vector<Font>& all() const { return fonts_; }
  PangoContext* pango() const { return context_; }

 private:
  std::vector<Font> fonts_;
  std::vector<FcPattern*> patterns_;
  FcConfig* config_ = nullptr;
  PangoFontMap* map_ = nullptr;
  PangoContext* context_ = nullptr;
};

}  // namespace papillote::samples
