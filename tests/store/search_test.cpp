// Search: every filter alone and together, misread words, decisions before claims.
#include "pipeline/store/search.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "pipeline/store/decisions.h"
#include "tests/store/collection.h"

namespace papillote::store {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;
using ::testing::UnorderedElementsAre;

Claim<std::string> claim(const std::string& value) {
  Claim<std::string> c;
  c.verbatim = value;
  c.value = value;
  c.confidence = 0.8;
  return c;
}

Claim<Place> place(const std::string& name, const std::string& country, double lat, double lon) {
  Claim<Place> c;
  c.verbatim = name;
  c.value = Place{name, "", country, lat, lon, 5000};
  c.confidence = 0.8;
  return c;
}

class Search : public ::testing::Test {
 protected:
  Search() {
    std::vector<IndexRecord> front;
    front.push_back(envelope(0, box(0, 0, 400, 300), "Simla\n8000 ft", "ENT 1"));
    front[0].interpretation.place = place("Shimla", "IN", 31.1, 77.17);
    front[0].interpretation.taxon = claim("Vanessa cardui");
    front[0].triage = {"stabilise", 0.7, {}};
    front[0].condition.findings = {{"tear", 3, 0.9, {}, {}, ""}, {"tear", 1, 0.9, {}, {}, ""}, {"foxing", 1, 0.5, {}, {}, ""}};
    front.push_back(envelope(1, box(500, 0, 400, 300), "Sirnla 1899"));  // m read as r n
    front[1].interpretation.date = claim("1899");
    front.push_back(envelope(2, box(1000, 0, 400, 300), "Zermatt, Görnergrat 14.vii.1897"));
    front[2].interpretation.place = place("Gornergrat", "CH", 45.98, 7.78);
    front[2].interpretation.date = claim("1897-07-14");
    front[2].interpretation.collector = claim("J. Doe");
    front[2].triage = {"routine", 0.1, {}};
    front[2].annotation.lines[0].confidence = 0.3;
    front[2].annotation.lines[0].alternatives = {{"Zermall, Gornergrat", 0.2}};
    keep(store_, {photograph("front.jpg", std::move(front), "10", "1"),
                  {std::nullopt, DayRange{-25932, -25568}, DayRange{-26469, -26469}},
                  {}});

    std::vector<IndexRecord> back;
    back.push_back(envelope(0, box(0, 0, 400, 300), "coll. Roe 12.5.1901", "ENT 1"));
    back[0].interpretation.date = claim("1901-05-12");
    keep(store_, {photograph("back.jpg", std::move(back), "10", "1", "back"), {DayRange{-25071, -25071}}, {}});

    std::vector<IndexRecord> other;
    other.push_back(envelope(0, box(0, 0, 400, 300), "Москва 1905"));
    other.push_back(envelope(1, box(500, 0, 400, 300), "Suva"));
    other[1].interpretation.place = place("Suva", "FJ", -18.14, 178.44);
    other.push_back(envelope(2, box(1000, 0, 400, 300), "Taveuni"));
    other[2].interpretation.place = place("Taveuni", "FJ", -16.85, -179.97);
    keep(store_, {photograph("other.jpg", std::move(other), "9", "2"), {}, {}});
  }

  // First line of the text of what is found, in order.
  std::vector<std::string> found(const Question& question) {
    std::vector<std::string> lines;
    for (const Hit& hit : search(store_, question).hits) lines.push_back(hit.text.substr(0, hit.text.find_first_of(" \n,")));
    EXPECT_EQ(count(store_, question), static_cast<int>(lines.size()));
    return lines;
  }
  std::vector<std::string> by_words(const std::string& words, bool near_misses = true) {
    Question question;
    question.words = words;
    question.near_misses = near_misses;
    return found(question);
  }

