// A sheet or an open tin laid out under the camera.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "camera.h"
#include "envelope.h"
#include "table.h"

namespace papillote::samples {

// An envelope where it lies; later ones lie on top of earlier ones.
struct Lying {
  EnvelopePlan plan;
  Point at_mm;        // of the plan's origin on the table
  double turned_deg = 0;
  std::string slip;   // catalogue number of the slip that lies by it; empty = none
  Point slip_at_mm;
  double slip_deg = 0;
  bool slip_data_matrix = true;

  Polygon on_table(const Polygon& plan_mm) const { return moved(turned(plan_mm, turned_deg), at_mm); }
};

struct SceneWishes {
  std::string name;               // of the file, without ending
  Table table = Table::grey_card;
  bool open_tin = false;
  bool card = true;
  bool label = true;
  bool ruler = false;
  double touching = 0.15;         // share of envelopes pushed against a neighbour
  double like_table = 0.0;        // share of envelopes in the colour of the table
  double slips = 0.15;            // share of envelopes with an identifier slip
  double damaged = 0.35;
  bool broken_insects = false;
  double cut_by_frame = 0.0;      // share of envelopes that may stick out of the picture
  double largest_mm = 110;
  int envelopes = 13;
  double width_mm = 345, height_mm = 230;
  cv::Size size_px{3600, 2400};
  double blur_px = 0;             // 0 = as the camera has it
  std::optional<Paper> paper;
};

struct Scene {
  SceneWishes wishes;
  Tin tin;
  int sheet = 1;
  bool back = false;
  std::vector<Lying> envelopes;
  Point card_at_mm, label_at_mm, ruler_at_mm;
  double card_deg = 0, label_deg = 0, ruler_deg = 0;
  Point light;                    // towards the lamp, on the table
  Camera camera;
  std::uint64_t seed = 0;
};

Scene lay_out(const FontShelf& shelf, const SceneWishes& wishes, const Tin& tin, int sheet, Random random);
// A sheet of envelopes that were planned before; what lies on it is taken from those that wait.
Scene laid_again(const SceneWishes& wishes, const Tin& tin, int sheet, std::vector<EnvelopePlan>& waiting, Random random);
// The same sheet with every envelope turned over where it lies.
Scene turned_over(const FontShelf& shelf, const Scene& front, const std::string& name, Random random);
cv::Mat take(const FontShelf& shelf, const Scene& scene);
std::string label_code(const Scene& scene);

}  // namespace papillote::samples
