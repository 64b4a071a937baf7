#include "pipeline/record/check_character.h"

#include <gtest/gtest.h>

#include <random>
#include <string>
#include <utility>
#include <vector>

namespace papillote {
namespace {

TEST(CheckCharacter, AgreesWithPublishedStrings) {
  // source: test data of public ISO 7064 implementations (two or more agree), MOD 37-36
  const std::vector<std::pair<std::string, char>> published{{"A12425GABC1234002", 'M'},
                                                            {"B3739U6CR", 'K'},
                                                            {"RABD", 'A'},
                                                            {"X0H", 'X'},
                                                            {"9", 'J'},
                                                            {"OW", 'N'},
                                                            {"1M", 'Q'},
                                                            {"TBR", '1'},
                                                            {"WP8Z0", '9'}};
  for (const auto& [text, check] : published) {
    EXPECT_EQ(check_character(text), check) << text;
    EXPECT_TRUE(is_checked(text + check)) << text;
  }
}

TEST(CheckCharacter, SkipsSeparatorsAndRefusesTheRest) {
  EXPECT_EQ(check_character("wp8-z0"), '9');
  EXPECT_EQ(check_character("WP 8.Z/0"), '9');
  EXPECT_EQ(check_character("WP8*"), std::nullopt);
  EXPECT_EQ(check_character("Ä1"), std::nullopt);
  EXPECT_EQ(check_character(" - "), std::nullopt);
  EXPECT_FALSE(is_checked("9"));
  EXPECT_FALSE(is_checked(""));
}

TEST(CheckCharacter, CatchesEverySingleMistake) {
  const std::string alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
  std::mt19937 random(1);
  for (int trial = 0; trial < 50; ++trial) {
    std::string number;
    for (int k = 0; k < 9; ++k) number += alphabet[random() % 36];
    number += check_character(number).value();
    for (char& c : number) {
      const char right = c;
      for (const char wrong : alphabet) {
        c = wrong;
        EXPECT_EQ(is_checked(number), wrong == right) << number;
      }
      c = right;
    }
  }
}

}  // namespace
}  // namespace papillote
