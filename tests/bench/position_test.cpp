#include "pipeline/bench/position.h"

#include <gtest/gtest.h>

#include <random>

#include "pipeline/bench/natural_order.h"

namespace papillote::bench {
namespace {

Polygon rectangle(double x, double y, double width, double height) {
  return {{x, y}, {x + width, y}, {x + width, y + height}, {x, y + height}};
}

Polygon triangle(double x, double y, double width, double height) {
  return {{x, y + height}, {x + width, y + height}, {x + width / 2, y}};
}

TEST(Positions, HasWordsForTheHand) {
  EXPECT_EQ((Position{2, 3}.words()), "row 2, no. 3");
  EXPECT_EQ((Position{2, 3}.figure()), "2.3");
  EXPECT_TRUE(positions_of({}).empty());
}

// Sheets as they are laid out by hand: unequal pieces, crooked rows, the whole sheet turned by up to three degrees.
TEST(Positions, FindsTheRowsOfCrookedSheets) {
  std::mt19937 random(7);
  const auto between = [&](double low, double high) { return std::uniform_real_distribution<>(low, high)(random); };
  for (int trial = 0; trial < 200; ++trial) {
    const double slope = std::tan(between(-3, 3) * 3.14159265 / 180);
    std::vector<Polygon> outlines;
    std::vector<Position> expected;
    const int rows = 1 + static_cast<int>(random() % 5);
    for (int row = 0; row < rows; ++row) {
      const int count = 1 + static_cast<int>(random() % 7);
      for (int k = 0; k < count; ++k) {
        const double x = 100 + k * 480 + between(-15, 15);
        const double y = 100 + row * 450 + x * slope + between(-40, 40);
        const double width = between(300, 440);
        const double height = between(250, 360);
        outlines.push_back(random() % 2 == 0 ? rectangle(x, y, width, height) : triangle(x, y, width, height));
        expected.push_back({row + 1, k + 1});
      }
    }
    std::vector<std::size_t> order(outlines.size());
    for (std::size_t k = 0; k < order.size(); ++k) order[k] = k;
    std::shuffle(order.begin(), order.end(), random);
    std::vector<Polygon> shuffled;
    for (const std::size_t k : order) shuffled.push_back(outlines[k]);
    const std::vector<Position> found = positions_of(shuffled);
    for (std::size_t k = 0; k < order.size(); ++k) EXPECT_EQ(found[k], expected[order[k]]) << "trial " << trial;
  }
}

TEST(Positions, NamesEveryEnvelopeOnce) {
  std::mt19937 random(11);
  const auto between = [&](double low, double high) { return std::uniform_real_distribution<>(low, high)(random); };
  for (int trial = 0; trial < 100; ++trial) {
    std::vector<Polygon> outlines;
    for (int k = 0; k < 30; ++k)
      outlines.push_back(rectangle(between(0, 3000), between(0, 2000), between(50, 650), between(50, 650)));
    std::vector<Position> found = positions_of(outlines);
    std::sort(found.begin(), found.end());
    EXPECT_EQ(std::adjacent_find(found.begin(), found.end()), found.end());
    EXPECT_EQ(found.front(), (Position{1, 1}));
  }
}

TEST(NaturalOrder, CountsAsPeopleDo) {
  const std::vector<std::string> ordered{"", "2", "7", "07", "10", "10a", "A1", "A2b", "A10", "B"};
  for (std::size_t a = 0; a < ordered.size(); ++a)
    for (std::size_t b = 0; b < ordered.size(); ++b) {
      const int order = natural_compare(ordered[a], ordered[b]);
      EXPECT_EQ(order < 0, a < b) << ordered[a] << " " << ordered[b];
      EXPECT_EQ(order == 0, a == b) << ordered[a] << " " << ordered[b];
    }
}

TEST(NaturalOrder, IsAnOrder) {
  std::mt19937 random(3);
  const auto word = [&] {
    std::string text;
    for (std::size_t k = random() % 6; k > 0; --k) text += "0179ab:-"[random() % 8];
    return text;
  };
  for (int trial = 0; trial < 20000; ++trial) {
    const std::string a = word();
    const std::string b = word();
    const std::string c = word();
    EXPECT_EQ(natural_compare(a, b) < 0, natural_compare(b, a) > 0) << a << " " << b;
    if (natural_compare(a, b) < 0 && natural_compare(b, c) < 0) {
      EXPECT_LT(natural_compare(a, c), 0) << a << " " << b << " " << c;
    }
  }
}

}  // namespace
}  // namespace papillote::bench
