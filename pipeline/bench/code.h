// Printed codes: a text as a pattern of dark and light modules.
#pragma once

#include <string>

#include "pipeline/bench/page.h"
#include "pipeline/record/result.h"

namespace papillote::bench {

struct Code {
  int columns = 0;
  int rows = 0;
  std::vector<Point> dark;  // upper left corners of the dark modules, in modules
  int quiet = 1;            // light modules that must stay free on each side

  [[nodiscard]] double width(double module_mm) const { return columns * module_mm; }
  [[nodiscard]] double height(double module_mm) const { return rows * module_mm; }
};

// Failure "not_encodable" when the text does not fit the symbology.
[[nodiscard]] Result<Code> qr_code(const std::string& text);
[[nodiscard]] Result<Code> data_matrix(const std::string& text);

// At true size, `at` being the corner of the first module: the quiet zone lies outside.
void draw(Page& page, Point at, const Code& code, double module_mm);

}  // namespace papillote::bench
