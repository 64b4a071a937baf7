#include <algorithm>
#include <cmath>
#include <cstring>

#include <gtest/gtest.h>

#include "stages/reading/decode.h"
#include "stages/reading/grammar.h"
#include "stages/reading/language_model.h"
#include "stages/reading/lattice.h"

namespace papillote::reading {
namespace {

const std::u32string kCharacters = U" abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.,-/'é";

// A line in which each character is seen for two frames and a blank for one; `doubts` puts a share of a character's probability
// onto another one.
struct Doubt {
  std::size_t at;
  char32_t other;
  double share;
};

Lattice seen(std::u32string_view text, const std::vector<Doubt>& doubts = {}) {
  Lattice lattice;
  lattice.characters = std::make_shared<const std::u32string>(kCharacters);
  lattice.classes = static_cast<int>(kCharacters.size()) + 1;
  const auto frame = [&](const std::vector<std::pair<int, double>>& p) {
    std::vector<double> row(static_cast<std::size_t>(lattice.classes), 1e-5);
    for (const auto& [k, share] : p) row[static_cast<std::size_t>(k)] += share;
    for (const double value : row) lattice.log_p.push_back(static_cast<float>(std::log(value / 1.00066)));
    ++lattice.frames;
  };
  const auto class_of = [](char32_t c) { return static_cast<int>(kCharacters.find(c)) + 1; };
  frame({{0, 1.0}});
  for (std::size_t i = 0; i < text.size(); ++i) {
    std::vector<std::pair<int, double>> p{{class_of(text[i]), 1.0}};
    for (const Doubt& doubt : doubts)
      if (doubt.at == i) {
        p[0].second -= doubt.share;
        p.emplace_back(class_of(doubt.other), doubt.share);
      }
    frame(p);
    frame(p);
    frame({{0, 1.0}});
  }
  return lattice;
}

TEST(Utf, GoesBothWays) {
  const std::u32string text = U"aé♂\U0001F98B";
  EXPECT_EQ(utf32_of(utf8_of(text)), text);
  EXPECT_EQ(utf32_of("a\xC3"), U"a\uFFFD");
}

TEST(BestPath, MergesRepeatsAndDropsBlanks) {
  EXPECT_EQ(best_path(seen(U"Annecy 1902")).text, "Annecy 1902");
  EXPECT_EQ(best_path(seen(U"")).text, "");
}

TEST(Decode, GivesAlternativesAndDoubt) {
  const auto sure = decode(seen(U"Annecy"), nullptr);
  EXPECT_EQ(sure.text, "Annecy");
  const auto doubtful = decode(seen(U"Annecy", {{4, U'e', 0.45}}), nullptr);
  EXPECT_EQ(doubtful.text, "Annecy");
  const auto& others = doubtful.alternatives;
  EXPECT_TRUE(std::any_of(others.begin(), others.end(), [](const Alternative& a) { return a.text == "Anneey"; }));
  EXPECT_LT(doubtful.confidence, sure.confidence);
  ASSERT_EQ(doubtful.character_confidence.size(), 6U);
  EXPECT_LT(doubtful.character_confidence[4], doubtful.character_confidence[3]);
  EXPECT_EQ(decode(seen(U""), nullptr).text, "");
}

// Several paths of one text count together: here the text is likelier than the best path's.
TEST(Decode, AddsUpPaths) {
  Lattice lattice;
  lattice.characters = std::make_shared<const std::u32string>(U"ab");
  lattice.classes = 3;
  lattice.frames = 2;
  // Graves et al. 2006, figure of prefix search: blank 0.6, a 0.4 in both frames; "a" has 0.4*0.4 + 2*0.4*0.6 = 0.64.
  for (int t = 0; t < 2; ++t)
    for (const double p : {0.6, 0.4 - 1e-6, 1e-6}) lattice.log_p.push_back(static_cast<float>(std::log(p)));
  EXPECT_EQ(best_path(lattice).text, "");
  EXPECT_EQ(decode(lattice, nullptr).text, "a");
}

TEST(Place, FindsTheFramesOfEachCharacter) {
  const Lattice lattice = seen(U"aab");
  const auto placed = place(lattice, {2, 2, 3});
  ASSERT_EQ(placed.size(), 3U);
  EXPECT_EQ(placed[0].first_frame, 1);
  EXPECT_EQ(placed[0].last_frame, 2);
  EXPECT_EQ(placed[1].first_frame, 4);
  EXPECT_EQ(placed[2].last_frame, 8);
  EXPECT_GT(placed[2].confidence, 0.99);
}

// A file of order 2 over the classes 0 (edge), 1, 2, in the layout of the reader's card; units of 1/16.
std::string small_language() {
  std::string bytes = "PAPILM1\n";
  const auto put = [&](auto value) {
    char raw[sizeof value];
    std::memcpy(raw, &value, sizeof value);
    bytes.append(raw, sizeof value);
  };
  put(std::uint32_t{2});
  put(std::uint32_t{3});
  put(1.0F / 16);
  put(std::uint32_t{3});
  for (const auto& [k, p, w] : {std::tuple{0, 16, 64}, {1, 32, 64 + 8}, {2, 48, 64}})
    for (const int value : {k, p, w}) put(static_cast<std::uint8_t>(value));
  put(std::uint32_t{1});
  for (const int value : {1, 2, 4, 64}) put(static_cast<std::uint8_t>(value));  // P(2 | 1)
  return bytes;
}

TEST(LanguageModel, BacksOff) {
  const auto model = LanguageModel::read(small_language(), 3);
  ASSERT_TRUE(model.ok());
  auto context = model->start();
  EXPECT_NEAR(model->score(context, 1), -2.0, 1e-6);
  context = model->extended(context, 1);
  EXPECT_NEAR(model->score(context, 2), -0.25, 1e-6);        // the pair is known
  EXPECT_NEAR(model->score(context, 0), -0.5 - 1.0, 1e-6);   // weight of 1, then the single class
}

TEST(LanguageModel, IsRefusedWhenDamaged) {
  const std::string whole = small_language();
  EXPECT_EQ(LanguageModel::read(whole.substr(0, whole.size() - 1), 3).failure().kind, "model_altered");
  EXPECT_EQ(LanguageModel::read(whole + "x", 3).failure().kind, "model_altered");
  EXPECT_EQ(LanguageModel::read(whole, 4).failure().kind, "model_altered");
  EXPECT_EQ(LanguageModel::read("", 3).failure().kind, "model_altered");
}

TEST(Grammar, FindsADateAsItIsWritten) {
  const auto fits = best_under(seen(U"Digne, 12.vii.1904 leg"), date_grammar());
  ASSERT_FALSE(fits.empty());
  EXPECT_EQ(fits.front().text, "12.vii.1904");
  EXPECT_NEAR(fits.front().log_odds, 0, 0.01);
}

// "12.uii.19o4" is what the net reads; the only date near it is 12.vii.1904.
TEST(Grammar, PrefersWhatMakesSense) {
  const Lattice lattice = seen(U"Digne 12.uii.19o4", {{9, U'v', 0.3}, {15, U'0', 0.2}});
  EXPECT_EQ(decode(lattice, nullptr).text, "Digne 12.uii.19o4");
  const auto fits = best_under(lattice, date_grammar());
  ASSERT_FALSE(fits.empty());
  EXPECT_EQ(fits.front().text, "12.vii.1904");
  EXPECT_EQ(spliced(lattice, "Digne 12.uii.19o4", fits.front()), "Digne 12.vii.1904");
  EXPECT_NEAR(fits.front().log_odds, 2 * std::log(0.3 / 0.7) + 2 * std::log(0.2 / 0.8), 0.01);
}

TEST(Grammar, AllowsNoImpossibleDate) {
  for (const auto& fit : best_under(seen(U"41.xx.1904"), date_grammar(), 10)) EXPECT_NE(fit.text, "41.xx.1904");
  EXPECT_TRUE(best_under(seen(U"Papilio"), date_grammar()).empty());
  EXPECT_TRUE(best_under(seen(U""), date_grammar()).empty());
}

TEST(Grammar, KeepsToWordBoundaries) {
  EXPECT_TRUE(best_under(seen(U"N21904b"), date_grammar()).empty());
  EXPECT_EQ(best_under(seen(U"Mai 1904"), date_grammar()).front().text, "Mai 1904");
  EXPECT_EQ(best_under(seen(U"3/8/1921"), date_grammar()).front().text, "3/8/1921");
  EXPECT_EQ(best_under(seen(U"alt. 1200-1350 m"), elevation_grammar()).front().text, "1200-1350 m");
}

TEST(Grammar, ReadsAListOfPlaces) {
  const auto places = Grammar::words({U"Barcelonnette", U"Barcelona", U"Barrême", U"Digne"});
  const auto fits = best_under(seen(U"pres Barceloua 1904", {{12, U'n', 0.1}}), places);
  ASSERT_FALSE(fits.empty());
  EXPECT_EQ(fits.front().text, "Barcelona");
}

}  // namespace
}  // namespace papillote::reading
