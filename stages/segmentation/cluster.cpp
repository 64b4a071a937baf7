#include "stages/segmentation/cluster.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include <opencv2/imgproc.hpp>

namespace papillote::segmentation {
namespace {

struct Ruled {
  cv::Point2d at;
  cv::Point2d along;  // unit vector
  std::vector<std::pair<double, double>> seen;  // stretches along the line that were seen as edge
  double length = 0;
};

constexpr std::size_t kMostLines = 80;
constexpr std::size_t kMostInnerLines = 40;
constexpr double kSameAngle = 0.05;     // rad
constexpr double kSameOffset_px = 2.5;

double turn_between(const Ruled& a, const Ruled& b) {  // 0..90 degrees
  return std::acos(std::clamp(std::abs(a.along.dot(b.along)), 0.0, 1.0)) * 180 / CV_PI;
}

void add_line(std::vector<Ruled>& lines, const Segment& s) {
  const cv::Point2d d = s.b - s.a;
  const double length = cv::norm(d);
  const cv::Point2d middle = (s.a + s.b) / 2;
  for (Ruled& line : lines) {
    if (std::abs(line.along.cross(d) / length) > kSameAngle || std::abs((middle - line.at).cross(line.along)) > kSameOffset_px) continue;
    const double t = (s.a - line.at).dot(line.along);
    const double u = (s.b - line.at).dot(line.along);
    line.seen.emplace_back(std::min(t, u), std::max(t, u));
    line.length += length;
    return;
  }
  lines.push_back({middle, d / length, {{-length / 2, length / 2}}, length});
}

// Share of the side p-q, which lies on the line, that was seen as edge when the line was found.
double seen_share(const Ruled& line, const cv::Point2d& p, const cv::Point2d& q) {
  double from = (p - line.at).dot(line.along);
  double to = (q - line.at).dot(line.along);
  if (from > to) std::swap(from, to);
  double sum = 0;
  for (const auto& [a, b] : line.seen) sum += std::max(0.0, std::min(b, to) - std::max(a, from));
  return sum / std::max(to - from, 1.0);
}

std::optional<cv::Point2d> meeting(const Ruled& one, const Ruled& other) {
  const double sine = one.along.cross(other.along);
  if (std::abs(sine) < 0.2) return std::nullopt;
  return one.at + one.along * ((other.at - one.at).cross(other.along) / sine);
}

class Judge {
 public:
  // `mask` empty: there is no cluster, the edges alone decide.
  Judge(const cv::Mat& mask, const EdgeMap& edges, const cv::Mat& colours, const SideLimits& limits)
      : mask_(mask), edges_(edges), colours_(colours), limits_(limits) {}

  // Fills `guesses` with the shape when it stands the test. `corners` in order, `lines[i]` carries corner i to i + 1.
  void consider(const std::vector<cv::Point2d>& corners, const std::vector<const Ruled*>& lines, std::vector<Guess>& guesses) const {
    const std::size_t n = corners.size();
    for (std::size_t i = 0; i < n; ++i) {
      const double length = cv::norm(corners[(i + 1) % n] - corners[i]);
      if (length < limits_.least_px || length > limits_.most_px) return;
    }
    for (std::size_t i = 0; i < n; ++i)
      if (seen_share(*lines[i], corners[i], corners[(i + 1) % n]) < kLeastSeen) return;
    Shape shape = corners;
    double twice = 0;
    for (std::size_t i = 0; i < n; ++i) twice += shape[i].cross(shape[(i + 1) % n]);
    if (twice < 0) std::reverse(shape.begin(), shape.end());
    double sum = 0;
    double all = 0;
    double proof = 1;
    for (std::size_t i = 0; i < n; ++i) {
      const cv::Point2d side = shape[(i + 1) % n] - shape[i];
      const double length = cv::norm(side);
      const cv::Point2d along = side / length;
      const cv::Point2d out(along.y, -along.x);
      double borne = 0;
      double proven = 0;
      double samples = 0;
      for (double t = 2; t < length - 1; t += 3, ++samples) {
        const cv::Point2d p = shape[i] + along * t;
        const bool rim = !mask_.empty() && !inside(p + out * 3.5) && inside(p - out * 3.5);
        // An edge inside the cluster between papers of one colour may be a fold or a flap: it proves less.
        const bool edge = rim || edges_.runs(p, along);
        const bool sure = rim || (edge && differ(p + out * kBeside_px, p - out * kBeside_px));
        borne += sure || (edge && mask_.empty()) ? 1.0 : edge ? 0.7 : 0.0;
        proven += sure;
      }
      if (samples == 0 || borne / samples < (mask_.empty() ? kLeastSideAlone : kLeastSide)) return;
      sum += borne, all += samples;
      proof = std::min(proof, proven / samples);
    }
    const double support = sum / all;
    if (mask_.empty() ? support < kLeastSupportAlone : support < kLeastSupport || cover(shape) < kLeastCover) return;
    guesses.push_back({shape, support, proof});
  }

