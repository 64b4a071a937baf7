#include "stages/triage/triage.h"


#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace papillote::triage {
namespace {

using testing::Contains;
using testing::HasSubstr;

Condition with(const std::string& kind, int severity, double confidence = 0.9) {
  Condition condition;
  condition.findings = {{kind, severity, confidence, {}, std::nullopt, ""}};
  return condition;
}

Annotation read(const std::string& text) {
  Annotation annotation;
  annotation.text = text;
  annotation.lines.emplace_back();
  annotation.lines.back().text = text;
  return annotation;
}

Triage ranked(const Condition& condition, const Interpretation& facts = {}) { return rank(read("Labuan"), facts, condition).value(); }

// Order of work as in the project's reference table of damage signs: pest signs "1 at once" (common practice;
// frass: ENHG bulletin 1982; cast skins: museum pests fact sheet), then the rest.
TEST(Triage, PutsSignsOfFeedingInsectsBeforeEverythingElse) {
  for (const char* pest : {"frass", "webbing", "hole", "mould"}) {
    EXPECT_EQ(ranked(with(pest, 2)).level, "isolate") << pest;
    for (const char* damage : {"tear", "protruding", "fragments", "open_flap", "water_stain", "crushed"})
      EXPECT_GT(ranked(with(pest, 1)).score, ranked(with(damage, 4)).score) << pest << " against " << damage;
  }
}

TEST(Triage, PutsDamageBeforeTypesAndTypesBeforeTheRest) {
  Interpretation type;
  type.type_status = Claim<std::string>{"Cotype", "syntype", 0.9, {}, {}, {}};
  const Triage damaged = ranked(with("tear", 3));
  const Triage valuable = ranked({}, type);
  const Triage routine = ranked({});
  EXPECT_EQ(damaged.level, "stabilise");
  EXPECT_EQ(valuable.level, "valuable");
  EXPECT_EQ(routine.level, "routine");
  EXPECT_GT(damaged.score, valuable.score);
  EXPECT_GT(valuable.score, routine.score);
  EXPECT_THAT(valuable.reasons, Contains(HasSubstr("Cotype")));
}

TEST(Triage, RisesWithSeverityAndNeverLeavesItsRange) {
  for (const char* kind : {"frass", "tear", "mould", "crushed", "nothing-known"}) {
    double before = -1;
    for (int severity = 1; severity <= 4; ++severity) {
      const double score = ranked(with(kind, severity)).score;
      EXPECT_GE(score, before);
      EXPECT_GE(score, 0);
      EXPECT_LE(score, 1);
      before = score;
    }
  }
}

TEST(Triage, TakesAPhotographThatCannotBeJudgedForADoubtNotForSound) {
  Condition blind;
  blind.judged = false;
  blind.why_not = "the photograph is blurred";
  const Triage triage = ranked(blind);
  EXPECT_THAT(triage.reasons, Contains(HasSubstr("could not be judged")));
  EXPECT_GT(triage.score, ranked({}).score);
}

TEST(Triage, IgnoresAFindingItDoubts) { EXPECT_EQ(ranked(with("frass", 4, 0.1)).level, "routine"); }

TEST(Triage, KnowsAnOldDate) {
  Interpretation old;
  old.date = Claim<std::string>{"Juin 1898", "1898-06", 0.9, {}, {}, {}};
  EXPECT_EQ(ranked({}, old).level, "valuable");
  old.date->value = "190X";
  EXPECT_EQ(ranked({}, old).level, "routine");
}

}  // namespace
}  // namespace papillote::triage
