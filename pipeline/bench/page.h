// Drawing on paper at true size. Lengths are millimetres from the upper left corner of the paper, x right, y down;
// type sizes are points. Points and polygons in this room are millimetres on paper unless a name ends in _px.
//
// Text is shaped by Pango, never parsed as markup, and control characters (those that turn the direction of
// text included) are drawn as their code point, so that no annotation can change the page around it.
#pragma once

#include <cstddef>
#include <functional>
#include <opencv2/core.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/record/geometry.h"

using cairo_t = struct _cairo;

namespace papillote::bench {

struct Area {
  double x = 0;
  double y = 0;
  double width = 0;
  double height = 0;

  [[nodiscard]] double right() const { return x + width; }
  [[nodiscard]] double bottom() const { return y + height; }
};

struct Ink {  // sRGB, 0..1
  double red = 0;
  double green = 0;
  double blue = 0;
};

[[nodiscard]] constexpr Ink ink_of(unsigned rgb) {
  return {((rgb >> 16) & 255u) / 255.0, ((rgb >> 8) & 255u) / 255.0, (rgb & 255u) / 255.0};
}

enum class Face { sans, serif, mono };
enum class Align { left, centre, right };

struct Type {
  double size_pt = 8;
  Ink ink{0.12, 0.12, 0.11};
  Face face = Face::sans;
  bool bold = false;
  Align align = Align::left;
  int most_lines = 0;  // longer text ends in an ellipsis; 0 = as many lines as it takes
};

// A JPEG as it goes into the file, untouched.
struct Picture {
  std::vector<std::byte> jpeg;
  int width_px = 0;
  int height_px = 0;
};

// Shrunk so that the longer side has at most `longest_px`.
[[nodiscard]] Picture picture_of(const cv::Mat& bgr, int longest_px);

// `text` as it is drawn: valid UTF-8, control characters spelt out as <U+202E>.
[[nodiscard]] std::string harmless(std::string_view text);

class Page {
 public:
  Page(cairo_t* cairo, double width, double height) : cairo_(cairo), width_(width), height_(height) {}

  [[nodiscard]] double width() const { return width_; }
  [[nodiscard]] double height() const { return height_; }

  // Writes from the upper left corner `at`, broken into lines of `width`, within words where it must. Answers the height used.
  double write(Point at, double width, std::string_view text, const Type& type);
  [[nodiscard]] double height_of(double width, std::string_view text, const Type& type) const;
  [[nodiscard]] double width_of(std::string_view text, const Type& type) const;
  // `type` made smaller, down to `least_pt`, until `text` fits one line of `width`.
  [[nodiscard]] Type fitted(std::string_view text, double width, Type type, double least_pt) const;

  void fill(const Area& area, const Ink& ink);
  void frame(const Area& area, const Ink& ink, double line);
  void line(Point from, Point to, const Ink& ink, double line);
  void polygon(const Polygon& corners, const Ink& ink, double line);
  void shade(const Polygon& corners, const Ink& ink, double opacity);
  void disc(Point centre, double radius, const Ink& ink);
  // Squares of side `side` at the given upper left corners, filled as one shape without seams.
  void cells(const std::vector<Point>& corners, double side, const Ink& ink);
  // Into `area`, whole and undistorted, at its upper left. Answers where it lies.
  Area picture(const Area& area, const Picture& picture);

 private:
  cairo_t* cairo_;  // of the book, which outlives its pages
  double width_;
  double height_;
};

// What a print says about itself.
struct Imprint {
  std::string title;
  std::string made;    // ISO 8601 instant, "2026-11-25T08:30:00Z": the same print with the same instant is the same bytes
  std::string footer;  // left of "page 1 of 3"
  bool landscape = false;
};

// Pages of A4 in the making.
class Book {
 public:
  Book(cairo_t* cairo, const Imprint& imprint, int pages);

  Page& turn();  // starts the next page
  [[nodiscard]] Page& page() { return page_; }
  [[nodiscard]] int turned() const { return number_; }

 private:
  cairo_t* cairo_;
  const Imprint& imprint_;
  int pages_;  // of the whole print, 0 while they are counted
  int number_ = 0;
  Page page_;
};

// The bytes of a PDF. `draw` is called twice, the first time to count the pages: it must draw the same both times.
[[nodiscard]] std::string pdf(const Imprint& imprint, const std::function<void(Book&)>& draw);

}  // namespace papillote::bench
