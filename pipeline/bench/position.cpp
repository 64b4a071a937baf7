#include "pipeline/bench/position.h"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>

namespace papillote::bench {
namespace {

struct Box {
  double left = 0;
  double top = 0;
  double right = 0;
  double bottom = 0;

  [[nodiscard]] double height() const { return bottom - top; }
  [[nodiscard]] double middle() const { return (top + bottom) / 2; }
};

Box box_of(const Polygon& outline) {
  if (outline.empty()) return {};
  Box box{outline[0].x, outline[0].y, outline[0].x, outline[0].y};
  for (const Point& p : outline) {
    box.left = std::min(box.left, p.x);
    box.right = std::max(box.right, p.x);
    box.top = std::min(box.top, p.y);
    box.bottom = std::max(box.bottom, p.y);
  }
  return box;
}

// Share of the lower one's height for which the two stand side by side.
double beside(const Box& a, const Box& b) {
  const double shared = std::min(a.bottom, b.bottom) - std::max(a.top, b.top);
  return shared / std::max(1e-9, std::min(a.height(), b.height()));
}

// Share of the narrower one's width for which one stands above the other.
double above(const Box& a, const Box& b) {
  const double shared = std::min(a.right, b.right) - std::max(a.left, b.left);
  return shared / std::max(1e-9, std::min(a.right - a.left, b.right - b.left));
}

}  // namespace

std::string Position::words() const { return fmt::format("row {}, no. {}", row, number); }
std::string Position::figure() const { return fmt::format("{}.{}", row, number); }

std::vector<Position> positions_of(const std::vector<Polygon>& outlines_px) {
  constexpr double kBeside = 0.5;
  std::vector<Box> boxes;
  for (const Polygon& outline : outlines_px) boxes.push_back(box_of(outline));

  std::vector<std::size_t> from_left(boxes.size());
  std::iota(from_left.begin(), from_left.end(), std::size_t{0});
  std::sort(from_left.begin(), from_left.end(), [&](std::size_t a, std::size_t b) {
    return std::pair(boxes[a].left + boxes[a].right, a) < std::pair(boxes[b].left + boxes[b].right, b);
  });

  std::vector<std::vector<std::size_t>> rows;
  for (const std::size_t at : from_left) {
    std::vector<std::size_t>* best = nullptr;
    double best_share = kBeside;
    for (auto& row : rows) {
      const Box& neighbour = boxes[row.back()];
      const double share = beside(neighbour, boxes[at]);
      if (share >= best_share && above(neighbour, boxes[at]) < kBeside) {
        best = &row;
        best_share = share;
      }
    }
    if (best == nullptr) best = &rows.emplace_back();
    best->push_back(at);
  }

  const auto height_of = [&](const std::vector<std::size_t>& row) {
    double sum = 0;
    for (const std::size_t at : row) sum += boxes[at].middle();
    return sum / static_cast<double>(row.size());
  };
  std::sort(rows.begin(), rows.end(), [&](const auto& a, const auto& b) { return height_of(a) < height_of(b); });

  std::vector<Position> positions(boxes.size());
  for (std::size_t row = 0; row < rows.size(); ++row)
    for (std::size_t number = 0; number < rows[row].size(); ++number)
      positions[rows[row][number]] = {static_cast<int>(row) + 1, static_cast<int>(number) + 1};
  return positions;
}

}  // namespace papillote::bench
