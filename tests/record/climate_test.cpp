// Tables as loggers write them; columns and layouts after common practice.
#include "pipeline/record/climate.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <string>

namespace papillote {
namespace {

using testing::Contains;
using testing::HasSubstr;
using testing::IsEmpty;

constexpr std::int64_t kNoon = 1'740'830'400;  // 2025-03-01T12:00 (date -u -d)

Climate read(const std::string& table) {
  auto climate = climate_from_table(table, "log.csv");
  EXPECT_TRUE(climate.ok()) << climate.failure().reason;
  return climate.ok() ? *climate : Climate{};
}

TEST(Climate, ReadsTheLayoutsOfLoggers) {
  const char* const kTables[] = {
      "time,temperature °C,humidity "
      "%\n2025-03-01T12:00:00Z,18.5,52\n2025-03-01T13:00:00Z,18.6,53\n2025-03-01T14:00:00Z,18.6,53\n",
      "Messreihe Depot;;;\r\nNr.;Datum;Zeit;Temperatur [°C];rel. Feuchte [%];Taupunkt "
      "[°C]\r\n1;01.03.2025;12:00;18,5;52,0;8,4\r\n2;01.03.2025;13:00;18,6;53,0;8,5\r\n3;01.03.2025;14:00;18,6;53;8,5\r\n",
      "\xEF\xBB\xBF\"#\",\"Date Time, GMT+00:00\",\"Temp, °F (serial 1)\",\"RH, %\"\n1,03/01/25 12:00:00 "
      "PM,65.3,52\n2,03/01/25 01:00:00 PM,65.48,53\n3,03/01/25 02:00:00 PM,65.48,53\n",
      "Date\tHeure\tTemp. "
      "°C\tHR\n01/03/2025\t12:00\t\"18,5\"\t52\n01/03/2025\t13:00\t\"18,6\"\t53\n01/03/2025\t14:00\t18,6\t53\n13/03/"
      "2025\t14:00\t18,6\t53\n",
  };
  for (const char* table : kTables) {
    const Climate climate = read(table);
    ASSERT_GE(climate.spells.size(), 2u) << table;
    EXPECT_EQ(climate.spells[0].begin_s, kNoon) << table;
    EXPECT_DOUBLE_EQ(climate.spells[0].hours, 1) << table;
    EXPECT_NEAR(climate.spells[0].temperature_c, 18.5, 1e-9) << table;
    EXPECT_NEAR(climate.spells[1].rh_percent, 53, 1e-9) << table;
  }
}

TEST(Climate, LeavesGapsOutAndSaysSo) {
  const Climate climate = read(
      "time,temp,rh\n2025-03-01 00:00,18,50\n2025-03-01 01:00,18,50\n2025-03-01 02:00,18,50\n2025-03-06 "
      "02:00,18,50\n2025-03-06 03:00,18,50\n");
  double hours = 0;
  for (const ClimateSpell& spell : climate.spells) hours += spell.hours;
  EXPECT_DOUBLE_EQ(hours, 3);
  EXPECT_THAT(climate.remarks, Contains("nothing was logged for 5 days from 2025-03-01"));
}

TEST(Climate, CountsAClockSetBackAsOneInterval) {
  // The night on which summer time ends.
  const Climate climate = read(
      "time,temp,rh\n2025-10-26 01:00,18,50\n2025-10-26 02:00,18,50\n2025-10-26 02:00,18,50\n2025-10-26 "
      "03:00,18,50\n2025-10-26 04:00,18,50\n");
  double hours = 0;
  for (const ClimateSpell& spell : climate.spells) hours += spell.hours;
  EXPECT_DOUBLE_EQ(hours, 4);
  EXPECT_THAT(climate.remarks, Contains(HasSubstr("set back by 0 h at line 4")));
}

TEST(Climate, LeavesOutWhatNoLoggerMeasures) {
  const Climate climate = read(
      "time,temp,rh\n2025-03-01 00:00,18,50\n2025-03-01 01:00,-999,50\n2025-03-01 02:00,18,n/a\n2025-03-01 03:00,18,50\nEnd of "
      "data\n");
  ASSERT_EQ(climate.spells.size(), 1u);
  EXPECT_DOUBLE_EQ(climate.spells[0].hours, 3);
  EXPECT_THAT(climate.remarks, Contains(HasSubstr("3 lines")));
}

TEST(Climate, TakesSharesForPercentAndSaysSo) {
  const Climate climate = read("time,temp,rh\n2025-03-01 00:00,18,0.5\n2025-03-01 01:00,18,0.52\n");
  EXPECT_DOUBLE_EQ(climate.spells[0].rh_percent, 50);
  EXPECT_THAT(climate.remarks, Contains(HasSubstr("shares of 1")));
}

TEST(Climate, RefusesInSentences) {
  const auto failure = [](const std::string& table) {
    const auto climate = climate_from_table(table, "log.csv");
    return climate.ok() ? Failure{} : climate.failure();
  };
  EXPECT_EQ(failure("").kind, "no_columns");
  EXPECT_EQ(failure("2025-03-01 00:00,18,50\n2025-03-01 01:00,18,50\n").kind, "no_columns");
  EXPECT_EQ(failure("time,temp,rh\n2025-03-01 00:00,18,50\n").kind, "no_readings");
  EXPECT_EQ(failure("time,temp,rh\n2025-03-01 00:00,18,50\n2025-03-01 00:00,18,50\n").kind, "no_readings");
  // One day in March or one in January: nothing tells.
  EXPECT_EQ(failure("time,temp,rh\n01/03/2025 00:00,18,50\n01/03/2025 01:00,18,50\n").kind, "unclear_dates");
  EXPECT_THAT(failure("time,temp,rh\n").reason, HasSubstr("log.csv"));
}

TEST(Climate, SurvivesAnything) {
  std::string table = "time,temp,rh\n";
  for (unsigned i = 0; i < 3000; ++i) table += static_cast<char>((i * 2654435761u) >> 24);
  (void)climate_from_table(table, "log.csv");
  (void)climate_from_table(std::string("\"time,temp,rh\n\0\"", 15), "log.csv");
}

}  // namespace
}  // namespace papillote
