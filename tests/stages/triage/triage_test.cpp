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

Triage ranked(const Condition& condition, const Interpretation& facts = {}, const Surroundings& around = {},
              const Rules& rules = printed_rules()) {
  return rank(read("Labuan"), facts, condition, rules, around).value();
}

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

TEST(Triage, SaysThatPartOfAnEnvelopeCouldNotBeJudged) {
  Condition cut;
  cut.why_not = "the photograph cuts it off";
  EXPECT_THAT(ranked(cut).reasons, testing::ElementsAre("only part of it could be judged (the photograph cuts it off)"));
}

TEST(Triage, IgnoresAFindingItDoubts) { EXPECT_EQ(ranked(with("frass", 4, 0.1)).level, "routine"); }

TEST(Triage, TakesWhatGrewBeforeWhatStands) {
  Condition stands = with("water_stain", 2);
  Condition grew = stands;
  grew.findings[0].grown_since = "2019-05-02T10:00:00";
  EXPECT_GT(ranked(grew).score, ranked(stands).score);
  EXPECT_THAT(ranked(grew).reasons,
              Contains(HasSubstr("grew since an earlier photograph (water stain, slight, since 2019-05-02)")));
}

TEST(Triage, CallsFewOnlyWhatIsFewInAnIndexThatHoldsEnough) {
  Interpretation facts;
  facts.place = Claim<Place>{"Labuan", Place{"Labuan", "1", "MY", 5, 115, 1000}, 0.9, {}, {}, {}};
  Surroundings around;
  around.spread.same_place = 1;
  around.spread.placed = 20;
  EXPECT_EQ(ranked({}, facts, around).level, "routine");
  around.spread.placed = 500;
  EXPECT_EQ(ranked({}, facts, around).level, "valuable");
  EXPECT_THAT(ranked({}, facts, around).reasons, Contains(HasSubstr("Labuan: 1 of 500")));
  around.spread.same_place = 7;
  EXPECT_EQ(ranked({}, facts, around).level, "routine");
}

TEST(Triage, FindsWantedTaxaAndPlacesByWholeWords) {
  const Rules rules = rules_from_csv("about,sign\nwanted_taxon,Ornithoptera\nwanted_place,Rio Negro\n", "triage.csv").value();
  Interpretation facts;
  facts.taxon = Claim<std::string>{"ornithoptera brookiana", "Ornithoptera brookiana", 0.8, {}, {}, {}};
  EXPECT_EQ(ranked({}, facts, {}, rules).level, "valuable");
  facts.taxon->value = "Ornithopteroides";
  facts.taxon->verbatim = "Ornithopteroides";
  EXPECT_EQ(ranked({}, facts, {}, rules).level, "routine");
  facts.place = Claim<Place>{"am Rio Negro, ob.", std::nullopt, 0, {}, {}, {}};
  EXPECT_EQ(ranked({}, facts, {}, rules).level, "valuable");
}

TEST(Triage, PutsTheKeepingOfTheTinAmongTheReasons) {
  Surroundings around;
  around.storage = {{"mould_index", 3.2, "mould index up to 3.2"}, {"outside_band", 0.1, "outside for 10 %"}};
  const Triage damp = ranked({}, {}, around);
  EXPECT_EQ(damp.level, "stabilise");
  EXPECT_THAT(damp.reasons, testing::ElementsAre(HasSubstr("mould index up to 3.2")));
  around.storage[0].measure = 0.4;
  EXPECT_EQ(ranked({}, {}, around).level, "routine");
}

TEST(Triage, ObeysChangedRules) {
  const Rules rules =
      rules_from_csv(
          "about,sign,from,level,weight\nfinding,tear,1,isolate,1\nfinding,frass,,,0\nlimit,least_confidence,0.95,,\n", "t.csv")
          .value();
  EXPECT_EQ(ranked(with("tear", 1, 0.96), {}, {}, rules).level, "isolate");
  EXPECT_EQ(ranked(with("tear", 4, 0.9), {}, {}, rules).level, "routine");
  EXPECT_EQ(ranked(with("frass", 4, 0.99), {}, {}, rules).level, "routine");
}

TEST(Triage, LetsFurtherReasonsDecideAmongEquals) {
  Interpretation type;
  type.type_status = Claim<std::string>{"Type", "type", 0.9, {}, {}, {}};
  EXPECT_GT(ranked(with("tear", 3), type).score, ranked(with("tear", 3)).score);
  EXPECT_EQ(ranked(with("tear", 3), type).level, "stabilise");
}

TEST(Triage, KeepsItsOrderUnderManyReasons) {
  Surroundings around;
  for (const char* sign : {"crystals", "no_seal", "floor", "cork", "oak", "daylight", "attic"})
    around.storage.push_back({sign, 1, sign});
  const double slight = ranked(with("tear", 2), {}, around).score;
  const double severe = ranked(with("tear", 4), {}, around).score;
  EXPECT_LT(slight, severe);
  EXPECT_LT(severe, ranked(with("hole", 1)).score);
}

TEST(Triage, SaysWhichDecadeADateNames) {
  const auto decade = [](const char* edtf, double confidence = 0.9) {
    return decade_of(Claim<std::string>{"", edtf, confidence, {}, {}, {}});
  };
  EXPECT_EQ(decade("1897-05-02"), 1890);
  EXPECT_EQ(decade("189X"), 1890);
  EXPECT_EQ(decade("1897~"), 1890);
  for (const char* none : {"1897/1903", "18XX", "XXXX-05", "..", ""}) EXPECT_EQ(decade(none), std::nullopt) << none;
  EXPECT_EQ(decade("1897", 0.3), std::nullopt);
}

TEST(Triage, KnowsAnOldDate) {
  Interpretation old;
  old.date = Claim<std::string>{"Juin 1898", "1898-06", 0.9, {}, {}, {}};
  EXPECT_EQ(ranked({}, old).level, "valuable");
  old.date->value = "190X";
  EXPECT_EQ(ranked({}, old).level, "routine");
}

}  // namespace
}  // namespace papillote::triage
