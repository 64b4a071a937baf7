#include "stages/lines/grouping.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numbers>
#include <numeric>
#include <optional>

#include <opencv2/imgproc.hpp>

namespace papillote::lines {
namespace {

// Unevenness of the profile across `along`: the chance that two pixels of ink fall into the same row, times a row's width.
double unevenness(const std::vector<cv::Point>& ink, double along_deg, double px_per_mm) {
  const Axes axes(along_deg);
  const double bin = 0.4 * px_per_mm;
  const std::size_t step = std::max<std::size_t>(1, ink.size() / 4000);
  double least = 1e18, most = -1e18;
  for (std::size_t i = 0; i < ink.size(); i += step) {
    const double v = axes.v(ink[i]);
    least = std::min(least, v);
    most = std::max(most, v);
  }
  std::vector<double> rows(static_cast<std::size_t>((most - least) / bin) + 2);
  double count = 0;
  for (std::size_t i = 0; i < ink.size(); i += step) {
    const double at = (axes.v(ink[i]) - least) / bin;
    const auto row = static_cast<std::size_t>(at);
    rows[row] += 1 - (at - static_cast<double>(row));
    rows[row + 1] += at - static_cast<double>(row);
    ++count;
  }
  double sum = 0;
  for (const double row : rows) sum += row * row;
  return sum / (count * count);
}

double folded_deg(double deg) {
  deg = std::remainder(deg, 180.0);
  return deg <= -90 ? deg + 180 : deg;
}

void fit_extent(InkLine& line) {
  const Axes axes(line.along_deg);
  line.u0 = line.v0 = 1e18;
  line.u1 = line.v1 = -1e18;
  for (const cv::Point& p : line.ink) {
    const cv::Point2d centre(p.x + 0.5, p.y + 0.5);
    line.u0 = std::min(line.u0, axes.u(centre) - 0.5);
    line.u1 = std::max(line.u1, axes.u(centre) + 0.5);
    line.v0 = std::min(line.v0, axes.v(centre) - 0.5);
    line.v1 = std::max(line.v1, axes.v(centre) + 0.5);
  }
}

struct Mark {  // connected ink
  std::vector<std::size_t> pixels;
  double u0 = 1e18, u1 = -1e18, v0 = 1e18, v1 = -1e18;
};

// Height of the writing: the height, across the lines, below which half of the ink's marks lie, weighted by their ink.
double writing_height(const std::vector<Mark>& marks, double px_per_mm) {
  std::vector<std::pair<double, double>> heights;
  double all = 0;
  for (const Mark& mark : marks) {
    const double height = mark.v1 - mark.v0;
    if (height < 0.7 * px_per_mm || height > 14 * px_per_mm) continue;
    heights.emplace_back(height, static_cast<double>(mark.pixels.size()));
    all += heights.back().second;
  }
  std::sort(heights.begin(), heights.end());
  double seen = 0;
  for (const auto& [height, weight] : heights)
    if ((seen += weight) >= 0.5 * all) return std::clamp(height, 1.2 * px_per_mm, 7.0 * px_per_mm);
  return 2.5 * px_per_mm;
}

}  // namespace

Axes::Axes(double along_deg)
    : cos_along(std::cos(along_deg * std::numbers::pi / 180)), sin_along(std::sin(along_deg * std::numbers::pi / 180)) {}

std::vector<double> directions_of(const std::vector<cv::Point>& ink, double px_per_mm, std::optional<double> prior_deg) {
  if (ink.empty()) return {};
  constexpr double kStep_deg = 3;
  constexpr int kSteps = 60;
  std::array<double, kSteps> score{};
  for (int i = 0; i < kSteps; ++i) score[static_cast<std::size_t>(i)] = unevenness(ink, -90 + (i + 1) * kStep_deg, px_per_mm);
  const auto refined = [&](double start, double reach) {
    std::pair<double, double> top{start, -1};
    for (double deg = start - reach; deg <= start + reach; deg += 0.75)
      if (const double s = unevenness(ink, deg, px_per_mm); s > top.second) top = {deg, s};
    return top;
  };
  std::vector<std::pair<double, double>> peaks;
  for (int i = 0; i < kSteps; ++i) {
    const double here = score[static_cast<std::size_t>(i)];
    bool highest = true;
    constexpr int kNeighbours = 4;
    for (int k = 1; k <= kNeighbours; ++k)
      highest = highest && here > score[static_cast<std::size_t>((i + k) % kSteps)] &&
                here >= score[static_cast<std::size_t>((i + kSteps - k) % kSteps)];
    if (highest) peaks.push_back(refined(-90 + (i + 1) * kStep_deg, 2.25));
  }
  if (peaks.empty()) return {prior_deg.value_or(0)};
  std::stable_sort(peaks.begin(), peaks.end(), [](const auto& a, const auto& b) { return a.second > b.second; });
  if (prior_deg) {
    // A few letters are as uneven along one of their slants as along their line.
    constexpr double kClearly = 1.35;
    const auto near = refined(*prior_deg, 4.5);
    if (near.second * kClearly > peaks.front().second) {
      std::erase_if(peaks, [&](const auto& peak) { return std::abs(std::remainder(peak.first - near.first, 180.0)) < 12; });
      peaks.insert(peaks.begin(), near);
    }
  }
  constexpr double kWorthTrying = 0.45;
  constexpr std::size_t kMostDirections = 3;
  std::vector<double> directions;
  for (const auto& [deg, s] : peaks)
    if (directions.size() < kMostDirections && s > kWorthTrying * peaks.front().second) directions.push_back(folded_deg(deg));
  return directions;
}

std::vector<InkLine> lines_along(const std::vector<cv::Point>& ink, double along_deg, double px_per_mm) {
  if (ink.empty()) return {};
  const Axes axes(along_deg);
  const cv::Rect box = cv::boundingRect(ink);

  // Marks, with their extent along and across.
  cv::Mat picture = cv::Mat::zeros(box.size(), CV_8U);
  for (const cv::Point& p : ink) picture.at<std::uint8_t>(p - box.tl()) = 255;
  cv::Mat labels;
  const int count = cv::connectedComponents(picture, labels, 8, CV_32S);
  std::vector<Mark> marks(static_cast<std::size_t>(count) - 1);
  std::vector<double> us(ink.size()), vs(ink.size());
  double u_min = 1e18, u_max = -1e18, v_min = 1e18, v_max = -1e18;
  for (std::size_t i = 0; i < ink.size(); ++i) {
    us[i] = axes.u(cv::Point2d(ink[i]) + cv::Point2d(0.5, 0.5));
    vs[i] = axes.v(cv::Point2d(ink[i]) + cv::Point2d(0.5, 0.5));
    Mark& mark = marks[static_cast<std::size_t>(labels.at<int>(ink[i] - box.tl())) - 1];
    mark.pixels.push_back(i);
    mark.u0 = std::min(mark.u0, us[i]);
    mark.u1 = std::max(mark.u1, us[i]);
    mark.v0 = std::min(mark.v0, vs[i]);
    mark.v1 = std::max(mark.v1, vs[i]);
    u_min = std::min(u_min, us[i]);
    u_max = std::max(u_max, us[i]);
    v_min = std::min(v_min, vs[i]);
    v_max = std::max(v_max, vs[i]);
  }
  const double height = writing_height(marks, px_per_mm);

  // Ink spread along the direction into cores: the bands that hold the bodies of the letters.
  const double cell = std::max(1.0, height / 16);
  const double margin = 2 * height;
  const cv::Size grid(static_cast<int>((u_max - u_min + 2 * margin) / cell) + 1, static_cast<int>((v_max - v_min + 2 * margin) / cell) + 1);
  const auto cell_of = [&](double u, double v) {
    return cv::Point(static_cast<int>((u - u_min + margin) / cell), static_cast<int>((v - v_min + margin) / cell));
  };
  cv::Mat density = cv::Mat::zeros(grid, CV_32F);
  for (std::size_t i = 0; i < ink.size(); ++i) density.at<float>(cell_of(us[i], vs[i])) += 1;
  const double sigma_u = 1.0 * height / cell, sigma_v = 0.20 * height / cell;
  cv::GaussianBlur(density, density, {0, 0}, sigma_u, sigma_v, cv::BORDER_CONSTANT);
  cv::Mat highest;
  const int window = std::max(3, static_cast<int>(1.1 * height / cell) | 1);
  cv::dilate(density, highest, cv::Mat::ones(window, 3, CV_8U));
  double strongest = 0;
  cv::minMaxLoc(density, nullptr, &strongest);
  cv::Mat core = (density > 0.72 * highest) & (density > 0.12 * strongest);
  cv::Mat core_labels, core_stats, core_centres;
  const int cores = cv::connectedComponentsWithStats(core, core_labels, core_stats, core_centres, 8, CV_32S);
  if (cores <= 1) return {};

  // Nearest core of every cell, v counting more than u: a dot belongs to its own line, not to the one before it.
  cv::Mat nearest_distance(grid, CV_32F, cv::Scalar(1e9)), nearest(grid, CV_32S, cv::Scalar(0));
  {
    cv::Mat squeezed;  // distances along count half
    cv::resize(core_labels, squeezed, cv::Size(std::max(1, grid.width / 2), grid.height), 0, 0, cv::INTER_NEAREST);
    cv::Mat distance, zones;
    cv::distanceTransform(squeezed == 0, distance, zones, cv::DIST_L2, cv::DIST_MASK_5, cv::DIST_LABEL_CCOMP);
    std::map<int, int> core_of_zone;
    for (int y = 0; y < squeezed.rows; ++y)
      for (int x = 0; x < squeezed.cols; ++x)
        if (squeezed.at<int>(y, x) != 0) core_of_zone[zones.at<int>(y, x)] = squeezed.at<int>(y, x);
    for (int y = 0; y < grid.height; ++y)
      for (int x = 0; x < grid.width; ++x) {
        const int sx = std::min(x / 2, squeezed.cols - 1);
        nearest.at<int>(y, x) = core_of_zone[zones.at<int>(y, sx)];
        nearest_distance.at<float>(y, x) = distance.at<float>(y, sx);
      }
  }

  std::vector<InkLine> lines(static_cast<std::size_t>(cores));
  for (const Mark& mark : marks) {
    std::map<int, std::size_t> votes;
    for (const std::size_t i : mark.pixels) {
      const cv::Point c = cell_of(us[i], vs[i]);
      if (nearest_distance.at<float>(c) < 1.2 * height / cell) ++votes[nearest.at<int>(c)];
    }
    if (votes.empty()) continue;
    const auto winner = std::max_element(votes.begin(), votes.end(), [](const auto& a, const auto& b) { return a.second < b.second; });
    // A mark much higher than the writing joins two lines: cut between them. Otherwise it stays whole, with its loops and tails.
    const bool cut = mark.v1 - mark.v0 > 1.7 * height && static_cast<double>(winner->second) < 0.8 * static_cast<double>(mark.pixels.size());
    for (const std::size_t i : mark.pixels) {
      const int owner = cut ? nearest.at<int>(cell_of(us[i], vs[i])) : winner->first;
      lines[static_cast<std::size_t>(owner)].ink.push_back(ink[i]);
    }
  }
  std::erase_if(lines, [](const InkLine& line) { return line.ink.empty(); });
  for (InkLine& line : lines) {
    line.along_deg = along_deg;
    fit_extent(line);
  }
  return lines;
}

namespace {

// Ink that stands together: marks no further apart than `gap_mm`.
std::vector<std::vector<cv::Point>> blocks_of(const cv::Mat& ink, double gap_px) {
  cv::Mat near;
  const int size = std::max(3, static_cast<int>(gap_px) | 1);
  cv::dilate(ink, near, cv::getStructuringElement(cv::MORPH_ELLIPSE, {size, size}));
  cv::Mat labels;
  const int count = cv::connectedComponents(near, labels, 8, CV_32S);
  std::vector<std::vector<cv::Point>> blocks(static_cast<std::size_t>(count));
  for (int y = 0; y < ink.rows; ++y)
    for (int x = 0; x < ink.cols; ++x)
      if (ink.at<std::uint8_t>(y, x) != 0) blocks[static_cast<std::size_t>(labels.at<int>(y, x))].emplace_back(x, y);
  std::erase_if(blocks, [](const auto& block) { return block.empty(); });
  std::stable_sort(blocks.begin(), blocks.end(), [](const auto& a, const auto& b) { return a.size() > b.size(); });
  return blocks;
}

// Two pieces of one line: same direction, one after the other, at the same height.
bool continues(const InkLine& a, const InkLine& b, double looseness) {
  if (std::abs(std::remainder(a.along_deg - b.along_deg, 180.0)) > 6) return false;
  const Axes axes(a.along_deg);
  // b's ends in a's axes
  const Axes own(b.along_deg);
  const cv::Point2d first = own.at(b.u0, (b.v0 + b.v1) / 2), last = own.at(b.u1, (b.v0 + b.v1) / 2);
  const double middle = (a.v0 + a.v1) / 2, higher = std::max(a.height(), b.height()), lower = std::min(a.height(), b.height());
  const double b_middle = (axes.v(first) + axes.v(last)) / 2;
  if (std::abs(b_middle - middle) > 0.45 * higher) return false;
  const double b0 = std::min(axes.u(first), axes.u(last)), b1 = std::max(axes.u(first), axes.u(last));
  const double gap = std::max(b0 - a.u1, a.u0 - b1);
  return gap > -0.5 * lower && gap < 1.6 * looseness * higher;
}

void join(InkLine& a, const InkLine& b) {
  a.ink.insert(a.ink.end(), b.ink.begin(), b.ink.end());
  if (b.length() > a.length()) a.along_deg = b.along_deg;
  fit_extent(a);
}

// The line's own slope: a straight line through the middle of its ink, column by column.
void straighten(InkLine& line) {
  if (line.length() < 2.5 * line.height()) return;
  const Axes axes(line.along_deg);
  const double column = std::max(2.0, 0.5 * line.height());
  std::vector<std::vector<double>> columns(static_cast<std::size_t>(line.length() / column) + 1);
  for (const cv::Point& p : line.ink) columns[static_cast<std::size_t>((axes.u(p) - line.u0 + 1) / column) % columns.size()].push_back(axes.v(p));
  double n = 0, su = 0, sv = 0, suu = 0, suv = 0;
  for (std::size_t i = 0; i < columns.size(); ++i) {
    auto& c = columns[i];
    if (c.size() < 4) continue;
    std::nth_element(c.begin(), c.begin() + static_cast<std::ptrdiff_t>(c.size() / 2), c.end());
    const double u = static_cast<double>(i) * column, v = c[c.size() / 2];
    ++n, su += u, sv += v, suu += u * u, suv += u * v;
  }
  const double spread = n * suu - su * su;
  if (n < 4 || spread <= 0) return;
  const double turn_deg = std::atan((n * suv - su * sv) / spread) * 180 / std::numbers::pi;
  constexpr double kMostTurn_deg = 8;
  if (std::abs(turn_deg) > kMostTurn_deg) return;
  InkLine turned = line;
  turned.along_deg += turn_deg;
  fit_extent(turned);
  if (turned.height() < line.height()) line = std::move(turned);
}

// Small marks far above or below the body of a line are not part of it.
void trim(InkLine& line) {
  const Axes axes(line.along_deg);
  std::vector<double> vs;
  for (const cv::Point& p : line.ink) vs.push_back(axes.v(p));
  std::sort(vs.begin(), vs.end());
  const double low = vs[vs.size() / 30], high = vs[vs.size() - 1 - vs.size() / 30];
  const double reach = 0.25 * (high - low) + 1;
  const cv::Rect box = cv::boundingRect(line.ink);
  cv::Mat picture = cv::Mat::zeros(box.size(), CV_8U), labels;
  for (const cv::Point& p : line.ink) picture.at<std::uint8_t>(p - box.tl()) = 255;
  const int count = cv::connectedComponents(picture, labels, 8, CV_32S);
  std::vector<bool> touches(static_cast<std::size_t>(count));
  for (const cv::Point& p : line.ink)
    if (const double v = axes.v(p); v > low - reach && v < high + reach) touches[static_cast<std::size_t>(labels.at<int>(p - box.tl()))] = true;
  std::erase_if(line.ink, [&](const cv::Point& p) {
    const double v = axes.v(p);
    return !touches[static_cast<std::size_t>(labels.at<int>(p - box.tl()))] || v < low - 1.25 * reach || v > high + 1.25 * reach;
  });
  fit_extent(line);
}

// How well a line explains its ink: much of it, close together and low. A box around several lines is high, a column of
// letters from several lines has gaps.
double worth(const InkLine& line) {
  const auto ink = static_cast<double>(line.ink.size());
  return ink * ink / std::max(1.0, line.length() * line.height() * line.height());
}

// Size of the letters or joined words of a block, whatever its direction.
double mark_size(const std::vector<cv::Point>& ink, double px_per_mm) {
  const cv::Rect box = cv::boundingRect(ink);
  cv::Mat picture = cv::Mat::zeros(box.size(), CV_8U), labels, stats, centres;
  for (const cv::Point& p : ink) picture.at<std::uint8_t>(p - box.tl()) = 255;
  const int count = cv::connectedComponentsWithStats(picture, labels, stats, centres, 8, CV_32S);
  std::vector<double> sizes;
  for (int i = 1; i < count; ++i) {
    const double size = std::hypot(stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT));
    if (size > 1.0 * px_per_mm) sizes.push_back(size);
  }
  if (sizes.empty()) return 2 * px_per_mm;
  std::nth_element(sizes.begin(), sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2), sizes.end());
  return std::clamp(sizes[sizes.size() / 2], 1.5 * px_per_mm, 5 * px_per_mm);
}

