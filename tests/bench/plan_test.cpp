// Bench plans: figures against published tables, and what no plan may do whatever is asked of it.
#include "pipeline/bench/plan.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <random>
#include <set>

#include "pipeline/bench/plan_sheet.h"
#include "printed.h"

namespace papillote::bench {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

const sys_days kMonday{std::chrono::year{2026} / 11 / 23};

TEST(Grooves, FollowThePublishedTableAndTakeTheNextWiderInItsGaps) {
  // source: welt-der-schmetterlinge.de, page on setting boards: 2-3, 3-5, 6-8, 9-12 mm
  for (const auto& [body, most] :
       {std::pair{2.0, 3.0}, {3.0, 3.0}, {3.1, 5.0}, {5.0, 5.0}, {6.0, 8.0}, {8.0, 8.0}, {9.0, 12.0}, {12.0, 12.0}})
    EXPECT_EQ(groove_for(body).most_mm, most) << body;
  EXPECT_EQ(groove_for(5.5).most_mm, 8);  // the gaps 5-6 and 8-9: next wider
  EXPECT_EQ(groove_for(8.5).most_mm, 12);
  EXPECT_EQ(groove_for(20).most_mm, 12);
}

TEST(Pins, HaveTheirPublishedSizes) {
  // source: Fraval, Insectes 129 (INRA): 000 of 0.25 to 6 of 0.65 mm, 38 mm long; 7 of 0.70 by 52 mm. Steps of 0.05 mm from
  // memory.
  EXPECT_EQ(pins().front().size, "000");
  EXPECT_NEAR(pins().front().diameter_mm, 0.25, 0.02);
  EXPECT_NEAR(pins()[8].diameter_mm, 0.65, 0.02);
  EXPECT_EQ(pins()[8].size, "6");
  EXPECT_NEAR(pins()[9].diameter_mm, 0.70, 0.02);
  EXPECT_EQ(pins()[9].length_mm, 52);
  for (std::size_t k = 1; k < pins().size(); ++k) EXPECT_NEAR(pins()[k].diameter_mm - pins()[k - 1].diameter_mm, 0.05, 1e-9);
}

TEST(PlanSettings, TimesLieInsidePublishedRanges) {
  const PlanSettings settings;
  // source: Lutz 24-48 h, K. Philip (leps list, 2000) to 24 h small and to 36 h average, C. Thompson 168 h; secondary: large
  // 120-168 h
  EXPECT_LE(settings.sizes[0].relaxing_hours, 24);
  for (const SizeFigures& size : settings.sizes) {
    EXPECT_GE(size.relaxing_to_hours, size.relaxing_hours);
    EXPECT_LE(size.relaxing_to_hours, 168);  // the longest of all sources
  }
  EXPECT_LE(settings.sizes[1].relaxing_hours, 36);
  EXPECT_GE(settings.sizes[2].relaxing_hours, 24);
  EXPECT_LE(settings.sizes[2].relaxing_hours, 168);
  EXPECT_GE(settings.sizes[3].relaxing_hours, 120);
  EXPECT_LE(settings.sizes[3].relaxing_hours, 168);
  // source: USDA collecting text, small 7 and large 14 days; setting-board page, 14-28 days by size
  EXPECT_EQ(settings.sizes[0].drying_days, 7);
  for (std::size_t k = 1; k < 4; ++k) {
    EXPECT_GE(settings.sizes[k].drying_days, 14);
    EXPECT_LE(settings.sizes[k].drying_days, 28);
  }
}

TEST(PlanSettings, AreWrittenReadAndChanged) {
  PlanSettings settings;
  settings.sizes[1].relaxing_hours = 40;
  settings.sizes[2].pin = "4";
  settings.minutes_to_set = 12.5;
  const std::string table = settings_csv(settings);
  const auto read = settings_from_csv(table);
  ASSERT_TRUE(read.ok());
  EXPECT_EQ(settings_csv(*read), table);
  EXPECT_EQ(read->sizes[1].relaxing_hours, 40);
  for (const Figure& figure : figures_of(settings)) {
    EXPECT_FALSE(figure.meaning.empty()) << figure.name;
    EXPECT_FALSE(figure.source.empty()) << figure.name;
  }
  EXPECT_EQ(settings_from_csv("name,value\nminutes_to_set,8\n")->minutes_to_set, 8);
  EXPECT_EQ(settings_from_csv("")->minutes_to_set, 10);
}

TEST(PlanSettings, RefuseWhatMakesNoSense) {
  for (const char* csv : {"minutes_to_sit,8\n", "minutes_to_set,many\n", "minutes_to_set,\n", "minutes_to_set,-3\n",
                          "minutes_to_set,nan\n", "large.pin,9\n", "medium.envelope_to_mm,20\n"}) {
    const auto settings = settings_from_csv(csv);
    ASSERT_FALSE(settings.ok()) << csv;
    EXPECT_EQ(settings.failure().kind, "wrong_settings");
  }
}

BenchItem item(const std::string& id, Outcome outcome, std::optional<double> longest_mm, const std::string& tin = "1") {
  return {id, tin, "group", outcome, longest_mm, std::nullopt};
}

TEST(Plan, RelaxesSetsAndDriesOneBatch) {
  const auto plan = plan_bench({item("a", Outcome::set, 60), item("b", Outcome::set, 50)}, {}, {}, kMonday);
  ASSERT_TRUE(plan.ok());
  ASSERT_EQ(plan->batches.size(), 1u);
  const Batch& batch = plan->batches[0];
  EXPECT_EQ(batch.ids, (std::vector<std::string>{"a", "b"}));
  EXPECT_EQ(batch.into_chamber, kMonday);
  EXPECT_EQ(batch.on_board, kMonday + days(2));  // 36 h
  EXPECT_EQ(batch.looks, (std::vector<sys_days>{kMonday + days(1)}));
  EXPECT_EQ(batch.off_board, kMonday + days(16));  // 14 days
  EXPECT_EQ(batch.boards, (std::array<int, 4>{0, 1, 0, 0}));
  EXPECT_EQ(plan->materials.pins, (std::map<std::string, int>{{"2", 3}}));  // two and spares
  EXPECT_EQ(plan->materials.data_labels, 3);
}

TEST(Plan, CoversAllThreeOutcomes) {
  const auto plan = plan_bench({item("a", Outcome::set, 60), item("b", Outcome::repaper, 60), item("c", Outcome::later, 60),
                                item("d", Outcome::set, std::nullopt), item("e", Outcome::later, std::nullopt)},
                               {}, {}, kMonday);
  ASSERT_TRUE(plan.ok());
  EXPECT_EQ(plan->batches.size(), 1u);
  ASSERT_EQ(plan->repaper.size(), 1u);
  EXPECT_EQ(plan->repaper[0].ids, (std::vector<std::string>{"b"}));
  EXPECT_EQ(plan->later, (std::vector<std::string>{"c", "e"}));
  EXPECT_EQ(plan->without_size, (std::vector<std::string>{"d"}));  // not guessed
  EXPECT_EQ(plan->materials.new_envelopes, (std::map<SizeClass, int>{{SizeClass::medium, 2}}));
  EXPECT_GT(plan->space.papered_row_mm, 0);
  EXPECT_GT(plan->space.emptied_row_mm, 0);
  EXPECT_GT(plan->space.waiting_row_mm, 0);
}

TEST(Plan, ShiftsABatchAndKeepsItsNumber) {
  std::vector<BenchItem> items;
  for (int k = 0; k < 60; ++k) items.push_back(item("id" + std::to_string(100 + k), Outcome::set, 60));
  const auto plan = plan_bench(items, {}, {}, kMonday);
  ASSERT_TRUE(plan.ok());
  ASSERT_GT(plan->batches.size(), 1u);
  const auto shifted = plan_bench(items, {}, {}, kMonday, {{1, kMonday + days(30)}});
  ASSERT_TRUE(shifted.ok());
  for (const Batch& batch : shifted->batches) {
    const auto same =
        std::find_if(plan->batches.begin(), plan->batches.end(), [&](const Batch& b) { return b.number == batch.number; });
    ASSERT_NE(same, plan->batches.end());
    EXPECT_EQ(batch.ids, same->ids);
    EXPECT_TRUE(batch.number != 1 || batch.into_chamber >= kMonday + days(30));
  }
}

TEST(Plan, DrawsRelaxingOutOnlyWhereTheWeekLeavesNoOtherWay) {
  Equipment fridays;  // from Thursday to Friday is a day; on Friday alone nothing is ready on a working day
  fridays.works = {false, false, false, true, true, false, false};
  EXPECT_EQ(plan_bench({item("a", Outcome::set, 30)}, {}, fridays, kMonday)->batches.at(0).notes, std::vector<std::string>{});
  fridays.works = {false, false, false, false, true, false, false};
  const auto plan = plan_bench({item("a", Outcome::set, 30)}, {}, fridays, kMonday);
  ASSERT_TRUE(plan.ok());
  EXPECT_EQ(plan->batches.at(0).into_chamber, kMonday + days(4));
  EXPECT_EQ(plan->batches.at(0).on_board, kMonday + days(11));
  EXPECT_EQ(plan->batches.at(0).notes.size(), 2u);  // looks on days off, mould
}

TEST(Plan, MeasuresDrawersForPins) {
  Equipment equipment;
  equipment.drawer_height_mm = 35;  // 38 mm pins, 8 in the foam, 6 free: 36 are needed
  const auto low = plan_bench({item("a", Outcome::set, 60)}, {}, equipment, kMonday);
  ASSERT_TRUE(low.ok());
  EXPECT_EQ(low->space.needed_height_mm, 36);
  EXPECT_FALSE(low->space.high_enough);
  equipment.drawer_height_mm = 36;
  EXPECT_TRUE(plan_bench({item("a", Outcome::set, 60)}, {}, equipment, kMonday)->space.high_enough);
}

TEST(Plan, FillsTraysEachTwiceTheNextSmaller) {
  // A medium insect takes 65 x 45 mm. Trays: 70 x 90 holds 2, 140 x 90 holds 4, 140 x 180 holds 8, 280 x 180 holds 16.
  Equipment equipment;
  equipment.tray_width_mm = 70;
  equipment.tray_depth_mm = 90;
  equipment.drawer_width_mm = 280;
  equipment.drawer_depth_mm = 180;
  std::vector<BenchItem> items;
  for (int k = 0; k < 19; ++k) items.push_back(item("id" + std::to_string(k), Outcome::set, 60));
  const auto plan = plan_bench(items, {}, equipment, kMonday);
  ASSERT_TRUE(plan.ok());
  EXPECT_EQ(plan->space.trays, (std::vector<int>{0, 1, 0, 1}));  // 16 and 3
  EXPECT_EQ(plan->space.drawers, 2);                             // 8 and 2 of 8 units
}

TEST(Plan, RefusesWhatCannotBeDone) {
  Equipment none;
  none.chambers = 0;
  EXPECT_EQ(plan_bench({item("a", Outcome::set, 60)}, {}, none, kMonday).failure().kind, "no_chamber");
  EXPECT_TRUE(plan_bench({item("a", Outcome::repaper, 60)}, {}, none, kMonday).ok());
  Equipment boardless;
  boardless.boards = {4, 0, 4, 4};
  EXPECT_EQ(plan_bench({item("a", Outcome::set, 60)}, {}, boardless, kMonday).failure().kind, "no_board");
  Equipment tiny;
  tiny.chamber_cm2 = 10;
  EXPECT_EQ(plan_bench({item("a", Outcome::set, 60)}, {}, tiny, kMonday).failure().kind, "too_large");
  Equipment idle;
  idle.works = {};
  EXPECT_EQ(plan_bench({}, {}, idle, kMonday).failure().kind, "no_working_day");
  PlanSettings hurried;
  hurried.bench_minutes_a_day = 10;
  hurried.minutes_to_set = 20;
  EXPECT_EQ(plan_bench({item("a", Outcome::set, 60)}, hurried, {}, kMonday).failure().kind, "no_time");
}

TEST(PlanSheet, SaysDayByDayWhatToDoAndOnWhatItRests) {
  const auto plan =
      plan_bench({item("a", Outcome::set, 60, "7"), item("b", Outcome::repaper, 60), item("c", Outcome::set, std::nullopt)}, {},
                 {}, kMonday);
  ASSERT_TRUE(plan.ok());
  const std::string words = printed::words(plan_pdf(*plan, {}, "2026-11-25T08:30:00Z"));
  for (const char* expected : {"Mon 2026-11-23", "Batch 1: 1 medium into the chamber for 36 to 48 h, from tin 7",
                               "Wed 2026-11-25", "1 × 3–5 mm, pins 2", "Wed 2026-12-09", "off the boards if dry", "Repaper 1",
                               "not planned: c", "pins, size 2", "36 mm", "Relaxing agents and solvents", "safety data sheet",
                               "arsenic", "medium.relaxing_hours", "K. Philip, leps list, 2000", "old envelope or its picture"})
    EXPECT_THAT(words, ::testing::HasSubstr(expected));
  EXPECT_EQ(plan_csv(*plan),
            "id,outcome,batch,size,into_chamber,on_board,off_board\r\n"
            "a,set,1,medium,2026-11-23,2026-11-25,2026-12-09\r\n"
            "b,repaper,,,2026-11-23,,\r\n"
            "c,to measure,,,,,\r\n");
}

TEST(PlanSheet, IsWholeWhenEmptyAndWhenLong) {
  EXPECT_THAT(printed::words(plan_pdf(*plan_bench({}, {}, {}, kMonday), {}, "2026-11-25T08:30:00Z")),
              ::testing::HasSubstr("0 to relax"));
  std::vector<BenchItem> items;
  for (int k = 0; k < 1500; ++k) items.push_back(item("id" + std::to_string(k), Outcome::set, 100, std::to_string(k % 60)));
  const auto plan = plan_bench(items, {}, {}, kMonday);
  ASSERT_TRUE(plan.ok());
  const std::string words = printed::words(plan_pdf(*plan, {}, "2026-11-25T08:30:00Z"));
  for (const Batch& batch : plan->batches)
    EXPECT_THAT(words, ::testing::HasSubstr("Batch " + std::to_string(batch.number) + ": off the boards"));
}

// Whatever is asked, nothing is planned twice, forgotten, or in two places.
TEST(Plan, NeverUsesAChamberABoardOrAnHourTwice) {
  std::mt19937 random(9);
  const PlanSettings settings;
  for (int trial = 0; trial < 60; ++trial) {
    Equipment equipment;
    equipment.chambers = 1 + static_cast<int>(random() % 3);
    equipment.chamber_cm2 = 200 + static_cast<double>(random() % 800);
    for (int& boards : equipment.boards) boards = 1 + static_cast<int>(random() % 5);
    for (std::size_t k = 0; k < 7; ++k) equipment.works[k] = random() % 4 != 0;
    equipment.works[random() % 7] = true;
    std::vector<BenchItem> items;
    std::multiset<std::string> ids;
    for (std::size_t k = random() % 150; k > 0; --k) {
      items.push_back(item("id" + std::to_string(k), static_cast<Outcome>(random() % 3),
                           20 + static_cast<double>(random() % 120), std::to_string(random() % 5)));
      if (random() % 5 == 0) items.back().body_width_mm = 1 + static_cast<double>(random() % 12);
      ids.insert(items.back().id);
    }
    const auto plan = plan_bench(items, settings, equipment, kMonday);
    ASSERT_TRUE(plan.ok()) << plan.failure().reason;
    std::multiset<std::string> planned(plan->later.begin(), plan->later.end());
    std::map<sys_days, int> chambers;
    std::map<sys_days, std::array<int, 4>> boards;
    std::map<sys_days, double> minutes;
    const auto works = [&](sys_days day) { return equipment.works[std::chrono::weekday(day).iso_encoding() - 1]; };
    for (const Batch& batch : plan->batches) {
      planned.insert(batch.ids.begin(), batch.ids.end());
      const SizeFigures& size = settings.sizes[static_cast<std::size_t>(batch.size)];
      EXPECT_LE(static_cast<double>(batch.ids.size()) * size.chamber_cm2, equipment.chamber_cm2);
      EXPECT_GE((batch.on_board - batch.into_chamber).count() * 24, size.relaxing_hours);
      EXPECT_GE((batch.off_board - batch.on_board).count(), size.drying_days);
      EXPECT_TRUE(works(batch.into_chamber) && works(batch.on_board));
      EXPECT_EQ(std::set<std::string>(batch.tins.begin(), batch.tins.end()).size(), batch.tins.size());  // each tin once
      for (sys_days day = batch.into_chamber; day < batch.on_board; day += days(1)) ++chambers[day];
      for (sys_days day = batch.on_board; day < batch.off_board; day += days(1))
        for (std::size_t k = 0; k < 4; ++k) boards[day][k] += batch.boards[k];
      minutes[batch.on_board] += static_cast<double>(batch.ids.size()) * settings.minutes_to_set;
    }
    for (const RepaperDay& day : plan->repaper) {
      planned.insert(day.ids.begin(), day.ids.end());
      minutes[day.day] += static_cast<double>(day.ids.size()) * settings.minutes_to_repaper;
      EXPECT_TRUE(works(day.day));
    }
    EXPECT_EQ(planned, ids);
    for (const auto& [day, count] : chambers) EXPECT_LE(count, equipment.chambers);
    for (const auto& [day, count] : boards)
      for (std::size_t k = 0; k < 4; ++k) EXPECT_LE(count[k], equipment.boards[k]);
    for (const auto& [day, spent] : minutes) EXPECT_LE(spent, settings.bench_minutes_a_day + 1e-6);
  }
}

}  // namespace
}  // namespace papillote::bench
