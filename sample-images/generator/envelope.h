// The plan of one envelope in its own millimetres, before it is drawn: everything that truth needs is decided here.
#pragma once
#include <cstdint>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "annotation.h"
#include "damage.h"
#include "geometry.h"
#include "lettering.h"

namespace papillote::samples {

enum class Shape { triangle, rectangle, trapezoid };
enum class Paper { white, cream, yellowed, kraft, lined, glassine, newsprint };
const char* name(Shape shape);
const char* name(Paper paper);

enum class InkKind { pencil, iron_gall, blue_black, violet, ribbon_black, ribbon_violet, printers_black, stamp_violet, stamp_red, stamp_blue };

struct Ink {
  InkKind kind;
  cv::Vec3f colour;
  double density;  // 0 invisible .. 1 full
};

struct PlacedLine {
  SetLine set;
  std::string text;
  Point start_mm;
  double turned_deg;
  Polygon polygon_mm;
  std::size_t ink;      // index of EnvelopePlan::inks
  double stretch = 1.0; // along the line, for justified print
};

// A second layer of paper folded over onto this face.
struct Flap {
  Polygon area_mm;
  Point edge_from_mm, edge_to_mm;  // its free edge
};

struct Sheet {  // paper and colour shared by both faces
  Paper paper;
  cv::Vec3f colour;
  double toning;       // 0 fresh .. 1 brown at the edges
  double opacity;      // 1 for paper, less for glassine
  double rule_pitch_mm, rule_deg;
};

struct EnvelopePlan {
  std::string truth_id;
  Shape shape;
  Sheet sheet;
  Polygon paper_mm;    // as folded, before damage
  Polygon kept_mm;     // of paper_mm without corners that are gone; convex
  Polygon outline_mm;  // as it now is: without a missing corner, with an opened flap
  double upright_deg;  // direction of the writing
  std::vector<Flap> flaps;
  std::vector<Polygon> folds_mm;  // creases of ordinary use
  double bulge_mm;                // height of the insect within
  Point bulge_at_mm;
  double insect_deg, insect_mm;
  Annotation annotation;
  std::vector<Ink> inks;
  std::vector<PlacedLine> lines;      // in reading order
  std::vector<PlacedLine> newsprint;  // print of the paper itself
  std::vector<Damage> damages;
  std::uint64_t seed;
  bool back = false;

  // Where the wings meet the body, and the forewing's length.
  Point insect_at_mm() const { return bulge_at_mm - turned(Point{insect_mm * 0.42, 0}, insect_deg); }
  double wing_mm() const { return 0.85 * insect_mm; }
  // The crop: the bounding rectangle along the writing, first corner upper left when upright.
  Polygon crop_mm() const;
};

struct PlanWishes {
  double damaged = 0.35;          // share of envelopes with damage
  bool broken_insects = false;    // behind glassine, and small ones
  std::optional<Paper> paper;
  std::optional<Shape> shape;
  std::optional<cv::Vec3f> paper_colour;  // to match the table
  double smallest_mm = 40, largest_mm = 110;
};

EnvelopePlan plan_envelope(const FontShelf& shelf, const Tin& tin, const std::string& truth_id, const PlanWishes& wishes, Random random);
// The same envelope turned over about its vertical axis.
EnvelopePlan plan_back(const FontShelf& shelf, const Tin& tin, const EnvelopePlan& front, Random random);

}  // namespace papillote::samples
