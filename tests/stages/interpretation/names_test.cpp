#include <gtest/gtest.h>

#include "stages/interpretation/months.h"
#include "stages/interpretation/numbers.h"
#include "stages/interpretation/people.h"
#include "stages/interpretation/taxa.h"
#include "stages/interpretation/words.h"
#include "tests/stages/interpretation/noise.h"

namespace papillote::interpretation {
namespace {

TEST(Words, FoldAccentsAndKeepBytes) {
  EXPECT_EQ(fold("Décembre"), "decembre");
  EXPECT_EQ(fold("Fuß"), "fuss");
  EXPECT_EQ(fold("MÄRZ"), "marz");
  const std::string_view text = "12\xff.Août";
  const auto words = cut_words(text);
  ASSERT_EQ(words.size(), 4U);
  EXPECT_EQ(words[3].folded, "aout");
  EXPECT_EQ(text.substr(words[3].begin, words[3].end - words[3].begin), "Août");
}

TEST(Words, AreNeverEmpty) {
  // A combining accent alone has no letter to fold.
  for (const auto& word : cut_words("33 \u0301 5 \u0345\u0301")) EXPECT_FALSE(word.folded.empty());
}

TEST(Months, ComeInManyLanguages) {
  struct Case {
    std::string_view name;
    int month;
  };
  // Names of the CLDR; the short forms below are common practice.
  constexpr Case kCases[] = {{"january", 1},   {"fevrier", 2},   {"marz", 3},   {"abril", 4},     {"maggio", 5},
                             {"juni", 6},      {"juillet", 7},   {"agosto", 8}, {"settembre", 9}, {"oktober", 10},
                             {"novembro", 11}, {"desember", 12}, {"sept", 9},   {"febr", 2},      {"juil", 7},
                             {"xbre", 12},     {"octbr", 10},    {"augusti", 8}};
  for (const auto& [name, month] : kCases) EXPECT_EQ(month_named(name), month) << name;
  // A beginning that two months share says nothing.
  EXPECT_FALSE(month_named("jui"));
  EXPECT_FALSE(month_named("ma"));
  EXPECT_FALSE(month_named("labuan"));
}

TEST(Months, RomanNumeralsAreThoseOfLabelGuides) {
  // Purdue Extension 4-H 401, "Labeling specimens".
  constexpr std::string_view kRoman[] = {"i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x", "xi", "xii"};
  for (int i = 0; i < 12; ++i) EXPECT_EQ(roman_numeral(kRoman[i]), i + 1);
  EXPECT_EQ(roman_numeral("xiii"), 13);
  EXPECT_FALSE(roman_numeral("vx"));
}

struct Person {
  std::string_view text;
  Role role;
  std::string_view name;
};

TEST(People, StandBesideTheWordOfTheirRole) {
  constexpr Person kCases[] = {
      {"Labuan 12.vii.09 leg. H. Fruhling", Role::collector, "H. Fruhling"},
      {"Kuching, Sarawak. J. Hewing coll.", Role::collector, "J. Hewing"},
      {"C. Ribner leg. Celebes", Role::collector, "C. Ribner"},
      {"leg. Smythe VII.1909", Role::collector, "Smythe"},
      {"collected by Otto Hansen and P. Olsen, 3 Jan 1907", Role::collector, "Otto Hansen and P. Olsen"},
      {"Leg. et det. K. Müllner, Wien", Role::collector, "K. Müllner"},
      {"det. A. B. Smythe 1955", Role::determiner, "A. B. Smythe"},
      {"ded. Mrs. E. Jonas", Role::donor, "Mrs. E. Jonas"},
      {"ex coll. van der Meeren", Role::previous_collection, "van der Meeren"}};
  for (const auto& [text, role, name] : kCases) {
    const auto people = read_people(text);
    ASSERT_EQ(people.size(), 1U) << text;
    EXPECT_EQ(people[0].role, role) << text;
    EXPECT_EQ(people[0].name, name) << text;
    EXPECT_EQ(people[0].verbatim, text.substr(people[0].begin, people[0].end - people[0].begin));
  }
  EXPECT_TRUE(read_people("Labuan 12.vii.09").empty());
  EXPECT_TRUE(read_people("Col de Balme, 2200 m").empty()) << "a mountain pass between Switzerland and France (from memory)";
  EXPECT_EQ(read_people("Col d'Allos\ncoll. P. Lindner").at(0).name, "P. Lindner");
  EXPECT_EQ(read_people("Col Lindner").at(0).name, "Lindner");
  const auto doubtful = read_people("Coll. Meyerling");
  ASSERT_EQ(doubtful.size(), 1U);
  EXPECT_LT(doubtful[0].confidence, 0.7) << "a collector or a collection";
}

TEST(Taxa, AreKnownByTheirForm) {
  EXPECT_EQ(read_taxon("Papilio machaon L. ♂").name, "Papilio machaon");
  EXPECT_EQ(read_taxon("Papilio machaon L. ♂").author, "L.");
  EXPECT_EQ(read_taxon("Danaus plexippus ssp. megalippe (Hübner, 1826)").name, "Danaus plexippus megalippe");
  EXPECT_EQ(read_taxon("Delias cf. hyparete").name, "Delias cf. hyparete");
  EXPECT_EQ(read_taxon("Delias sp. ♀").name, "Delias sp.");
  EXPECT_EQ(read_taxon("Delias ? hyparete").qualifier, "?");
  for (const std::string_view text : {"Mount Kina Balu near river", "San Vito de las Cruces", "Labuan 12.vii.09", ""})
    EXPECT_FALSE(read_taxon(text).name) << text;
}

TEST(Sexes, AreCounted) {
  EXPECT_EQ(read_sex("♂").sexes, "male");
  EXPECT_EQ(read_sex("2♂ 1♀").sexes, "2 males, 1 female");
  EXPECT_EQ(read_sex("♂♀").sexes, "1 male, 1 female");
  EXPECT_EQ(read_sex("♂♂").males, 2);
  EXPECT_EQ(read_sex("2 males, 3 females").sexes, "2 males, 3 females");
  EXPECT_EQ(read_sex("Mâle").sexes, "male");
  EXPECT_EQ(read_sex("12.vii.1909 ♀").females, 1) << "a year is no count";
  EXPECT_FALSE(read_sex("Malaise trap").sexes);
}

TEST(Types, AreTheWordsOfTheLiterature) {
  EXPECT_EQ(read_type_status("Holotypus ♂").status, "holotype");
  EXPECT_EQ(read_type_status("PARALECTOTYPE").status, "paralectotype");
  EXPECT_EQ(read_type_status("Co-Type").status, "cotype");
  EXPECT_EQ(read_type_status("Type").status, "type");
  EXPECT_FALSE(read_type_status("type locality Kina Balu").status);
  EXPECT_FALSE(read_type_status("typical form").status);
}

TEST(Numbers, AreAnnouncedOrOfTheFormOfACode) {
  EXPECT_EQ(read_number("No. 123 Mt. Kenya 4000 ft.").number, "123");
  EXPECT_EQ(read_number("Acc. 1911-23").kind, NumberReading::Kind::accession);
  EXPECT_EQ(read_number("Field no. 7").kind, NumberReading::Kind::collector);
  EXPECT_EQ(read_number("creek 600m V94-13 s.s.").number, "V94-13");
  EXPECT_FALSE(read_number("Labuan 12.vii.1909").number);
  EXPECT_FALSE(read_number("600 m").number);
}

TEST(Names, SurviveAnyBytes) {
  std::mt19937 random(1758);
  for (int i = 0; i < 20000; ++i) {
    const std::string text = i % 2 ? random_bytes(random, 80) : random_annotation(random, 30);
    const auto holds = [&](const auto& reading) {
      return reading.begin <= reading.end && reading.end <= text.size() &&
             reading.verbatim == text.substr(reading.begin, reading.end - reading.begin);
    };
    for (const auto& person : read_people(text)) EXPECT_TRUE(holds(person));
    EXPECT_TRUE(holds(read_taxon(text)));
    EXPECT_TRUE(holds(read_sex(text)));
    EXPECT_TRUE(holds(read_type_status(text)));
    EXPECT_TRUE(holds(read_number(text)));
  }
}

}  // namespace
}  // namespace papillote::interpretation
