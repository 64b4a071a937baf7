#include "stages/registration/sides.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

namespace papillote::registration {
namespace {

constexpr double kMoved_mm = 15;   // how far a hand shifts an envelope that it turns over
constexpr double kLogArea = 0.15;  // scatter of the measured area
constexpr double kLeastLikeness = 0.1;
constexpr double kOdds = 1.5;         // natural-log odds of one turn over another for each pair more
constexpr std::size_t kAnchors = 12;  // fronts that shifts are tried from, the largest
constexpr std::array kTurns{Turn::in_place, Turn::left_to_right, Turn::top_to_bottom};

Point turned(Point p, Turn turn) {
  if (turn == Turn::left_to_right) p.x = -p.x;
  if (turn == Turn::top_to_bottom) p.y = -p.y;
  return p;
}

double size_likeness(const Lying& a, const Lying& b) {
  if (a.area_mm2 <= 0 || b.area_mm2 <= 0) return 0;
  const double apart = std::log(a.area_mm2 / b.area_mm2) / kLogArea;
  return std::exp(-apart * apart / 2);
}

double nearness(double distance_mm) {
  const double apart = distance_mm / kMoved_mm;
  return std::exp(-apart * apart / 2);
}

struct Match {
  std::size_t front, back;
  double likeness;
};

struct Fit {
  Turn turn = Turn::in_place;
  double score = 0;
  std::vector<Match> all;    // every pair that is thinkable, likeliest first
  std::vector<Match> taken;  // each front and each back once
};

class Table {
 public:
  Table(std::span<const Lying> fronts, std::span<const Lying> backs, std::span<const std::pair<std::size_t, std::size_t>> known)
      : fronts_(fronts), backs_(backs), known_(known), free_front_(fronts.size(), true), free_back_(backs.size(), true) {
    for (const auto& [front, back] : known) free_front_[front] = free_back_[back] = false;
    size_.resize(fronts.size() * backs.size());
    for (std::size_t i = 0; i < fronts.size(); ++i)
      for (std::size_t j = 0; j < backs.size(); ++j) size_[i * backs.size() + j] = size_likeness(fronts[i], backs[j]);
  }

  [[nodiscard]] Fit best(Turn turn) const {
    std::vector<std::size_t> anchors(fronts_.size());
    std::iota(anchors.begin(), anchors.end(), std::size_t{0});
    std::stable_sort(anchors.begin(), anchors.end(),
                     [&](std::size_t a, std::size_t b) { return fronts_[a].area_mm2 > fronts_[b].area_mm2; });
    anchors.resize(std::min(anchors.size(), kAnchors));
    Fit best{turn, -1, {}, {}};
    const auto attempt = [&](std::size_t front, std::size_t back) {
      const Point from = turned(backs_[back].middle_mm, turn);
      Fit fit = fitted(turn, {fronts_[front].middle_mm.x - from.x, fronts_[front].middle_mm.y - from.y});
      // Once more from the middle of what it pairs: the anchor itself may have been moved.
      if (!fit.taken.empty()) fit = better(fit, fitted(turn, mean_shift(fit)));
      best = better(best, fit);
    };
    for (const auto& [front, back] : known_) attempt(front, back);
    for (const std::size_t front : anchors)
      for (std::size_t back = 0; back < backs_.size(); ++back)
        if (size_[front * backs_.size() + back] >= kLeastLikeness) attempt(front, back);
    return best;
  }

 private:
  static Fit better(const Fit& a, const Fit& b) { return b.score > a.score ? b : a; }

  [[nodiscard]] Point mean_shift(const Fit& fit) const {
    Point sum;
    for (const Match& match : fit.taken) {
      const Point from = turned(backs_[match.back].middle_mm, fit.turn);
      sum.x += fronts_[match.front].middle_mm.x - from.x;
      sum.y += fronts_[match.front].middle_mm.y - from.y;
    }
    const auto n = static_cast<double>(fit.taken.size());
    return {sum.x / n, sum.y / n};
  }

  [[nodiscard]] double apart_mm(std::size_t front, std::size_t back, Turn turn, Point shift) const {
    const Point at = turned(backs_[back].middle_mm, turn);
    return std::hypot(at.x + shift.x - fronts_[front].middle_mm.x, at.y + shift.y - fronts_[front].middle_mm.y);
  }

  [[nodiscard]] Fit fitted(Turn turn, Point shift) const {
    Fit fit{turn, 0, {}, {}};
    for (const auto& [front, back] : known_) fit.score += 2 * nearness(apart_mm(front, back, turn, shift)) - 1;
    for (std::size_t i = 0; i < fronts_.size(); ++i) {
      for (std::size_t j = 0; free_front_[i] && j < backs_.size(); ++j) {
        if (!free_back_[j] || size_[i * backs_.size() + j] < kLeastLikeness) continue;
        const double likeness = size_[i * backs_.size() + j] * nearness(apart_mm(i, j, turn, shift));
        if (likeness >= kLeastLikeness) fit.all.push_back({i, j, likeness});
      }
    }
    std::stable_sort(fit.all.begin(), fit.all.end(), [](const Match& a, const Match& b) { return a.likeness > b.likeness; });
    std::vector<bool> front_used(fronts_.size()), back_used(backs_.size());
    for (const Match& match : fit.all) {
      if (front_used[match.front] || back_used[match.back]) continue;
      front_used[match.front] = back_used[match.back] = true;
      fit.taken.push_back(match);
      fit.score += match.likeness;
    }
    return fit;
  }

  std::span<const Lying> fronts_, backs_;
  std::span<const std::pair<std::size_t, std::size_t>> known_;
  std::vector<bool> free_front_, free_back_;
  std::vector<double> size_;
};

}  // namespace

std::string_view words_of(Turn turn) {
  switch (turn) {
    case Turn::left_to_right:
      return "the sheet turned over from left to right";
    case Turn::top_to_bottom:
      return "the sheet turned over from top to bottom";
    case Turn::in_place:
      break;
  }
  return "turned over where it lay";
}

Sides pair_sides(std::span<const Lying> fronts, std::span<const Lying> backs,
                 std::span<const std::pair<std::size_t, std::size_t>> known) {
  if (fronts.empty() || backs.empty()) return {};
  const Table table(fronts, backs, known);
  std::array<Fit, kTurns.size()> fits;
  std::transform(kTurns.begin(), kTurns.end(), fits.begin(), [&](Turn turn) { return table.best(turn); });
  const Fit& best = *std::max_element(fits.begin(), fits.end(), [](const Fit& a, const Fit& b) { return a.score < b.score; });

  Sides sides{best.turn, {}};
  for (const Match& match : best.taken) {
    // How sure it is of this pair: against its neighbours under this turn, and against turns that pair it otherwise.
    double rival = 0.02;
    for (const Match& other : best.all)
      if ((other.front == match.front) != (other.back == match.back)) rival = std::max(rival, other.likeness);
    double sure = 0, all = 0;
    for (const Fit& fit : fits) {
      const double weight = std::exp(kOdds * (fit.score - best.score));
      all += weight;
      if (std::any_of(fit.taken.begin(), fit.taken.end(),
                      [&](const Match& m) { return m.front == match.front && m.back == match.back; }))
        sure += weight;
    }
    sides.pairs.push_back({match.front, match.back, sure / all * match.likeness / (match.likeness + rival)});
  }
  std::sort(sides.pairs.begin(), sides.pairs.end(), [](const SidePair& a, const SidePair& b) { return a.front < b.front; });
  return sides;
}

}  // namespace papillote::registration