 private:
  static constexpr double kLeastSeen = 0.3;
  static constexpr double kLeastSide = 0.45;
  static constexpr double kLeastSupport = 0.72;
  static constexpr double kLeastCover = 0.9;
  static constexpr double kLeastSideAlone = 0.6;
  static constexpr double kLeastSupportAlone = 0.78;

  static constexpr double kBeside_px = 6;

  // Whether the papers at p and q have different colours.
  [[nodiscard]] bool differ(const cv::Point2d& p, const cv::Point2d& q) const {
    const cv::Rect all(cv::Point(), colours_.size());
    const cv::Point a(cvFloor(p.x), cvFloor(p.y));
    const cv::Point b(cvFloor(q.x), cvFloor(q.y));
    if (!all.contains(a) || !all.contains(b)) return true;
    const cv::Vec3f d = colours_.at<cv::Vec3f>(a) - colours_.at<cv::Vec3f>(b);
    constexpr double kDifferent = 7;  // in L*a*b*
    return d.dot(d) > kDifferent * kDifferent;
  }

  [[nodiscard]] bool inside(const cv::Point2d& p) const {
    const cv::Point at(cvFloor(p.x), cvFloor(p.y));
    return cv::Rect(cv::Point(), mask_.size()).contains(at) && mask_.at<uchar>(at) != 0;
  }

  // Share of the shape that lies on the cluster, from a grid of points.
  [[nodiscard]] double cover(const Shape& shape) const {
    const cv::Rect2d box = cv::boundingRect(std::vector<cv::Point2f>(shape.begin(), shape.end()));
    const double step = std::max(1.0, std::sqrt(box.area()) / 24);
    int in = 0;
    int all = 0;
    for (double y = box.y + step / 2; y < box.y + box.height; y += step)
      for (double x = box.x + step / 2; x < box.x + box.width; x += step) {
        bool within = true;
        for (std::size_t i = 0; within && i < shape.size(); ++i)
          within = (shape[(i + 1) % shape.size()] - shape[i]).cross(cv::Point2d(x, y) - shape[i]) >= 0;
        if (!within) continue;
        ++all;
        in += inside({x, y});
      }
    return all ? static_cast<double>(in) / all : 0;
  }

