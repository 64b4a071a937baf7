#include "stages/triage/storage.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "pipeline/record/containers.h"

namespace papillote::triage {
namespace {

using testing::HasSubstr;

struct MouldCheck {
  double temperature_c, rh_percent, critical_rh_percent;
  bool grows;
  double weeks_to_index_1, weeks_to_visible, greatest_index;
};
// Recomputed, in the project's reference table mould_vtt_checks, from the equations of Hukka & Viitanen, Wood Science and
// Technology 33 (1999) 475-485.
constexpr MouldCheck kChecks[] = {
    {5, 80, 88.016, false, 55.4461, 96.5091, 0},      {5, 85, 88.016, false, 23.8726, 44.6338, 0},
    {5, 90, 88.016, true, 10.7858, 21.5729, 2.1040},  {5, 95, 88.016, true, 5.0870, 10.8450, 4.4001},
    {5, 97, 88.016, true, 3.8080, 8.3202, 5.1236},    {5, 99, 88.016, true, 2.8674, 6.4179, 5.7357},
    {10, 80, 82.030, false, 34.6076, 57.7838, 0},     {10, 85, 82.030, true, 14.9004, 26.7240, 2.1023},
    {10, 90, 82.030, true, 6.7321, 12.9165, 3.7112},  {10, 95, 82.030, true, 3.1751, 6.4933, 5.0104},
    {10, 97, 82.030, true, 2.3768, 4.9817, 5.4434},   {10, 99, 82.030, true, 1.7898, 3.8427, 5.8269},
    {15, 80, 80.039, false, 26.2681, 42.8054, 0},     {15, 85, 80.039, true, 11.3098, 19.7968, 2.6163},
    {15, 90, 80.039, true, 5.1099, 9.5684, 3.9951},   {15, 95, 80.039, true, 2.4100, 4.8102, 5.1231},
    {15, 97, 80.039, true, 1.8041, 3.6903, 5.5040},   {15, 99, 80.039, true, 1.3585, 2.8466, 5.8447},
    {18, 80, 79.929, true, 23.2052, 37.4028, 1.0249}, {18, 85, 79.929, true, 9.9911, 17.2982, 2.6410},
    {18, 90, 79.929, true, 4.5140, 8.3607, 4.0089},   {18, 95, 79.929, true, 2.1290, 4.2031, 5.1286},
    {18, 97, 79.929, true, 1.5937, 3.2246, 5.5069},   {18, 99, 79.929, true, 1.2001, 2.4873, 5.8456},
    {20, 80, 80.040, false, 21.6008, 34.5974, 0},     {20, 85, 80.040, true, 9.3003, 16.0007, 2.6160},
    {20, 90, 80.040, true, 4.2019, 7.7336, 3.9950},   {20, 95, 80.040, true, 1.9818, 3.8878, 5.1230},
    {20, 97, 80.040, true, 1.4835, 2.9827, 5.5039},   {20, 99, 80.040, true, 1.1171, 2.3007, 5.8447},
    {25, 80, 80.000, true, 18.5597, 29.3312, 1.0000}, {25, 85, 80.000, true, 7.9910, 13.5652, 2.6250},
    {25, 90, 80.000, true, 3.6104, 6.5565, 4.0000},   {25, 95, 80.000, true, 1.7028, 3.2960, 5.1250},
    {25, 97, 80.000, true, 1.2747, 2.5287, 5.5050},   {25, 99, 80.000, true, 0.9598, 1.9505, 5.8450},
    {30, 80, 80.000, true, 16.3956, 25.6293, 1.0000}, {30, 85, 80.000, true, 7.0592, 11.8531, 2.6250},
    {30, 90, 80.000, true, 3.1894, 5.7290, 4.0000},   {30, 95, 80.000, true, 1.5043, 2.8800, 5.1250},
    {30, 97, 80.000, true, 1.1260, 2.2096, 5.5050},   {30, 99, 80.000, true, 0.8479, 1.7044, 5.8450}};

TEST(Mould, AgreesWithTheTableOfTheModel) {
  for (const MouldCheck& check : kChecks) {
    const std::string where =
        testing::PrintToString(check.temperature_c) + " °C, " + testing::PrintToString(check.rh_percent) + " %";
    ASSERT_TRUE(critical_rh_percent(check.temperature_c)) << where;
    EXPECT_NEAR(*critical_rh_percent(check.temperature_c), check.critical_rh_percent, 6e-4) << where;
    EXPECT_EQ(check.rh_percent >= *critical_rh_percent(check.temperature_c), check.grows) << where;
    EXPECT_NEAR(weeks_to_index_1(check.temperature_c, check.rh_percent), check.weeks_to_index_1, 6e-5) << where;
    EXPECT_NEAR(weeks_to_visible(check.temperature_c, check.rh_percent), check.weeks_to_visible, 6e-5) << where;
    if (!check.grows) continue;
    EXPECT_NEAR(greatest_mould_index(check.temperature_c, check.rh_percent), check.greatest_index, 6e-5) << where;
  }
  EXPECT_FALSE(critical_rh_percent(-1));  // the model holds from 0 to 50 °C
  EXPECT_FALSE(critical_rh_percent(50.5));
}

struct CurvePoint {
  double temperature_c, rh_percent;
  int day;
  double index;
};
// Hourly steps of the same equations, in the project's reference table mould_vtt_curve: consistency, not evidence.
constexpr CurvePoint kCurve[] = {{20, 97, 7, 0.674},   {20, 97, 14, 1.686},  {20, 97, 28, 4.325},  {20, 97, 56, 5.504},
                                 {20, 97, 84, 5.504},  {20, 97, 112, 5.504}, {20, 97, 140, 5.504}, {20, 97, 168, 5.504},
                                 {20, 97, 182, 5.504}, {20, 90, 7, 0.238},   {20, 90, 14, 0.476},  {20, 90, 28, 0.952},
                                 {20, 90, 56, 3.091},  {20, 90, 84, 3.979},  {20, 90, 112, 3.995}, {20, 90, 140, 3.995},
                                 {20, 90, 168, 3.995}, {20, 90, 182, 3.995}, {10, 97, 7, 0.421},   {10, 97, 14, 0.841},
                                 {10, 97, 28, 2.245},  {10, 97, 56, 5.074},  {10, 97, 84, 5.443},  {10, 97, 112, 5.443},
                                 {10, 97, 140, 5.443}, {10, 97, 168, 5.443}, {10, 97, 182, 5.443}, {25, 95, 7, 0.587},
                                 {25, 95, 14, 1.369},  {25, 95, 28, 3.856},  {25, 95, 56, 5.125},  {25, 95, 84, 5.125},
                                 {25, 95, 112, 5.125}, {25, 95, 140, 5.125}, {25, 95, 168, 5.125}, {25, 95, 182, 5.125}};

TEST(Mould, FollowsTheCurve) {
  for (const CurvePoint& point : kCurve) {
    MouldIndex index;
    index.pass(24.0 * point.day, point.temperature_c, point.rh_percent);
    EXPECT_NEAR(index.now(), point.index, 6e-4)
        << point.temperature_c << " °C, " << point.rh_percent << " %, day " << point.day;
  }
}

// Decline of the same model: -0.032 a day for 6 h, none until 24 h, then -0.016 a day.
TEST(Mould, DeclinesInThreeSteps) {
  MouldIndex index;
  index.pass(24 * 28, 20, 97);
  const double before = index.now();
  index.pass(6, 20, 50);
  EXPECT_NEAR(before - index.now(), 0.032 * 6 / 24, 1e-9);
  index.pass(18, 20, 50);
  EXPECT_NEAR(before - index.now(), 0.032 * 6 / 24, 1e-9);
  index.pass(24, 20, 50);
  EXPECT_NEAR(before - index.now(), 0.032 * 6 / 24 + 0.016, 1e-9);
  index.pass(24 * 10000, 20, 50);
  EXPECT_EQ(index.now(), 0);
}

TEST(Mould, TakesNoHarmFromFrostAndFullDamp) {
  MouldIndex index;
  for (const double temperature : {-30.0, -0.5, 0.0, 0.1, 50.0, 60.0}) index.pass(1000, temperature, 100);
  EXPECT_GE(index.now(), 0);
  EXPECT_LE(index.now(), 6);
}

struct Lifetime {
  double temperature_c, rh_percent, multiplier;
};
// source: Michalski 2002 as given in later texts, recomputed in the project's reference table lifetime_multiplier
constexpr Lifetime kLifetimes[] = {{5, 30, 17.7538}, {5, 40, 12.2143}, {5, 50, 9.1388},  {5, 60, 7.2103},  {5, 70, 5.9009},
                                   {10, 30, 8.2734}, {10, 40, 5.6920}, {10, 50, 4.2587}, {10, 60, 3.3600}, {10, 70, 2.7499},
                                   {15, 30, 3.9590}, {15, 40, 2.7237}, {15, 50, 2.0379}, {15, 60, 1.6078}, {15, 70, 1.3159},
                                   {18, 30, 2.5751}, {18, 40, 1.7717}, {18, 50, 1.3256}, {18, 60, 1.0458}, {18, 70, 0.8559},
                                   {20, 30, 1.9427}, {20, 40, 1.3365}, {20, 50, 1.0000}, {20, 60, 0.7890}, {20, 70, 0.6457},
                                   {22, 30, 1.4712}, {22, 40, 1.0121}, {22, 50, 0.7573}, {22, 60, 0.5975}, {22, 70, 0.4890},
                                   {25, 30, 0.9763}, {25, 40, 0.6717}, {25, 50, 0.5026}, {25, 60, 0.3965}, {25, 70, 0.3245},
                                   {30, 30, 0.5019}, {30, 40, 0.3453}, {30, 50, 0.2584}, {30, 60, 0.2038}, {30, 70, 0.1668}};

TEST(Lifetime, AgreesWithTheTable) {
  for (const Lifetime& row : kLifetimes)
    EXPECT_NEAR(lifetime_multiplier(row.temperature_c, row.rh_percent), row.multiplier, 6e-5)
        << row.temperature_c << " " << row.rh_percent;
}

double measure_of(const Storage& storage, const std::string& sign) {
  for (const StorageSign& each : storage.signs)
    if (each.sign == sign) return each.measure;
  return -1;
}

TEST(Storage, JudgesAYearOfClimate) {
  Climate climate;
  for (int day = 0; day < 365; ++day)  // a cold damp half of the year and a warm one inside the band of humidity
    for (int hour = 0; hour < 24; ++hour)
      climate.spells.push_back({86400LL * day + 3600 * hour, 1, day < 183 ? 10.0 : 18.0, day < 183 ? 92.0 : 50.0});
  climate.remarks = {"nothing was logged for 5 days from 1970-02-01"};
  const Storage storage = storage_of({.tin = "07"}, climate);
  EXPECT_NEAR(measure_of(storage, "outside_band"), 183.0 / 365, 1e-9);
  EXPECT_EQ(measure_of(storage, "pest_days"), 182);
  EXPECT_GT(measure_of(storage, "mould_index"), 3);
  // Half of the time the paper ages at one rate, half at another: rates are averaged, not lifetimes.
  const double rate = (183 / lifetime_multiplier(10, 92) + 182 / lifetime_multiplier(18, 50)) / 365;
  EXPECT_NEAR(measure_of(storage, "paper_ages"), rate, 1e-9);
  EXPECT_EQ(storage.remarks, climate.remarks);
  Container own{.tin = "07"};
  own.temperature_c = {5, 20};
  own.rh_percent = {40, 95};
  EXPECT_EQ(measure_of(storage_of(own, climate), "outside_band"), 0);
}

TEST(Storage, NamesWhatTheTradeKnowsAndNothingElse) {
  EXPECT_EQ(storage_of({.tin = "07"}, std::nullopt), Storage{});
  EXPECT_EQ(storage_of({.tin = "07",
                        .material = "tinplate",
                        .seal = "loose",
                        .lining = "none",
                        .stands = "cabinet",
                        .light = "dark",
                        .chemicals = "none"},
                       {}),
            Storage{});
  const Storage storage =
      storage_of({.tin = "07", .seal = "none", .lining = "cork", .wood = "oak", .stands = "floor"}, std::nullopt);
  ASSERT_EQ(storage.signs.size(), 4u);
  for (const StorageSign& sign : storage.signs)
    EXPECT_THAT(sign.words, testing::AnyOf(HasSubstr("common practice"), HasSubstr("source"), HasSubstr("from memory")));
}

}  // namespace
}  // namespace papillote::triage
