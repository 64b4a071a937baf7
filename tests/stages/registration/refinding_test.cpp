// Collections made up by chance and photographed twice or three times, misread and measured with errors: which envelope is
// which is known, and the claims are held against it.
#include "stages/registration/refinding.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace papillote::registration {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

struct Envelope {
  std::string text;
  Point size_mm;
  std::vector<int> marks;  // 64 by 40
};

constexpr int kWide = 64, kHigh = 40;

Envelope made_up(std::mt19937& chance) {
  std::uniform_real_distribution<double> width(45, 110), flatness(0.5, 0.8);
  Envelope made;
  const double w = width(chance);
  made.size_mm = {w, w * flatness(chance)};
  for (int word = 0; word < 5; ++word) {
    for (std::size_t k = 3 + chance() % 6; k > 0; --k) made.text += static_cast<char>('a' + chance() % 26);
    made.text += ' ';
  }
  made.marks.assign(kWide * kHigh, 0);
  for (int line = 0; line < 4; ++line)
    for (int y = 4 + 9 * line; y < 8 + 9 * line; ++y)
      for (int x = 6; x < 58; ++x) made.marks[static_cast<std::size_t>(y * kWide + x)] = chance() % 3 == 0 ? -6 : 0;
  return made;
}

// One of a series: the same words in the same hand on another piece of the same paper, two days later.
Envelope sibling_of(const Envelope& envelope, std::mt19937& chance) {
  Envelope made = made_up(chance);
  made.size_mm = envelope.size_mm;
  made.text = envelope.text;
  return made;
}

Seen seen(std::size_t number, const Envelope& envelope, std::mt19937& chance, double misread = 0.06) {
  std::normal_distribution<double> measured(0, 0.006), noise(0, 1.5);
  std::uniform_real_distribution<double> unit(0, 1);
  Seen view{number,
            envelope.text,
            Point{envelope.size_mm.x * std::exp(measured(chance)), envelope.size_mm.y * std::exp(measured(chance))},
            {}};
  for (char& c : view.text)
    if (unit(chance) < misread) c = static_cast<char>('a' + chance() % 26);
  view.portrait = {kWide, kHigh, "", {80, 0, 12}, 1};
  for (const int mark : envelope.marks)
    view.portrait.marks += "0123456789abcdef"[std::clamp(8 + mark + static_cast<int>(std::lround(noise(chance))), 0, 15)];
  return view;
}

const auto kAnyTwo = [](std::size_t, std::size_t) { return true; };

TEST(Refinding, FindsThoseThatCameBackAndLeavesTheOthersAlone) {
  std::mt19937 chance(3);
  std::vector<Seen> all;
  std::vector<Envelope> envelopes;
  for (int i = 0; i < 400; ++i) envelopes.push_back(made_up(chance));
  for (std::size_t i = 0; i < 300; ++i) all.push_back(seen(i, envelopes[i], chance));
  // A third come back, in another order; the others are new.
  for (std::size_t k = 0; k < 200; ++k) all.push_back(seen(1000 + k, envelopes[399 - k], chance));
  int right = 0, wrong = 0;
  for (const Refound& pair : one_to_one(all, compared(all, kAnyTwo))) {
    if (pair.confidence < 0.5) break;
    const bool same = all[pair.newer].envelope >= 1000 && all[pair.earlier].envelope == 1399 - all[pair.newer].envelope;
    ++(same ? right : wrong);
  }
  EXPECT_GE(right, 98);
  EXPECT_EQ(wrong, 0);
}

TEST(Refinding, NothingComesBackNothingIsProposed) {
  std::mt19937 chance(4);
  std::vector<Seen> all;
  for (std::size_t i = 0; i < 500; ++i) all.push_back(seen(i, made_up(chance), chance));
  for (const Refound& pair : compared(all, kAnyTwo)) EXPECT_LT(pair.confidence, 0.5);
}

TEST(Refinding, WithoutWritingSizeAndMarksTell) {
  std::mt19937 chance(5);
  std::vector<Seen> all;
  std::vector<Envelope> envelopes;
  for (int i = 0; i < 60; ++i) envelopes.push_back(made_up(chance));
  for (Envelope& envelope : envelopes) envelope.text.clear();
  for (std::size_t round = 0; round < 2; ++round)
    for (std::size_t i = 0; i < 60; ++i) all.push_back(seen(100 * round + i, envelopes[i], chance));
  int right = 0;
  for (const Refound& pair : one_to_one(all, compared(all, kAnyTwo)))
    if (pair.confidence >= 0.5) {
      EXPECT_EQ(all[pair.newer].envelope, all[pair.earlier].envelope + 100);
      ++right;
    }
  EXPECT_GE(right, 54);
}