// Paper that the lines' boxes take up: the right direction leaves the gaps between lines out. Each line costs as much as a letter
// or two, so that one word is not cut into letters.
double cost(const std::vector<InkLine>& lines, double mark_px) {
  double sum = 0;
  for (const InkLine& line : lines) sum += (line.length() + line.height()) * line.height() + mark_px * mark_px;
  return sum;
}

// The lines of a block. When all but its best line stand better in another direction, they are a block of their own.
std::vector<InkLine> best_lines(const std::vector<cv::Point>& ink, std::optional<double> prior_deg, double mark_px, double px_per_mm) {
  const auto directions = directions_of(ink, px_per_mm, prior_deg);
  std::vector<InkLine> lines;
  for (const double deg : directions) {
    auto these = lines_along(ink, deg, px_per_mm);
    // Against the direction of the rest of the envelope, one word proves little.
    const bool longer = !these.empty() && these.front().length() > 3 * these.front().height();
    const double clearly = prior_deg && !longer ? 0.6 : 0.85;
    if (!these.empty() && (lines.empty() || cost(these, mark_px) < clearly * cost(lines, mark_px))) lines = std::move(these);
  }
  if (lines.size() < 2) return lines;
  std::stable_sort(lines.begin(), lines.end(), [](const InkLine& a, const InkLine& b) { return worth(a) > worth(b); });
  std::vector<cv::Point> rest;
  for (std::size_t i = 1; i < lines.size(); ++i) rest.insert(rest.end(), lines[i].ink.begin(), lines[i].ink.end());
  const double other_deg = directions_of(rest, px_per_mm, lines.front().along_deg).front();
  constexpr double kOther_deg = 12, kBetter = 0.8;
  if (std::abs(std::remainder(other_deg - lines.front().along_deg, 180.0)) < kOther_deg) return lines;
  auto others = best_lines(rest, lines.front().along_deg, mark_px, px_per_mm);
  if (others.empty() || cost(others, mark_px) > kBetter * (cost(lines, mark_px) - cost({lines.front()}, mark_px))) return lines;
  lines.resize(1);
  std::move(others.begin(), others.end(), std::back_inserter(lines));
  return lines;
}

}  // namespace

