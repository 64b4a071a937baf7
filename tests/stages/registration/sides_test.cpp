// Sheets laid out by chance, turned over in every way a person does, moved a little by the hand.
#include "stages/registration/sides.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

namespace papillote::registration {
namespace {

constexpr std::size_t kEnvelopes = 14;

std::vector<Lying> laid_out(std::mt19937& chance) {
  std::uniform_real_distribution<double> side(40, 110), nudge(-8, 8);
  std::vector<Lying> all;
  for (std::size_t i = 0; i < kEnvelopes; ++i)
    all.push_back({{80.0 * static_cast<double>(i % 5) + nudge(chance), 90.0 * static_cast<double>(i / 5) + nudge(chance)},
                   side(chance) * side(chance)});
  return all;
}

// The backs in another order: `order[k]` is the front that back k belongs to.
std::vector<Lying> turned_over(const std::vector<Lying>& fronts, Turn turn, const std::vector<std::size_t>& order,
                               std::mt19937& chance) {
  std::normal_distribution<double> moved(0, 6), area(0, 0.04);
  std::vector<Lying> backs;
  for (const std::size_t i : order) {
    Lying back = fronts[i];
    if (turn == Turn::left_to_right) back.middle_mm.x = 400 - back.middle_mm.x;
    if (turn == Turn::top_to_bottom) back.middle_mm.y = 300 - back.middle_mm.y;
    back.middle_mm = {back.middle_mm.x + 25 + moved(chance), back.middle_mm.y - 12 + moved(chance)};
    back.area_mm2 *= std::exp(area(chance));
    backs.push_back(back);
  }
  return backs;
}

TEST(Sides, PairsEveryTurnAndSaysHowSureItIs) {
  std::mt19937 chance(3);
  int sure = 0, wrong = 0, all = 0;
  for (int sheet = 0; sheet < 30; ++sheet) {
    for (const Turn turn : {Turn::in_place, Turn::left_to_right, Turn::top_to_bottom}) {
      const auto fronts = laid_out(chance);
      std::vector<std::size_t> order(fronts.size());
      for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
      std::shuffle(order.begin(), order.end(), chance);
      const auto backs = turned_over(fronts, turn, order, chance);
      const Sides sides = pair_sides(fronts, backs, {});
      EXPECT_EQ(sides.turn, turn) << "sheet " << sheet;
      all += static_cast<int>(fronts.size());
      for (const SidePair& pair : sides.pairs) {
        if (pair.confidence < 0.8) continue;
        ++sure;
        wrong += order[pair.back] != pair.front;
      }
    }
  }
  EXPECT_GE(sure, all * 9 / 10);
  EXPECT_LE(wrong, all / 200);
}

TEST(Sides, AnEnvelopeTakenAwayStaysAlone) {
  std::mt19937 chance(5);
  const auto fronts = laid_out(chance);
  const auto backs = turned_over(fronts, Turn::in_place, {0, 1, 2, 3, 4, 6, 7, 8, 9, 10, 11, 12, 13}, chance);
  const Sides sides = pair_sides(fronts, backs, {});
  for (const SidePair& pair : sides.pairs)
    EXPECT_TRUE(pair.confidence < 0.8 || pair.front != 5);
}

TEST(Sides, AGridOfEqualEnvelopesIsLeftInDoubt) {
  std::vector<Lying> grid;
  for (int y = 0; y < 3; ++y)
    for (int x = 0; x < 4; ++x) grid.push_back({{x * 90.0, y * 80.0}, 5000});
  for (const SidePair& pair : pair_sides(grid, grid, {}).pairs) EXPECT_LT(pair.confidence, 0.8);
}

TEST(Sides, SlipsSayWhichWayAGridWasTurned) {
  std::vector<Lying> fronts, backs;
  for (int y = 0; y < 3; ++y) {
    for (int x = 0; x < 4; ++x) {
      fronts.push_back({{x * 90.0, y * 80.0}, 5000});
      backs.push_back({{(3 - x) * 90.0, y * 80.0}, 5000});
    }
  }
  const std::vector<std::pair<std::size_t, std::size_t>> known{{0, 0}, {5, 5}, {10, 10}};
  const Sides sides = pair_sides(fronts, backs, known);
  EXPECT_EQ(sides.turn, Turn::left_to_right);
  ASSERT_EQ(sides.pairs.size(), 9U);
  for (const SidePair& pair : sides.pairs) {
    EXPECT_EQ(pair.front, pair.back);
    EXPECT_GE(pair.confidence, 0.8);
  }
}

TEST(Sides, NothingToPair) {
  EXPECT_TRUE(pair_sides({}, {}, {}).pairs.empty());
  const std::vector<Lying> one{{{10, 10}, 3000}};
  EXPECT_TRUE(pair_sides(one, {}, {}).pairs.empty());
}

}  // namespace
}  // namespace papillote::registration
