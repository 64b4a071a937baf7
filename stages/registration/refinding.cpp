#include "stages/registration/refinding.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <map>
#include <set>
#include <unordered_map>
#include <utility>

#include "pipeline/record/likeness.h"

namespace papillote::registration {
namespace {

constexpr std::size_t kLeastText = 6, kMostText = 240;  // bytes that are compared
constexpr std::size_t kByText = 20, kBySize = 40;       // candidates of each kind for an envelope
constexpr double kNearSize = 0.04;                      // natural logarithm; scatter of a measured side is a third of it
constexpr double kOtherSize = 0.15;                     // beyond, no other measure can make up for it
constexpr int kShift = 2;                               // cells that outlines may be apart
constexpr double kNeverThere = 1;                       // odds of being none of those seen, beside the pairs' own
constexpr double kHopeless = -1;                        // log odds that the best of marks would have to give
constexpr double kNoRival = 1e-4;                       // odds below which a rival takes nothing away
constexpr double kWeakRival = 0.02;                     // odds below which it matters not whether it is a rival at all

// The beginning of a text as it is compared.
std::string folded(const std::string& text) { return without_blanks(text).substr(0, kMostText); }

// Marks of a portrait as numbers whose squares sum to one.
struct Grid {
  int width = 0, height = 0;
  std::vector<float> cells;