  const cv::Mat mask_;  // shares the pixels
  const EdgeMap& edges_;
  const cv::Mat& colours_;
  const SideLimits& limits_;
};

void guess_triangles(const std::vector<Ruled>& lines, const Judge& judge, std::vector<Guess>& guesses) {
  for (const Ruled& base : lines)
    for (std::size_t i = 0; i < lines.size(); ++i) {
      if (std::abs(turn_between(base, lines[i]) - 45) > 9) continue;
      const auto p = meeting(base, lines[i]);
      for (std::size_t j = i + 1; j < lines.size(); ++j) {
        if (std::abs(turn_between(base, lines[j]) - 45) > 9 || std::abs(turn_between(lines[i], lines[j]) - 90) > 12) continue;
        const auto q = meeting(base, lines[j]);
        const auto top = meeting(lines[i], lines[j]);
        if (p && q && top) judge.consider({*p, *q, *top}, {&base, &lines[j], &lines[i]}, guesses);
      }
    }
}

void guess_quads(const std::vector<Ruled>& lines, const SideLimits& limits, const Judge& judge, std::vector<Guess>& guesses) {
  constexpr double kParallel_deg = 4;
  constexpr double kSlant_deg = 28;  // of a trapezoid's sides
  for (std::size_t i = 0; i < lines.size(); ++i)
    for (std::size_t j = i + 1; j < lines.size(); ++j) {
      if (turn_between(lines[i], lines[j]) > kParallel_deg) continue;
      const double apart = std::abs((lines[j].at - lines[i].at).cross(lines[i].along));
      if (apart < limits.least_px || apart > limits.most_px) continue;
      std::vector<std::pair<const Ruled*, std::array<cv::Point2d, 2>>> across;
      for (const Ruled& line : lines) {
        if (turn_between(lines[i], line) < 90 - kSlant_deg) continue;
        const auto p = meeting(lines[i], line);
        const auto q = meeting(lines[j], line);
        if (p && q && seen_share(line, *p, *q) > 0.3) across.push_back({&line, {*p, *q}});
      }
      for (std::size_t a = 0; a < across.size(); ++a)
        for (std::size_t b = a + 1; b < across.size(); ++b) {
          const auto& [first, p] = across[a];
          const auto& [second, q] = across[b];
          if ((q[0] - p[0]).dot(q[1] - p[1]) <= 0) continue;  // they cross between the pair
          judge.consider({p[0], q[0], q[1], p[1]}, {&lines[i], second, &lines[j], first}, guesses);
        }
    }
}

bool longest_first(const Segment& a, const Segment& b) { return cv::norm(a.b - a.a) > cv::norm(b.b - b.a); }

// A ruled or checked table offers hundreds of thousands of shapes; no sheet holds as many envelopes as this.
constexpr std::size_t kMostGuesses = 1200;

// Of guesses that are nearly the same shape the best.
std::vector<Guess> distinct(std::vector<Guess> guesses) {
  std::stable_sort(guesses.begin(), guesses.end(), [](const Guess& a, const Guess& b) { return a.support > b.support; });
  guesses.resize(std::min(guesses.size(), kMostGuesses));
  std::vector<Guess> kept;
  for (const Guess& guess : guesses) {
    const double area = area_of(guess.shape);
    const bool known = std::any_of(kept.begin(), kept.end(), [&](const Guess& k) {
      const double common = overlap_area(k.shape, guess.shape);
      return common > 0.85 * (area + area_of(k.shape) - common);
    });
    if (!known) kept.push_back(guess);
  }
  return kept;
}

}  // namespace

std::vector<Guess> take_apart(const cv::Mat& mask, const std::vector<cv::Point>& contour, const EdgeMap& edges,
                              const std::vector<Segment>& segments, const cv::Mat& colours, const SideLimits& limits) {
  // The rim's own sides first; of the many edges inside (newsprint, writing) only the longest.
  std::vector<Ruled> lines;
  std::vector<cv::Point> polygon;
  cv::approxPolyDP(contour, polygon, 1.8, true);
  std::vector<Segment> sides;
  for (std::size_t i = 0; i < polygon.size(); ++i) {
    const cv::Point2d half(0.5, 0.5);
    const Segment side{cv::Point2d(polygon[i]) + half, cv::Point2d(polygon[(i + 1) % polygon.size()]) + half};
    if (cv::norm(side.b - side.a) >= 0.25 * limits.least_px) sides.push_back(side);
  }
  std::sort(sides.begin(), sides.end(), longest_first);
  for (const Segment& s : sides) add_line(lines, s);
  lines.resize(std::min(lines.size(), kMostLines));

  std::vector<Segment> inner;
  const cv::Rect box = cv::boundingRect(contour);
  for (const Segment& s : segments) {
    const cv::Point2d middle = (s.a + s.b) / 2;
    if (box.contains(cv::Point(middle)) && cv::pointPolygonTest(contour, cv::Point2f(middle), false) > 0) inner.push_back(s);
  }
  std::sort(inner.begin(), inner.end(), longest_first);
  const std::size_t most = lines.size() + kMostInnerLines;
  for (const Segment& s : inner)
    if (lines.size() < most) add_line(lines, s);

  const Judge judge(mask, edges, colours, limits);
  std::vector<Guess> guesses;
  guess_triangles(lines, judge, guesses);
  guess_quads(lines, limits, judge, guesses);

  return distinct(std::move(guesses));
}

std::vector<Guess> from_edges_alone(const EdgeMap& edges, const std::vector<Segment>& segments, const cv::Mat& colours,
                                    const SideLimits& limits) {
  std::vector<Segment> longest = segments;
  std::sort(longest.begin(), longest.end(), longest_first);
  std::vector<Ruled> lines;
  for (const Segment& s : longest)
    if (lines.size() < kMostLines) add_line(lines, s);
  const Judge judge({}, edges, colours, limits);
  std::vector<Guess> guesses;
  guess_triangles(lines, judge, guesses);
  guess_quads(lines, limits, judge, guesses);
  // Then the lines are a pattern of the table, and edges alone cannot tell paper from it.
  if (guesses.size() > kMostGuesses) return {};
  return distinct(std::move(guesses));
}

}  // namespace papillote::segmentation
