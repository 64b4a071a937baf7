// Labels and slips are read back from the printed page.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "pipeline/bench/code.h"
#include "pipeline/bench/numbers.h"
#include "pipeline/bench/sheet_label.h"
#include "pipeline/bench/slips.h"
#include "pipeline/record/check_character.h"
#include "printed.h"

namespace papillote::bench {
namespace {

using ::testing::HasSubstr;
using ::testing::UnorderedElementsAreArray;

constexpr int kDpi = 254;  // ten pixels to the millimetre, as a copy stand gives
const std::string kMade = "2026-11-25T08:30:00Z";

TEST(SheetLabels, ReadBackAsTheyWereAsked) {
  std::vector<SheetLabel> labels;
  std::vector<std::string> expected;
  for (int sheet = 1; sheet <= 8; ++sheet)
    for (const bool back : {false, true}) {
      labels.push_back({"07", std::to_string(sheet), back, "1895–1904"});
      expected.push_back("tin=07;sheet=" + std::to_string(sheet) + (back ? ";side=back" : ""));
    }
  labels.push_back({"Kästchen Süd", "117a", true, ""});
  expected.push_back("tin=Kästchen Süd;sheet=117a;side=back");
  const auto pdf = sheet_labels_pdf(labels, kMade);
  ASSERT_TRUE(pdf.ok());
  EXPECT_THAT(printed::codes(printed::page(*pdf, 1, kDpi), kDpi, ZXing::BarcodeFormat::QRCode),
              UnorderedElementsAreArray(expected));
  const std::string words = printed::words(*pdf);
  EXPECT_THAT(words, HasSubstr("TIN 07 / sheet 3"));
  EXPECT_THAT(words, HasSubstr("1895–1904"));
  EXPECT_THAT(words, HasSubstr("BACK of the envelopes"));
}

TEST(SheetLabels, RefusesNamesThatWouldChangeTheCode) {
  for (const char* tin : {"", "7;sheet=9", "a=b", "a\nb"}) {
    const auto pdf = sheet_labels_pdf({{tin, "1", false, ""}}, kMade);
    ASSERT_FALSE(pdf.ok()) << tin;
    EXPECT_EQ(pdf.failure().kind, "not_a_name");
  }
  EXPECT_EQ(sheet_labels_pdf({}, kMade).failure().kind, "nothing_to_print");
  EXPECT_EQ(sheet_labels_pdf({{std::string(5000, 'x'), "1", false, ""}}, kMade).failure().kind, "not_encodable");
}

TEST(Slips, ReadBackAsTheyWereAsked) {
  const auto numbers = catalogue_numbers("PAP", 98, 100, 6);
  ASSERT_TRUE(numbers.ok());
  EXPECT_EQ(numbers->front(), "PAP000098" + std::string(1, check_character("PAP000098").value()));
  const auto pdf = slips_pdf(*numbers, kMade);
  ASSERT_TRUE(pdf.ok());
  EXPECT_EQ(printed::pages(*pdf), 1u);
  EXPECT_THAT(printed::codes(printed::page(*pdf, 1, kDpi), kDpi, ZXing::BarcodeFormat::DataMatrix),
              UnorderedElementsAreArray(*numbers));
  for (const std::string& number : *numbers) EXPECT_TRUE(is_checked(number));
}

TEST(Slips, ReadBackWhateverShapeTheCodeTakes) {
  std::vector<std::string> numbers;
  for (const char* prefix : {"A", "BOX", "MUSEUM", "MUSEUM-B", "LONG.PREFIX-"})
    for (const int digits : {4, 8}) numbers.push_back(catalogue_numbers(prefix, 7, 1, digits)->front());
  const auto pdf = slips_pdf(numbers, kMade);
  ASSERT_TRUE(pdf.ok());
  EXPECT_THAT(printed::codes(printed::page(*pdf, 1, kDpi), kDpi, ZXing::BarcodeFormat::DataMatrix),
              UnorderedElementsAreArray(numbers));
}

TEST(Slips, RefusesWhatCannotBePrinted) {
  EXPECT_EQ(catalogue_numbers("Ü", 1, 1, 6).failure().kind, "not_a_number");
  EXPECT_EQ(catalogue_numbers("A", 1, 0, 6).failure().kind, "nothing_to_print");
  EXPECT_EQ(catalogue_numbers("A", -1, 5, 6).failure().kind, "nothing_to_print");
  EXPECT_EQ(catalogue_numbers("A", 2147483647, 5, 6).failure().kind, "nothing_to_print");
  EXPECT_EQ(slips_pdf({}, kMade).failure().kind, "nothing_to_print");
  EXPECT_EQ(slips_pdf({std::string(120, 'A')}, kMade).failure().kind, "not_encodable");
}

TEST(DataMatrix, TakesTheSmallestSymbolThatHoldsTheDigits) {
  // source: Linx, Data Matrix coding manual, fig. 30 (ECC 200): digits a symbol holds. 8x18 and 12x12 hold ten each, 16x36 36
  // modules wide holds 64; a writer may choose either shape of one capacity, so the area is checked against the square's.
  struct Symbol {
    int side;
    int digits;
  };
  for (const Symbol& symbol :
       {Symbol{10, 6}, {12, 10}, {14, 16}, {16, 24}, {18, 36}, {20, 44}, {22, 60}, {24, 72}, {26, 88}, {32, 124}}) {
    const auto code = data_matrix(std::string(static_cast<std::size_t>(symbol.digits), '7'));
    ASSERT_TRUE(code.ok());
    EXPECT_LE(code->columns * code->rows, symbol.side * symbol.side + 48) << symbol.digits;
    const auto more = data_matrix(std::string(static_cast<std::size_t>(symbol.digits) + 2, '7'));
    EXPECT_GT(more->columns * more->rows, code->columns * code->rows) << symbol.digits;
  }
}

TEST(Numbers, ReadListsAndRanges) {
  EXPECT_EQ(numbers_in("1-3,7").value(), (std::vector<int>{1, 2, 3, 7}));
  EXPECT_EQ(numbers_in(" 5 , 2 - 4 ").value(), (std::vector<int>{5, 2, 3, 4}));
  for (const char* text : {"", ",", "1-", "-3", "3-1", "1,,2", "a", "1-2-3", "0-2147483647", "1-10001", "99999999999"})
    EXPECT_EQ(numbers_in(text).failure().kind, "not_numbers") << text;
}

}  // namespace
}  // namespace papillote::bench