  [[nodiscard]] float at(int x, int y) const { return cells[static_cast<std::size_t>(y * width + x)]; }
};

Grid grid_of(const Portrait& portrait) {
  Grid grid{portrait.width, portrait.height, {}};
  double squares = 0;
  for (const char c : portrait.marks) {
    const int step = (c <= '9' ? c - '0' : c - 'a' + 10) - 8;
    grid.cells.push_back(static_cast<float>(step));
    squares += step * step;
  }
  if (grid.width <= 0 || grid.height <= 0 ||
      grid.cells.size() != static_cast<std::size_t>(grid.width) * static_cast<std::size_t>(grid.height) || squares == 0)
    return {};
  for (float& cell : grid.cells) cell /= static_cast<float>(std::sqrt(squares));
  return grid;
}

// By a quarter clockwise.
Grid turned(const Grid& grid) {
  Grid out{grid.height, grid.width, std::vector<float>(grid.cells.size())};
  for (int y = 0; y < grid.height; ++y)
    for (int x = 0; x < grid.width; ++x)
      out.cells[static_cast<std::size_t>(x * out.width + (grid.height - 1 - y))] = grid.at(x, y);
  return out;
}

double correlation(const Grid& a, const Grid& b, int dx, int dy) {
  float sum = 0;
  for (int y = std::max(0, -dy); y < std::min(a.height, b.height - dy); ++y) {
    const int left = std::max(0, -dx), right = std::min(a.width, b.width - dx);
    const float* of_a = a.cells.data() + y * a.width;
    const float* of_b = b.cells.data() + (y + dy) * b.width + dx;
    for (int x = left; x < right; ++x) sum += of_a[x] * of_b[x];
  }
  return sum;
}

constexpr int kNearSides = 4;  // cells that two portraits' sides may differ by

std::optional<double> marks_likeness(const Grid& a, Grid b) {
  if (a.cells.empty() || b.cells.empty()) return std::nullopt;
  std::optional<double> best;
  for (int quarters = 0; quarters < 4; ++quarters) {
    if (quarters > 0) b = turned(b);
    if (std::abs(a.width - b.width) > kNearSides || std::abs(a.height - b.height) > kNearSides) continue;
    // Where both middles lie on one another, and a little beside.
    const int x = (b.width - a.width) / 2, y = (b.height - a.height) / 2;
    for (int dy = y - kShift; dy <= y + kShift; ++dy)
      for (int dx = x - kShift; dx <= x + kShift; ++dx) best = std::max(best.value_or(-1), correlation(a, b, dx, dy));
  }
  return best;
}

// The longer side first, whichever way the crop was laid.
std::pair<double, double> sides_of(const Seen& seen) { return std::minmax(seen.size_mm->x, seen.size_mm->y, std::greater<>{}); }

std::optional<double> size_difference(const Seen& a, const Seen& b) {
  if (!a.size_mm || !b.size_mm) return std::nullopt;
  const auto [long_a, short_a] = sides_of(a);
  const auto [long_b, short_b] = sides_of(b);
  if (short_a <= 0 || short_b <= 0) return std::nullopt;
  return std::max(std::abs(std::log(long_a / long_b)), std::abs(std::log(short_a / short_b)));
}

std::optional<double> paper_difference(const Portrait& a, const Portrait& b) {
  if (a.width == 0 || b.width == 0) return std::nullopt;
  return std::hypot(a.paper[0] - b.paper[0], a.paper[1] - b.paper[1], a.paper[2] - b.paper[2]);
}

// Without the marks, which cost the most.
Likeness measured(const Seen& a, const Seen& b, const std::string& text_a, const std::string& text_b) {
  Likeness like;
  if (text_a.size() >= kLeastText && text_b.size() >= kLeastText) like.text = likeness(text_a, text_b);
  like.size = size_difference(a, b);
  like.paper = paper_difference(a.portrait, b.portrait);
  return like;
}

// The natural logarithm of the odds, fitted by scripts/train/refinding/fit.py. What is not to be had stands at its neutral
// value.
double log_odds(const Likeness& like) {
  return -3.2 + 5.9 * (like.text.value_or(0.5) - 0.5) + 8.0 * (like.marks.value_or(0.2) - 0.2) -
         34.6 * (std::min(like.size.value_or(0.015), 0.2) - 0.015) - 0.23 * (std::min(like.paper.value_or(7), 30.0) - 7);
}

// For each envelope those before it that share its rarest runs of three characters.
std::vector<std::vector<std::size_t>> near_by_text(const std::vector<std::string>& texts) {
  const auto runs_of = [](const std::string& text) {
    std::set<std::uint32_t> runs;
    for (std::size_t i = 0; i + 3 <= text.size(); ++i)
      runs.insert(static_cast<std::uint32_t>(static_cast<unsigned char>(text[i])) << 16 |
                  static_cast<std::uint32_t>(static_cast<unsigned char>(text[i + 1])) << 8 |
                  static_cast<unsigned char>(text[i + 2]));
    return runs;
  };
  std::unordered_map<std::uint32_t, std::vector<std::size_t>> holders;
  for (std::size_t i = 0; i < texts.size(); ++i)
    for (const std::uint32_t run : runs_of(texts[i])) holders[run].push_back(i);
  // A run that every other envelope has tells nothing and would cost the most.
  const std::size_t most = std::max<std::size_t>(50, texts.size() / 50);
  std::vector<std::vector<std::size_t>> near(texts.size());
  std::vector<double> votes(texts.size());
  for (std::size_t i = 0; i < texts.size(); ++i) {
    std::vector<std::size_t> voted;
    for (const std::uint32_t run : runs_of(texts[i])) {
      const std::vector<std::size_t>& with = holders[run];
      if (with.size() > most) continue;
      for (const std::size_t j : with) {
        if (j >= i) break;
        if (votes[j] == 0) voted.push_back(j);
        votes[j] += 1 / double(with.size());
      }
    }
    std::sort(voted.begin(), voted.end(),
              [&](std::size_t a, std::size_t b) { return std::pair(votes[b], a) < std::pair(votes[a], b); });
    for (const std::size_t j : voted) votes[j] = 0;
    voted.resize(std::min(voted.size(), kByText));
    near[i] = std::move(voted);
  }
  return near;
}

// For each envelope those before it of nearly its size, the nearest first.
std::vector<std::vector<std::size_t>> near_by_size(std::span<const Seen> all) {
  std::vector<std::size_t> sized;
  for (std::size_t i = 0; i < all.size(); ++i)
    if (all[i].size_mm && all[i].size_mm->x > 0 && all[i].size_mm->y > 0) sized.push_back(i);
  const auto length_of = [&](std::size_t i) { return std::log(sides_of(all[i]).first); };
  std::sort(sized.begin(), sized.end(), [&](std::size_t a, std::size_t b) { return length_of(a) < length_of(b); });
  std::vector<std::vector<std::size_t>> near(all.size());
  for (auto first = sized.begin(), at = sized.begin(); at != sized.end(); ++at) {
    while (length_of(*at) - length_of(*first) > kNearSize) ++first;
    std::vector<std::pair<double, std::size_t>> beside;
    for (auto other = first; other != sized.end() && length_of(*other) - length_of(*at) <= kNearSize; ++other)
      if (*other < *at)
        if (const double apart = *size_difference(all[*at], all[*other]); apart <= kNearSize)
          beside.emplace_back(apart, *other);
    std::sort(beside.begin(), beside.end());
    beside.resize(std::min(beside.size(), kBySize));
    for (const auto& [apart, other] : beside) near[*at].push_back(other);
  }
  return near;
}

// The best odds of each two envelopes, of all their views.
class Odds {
 public:
  void keep(std::size_t a, std::size_t b, double odds) {
    if (odds < kNoRival) return;
    for (const auto& [one, other] : {std::pair{a, b}, {b, a}}) {
      double& known = of_[one][other];
      known = std::max(known, odds);
    }
  }

