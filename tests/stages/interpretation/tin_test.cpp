#include "stages/interpretation/tin.h"

#include <gtest/gtest.h>

namespace papillote::interpretation {
namespace {

// An annotation as a sure reader gives it: one line a row.
Annotation says(const std::vector<std::string>& lines, double confidence = 0.98) {
  Annotation annotation;
  for (const auto& text : lines) {
    Reading reading;
    reading.text = text;
    reading.confidence = confidence;
    annotation.lines.push_back(reading);
    annotation.text += (annotation.text.empty() ? "" : "\n") + text;
  }
  return annotation;
}

class Tin {
 public:
  using Open = std::vector<std::pair<Place, double>>;  // a place left open: what it may be

  Tin& add(Annotation annotation, const std::optional<Place>& place = std::nullopt, const Open& open = {}) {
    annotations_.push_back(std::move(annotation));
    Interpretation alone = *interpret(annotations_.back(), {}, nullptr, {});
    if (place)
      alone.place = Claim<Place>{
          .verbatim = place->name, .value = *place, .confidence = 0.9, .alternatives = {}, .reasons = {}, .evidence = {}};
    if (!open.empty())
      alone.place = Claim<Place>{.verbatim = annotations_.back().text,
                                 .value = {},
                                 .confidence = 0,
                                 .alternatives = open,
                                 .reasons = {},
                                 .evidence = {}};
    alone_.push_back(std::move(alone));
    return *this;
  }
  [[nodiscard]] std::vector<Interpretation> read(const TinContext& known = {},
                                                 const std::optional<Heading>& heading = {}) const {
    std::vector<TinMember> members;
    for (std::size_t i = 0; i < annotations_.size(); ++i)
      members.push_back({"sheet 1, position " + std::to_string(i + 1), annotations_[i], alone_[i], "sheet 1"});
    return read_tin(members, known, heading);
  }
  [[nodiscard]] const Interpretation& alone(std::size_t i) const { return alone_[i]; }