TEST(Refinding, ASeriesIsToldApartByTheMarksAndLeftInDoubtWithoutThem) {
  std::mt19937 chance(6);
  std::vector<Envelope> series{made_up(chance)};
  for (int i = 0; i < 7; ++i) series.push_back(sibling_of(series.front(), chance));
  const auto in_two_sessions = [](std::size_t a, std::size_t b) { return (a < 8) != (b < 8); };
  std::vector<Seen> all;
  for (std::size_t round = 0; round < 2; ++round)
    for (std::size_t i = 0; i < 8; ++i) all.push_back(seen(10 * round + i, series[i], chance, 0));
  const auto chosen = one_to_one(all, compared(all, in_two_sessions));
  ASSERT_EQ(chosen.size(), 8U);
  for (const Refound& pair : chosen) {
    EXPECT_EQ(all[pair.newer].envelope, all[pair.earlier].envelope + 10);
    EXPECT_GT(pair.confidence, 0.5);
  }
  for (Seen& view : all) view.portrait = {};
  for (const Refound& pair : compared(all, in_two_sessions)) EXPECT_LT(pair.confidence, 0.4) << "which of eight is a guess";
}

TEST(Refinding, AThirdPhotographIsNoRivalOfTheSecond) {
  std::mt19937 chance(7);
  std::vector<Seen> all;
  const Envelope envelope = made_up(chance);
  for (std::size_t session = 0; session < 3; ++session) all.push_back(seen(session, envelope, chance));
  const auto pairs = compared(all, kAnyTwo);
  ASSERT_EQ(pairs.size(), 3U);
  for (const Refound& pair : pairs) EXPECT_GT(pair.confidence, 0.8);
}

TEST(Refinding, WhatCannotBeOneIsNotCompared) {
  std::mt19937 chance(8);
  const Envelope envelope = made_up(chance);
  const std::vector<Seen> all{seen(0, envelope, chance), seen(1, envelope, chance), seen(1, envelope, chance)};
  EXPECT_THAT(compared(all, [](std::size_t, std::size_t) { return false; }), IsEmpty());
  for (const Refound& pair : compared(all, kAnyTwo)) EXPECT_EQ(pair.earlier, 0U) << "two views of one envelope are no question";
}

TEST(Refinding, OfTenThousandEachIsComparedWithAFew) {
  std::mt19937 chance(9);
  std::vector<Seen> all;
  for (std::size_t i = 0; i < 10000; ++i) {
    Envelope envelope = made_up(chance);
    envelope.marks.clear();
    all.push_back(seen(i, envelope, chance));
    all.back().portrait = {};
  }
  // The naive way compares 50 million pairs.
  EXPECT_LT(compared(all, kAnyTwo).size(), 10000U * 60);
}

TEST(Likeness, SaysWhyInWords) {
  const Likeness like{0.94, 0.71, std::log(1.004), 2.2};
  EXPECT_THAT(words_of(like), ElementsAre("the text agrees to 94 %", "what is seen on the paper agrees to 71 %",
                                          "the sides differ by 0.4 %", "the paper's colour differs by 2 (CIE76)"));
  EXPECT_THAT(words_of({}), IsEmpty());
}

TEST(Likeness, MoreOfItIsNeverLessLikely) {
  for (double text : {0.0, 0.5, 1.0})
    for (double marks : {0.0, 0.4, 0.8})
      for (double size : {0.0, 0.02, 0.1}) {
        const double chance = chance_of({text, marks, size, 3.0});
        EXPECT_GE(chance_of({text + 0.1, marks, size, 3.0}), chance);
        EXPECT_GE(chance_of({text, marks + 0.1, size, 3.0}), chance);
        EXPECT_LE(chance_of({text, marks, size + 0.01, 3.0}), chance);
        EXPECT_LE(chance_of({text, marks, size, 9.0}), chance);
      }
}

}  // namespace
}  // namespace papillote::registration