  // Of all that either could be instead. What is likely one envelope with the partner is no rival of it: a third photograph.
  [[nodiscard]] double rivals(std::size_t a, std::size_t b) const {
    double sum = 0;
    for (const auto& [one, partner] : {std::pair{a, b}, {b, a}}) {
      const auto others = of_.find(one);
      if (others == of_.end()) continue;
      for (const auto& [other, odds] : others->second)
        if (other != partner) sum += odds < kWeakRival ? odds : odds / (1 + between(other, partner));
    }
    return sum;
  }

 private:
  [[nodiscard]] double between(std::size_t a, std::size_t b) const {
    const auto others = of_.find(a);
    if (others == of_.end()) return 0;
    const auto at = others->second.find(b);
    return at == others->second.end() ? 0 : at->second;
  }

  std::unordered_map<std::size_t, std::map<std::size_t, double>> of_;
};

}  // namespace

Likeness likeness_of(const Seen& a, const Seen& b) {
  Likeness like = measured(a, b, folded(a.text), folded(b.text));
  like.marks = marks_likeness(grid_of(a.portrait), grid_of(b.portrait));
  return like;
}

double chance_of(const Likeness& like) { return 1 / (1 + std::exp(-log_odds(like))); }

std::vector<std::string> words_of(const Likeness& like) {
  std::vector<std::string> words;
  if (like.text) words.push_back(fmt::format("the text agrees to {:.0f} %", 100 * *like.text));
  if (like.marks)
    words.push_back(fmt::format("what is seen on the paper agrees to {:.0f} %", 100 * std::max(0.0, *like.marks)));
  if (like.size) words.push_back(fmt::format("the sides differ by {:.1f} %", 100 * std::expm1(*like.size)));
  if (like.paper) words.push_back(fmt::format("the paper's colour differs by {:.0f} (CIE76)", *like.paper));
  return words;
}

std::vector<Refound> compared(std::span<const Seen> all, const std::function<bool(std::size_t, std::size_t)>& thinkable) {
  std::vector<std::string> texts;
  std::vector<Grid> grids;
  for (const Seen& seen : all) {
    texts.push_back(folded(seen.text));
    grids.push_back(grid_of(seen.portrait));
  }
  const auto by_text = near_by_text(texts), by_size = near_by_size(all);
  std::vector<Refound> pairs;
  Odds odds;
  for (std::size_t i = 0; i < all.size(); ++i) {
    std::set<std::size_t> near(by_text[i].begin(), by_text[i].end());
    near.insert(by_size[i].begin(), by_size[i].end());
    for (const std::size_t j : near) {
      if (all[i].envelope == all[j].envelope || !thinkable(j, i)) continue;
      if (const auto apart = size_difference(all[i], all[j]); apart && *apart > kOtherSize) continue;
      Likeness like = measured(all[j], all[i], texts[j], texts[i]);
      like.marks = 1;
      if (log_odds(like) < kHopeless) continue;
      like.marks = marks_likeness(grids[j], grids[i]);
      pairs.push_back({j, i, std::exp(log_odds(like)), like});
      odds.keep(all[j].envelope, all[i].envelope, pairs.back().confidence);
    }
  }
  for (Refound& pair : pairs) {
    const double rivals = odds.rivals(all[pair.earlier].envelope, all[pair.newer].envelope);
    pair.confidence /= pair.confidence + rivals + kNeverThere;
  }
  std::stable_sort(pairs.begin(), pairs.end(), [](const Refound& a, const Refound& b) { return a.confidence > b.confidence; });
  return pairs;
}

std::vector<Refound> one_to_one(std::span<const Seen> all, const std::vector<Refound>& pairs) {
  std::set<std::size_t> as_newer, as_earlier;
  std::vector<Refound> chosen;
  for (const Refound& pair : pairs) {
    const std::size_t earlier = all[pair.earlier].envelope, newer = all[pair.newer].envelope;
    if (as_earlier.contains(earlier) || as_newer.contains(newer)) continue;
    as_earlier.insert(earlier);
    as_newer.insert(newer);
    chosen.push_back(pair);
  }
  return chosen;
}

}  // namespace papillote::registration
