// The map of a sheet: its photograph with numbered outlines and the list beside it, so that "row 2, no. 3" is found by eye.
#pragma once

#include <set>
#include <string>
#include <vector>

#include "pipeline/bench/page.h"
#include "pipeline/bench/photo_source.h"
#include "pipeline/bench/position.h"
#include "pipeline/record/index_record.h"

namespace papillote::bench {

struct MapEntry {
  Position position;
  Polygon outline_px;
  std::string name;   // catalogue number, or the identity where there is none
  std::string text;   // verbatim
  std::string level;  // of priority
  bool chosen = false;
};

struct SheetMap {
  std::string tin;
  std::string sheet;
  std::string side;
  std::string photo;
  int width_px = 0;  // of the photograph that the outlines refer to
  int height_px = 0;
  Picture picture;                // may be empty
  std::vector<MapEntry> entries;  // by position
};

// `chosen` holds identities that are marked on the map.
[[nodiscard]] SheetMap sheet_map(const PhotoIndex& index, const std::set<std::string>& chosen, const PhotoSource& pixels);

// A page per sheet, more where the list is long.
[[nodiscard]] std::string layout_maps_pdf(const std::vector<SheetMap>& sheets, const std::string& made);

}  // namespace papillote::bench
