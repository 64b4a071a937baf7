// Private to this room: braces that join several lines of an annotation to one text, as in
//
//   Labuan   3.vii. }
//   Kuching 12.vii. } 1909, coll. N. Example
//
// A brace is written on each of the lines it joins, or once and tall beside them. A reader whose characters lack braces takes
// one for a bracket: a bracket that nothing opens or closes counts where it stands on two lines running, or tall.
#pragma once

#include <cstddef>
#include <vector>

#include "pipeline/record/text.h"

namespace papillote::interpretation {

// Bytes [begin, end) of one line.
struct LinePart {
  int line = 0;  // index into Annotation::lines
  std::size_t begin = 0, end = 0;

  bool operator==(const LinePart&) const = default;
};

struct Brace {
  std::vector<LinePart> joined;  // in reading order, two and more, none empty
  std::vector<LinePart> shared;  // what holds for each of them; at its point
  std::vector<LinePart> signs;   // the brace itself

  bool operator==(const Brace&) const = default;
};

// In the order of their first lines; no line belongs to two. Newsprint has none.
[[nodiscard]] std::vector<Brace> braces_in(const Annotation&);

}  // namespace papillote::interpretation