  TemporaryFolder folder_;
  Store store_ = opened(folder_.path());
};

TEST_F(Search, FindsWordsWithoutRegardToCaseAccentsAndScript) {
  EXPECT_THAT(by_words("zermatt", false), ElementsAre("Zermatt"));
  EXPECT_THAT(by_words("GORNERGRAT", false), ElementsAre("Zermatt"));
  EXPECT_THAT(by_words("görnergrat", false), ElementsAre("Zermatt"));
  EXPECT_THAT(by_words("moskva", false), ElementsAre("Москва"));
  EXPECT_THAT(by_words("москва", false), ElementsAre("Москва"));
  EXPECT_THAT(by_words("zer*", false), ElementsAre("Zermatt"));
  EXPECT_THAT(by_words("zer", false), IsEmpty());
  EXPECT_THAT(by_words("zermatt 1897", false), ElementsAre("Zermatt"));
  EXPECT_THAT(by_words("zermatt 1899", false), IsEmpty());
  EXPECT_THAT(by_words("\"); DROP TABLE entry; --", false), IsEmpty());
  EXPECT_THAT(by_words("AND OR NOT * \" ' ( ) : ^", false), IsEmpty());
}

TEST_F(Search, FindsAMisreadWordAfterTheExactOnes) {
  EXPECT_THAT(by_words("Simla"), ElementsAre("Simla", "Sirnla"));
  Question question;
  question.words = "Simla";
  const Answer answer = search(store_, question);
  EXPECT_TRUE(answer.hits[0].exact);
  EXPECT_FALSE(answer.hits[1].exact);
  EXPECT_THAT(by_words("Simla", false), ElementsAre("Simla"));
  EXPECT_THAT(by_words("Zermall"), ElementsAre("Zermatt"));
}

TEST_F(Search, FindsByOtherReadings) { EXPECT_THAT(by_words("zermall"), ElementsAre("Zermatt")); }

TEST_F(Search, SeesFrontAndBackAsOneEnvelope) {
  EXPECT_THAT(by_words("simla 1901", false), ElementsAre("Simla")) << "a word of the front and a word of the back";
  Question question;
  question.words = "roe";
  question.near_misses = false;
  const Hit hit = search(store_, question).hits.at(0);
  EXPECT_EQ(hit.catalogue_number, "ENT 1");
  EXPECT_EQ(hit.date, "1901-05-12");
  EXPECT_EQ(hit.place, "Shimla");
  EXPECT_EQ(hit.tin, "10");
  EXPECT_EQ(hit.sheet, "1");
  EXPECT_EQ(hit.position, 1);
  EXPECT_THAT(hit.findings, UnorderedElementsAre("tear", "foxing"));
}

TEST_F(Search, FindsWhatStandsBetweenSigns) {
  keep(store_, photograph("signs.jpg", {envelope(0, box(0, 0, 400, 300), "31\u00b06'N, 77\u00b010'E \u2642\u2640 \u2116 1489")},
                          "10", "3"));
  const std::string id = ids_on(store_, "signs.jpg")[0];
  for (const char* words : {"31\u00b06'N", "31\u00b06'N 77\u00b010'E", "77 10", "\u2642 1489", "31\xb0 6"}) {
    Question question;
    question.words = words;
    question.near_misses = false;
    const auto hits = search(store_, question).hits;
    ASSERT_EQ(hits.size(), 1U) << words;
    EXPECT_EQ(hits[0].id, id);
    EXPECT_TRUE(hits[0].exact) << words;
  }
}

// Against the tokenizer of SQLite itself: a word that it cuts would be refused as a phrase.
TEST_F(Search, CutsWordsWhereTheIndexCutsThem) {
  const auto utf8 = [](std::uint32_t c) {
    std::string s;
    if (c < 0x800)
      s = {static_cast<char>(0xC0 | (c >> 6)), static_cast<char>(0x80 | (c & 63))};
    else if (c < 0x10000)
      s = {static_cast<char>(0xE0 | (c >> 12)), static_cast<char>(0x80 | ((c >> 6) & 63)), static_cast<char>(0x80 | (c & 63))};
    else
      s = {static_cast<char>(0xF0 | (c >> 18)), static_cast<char>(0x80 | ((c >> 12) & 63)),
           static_cast<char>(0x80 | ((c >> 6) & 63)), static_cast<char>(0x80 | (c & 63))};
    return s;
  };
  Question question;
  question.near_misses = false;
  for (std::uint32_t first = 0x80; first < 0x1F800; first += 200) {
    question.words.clear();
    for (std::uint32_t c = first; c < first + 200; ++c)
      if (c < 0xD800 || c > 0xDFFF) question.words += "a" + utf8(c) + "b ";
    EXPECT_NO_THROW((void)search(store_, question)) << fmt::format("U+{:04X} and after", first);
  }
}

TEST_F(Search, FindsByIdAndNumber) {
  Question question;
  question.words = search(store_, Question{}).hits.at(0).id;
  question.near_misses = false;
  EXPECT_EQ(search(store_, question).hits.size(), 1U);
  EXPECT_THAT(by_words("ENT 1", false), ElementsAre("Simla"));
}

TEST_F(Search, FindsNearAPlaceToo) {
  Question question;
  question.near = Near{46.0, 7.7, 30};
  EXPECT_THAT(found(question), ElementsAre("Zermatt"));
  // Gornergrat (45.98 N 7.78 E) lies 6.6 km from 46.0 N 7.7 E: 2.22 km north-south, 6.18 km east-west.
  question.near->km = 6.5;
  EXPECT_THAT(found(question), IsEmpty());
  question.near->km = 6.7;
  EXPECT_THAT(found(question), ElementsAre("Zermatt"));
}

TEST_F(Search, FindsAcrossTheDateLineAndThePole) {
  Question question;
  question.near = Near{-17.5, 179.5, 250};
  EXPECT_THAT(found(question), UnorderedElementsAre("Suva", "Taveuni"));
  question.near = Near{89.9, 0, 20'100};
  EXPECT_EQ(found(question).size(), 4U);
}

TEST_F(Search, FindsPeriodsThatOverlap) {
  Question question;
  question.period = DayRange{-26469, -26469};  // 1897-07-14
  EXPECT_THAT(found(question), ElementsAre("Zermatt"));
  question.period = DayRange{-25800, -25800};  // within 1899
  EXPECT_THAT(found(question), ElementsAre("Sirnla"));
  question.period = DayRange{-26468, kNoLastDay};
  EXPECT_THAT(found(question), UnorderedElementsAre("Sirnla", "Simla"));
  question.period = DayRange{kNoFirstDay, kNoLastDay};
  EXPECT_EQ(found(question).size(), 3U) << "an envelope without a date is in no period";
  question.near = Near{31.1, 77.2, 50};
  EXPECT_THAT(found(question), ElementsAre("Simla"));
}

TEST_F(Search, FiltersByEverythingElse) {
  Question question;
  question.tin = "9";
  EXPECT_EQ(found(question).size(), 3U);
  question = {};
  question.taxon = "vanessa";
  EXPECT_THAT(found(question), ElementsAre("Simla"));
  question = {};
  question.finding = "tear";
  EXPECT_THAT(found(question), ElementsAre("Simla"));
  question.least_severity = 4;
  EXPECT_THAT(found(question), IsEmpty());
  question = {};
  question.level = "stabilise";
  EXPECT_THAT(found(question), ElementsAre("Simla"));
  question = {};
  question.place_open = true;
  EXPECT_THAT(found(question), UnorderedElementsAre("Sirnla", "Москва"));
  question = {};
  question.text_confidence_below = 0.5;
  EXPECT_THAT(found(question), ElementsAre("Zermatt"));
  question = {};
  question.place = "Shimla";
  EXPECT_THAT(found(question), ElementsAre("Simla"));
  question.place = "1901";
  EXPECT_THAT(found(question), IsEmpty()) << "a word of the text is no word of the place";
  question = {};
  question.words = "zermatt";
  question.tin = "10";
  question.near = Near{46.0, 7.7, 30};
  question.period = DayRange{-27000, -26000};
  question.level = "routine";
  EXPECT_THAT(found(question), ElementsAre("Zermatt"));
  question.tin = "9";
  EXPECT_THAT(found(question), IsEmpty());
}

TEST_F(Search, ShowsChosenOnesByShelfAndEachOnce) {
  const std::vector<std::string> ids = ids_on(store_, "front.jpg");
  const std::vector<Hit> hits = hits_of(store_, {ids[2], ids[0], "ZZZZZZZZZZZ", ids[2]});
  ASSERT_EQ(hits.size(), 2U);
  EXPECT_EQ(hits[0].id, ids[0]);
  EXPECT_EQ(hits[1].id, ids[2]);
  EXPECT_EQ(hits[1].collector, "J. Doe");
}

TEST_F(Search, Orders) {
  Question question;
  question.order = Order::shelf;
  EXPECT_THAT(found(question), ElementsAre("Москва", "Suva", "Taveuni", "Simla", "Sirnla", "Zermatt")) << "tin 9 before tin 10";
  question.order = Order::date;
  const auto dated = found(question);
  EXPECT_EQ(std::vector(dated.begin(), dated.begin() + 3), (std::vector<std::string>{"Zermatt", "Sirnla", "Simla"}));
  question.order = Order::priority;
  EXPECT_EQ(found(question).front(), "Simla");
  question.limit = 2;
  question.order = Order::shelf;
  EXPECT_TRUE(search(store_, question).more);
  question.skip = 4;
  const Answer last = search(store_, question);
  EXPECT_FALSE(last.more);
  EXPECT_EQ(last.hits.size(), 2U);
  EXPECT_EQ(last.hits[1].text.substr(0, 7), "Zermatt");
}

TEST_F(Search, TakesAPriorityAsAPersonSettledIt) {
  Question isolate, stabilise;
  isolate.level = "isolate";
  stabilise.level = "stabilise";
  const Hit before = search(store_, stabilise).hits.at(0);
  const auto settle = [&](const std::string& value) {
    decide(store_,
           {before.id, std::string(kPriorityTerm), value, "me", "2026-01-01T10:00:00Z", "moths seen in the tin", std::nullopt});
  };
  settle("\"isolate\"");
  EXPECT_THAT(found(isolate), ElementsAre("Simla"));
  EXPECT_THAT(found(stabilise), IsEmpty());
  const auto views = views_of(store_, before.id);
  const Triage settled = with_decisions(views.at(0).record, decisions_of(store_, before.id)).triage;
  EXPECT_NEAR(settled.score, views.at(0).record.triage.score + 0.25, 1e-9) << "the place within the level stays";
  EXPECT_EQ(settled.reasons.at(0), "settled by me, 2026-01-01T10:00:00Z: moths seen in the tin");
  settle("");
  EXPECT_THAT(found(stabilise), ElementsAre("Simla")) << "taken back: what the rules say";
}

TEST_F(Search, ShowsDecisionsBeforeClaims) {
  Question zermatt;
  zermatt.words = "zermatt";
  const std::string id = search(store_, zermatt).hits.at(0).id;
  decide(store_, {id, "date", "\"1879-07-14\"", "me", "2026-01-01T10:00:00Z", "", DayRange{-33044, -33044}});
  decide(store_, {id, "collector", "\"B. Example\"", "me", "2026-01-01T10:00:00Z", "", std::nullopt});
  decide(store_, {id, "place", "null", "me", "2026-01-01T10:00:00Z", "", std::nullopt});
  const Hit hit = search(store_, zermatt).hits.at(0);
  EXPECT_EQ(hit.date, "1879-07-14");
  EXPECT_EQ(hit.collector, "B. Example");
  EXPECT_FALSE(hit.lat_deg);
  EXPECT_THAT(hit.settled, UnorderedElementsAre("date", "collector", "place"));
  Question period;
  period.period = DayRange{-33044, -33044};
  EXPECT_THAT(found(period), ElementsAre("Zermatt"));
  period.period = DayRange{-26469, -26469};
  EXPECT_THAT(found(period), IsEmpty());
}

// Words spoiled as readers spoil them. The share still found is what the method promises: see traces_of.
TEST(NearMisses, FindEveryWordOneLetterOffAndMostLookAlikes) {
  const TemporaryFolder folder;
  Store store = opened(folder.path());
  // From a gazetteer's commonest names, from memory.
  const std::vector<std::string> names{"darjeeling", "simla",    "murree",   "rangoon",  "labuan",     "sarawak",   "kinabalu",
                                       "buitenzorg", "cameroon", "zermatt",  "chamonix", "engadin",    "trebizond", "samarkand",
                                       "kashgar",    "yunnan",   "hakodate", "yokohama", "petropolis", "iquitos",   "cuzco",
                                       "obidos",     "bahia",    "veracruz", "jalapa",   "oaxaca",     "nicaragua"};
  std::mt19937 random(5);
  const auto pick = [&](std::size_t n) { return std::uniform_int_distribution<std::size_t>(0, n - 1)(random); };
  std::vector<IndexRecord> records;
  struct Spoiled {
    std::string name, word;
    bool one_letter;
  };
  std::vector<Spoiled> spoiled;
  const std::vector<std::pair<std::string, std::string>> look_alikes{{"m", "rn"}, {"n", "u"}, {"u", "n"}, {"a", "o"},
                                                                     {"l", "i"},  {"e", "c"}, {"d", "cl"}};
  for (const std::string& name : names)
    for (int i = 0; i < 12; ++i) {
      std::string word = name;
      bool one_letter = true;
      switch (i % 4) {
        case 0:
          word[pick(word.size())] = static_cast<char>('a' + pick(26));
          break;
        case 1:
          word.erase(pick(word.size()), 1);
          break;
        case 2:
          word.insert(pick(word.size() + 1), 1, static_cast<char>('a' + pick(26)));
          break;
        default:
          one_letter = false;
          for (int twice = 0; twice < 2; ++twice) {
            const auto& [from, to] = look_alikes[pick(look_alikes.size())];
            if (const std::size_t at = word.find(from); at != std::string::npos) word.replace(at, from.size(), to);
          }
      }
      records.push_back(
          envelope(static_cast<int>(records.size()), box(static_cast<double>(records.size()) * 500, 0, 400, 300), word));
      spoiled.push_back({name, word, one_letter});
    }
  keep(store, photograph("all.jpg", std::move(records)));
  int alike = 0;
  int alike_found = 0;
  for (const Spoiled& s : spoiled) {
    const std::vector<std::string> near = near_words(store, s.name, 100);
    const bool is_found = std::find(near.begin(), near.end(), s.word) != near.end();
    if (s.one_letter) {
      EXPECT_TRUE(is_found) << s.name << " misread as " << s.word;
    } else {
      ++alike;
      alike_found += is_found ? 1 : 0;
    }
  }
  EXPECT_GE(alike_found, alike * 9 / 10) << "of " << alike;
}

}  // namespace
}  // namespace papillote::store
