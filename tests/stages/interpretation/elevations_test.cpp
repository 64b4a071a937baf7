#include "stages/interpretation/elevations.h"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/stages/interpretation/noise.h"
#include "tests/stages/interpretation/tables.h"

namespace papillote::interpretation {
namespace {

constexpr double kFoot_m = 0.3048;  // the international foot, exact

std::string metres_of(std::string_view text) {
  const auto reading = read_elevation(text);
  if (!reading.metres) return "open";
  const auto tidy = [](double m) {
    std::string digits = std::to_string(std::round(m * 100) / 100);
    digits.erase(digits.find_last_not_of('0') + 1);
    if (digits.back() == '.') digits.pop_back();
    return digits;
  };
  return tidy(reading.metres->min_m) + ".." + tidy(reading.metres->max_m);
}

TEST(Elevations, AreMetres) {
  struct Case {
    std::string_view text, metres;
  };
  // "100-200 m" is a Darwin Core example of verbatimElevation; the rest is arithmetic and common practice.
  constexpr Case kCases[] = {{"100-200 m", "100..200"},
                             {"5000 ft", "1524..1524"},
                             {"800-1,200 feet", "243.84..365.76"},
                             {"5-6000 ft.", "1524..1828.8"},
                             {"3-4000 m", "3000..4000"},
                             {"alt. 2.300 m.", "2300..2300"},
                             {"2'300 m.ü.d.M.", "2300..2300"},
                             {"1 200 m", "1200..1200"},
                             {"1800 m.s.n.m.", "1800..1800"},
                             {"Seehöhe 1.200-1.400 m", "1200..1400"},
                             {"alt. ca 1800 mètres", "1800..1800"},
                             {"Altitudine metri 1500", "1500..1500"},
                             {"Ceylon alt. m 500-700", "500..700"},
                             {"between 300 and 600 m", "300..600"},
                             {"300m-600m", "300..600"},
                             {"sea level", "0..0"},
                             {"1200±50 m", "1150..1250"},
                             {"1200 +/- 50 m", "1150..1250"},
                             {"2000' - 3000'", "609.6..914.4"},
                             {"50 m below sea level", "-50..-50"},
                             {"Mt. Kina Balu 4-5000'", "1219.2..1524"}};
  for (const auto& [text, metres] : kCases) EXPECT_EQ(metres_of(text), metres) << text;
}

TEST(Elevations, StayOpenWhereTheUnitIsNotSettled) {
  for (const std::string_view text : {"höhe 800", "alt. 1200"}) {
    const auto reading = read_elevation(text);
    EXPECT_FALSE(reading.metres) << text;
    EXPECT_LT(reading.begin, reading.end) << "seen, with its place in the text";
  }
  const auto fuss = read_elevation("4500 Fuß");
  EXPECT_FALSE(fuss.metres);
  ASSERT_EQ(fuss.alternatives.size(), 2U);
  EXPECT_NEAR(fuss.alternatives[1].first.min_m, 4500 * kFoot_m, 0.01);
}

TEST(Elevations, AreNoDistancesDepthsOrArcs) {
  for (const std::string_view text :
       {"5 m. N. of Kuching", "12 mi. W. El Palmito", "2 m above ground", "depth 20 m", "14 x 20 m", "100 m2",
        "120 m from river", "17° 20' S 145° 35' E", "1983 MT", "1909 M. Smith", "VII 1923 Mt. Kenya", ""}) {
    EXPECT_EQ(metres_of(text), "open") << text;
  }
}

TEST(Elevations, AreDoubtedWhereTheTextGivesALimitOrADirection) {
  for (const std::string_view text : {">3000 ft", "up to 1200 m", "5000' N. slope"})
    EXPECT_LT(read_elevation(text).confidence, 0.75) << text;
  // Short for 1200 to 1800, or running downwards.
  EXPECT_EQ(read_elevation("1200-800 m").alternatives.size(), 2U);
}

TEST(Elevations, TellTheCharacters) {
  const std::string_view text = "Mt. Kina Balu, alt. 4000 ft., 12.vii.1909";
  const auto reading = read_elevation(text);
  EXPECT_EQ(reading.verbatim, "alt. 4000 ft.");
  EXPECT_EQ(text.substr(reading.begin, reading.end - reading.begin), reading.verbatim);
}

void expect_exact(const std::string& table, const std::string& text_key, double least_share) {
  auto rows = tables::read(table);
  std::erase_if(rows, [&](auto& row) { return text_key == "label" && row["min_m"].empty(); });
  std::size_t exact = 0;
  for (auto& row : rows) {
    const auto reading = read_elevation(row[text_key]);
    const auto least = tables::readings(row["min_m"]), most = tables::readings(row["max_m"]);
    bool right = false;
    for (std::size_t i = 0; i < least.size(); ++i) {
      right |= least[i].empty() ? !reading.metres
                                : reading.metres && std::abs(reading.metres->min_m - std::stod(least[i])) < 0.01 &&
                                      std::abs(reading.metres->max_m - std::stod(most[i])) < 0.01;
    }
    exact += right;
  }
  if (rows.empty()) return;
  std::cout << table << ": " << exact << " exact of " << rows.size() << "\n";
  EXPECT_GE(static_cast<double>(exact), least_share * static_cast<double>(rows.size()));
}

TEST(Elevations, OfTheSharedRecordsAreExact) {
  expect_exact("data/labels/elevations.csv", "verbatim", 0.98);
  expect_exact("data/labels/standards_elevations.csv", "verbatim", 1);
  expect_exact("data/labels/full_labels.csv", "label", 0.98);
}

TEST(Elevations, SurviveAnyBytes) {
  std::mt19937 random(1524);
  for (int i = 0; i < 40000; ++i) {
    const std::string text = i % 2 ? random_bytes(random, 80) : random_annotation(random, 30);
    const auto reading = read_elevation(text);
    ASSERT_LE(reading.begin, reading.end);
    ASSERT_LE(reading.end, text.size());
    EXPECT_EQ(reading.verbatim, text.substr(reading.begin, reading.end - reading.begin));
    if (reading.metres) {
      EXPECT_LE(reading.metres->min_m, reading.metres->max_m) << text;
    }
  }
  std::string long_text;
  while (long_text.size() < (1U << 20)) long_text += "alt. ca. 4-5000 ";
  (void)read_elevation(long_text);
}

}  // namespace
}  // namespace papillote::interpretation
