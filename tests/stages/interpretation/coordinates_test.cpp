#include "stages/interpretation/coordinates.h"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/stages/interpretation/noise.h"
#include "tests/stages/interpretation/tables.h"

namespace papillote::interpretation {
namespace {

constexpr double kNone = 999;  // not stated, or left open

void expect_degrees(std::string_view text, double lat, double lon, double within = 1e-6) {
  const auto reading = read_coordinates(text);
  const auto degrees = reading.degrees.value_or(Coordinates{});
  EXPECT_NEAR(degrees.lat_deg.value_or(kNone), lat, within) << text;
  EXPECT_NEAR(degrees.lon_deg.value_or(kNone), lon, within) << text;
}

TEST(Coordinates, AreDecimalDegrees) {
  // Darwin Core examples of verbatimCoordinates, verbatimLatitude and verbatimLongitude; values by arithmetic.
  expect_degrees("41 05 54S 121 05 34W", -41.0983333, -121.0927778);
  expect_degrees("41 05 54.03S", -41.0983417, kNone);
  expect_degrees("121d 10' 34\" W", kNone, -121.1761111);
  // Arithmetic.
  expect_degrees("17° 20' S 145° 35' E", -17.3333333, 145.5833333);
  expect_degrees("S 12°33,5' W 69°03,2'", -12.5583333, -69.0533333);
  expect_degrees("S 17°06.48'W 64°49.94'", -17.108, -64.8323333);
  expect_degrees("84°07'W; 10°10'N", 10.1666667, -84.1166667);
  expect_degrees("lat. 4°40' Süd, long. 38° Ost", -4.6666667, 38);
  expect_degrees("47°22′N 8°33′ö.L.", 47.3666667, 8.55);
  expect_degrees("12o 30' N 15o 20' E", 12.5, 15.3333333);
  expect_degrees("34d 52.8m N/106d 52.8m W", 34.88, -106.88);
  expect_degrees("8º30' L.S. 63º54' L.W.G.", -8.5, -63.9);  // latitud, longitud
  expect_degrees("12° lat. S., 40° long. E.", -12, 40);
  expect_degrees("35.3158/-111.9164", 35.3158, -111.9164);
  expect_degrees("22.885200°, -109.910201°", 22.8852, -109.910201);
  expect_degrees("12:20:42 S, 67:30:00 W", -12.345, -67.5);
  expect_degrees("Lat: 12.345 Lon: -67.89", 12.345, -67.89);
  expect_degrees("Kuching 1°33'N 110°20'E 300 ft", 1.55, 110.3333333);
}

TEST(Coordinates, CountOldMeridiansFromGreenwich) {
  // Paris lies 2°20'14.025" east of Greenwich; Ferro is by definition 20° west of Paris, in round figures 17°40' west of
  // Greenwich (IGN; PROJ keeps both).
  expect_degrees("Lat. 12° 30' N., Long. 15° 20' E. v. Paris", 12.5, 15.3333333 + 2.3372292, 1e-6);
  expect_degrees("47° 10' n. Br., 35° 20' ö. L. von Ferro", 47.1666667, 35.3333333 - 17.6666667, 1e-6);
  expect_degrees("Lat. N. 3°4' Long. E. Greenw. 37°21'", 3.0666667, 37.35);
  // The town is no meridian.
  expect_degrees("48°50'N 2°20'E Paris", 48.8333333, 2.3333333);
}

TEST(Coordinates, ReadGrids) {
  // A tower in Toronto stands at 43°38'33.24"N 79°23'13.7"W, in zone 17T at 630084 4833438 (the example that articles on
  // UTM use; from memory).
  expect_degrees("17T 630084 4833438", 43.642566, -79.387139, 1e-4);
  expect_degrees("17T PJ 30084 33438", 43.642566, -79.387139, 1e-4);
  expect_degrees("17TPJ3008433438", 43.642566, -79.387139, 1e-4);
  // The central meridian of a zone is exact: 500 000 m is 6 * zone - 183 degrees.
  expect_degrees("33N 500000 5500000", 49.652543, 15, 1e-5);
  // Letters that do not hold the northing are no bands.
  EXPECT_FALSE(read_coordinates("17C 630084 4833438").degrees);
}

TEST(Coordinates, StayOpenWhereTheTextDoesNotSettleThem) {
  for (const std::string_view text : {"15.30 S. 40.20 O.", "10°20' S 62°30' O", "17°06'530\"S 65°41'203\"W", "91°N 10°E",
                                      "10°N 190°E", "42-43°N 5-6°E", "12°20'N-12°40'N 3°W", "12 N Kuching", "5.5 S of town"}) {
    EXPECT_FALSE(read_coordinates(text).degrees) << text;
  }
  // The language settles O.
  expect_degrees("10°20' Sur 62°30' O", -10.3333333, -62.5);
  EXPECT_EQ(read_coordinates("15.30 S. 40.20 E.").alternatives.size(), 2U);
  EXPECT_EQ(read_coordinates("10°20' S 62°30' O").alternatives.size(), 2U);
  // No side of the longitude.
  expect_degrees("17°08'52\"S; 65°42'54\"", -17.1477778, kNone);
}

TEST(Coordinates, KeepTheirPrecision) {
  // Georeferencing Best Practices, uncertainty from coordinate precision: 0.01 degree at latitude 10.27 is 1556.8 m.
  EXPECT_NEAR(read_coordinates("10.27, 84.12").uncertainty_m, 1556.8, 0.5);
  EXPECT_GT(read_coordinates("10°N 84°W").uncertainty_m, read_coordinates("10°00'N 84°00'W").uncertainty_m);
}

TEST(Coordinates, OfTheSharedRecordsAreExact) {
  // Records give the text's value to some hundredths: their own rounding.
  constexpr double kAgree_deg = 0.01;
  for (const auto& [table, text_key] : {std::pair<std::string, std::string>{"data/labels/coordinates.csv", "verbatim"},
                                        {"data/labels/standards_coordinates.csv", "verbatim"},
                                        {"data/labels/full_labels.csv", "label"}}) {
    auto rows = tables::read(table);
    std::erase_if(rows, [&](auto& row) { return text_key == "label" && row["coordinates_verbatim"].empty(); });
    std::size_t exact = 0;
    for (auto& row : rows) {
      const auto degrees = read_coordinates(row[text_key]).degrees.value_or(Coordinates{});
      const auto agrees = [&](const std::string& wanted, std::optional<double> got) {
        return wanted.empty() ? !got : got && std::abs(*got - std::stod(wanted)) <= kAgree_deg;
      };
      exact += agrees(row["lat"], degrees.lat_deg) && agrees(row["lon"], degrees.lon_deg);
    }
    if (rows.empty()) continue;
    std::cout << table << ": " << exact << " exact of " << rows.size() << "\n";
    EXPECT_GE(static_cast<double>(exact), 0.98 * static_cast<double>(rows.size())) << table;
  }
}

TEST(Coordinates, SurviveAnyBytes) {
  std::mt19937 random(6378137);
  for (int i = 0; i < 40000; ++i) {
    const std::string text = i % 2 ? random_bytes(random, 80) : random_annotation(random, 30);
    const auto reading = read_coordinates(text);
    ASSERT_LE(reading.begin, reading.end);
    ASSERT_LE(reading.end, text.size());
    EXPECT_EQ(reading.verbatim, text.substr(reading.begin, reading.end - reading.begin));
    if (!reading.degrees) continue;
    EXPECT_LE(std::abs(reading.degrees->lat_deg.value_or(0)), 90) << text;
    EXPECT_LE(std::abs(reading.degrees->lon_deg.value_or(0)), 200) << text;
  }
  std::string long_text;
  while (long_text.size() < (1U << 20)) long_text += "S 17°";
  (void)read_coordinates(long_text);
}

}  // namespace
}  // namespace papillote::interpretation