 private:
  std::vector<Annotation> annotations_;
  std::vector<Interpretation> alone_;
};

bool mentions(const std::vector<std::string>& reasons, std::string_view words) {
  for (const auto& reason : reasons)
    if (reason.find(words) != std::string::npos) return true;
  return false;
}

TEST(Tin, ItsClearDatesSettleTheCentury) {
  Tin tin;
  for (const auto* date : {"12.vii.1909", "3.v.1909", "14.vi.1910", "2.ii.1908", "30.xii.1909"}) tin.add(says({date}));
  tin.add(says({"17.viii.09"}));
  const auto facts = tin.read();
  EXPECT_EQ(tin.alone(5).date->value, "XX09-08-17");
  EXPECT_EQ(facts[5].date->value, "1909?-08-17");  // marked as not stated by the paper
  EXPECT_TRUE(mentions(facts[5].date->reasons, "Most of the 5 clear dates of this tin are of 1908 to 1909"));
  for (std::size_t i = 0; i < 5; ++i) EXPECT_EQ(facts[i], tin.alone(i));
}

TEST(Tin, ItsSheetSettlesACenturyThatTheTinLeavesOpen) {
  std::vector<Annotation> read;
  std::vector<Interpretation> alone;
  for (const auto* date :
       {"12.vii.1849", "3.v.1871", "14.vi.1932", "2.ii.1909", "30.xii.1910", "9.ix.1910", "1.i.1912", "17.viii.09"}) {
    read.push_back(says({date}));
    alone.push_back(*interpret(read.back(), {}, nullptr, {}));
  }
  std::vector<TinMember> members;
  for (std::size_t i = 0; i < read.size(); ++i) members.push_back({"here", read[i], alone[i], i < 3 ? "sheet 1" : "sheet 2"});
  const auto facts = read_tin(members, {});
  EXPECT_EQ(facts[7].date->value, "1909?-08-17");
  EXPECT_TRUE(mentions(facts[7].date->reasons, "Most of the 4 clear dates of this sheet are of 1909 to 1912"));
}

TEST(Tin, FewOrScatteredDatesSettleNothing) {
  Tin few;
  for (const auto* date : {"12.vii.1909", "3.v.1909", "14.vi.1910"}) few.add(says({date}));
  few.add(says({"17.viii.09"}));
  EXPECT_EQ(few.read()[3], few.alone(3));
  Tin scattered;
  for (const auto* date : {"12.vii.1849", "3.v.1909", "14.vi.1910", "1.i.1932", "9.ix.1871"}) scattered.add(says({date}));
  scattered.add(says({"17.viii.09"}));
  EXPECT_EQ(scattered.read()[5], scattered.alone(5));
}

TEST(Tin, ItsNumericDatesSettleTheOrder) {
  Tin tin;
  for (const auto* date : {"13/8/1906", "27/4/1906", "30/1/1907"}) tin.add(says({date}));
  tin.add(says({"3/4/1906"}));
  const auto facts = tin.read();
  EXPECT_EQ(facts[3].date->value, "1906-04-03");
  EXPECT_TRUE(mentions(facts[3].date->reasons, "3 other dates of this tin are written with the day first"));
  tin.add(says({"4/27/1906"}));  // one against them: nothing is proved
  EXPECT_EQ(tin.read()[3], tin.alone(3));
}

TEST(Tin, RomanMonthsSettleTheOrderOfPointsAndNotOfSlashes) {
  Tin tin;
  for (const auto* date : {"13.viii.1906", "2.iv.1906", "30.i.1907"}) tin.add(says({date}));
  tin.add(says({"3.4.1906"})).add(says({"3/4/1906"}));
  const auto facts = tin.read();
  EXPECT_EQ(facts[3].date->value, "1906-04-03");
  EXPECT_EQ(facts[4], tin.alone(4));
  tin.add(says({"vii.12.1906"}));
  EXPECT_EQ(tin.read()[3], tin.alone(3));
}

TEST(Tin, ClearPlacesSettleAnOpenOne) {
  const Place labuan{"Labuan", "1", "MY", 5.28, 115.24, 9000}, kuching{"Kuching", "2", "MY", 1.55, 110.33, 9000},
      salzburg{"Salzburg", "3", "AT", 47.8, 13.04, 9000};
  Tin tin;
  for (const Place& place : {labuan, kuching, kuching}) tin.add(says({place.name}), place);
  Annotation open = says({"Kuchinq"});
  Tin::Open doubt{{kuching, 0.45}, {salzburg, 0.4}};
  tin.add(open, {}, doubt);
  const auto facts = tin.read();
  EXPECT_EQ(facts[3].place->value, kuching);
  EXPECT_TRUE(mentions(facts[3].place->reasons, "Kuching is clearly read on another envelope of this tin"));
  EXPECT_LT(facts[3].place->confidence, 0.85);
  tin.add(says({"Salzbunq"}), {}, {{salzburg, 0.45}});
  EXPECT_EQ(tin.read()[4], tin.alone(4)) << "nothing in the tin speaks for it";
}

TEST(Tin, ADoubtfulYearGivesWayAClearOneStays) {
  Tin tin;
  for (const auto* date : {"12.vii.1909", "3.v.1909", "14.vi.1910", "2.ii.1908", "30.xii.1909"}) tin.add(says({date}));
  tin.add(says({"12.vii.1809"}, 0.55));
  const auto facts = tin.read();
  EXPECT_EQ(facts[5].date->value, std::nullopt);
  ASSERT_FALSE(facts[5].date->alternatives.empty());
  EXPECT_EQ(facts[5].date->alternatives[0].first, "1809-07-12");
  EXPECT_TRUE(mentions(facts[5].date->reasons, "left open"));
  tin.add(says({"12.vii.1809"}));
  EXPECT_EQ(tin.read()[6], tin.alone(6));
}

TEST(Tin, DittoStandsForTheEnvelopeBefore) {
  const Place labuan{"Labuan", "1", "MY", 5.28, 115.24, 9000};
  Tin tin;
  tin.add(says({"Labuan", "leg. N. Example", "12.vii.1909"}), labuan);
  tin.add(says({"do. do. 14/8"}));
  tin.add(says({"idem"}));
  tin.add(says({"\" 3.ix.1909"}));
  tin.add(says({"Kuching 4.ix.1909"}));
  const auto facts = tin.read();
  EXPECT_EQ(facts[1].place->value, labuan);
  EXPECT_EQ(facts[1].collector->value, facts[0].collector->value);
  EXPECT_EQ(facts[1].date->value, "1909-08-14");
  EXPECT_EQ(facts[1].place->verbatim, "do.");
  EXPECT_TRUE(mentions(facts[1].place->reasons, "sheet 1, position 1"));
  EXPECT_LT(facts[1].place->confidence, 0.9);
  EXPECT_EQ(facts[2].place->value, labuan);
  EXPECT_EQ(facts[2].date->value, "1909-08-14");
  EXPECT_EQ(facts[3].place->value, labuan);
  EXPECT_EQ(facts[3].date->value, "1909-09-03");
  EXPECT_EQ(facts[4], tin.alone(4));
}

TEST(Tin, WordsThatOnlyLookLikeDittosAreNone) {
  const Place labuan{"Labuan", "1", "MY", 5.28, 115.24, 9000};
  Tin tin;
  tin.add(says({"Labuan"}), labuan);
  tin.add(says({"Rio do Ouro"}));
  tin.add(says({"17° 20' 5\" S"}));
  const auto facts = tin.read();
  EXPECT_EQ(facts[1], tin.alone(1));
  EXPECT_EQ(facts[2], tin.alone(2));
}

const Place kSarawak{"Sarawak", "7", "MY", 2.5, 113.5, 350'000};

Heading of_tin() {
  auto heading = heading_of("Sarawak 1909-11", "the heading of tin 07", nullptr, {});
  EXPECT_TRUE(heading);
  if (heading) heading->place = kSarawak;  // what a gazetteer would say
  return heading.value_or(Heading{});
}

TEST(TinHeading, HoldsTheYearsOfAShortSpan) {
  EXPECT_EQ(of_tin().years, (Years{1909, 1911}));
  EXPECT_EQ(heading_of("Borneo 1895-1904", "", nullptr, {})->years, (Years{1895, 1904}));
  EXPECT_EQ(heading_of("1909", "", nullptr, {})->years, (Years{1909, 1909}));
  EXPECT_EQ(heading_of("coll. H. Meyerling", "", nullptr, {})->collector, "H. Meyerling");
  EXPECT_FALSE(heading_of("", "", nullptr, {}));
  EXPECT_FALSE(heading_of("???", "", nullptr, {}));
}

TEST(TinHeading, FillsWhatAnEnvelopeLeavesOpenAndNothingElse) {
  const Place labuan{"Labuan", "1", "MY", 5.28, 115.24, 9000};
  Tin tin;
  tin.add(says({"Papilio"}));
  tin.add(says({"14/viii"}));
  tin.add(says({"17.viii.09"}));
  tin.add(says({"Labuan 3.ix.1923"}), labuan);
  const auto facts = tin.read({}, of_tin());
  EXPECT_EQ(facts[0].date->value, "[1909..1911]");
  EXPECT_EQ(facts[0].place->value, kSarawak);
  EXPECT_LT(facts[0].place->confidence, 0.85);
  EXPECT_TRUE(mentions(facts[0].place->reasons, "the heading of tin 07, \"Sarawak 1909-11\""));
  EXPECT_TRUE(mentions(facts[0].date->reasons, "1909 to 1911"));
  EXPECT_EQ(facts[1].date->value, "[1909-08-14,1910-08-14,1911-08-14]");
  EXPECT_EQ(facts[2].date->value, "1909?-08-17");  // the only year of the heading that ends so
  EXPECT_EQ(facts[3], tin.alone(3));               // clear, though it strays from the heading
}

TEST(TinHeading, SettlesBetweenReadingsThatAreDoubted) {
  Tin tin;
  Annotation doubtful = says({"3.ix.1969"}, 0.5);
  doubtful.lines[0].alternatives = {{"3.ix.1909", 0.45}};
  tin.add(doubtful);
  EXPECT_FALSE(tin.alone(0).date->value);
  EXPECT_NE(tin.read()[0].date->value, "1909-09-03");
  const auto facts = tin.read({}, of_tin());
  EXPECT_EQ(facts[0].date->value, "[1909..1911]");  // no more than the heading says: the reader was not sure of either
  EXPECT_EQ(facts[0].date->alternatives.at(0).first, "1969-09-03");
  // A doubtful reading of which nothing fits the heading: the envelope may have strayed into the tin.
  doubtful.lines[0].alternatives = {{"3.ix.1869", 0.3}};
  EXPECT_FALSE(Tin().add(doubtful).read({}, of_tin())[0].date->value);
}

TEST(TinHeading, MayStandOnASlipInTheTin) {
  Tin tin;
  tin.add(says({"12.ix.1909"}));
  tin.add(says({"1909-1911"}), kSarawak);
  tin.add(says({"14/viii"}));
  const auto facts = tin.read();
  EXPECT_EQ(facts[0].place->value, kSarawak) << "a lone slip holds for the whole tin";
  EXPECT_EQ(facts[1], tin.alone(1)) << "a heading does not follow itself";
  EXPECT_EQ(facts[2].date->value, "[1909-08-14,1910-08-14,1911-08-14]");
  EXPECT_TRUE(mentions(facts[2].place->reasons, "the heading on sheet 1, position 2"));

  const Place labuan{"Labuan", "1", "MY", 5.28, 115.24, 9000};
  tin.add(says({"all 1912"}), labuan);  // the second slip of the tin
  tin.add(says({"Papilio"}));
  const auto two = tin.read();
  EXPECT_EQ(two[0], tin.alone(0)) << "of two slips, each holds for what follows it";
  EXPECT_EQ(two[2].place->value, kSarawak);
  EXPECT_EQ(two[4].place->value, labuan);
  EXPECT_EQ(two[4].date->value, "1912");
}

TEST(TinHeading, IsNoEnvelopeOfOneSpecimen) {
  const Place labuan{"Labuan", "1", "MY", 5.28, 115.24, 9000};
  for (const auto* text :
       {"Labuan 1909-11", "Labuan 1909", "Papilio machaon 1909-1911", "No. 12 1909-1911", "Monti alle Nevi 1909"}) {
    Tin tin;
    tin.add(says({text}), labuan);
    tin.add(says({"Papilio"}));
    EXPECT_EQ(tin.read()[1], tin.alone(1)) << text;
  }
}

TEST(Tin, ClearYearsOfTheSheetSettleADoubtfulFigure) {
  Tin tin;
  for (const auto* date : {"12.vii.1909", "3.v.1909", "14.vi.1910", "2.ii.1908", "30.xii.1909"}) tin.add(says({date}));
  Annotation doubtful = says({"3.ix.1969"}, 0.5);
  doubtful.lines[0].alternatives = {{"3.ix.1909", 0.45}};
  tin.add(doubtful);
  EXPECT_FALSE(tin.alone(5).date->value);
  const auto facts = tin.read();
  EXPECT_EQ(facts[5].date->value, "1909-09-03");
  EXPECT_TRUE(mentions(facts[5].date->reasons, "nearest to the 5 clear dates of the sheet"));
}

TEST(LikeAnnotations, AreGroupedWhateverTheirDayOrAMisreadLetter) {
  const std::vector<std::string> texts{"Labuan 12.vii.1909 leg. Waterman", "Kuching, Sarawak", "Labuan 3.ix.1909 leg. Waterman",
                                       "Labuan 3.ix.1909 leg. Watennan",   "Mt. Penrissen",    "Kuching Sarawak 1910"};
  const auto groups = like_annotations(texts);
  ASSERT_EQ(groups.size(), 2U);
  EXPECT_EQ(groups[0], (std::vector<std::size_t>{0, 2, 3}));
  EXPECT_EQ(groups[1], (std::vector<std::size_t>{1, 5}));
}

TEST(LikeAnnotations, EmptyTextsAreLikeNothing) {
  const std::vector<std::string> texts{"", "", "."};
  EXPECT_TRUE(like_annotations(texts).empty());
}

}  // namespace
}  // namespace papillote::interpretation
