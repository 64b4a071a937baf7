// The figures a bench plan rests on, each with where it comes from. All of them are the curator's to change: the table is
// written as CSV, edited, and read back.
#pragma once

#include <array>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/record/result.h"

namespace papillote::bench {

enum class SizeClass { small, medium, large, very_large };
inline constexpr std::array<SizeClass, 4> kSizeClasses{SizeClass::small, SizeClass::medium, SizeClass::large,
                                                       SizeClass::very_large};
[[nodiscard]] std::string_view name_of(SizeClass);

// One size of insect, told by the longer side of its envelope.
struct SizeFigures {
  double envelope_to_mm = 0;  // largest envelope of this size; the last one has no end
  double relaxing_hours = 0;  // to the first look at whether it gives, not to the end
  double relaxing_to_hours = 0;  // longest in use: beyond it mould and grease
  double drying_days = 0;
  double groove_mm = 0;       // width of the setting board's groove
  std::string pin;            // "2", "000"
  double along_board_mm = 0;  // that one takes on the board
  double chamber_cm2 = 0;     // that one takes in a single layer
  double tray_width_mm = 0;   // that one takes in a tray when set, label included
  double tray_depth_mm = 0;
};

struct PlanSettings {
  std::array<SizeFigures, 4> sizes{{{45, 24, 48, 7, 3, "1", 30, 16, 40, 30},
                                    {75, 36, 48, 14, 5, "2", 50, 40, 65, 45},
                                    {110, 72, 168, 21, 8, "3", 75, 90, 95, 65},
                                    {0, 120, 168, 28, 12, "5", 110, 180, 150, 100}}};
  double look_every_hours = 24;
  double out_of_paper_hours = 8;
  double minutes_to_set = 10;
  double minutes_to_repaper = 2;
  double bench_minutes_a_day = 300;
  double board_length_mm = 380;
  double pin_length_mm = 38;
  double pin_in_foam_mm = 8;
  double pin_clearance_mm = 6;
  double papered_thickness_mm = 3;
  double empty_thickness_mm = 0.5;
  double spare_share = 0.05;  // of pins, labels and new envelopes
};

struct Figure {
  std::string name;  // "medium.relaxing_hours"
  std::string value;
  std::string unit;
  std::string meaning;
  std::string source;
};

[[nodiscard]] std::vector<Figure> figures_of(const PlanSettings&);
[[nodiscard]] std::string settings_csv(const PlanSettings&);  // name,value,unit,meaning,source

// Figures that the text does not name stay as they are. Failure "wrong_settings" names the line: an unknown name, a value that
// is no number, out of range, or sizes that do not grow.
[[nodiscard]] Result<PlanSettings> settings_from_csv(std::string_view csv);

// Grooves of setting boards, in mm, as makers offer them; a body between two of them gets the next wider.
struct Groove {
  double least_mm;
  double most_mm;
};
[[nodiscard]] const std::array<Groove, 4>& grooves();
[[nodiscard]] Groove groove_for(double body_width_mm);

struct Pin {
  std::string_view size;
  double diameter_mm;
  double length_mm;
};
[[nodiscard]] const std::array<Pin, 10>& pins();

}  // namespace papillote::bench
