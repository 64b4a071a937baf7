#include "stages/segmentation/instances.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <map>
#include <numeric>
#include <utility>

#include <opencv2/imgproc.hpp>

namespace papillote::segmentation {
namespace {

constexpr float kPaper = 0.5F;
constexpr float kCoreEdge = 0.4F;
constexpr double kLeastArea_px = 24;

// Pieces of paper that edges part: cores, thinned so that a leak through a weak edge does not join two, then grown back along
// the edges' slopes until they meet on the crests. CV_32S, 0 = no paper, 1.. = pieces; their number is `count`.
struct Pieces {
  cv::Mat label;
  int count = 0;
};

Pieces cut_to_pieces(const Marks& marks, const cv::Mat& paper) {
  cv::Mat core = (marks.edge < kCoreEdge) & paper;
  cv::Mat thin;
  cv::erode(core, thin, cv::getStructuringElement(cv::MORPH_RECT, {3, 3}), {-1, -1}, 1, cv::BORDER_CONSTANT, cv::Scalar(255));
  cv::Mat label;
  const int strong = cv::connectedComponents(thin, label, 4, CV_32S);
  // Slivers that thinning would lose keep their whole core.
  cv::Mat whole;
  const int all = cv::connectedComponents(core, whole, 4, CV_32S);
  std::vector<bool> has(static_cast<std::size_t>(all), false);
  for (int y = 0; y < label.rows; ++y)
    for (int x = 0; x < label.cols; ++x)
      if (label.at<int>(y, x) > 0) has[static_cast<std::size_t>(whole.at<int>(y, x))] = true;
  std::vector<int> number(static_cast<std::size_t>(all), 0);
  int count = strong - 1;
  for (int i = 1; i < all; ++i)
    if (!has[static_cast<std::size_t>(i)]) number[static_cast<std::size_t>(i)] = ++count;
  for (int y = 0; y < label.rows; ++y)
    for (int x = 0; x < label.cols; ++x)
      if (label.at<int>(y, x) == 0) label.at<int>(y, x) = number[static_cast<std::size_t>(whole.at<int>(y, x))];

  // Flooding in order of edge strength (Meyer 1994), in 256 levels.
  std::array<std::vector<cv::Point>, 256> waiting;
  const auto level_of = [&](const cv::Point& p) { return static_cast<std::size_t>(std::clamp(marks.edge.at<float>(p) * 255.0F, 0.0F, 255.0F)); };
  constexpr std::array<std::pair<int, int>, 4> kBeside{{{1, 0}, {-1, 0}, {0, 1}, {0, -1}}};
  const cv::Rect all_of(cv::Point(), label.size());
  const auto spread = [&](const cv::Point& p, std::size_t least) {
    for (const auto& [dx, dy] : kBeside) {
      const cv::Point q(p.x + dx, p.y + dy);
      if (!all_of.contains(q) || label.at<int>(q) != 0 || !paper.at<uchar>(q)) continue;
      label.at<int>(q) = label.at<int>(p);
      waiting[std::max(least, level_of(q))].push_back(q);
    }
  };
  for (int y = 0; y < label.rows; ++y)
    for (int x = 0; x < label.cols; ++x)
      if (label.at<int>(y, x) > 0) waiting[0].emplace_back(x, y);
  for (std::size_t level = 0; level < waiting.size(); ++level)
    for (std::size_t i = 0; i < waiting[level].size(); ++i) spread(cv::Point(waiting[level][i]), level);
  return {label, count};
}

// What the pixels of a piece say together.
struct Piece {
  double area = 0;
  cv::Point2d vote;       // sum of the middles they point at
  double vote_square = 0; // sum of squares
  [[nodiscard]] cv::Point2d middle() const { return vote / std::max(area, 1.0); }
  [[nodiscard]] double spread() const {
    const cv::Point2d m = middle();
    return std::sqrt(std::max(0.0, vote_square / std::max(area, 1.0) - m.dot(m)));
  }
  void add(const Piece& other) { area += other.area, vote += other.vote, vote_square += other.vote_square; }
};

struct Border {
  double length = 0;
  double edge = 0;  // sum
  void add(const Border& other) { length += other.length, edge += other.edge; }
};

// Log odds that two pieces that meet are parts of one envelope: the edge between them is weak, and they point at one middle.
// Fitted on pieces of scenes that the network was not trained on.
double kinship(const Piece& a, const Piece& b, const Border& border) {
  const double apart = cv::norm(a.middle() - b.middle()) / (std::sqrt(a.area) + std::sqrt(b.area));
  return 11.1 - 13.3 * border.edge / border.length - 2.3 * apart;
}

// Pieces of the same envelope, by the number of one of them.
std::vector<int> united(const Pieces& pieces, std::vector<Piece>& of, const Marks& marks) {
  std::vector<int> owner(static_cast<std::size_t>(pieces.count) + 1);
  std::iota(owner.begin(), owner.end(), 0);
  std::map<std::pair<int, int>, Border> borders;
  const auto meet = [&](const cv::Point& p, const cv::Point& q) {
    const int a = pieces.label.at<int>(p), b = pieces.label.at<int>(q);
    if (a == 0 || b == 0 || a == b) return;
    Border& border = borders[{std::min(a, b), std::max(a, b)}];
    border.length += 1;
    border.edge += std::max(marks.edge.at<float>(p), marks.edge.at<float>(q));
  };
  for (int y = 0; y < pieces.label.rows; ++y)
    for (int x = 0; x < pieces.label.cols; ++x) {
      if (x + 1 < pieces.label.cols) meet({x, y}, {x + 1, y});
      if (y + 1 < pieces.label.rows) meet({x, y}, {x, y + 1});
    }
  while (true) {
    double best = 0;
    std::pair<int, int> pair;
    for (const auto& [ab, border] : borders) {
      const double k = kinship(of[static_cast<std::size_t>(ab.first)], of[static_cast<std::size_t>(ab.second)], border);
      if (k > best) best = k, pair = ab;
    }
    if (best <= 0) return owner;
    const auto [to, from] = pair;
    of[static_cast<std::size_t>(to)].add(of[static_cast<std::size_t>(from)]);
    for (int& o : owner)
      if (o == from) o = to;
    std::map<std::pair<int, int>, Border> moved;
    for (const auto& [ab, border] : borders) {
      const int a = ab.first == from ? to : ab.first, b = ab.second == from ? to : ab.second;
      if (a != b) moved[{std::min(a, b), std::max(a, b)}].add(border);
    }
    borders = std::move(moved);
  }
}

}  // namespace

std::vector<Instance> instances_of(const Marks& marks, const cv::Mat& ignore) {
  cv::Mat paper = marks.paper > kPaper;
  paper.setTo(0, ignore);
  Pieces pieces = cut_to_pieces(marks, paper);
  std::vector<Piece> of(static_cast<std::size_t>(pieces.count) + 1);
  for (int y = 0; y < paper.rows; ++y)
    for (int x = 0; x < paper.cols; ++x) {
      Piece& piece = of[static_cast<std::size_t>(pieces.label.at<int>(y, x))];
      const cv::Vec2f d = marks.to_middle.at<cv::Vec2f>(y, x);
      const cv::Point2d at(x + 0.5 + static_cast<double>(d[0]), y + 0.5 + static_cast<double>(d[1]));
      piece.area += 1, piece.vote += at, piece.vote_square += at.dot(at);
    }
  const std::vector<int> owner = united(pieces, of, marks);

  std::vector<cv::Rect> boxes(of.size());
  for (int y = 0; y < paper.rows; ++y)
    for (int x = 0; x < paper.cols; ++x) {
      int& label = pieces.label.at<int>(y, x);
      label = owner[static_cast<std::size_t>(label)];
      if (label > 0) boxes[static_cast<std::size_t>(label)] |= cv::Rect(x, y, 1, 1);
    }
  std::vector<Instance> instances;
  for (std::size_t i = 1; i < boxes.size(); ++i) {
    if (boxes[i].empty() || of[i].area < kLeastArea_px) continue;
    Instance instance;
    instance.box = boxes[i];
    cv::Mat own = pieces.label(instance.box) == static_cast<int>(i);
    const cv::Mat cross = cv::getStructuringElement(cv::MORPH_CROSS, {3, 3});  // threads of a pixel are no part of the outline
    cv::erode(own, own, cross);
    cv::dilate(own, own, cross);
    std::vector<std::vector<cv::Point>> contours;
    cv::findContours(own, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
    if (contours.empty()) continue;
    const auto largest = std::max_element(contours.begin(), contours.end(), [](const auto& a, const auto& b) { return cv::contourArea(a) < cv::contourArea(b); });
    cv::Mat filled = cv::Mat::zeros(own.size(), CV_8U);
    cv::drawContours(filled, contours, static_cast<int>(largest - contours.begin()), cv::Scalar(255), cv::FILLED);
    instance.area_px = cv::countNonZero(filled);
    if (instance.area_px < kLeastArea_px) continue;
    instance.paper = cv::mean(marks.paper(instance.box), filled)[0];
    const cv::Scalar full = cv::mean(marks.to_full_middle(instance.box), filled);
    const cv::Moments moments = cv::moments(filled, true);
    instance.middle = cv::Point2d(instance.box.tl()) + cv::Point2d(moments.m10 / moments.m00 + 0.5, moments.m01 / moments.m00 + 0.5);
    instance.full_middle = instance.middle + cv::Point2d(full[0], full[1]);
    instance.covered = (marks.covered(instance.box) > 0.5) & filled;
    double closed = 0;
    for (cv::Point& p : *largest) {
      p += instance.box.tl();
      const cv::Rect near = cv::Rect(p.x - 1, p.y - 1, 3, 3);
      const cv::Rect within = near & cv::Rect(cv::Point(), paper.size());
      double edge = 1;
      if (within == near) cv::minMaxLoc(marks.edge(within), nullptr, &edge);
      closed += edge > 0.5;
    }
    instance.closed = closed / static_cast<double>(largest->size());
    instance.agreement = 1 / (1 + of[i].spread() / std::sqrt(of[i].area));
    instance.contour = std::move(*largest);
    instances.push_back(std::move(instance));
  }
  return instances;
}

}  // namespace papillote::segmentation