std::vector<InkLine> group_ink(const cv::Mat& ink, double px_per_mm, double looseness) {
  std::vector<cv::Point> all;
  cv::findNonZero(ink, all);
  if (all.empty()) return {};
  // Large writing has large gaps between its words.
  const double gap_px = looseness * std::clamp(1.1 * mark_size(all, px_per_mm), 3.0 * px_per_mm, 4.0 * px_per_mm);
  const auto blocks = blocks_of(ink, gap_px);
  std::vector<InkLine> lines;
  std::optional<double> main_deg;
  for (const auto& block : blocks) {
    auto these = best_lines(block, main_deg, mark_size(block, px_per_mm), px_per_mm);
    if (!main_deg && !these.empty()) main_deg = these.front().along_deg;
    std::move(these.begin(), these.end(), std::back_inserter(lines));
  }
  for (InkLine& line : lines) straighten(line);
  // Words further apart than a block's gap are still one line.
  std::stable_sort(lines.begin(), lines.end(), [](const InkLine& a, const InkLine& b) { return a.ink.size() > b.ink.size(); });
  for (bool joined = true; joined;) {
    joined = false;
    for (std::size_t i = 0; i < lines.size() && !joined; ++i)
      for (std::size_t j = i + 1; j < lines.size() && !joined; ++j)
        if (continues(lines[i], lines[j], looseness)) {
          join(lines[i], lines[j]);
          lines.erase(lines.begin() + static_cast<std::ptrdiff_t>(j));
          joined = true;
        }
  }
  for (InkLine& line : lines) {
    trim(line);
    straighten(line);
  }
  return lines;
}

}  // namespace papillote::lines
