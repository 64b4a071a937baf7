// Labels that stay with specimens: size, order and text on the printed page, codes read back from it at the printer's
// resolution.
#include "pipeline/bench/specimen_labels.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "pipeline/bench/scan.h"
#include "pipeline/record/check_character.h"
#include "printed.h"

namespace papillote::bench {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::UnorderedElementsAreArray;

constexpr int kDpi = 300;
const std::string kMade = "2026-11-25T08:30:00Z";

LabelText text(int number) {
  LabelText label;
  label.catalogue_number = fmt::format("PAP{:06}", number);
  label.catalogue_number += check_character(label.catalogue_number).value();
  label.id = "K3V7Q2M9X1A";
  label.country = "SWITZERLAND";
  label.locality = "Zermatt";
  label.coordinates = "46.0207°N 7.7491°E ±500 m";
  label.elevation = "1600–1700 m";
  label.date = "14.vii.1932";
  label.collector = "A. Example";
  label.taxon = "Parnassius apollo";
  label.verbatim = "Zermatt 14.7.32\nleg. A. Example";
  label.tin = "7";
  label.sheet = "3";
  return label;
}

// Where the marks lie that tell a cutter where the pieces end, in mm: dark columns within `band` of rows, in mm.
std::vector<double> marks(const cv::Mat& page, cv::Range rows, int dpi) {
  cv::Mat grey;
  cv::cvtColor(page, grey, cv::COLOR_BGR2GRAY);
  std::vector<double> at;
  int begin = -1;
  for (int x = 0; x <= grey.cols; ++x) {
    const bool dark = x < grey.cols && cv::mean(grey(rows, cv::Range(x, x + 1)))[0] < 200;
    if (dark && begin < 0) begin = x;
    if (!dark && begin >= 0) {
      at.push_back((begin + x) / 2.0 * 25.4 / dpi);
      begin = -1;
    }
  }
  return at;
}

TEST(PinLabels, AreOfTheSizeThatIsStatedAndNoLarger) {
  const auto sheets = pin_labels({text(1), text(2)}, kMade);
  ASSERT_TRUE(sheets.ok());
  constexpr int kFine = 600;
  const cv::Mat page = printed::page(sheets->pdf, 1, kFine);
  const auto px = [](double mm) { return static_cast<int>(mm * kFine / 25.4); };
  const double top = (297 - 12 - 31 * 8.0) / 2;
  const std::vector<double> columns = marks(page, cv::Range(px(top - 3), px(top - 1.5)), kFine);
  ASSERT_EQ(columns.size(), 9U);
  // source: Purdue 4-H guide: no larger than 7/8 x 5/16 in, that is 22.2 x 7.9 mm; 8 mm is that to the tenth of an inch.
  for (std::size_t k = 1; k < columns.size(); ++k) EXPECT_NEAR(columns[k] - columns[k - 1], 22.0, 0.1);
  cv::Mat turned;
  cv::rotate(page.rowRange(0, px(top + 31 * 8.0 + 1)), turned, cv::ROTATE_90_COUNTERCLOCKWISE);  // the left edge lies below
  const double left = (210 - 8 * 22.0) / 2;
  const std::vector<double> rows = marks(turned, cv::Range(turned.rows - px(left - 1.5), turned.rows - px(left - 3)), kFine);
  ASSERT_EQ(rows.size(), 32U);
  for (std::size_t k = 1; k < rows.size(); ++k) EXPECT_NEAR(rows[k] - rows[k - 1], 8.0, 0.1);
}

TEST(PinLabels, GiveTheirCodesBack) {
  std::vector<LabelText> texts;
  std::vector<std::string> expected;
  for (int number = 1; number <= 40; ++number) {
    texts.push_back(text(number));
    expected.push_back(texts.back().catalogue_number);
  }
  texts.push_back(text(41));
  texts.back().catalogue_number.clear();  // never had a slip: the identity stands in the code
  expected.push_back(texts.back().id);
  const auto sheets = pin_labels(texts, kMade);
  ASSERT_TRUE(sheets.ok());
  EXPECT_TRUE(sheets->unfit.empty());
  EXPECT_THAT(printed::codes(printed::page(sheets->pdf, 1, kDpi), kDpi, ZXing::BarcodeFormat::DataMatrix),
              UnorderedElementsAreArray(expected));
}

TEST(PinLabels, SayThingsInTheTradesOrder) {
  const auto sheets = pin_labels({text(1)}, kMade);
  ASSERT_TRUE(sheets.ok());
  const std::string words = printed::words(sheets->pdf);
  std::size_t before = 0;
  // source: Mississippi Entomological Museum report 2016-01 and MSB guide; place of coordinates common practice
  for (const char* part : {"SWITZERLAND", "Zermatt", "46.0207", "1600", "14.vii.1932", "leg. A. Example"}) {
    const std::size_t at = words.find(part);
    ASSERT_NE(at, std::string::npos) << part;
    EXPECT_GE(at, before) << part;
    before = at;
  }
}

TEST(PinLabels, WrapShrinkAndDivideByRuleOrSayThatTheyCannot) {
  LabelText long_place = text(1);
  long_place.locality =
      "slopes above the village of Saint-Luc on the path to the Hotel Weisshorn, Val d'Anniviers, canton of Valais";
  LabelText very_long = text(2);
  very_long.locality = long_place.locality;
  very_long.collector = "A. Example, B. Example and the Reverend D. Example, Alpine Expedition";
  LabelText hopeless = text(3);
  hopeless.locality = std::string(60, 'W');
  LabelText empty;
  empty.id = "00000000001";
  const auto sheets = pin_labels({long_place, very_long, hopeless, empty}, kMade);
  ASSERT_TRUE(sheets.ok());
  ASSERT_EQ(sheets->unfit.size(), 2U);
  EXPECT_EQ(sheets->unfit[0].first, hopeless.id);
  EXPECT_THAT(sheets->unfit[0].second, HasSubstr("do not fit"));
  EXPECT_EQ(sheets->unfit[1].first, empty.id);
  const std::string words = printed::words(sheets->pdf);
  EXPECT_THAT(words, HasSubstr("Weisshorn"));
  EXPECT_THAT(words, HasSubstr("Alpine"));
  EXPECT_THAT(words, Not(HasSubstr("…")));  // nothing is cut short
  EXPECT_EQ(pin_labels({}, kMade).failure().kind, "nothing_to_print");
  EXPECT_TRUE(pin_labels({empty}, kMade)->pdf.empty());
}

TEST(PinLabels, ShowHostileTextAsText) {
  LabelText hostile = text(1);
  hostile.locality = "<b>x</b> \xE2\x80\xAEy";
  hostile.collector = "=1+1";
  const auto sheets = pin_labels({hostile}, kMade);
  ASSERT_TRUE(sheets.ok());
  const std::string words = printed::words(sheets->pdf);
  EXPECT_THAT(words, HasSubstr("<b>x</b>"));
  EXPECT_THAT(words, HasSubstr("<U+202E>"));
  EXPECT_THAT(words, HasSubstr("=1+1"));
}

TEST(EnvelopeLabels, KeepTheOldAnnotationAndGiveTheirCodesBack) {
  std::vector<LabelText> texts;
  std::vector<std::string> expected;
  for (int number = 1; number <= 24; ++number) {
    texts.push_back(text(number));
    expected.push_back(texts.back().catalogue_number);
  }
  texts[3].locality = texts[3].date = texts[3].country = texts[3].coordinates = texts[3].elevation = texts[3].collector = "";
  LabelText hopeless = text(25);
  hopeless.verbatim.assign(4000, 'x');
  texts.push_back(hopeless);
  const auto sheets = envelope_labels(texts, kMade);
  ASSERT_TRUE(sheets.ok());
  EXPECT_EQ(sheets->unfit.size(), 1U);
  EXPECT_EQ(printed::pages(sheets->pdf), 1U);
  EXPECT_THAT(printed::codes(printed::page(sheets->pdf, 1, kDpi), kDpi, ZXing::BarcodeFormat::DataMatrix),
              UnorderedElementsAreArray(expected));
  EXPECT_THAT(printed::words(sheets->pdf), HasSubstr("\"Zermatt 14.7.32 leg. A. Example\""));
}

TEST(TrayLabels, AreScannedAsPlaces) {
  std::vector<TrayLabel> labels;
  std::vector<std::string> expected;
  for (int tray = 1; tray <= 9; ++tray) {
    labels.push_back({fmt::format("drawer 12, tray {}", tray), "Parnassius"});
    expected.push_back(place_code(labels.back().place));
  }
  const auto pdf = tray_labels_pdf(labels, kMade);
  ASSERT_TRUE(pdf.ok());
  EXPECT_THAT(printed::codes(printed::page(*pdf, 1, kDpi), kDpi, ZXing::BarcodeFormat::QRCode),
              UnorderedElementsAreArray(expected));
  EXPECT_THAT(printed::words(*pdf), HasSubstr("Parnassius"));
  EXPECT_EQ(tray_labels_pdf({}, kMade).failure().kind, "nothing_to_print");
  EXPECT_EQ(tray_labels_pdf({{std::string(150, 'x'), ""}}, kMade).failure().kind, "not_encodable");
  EXPECT_EQ(tray_labels_pdf({{"a\nb", ""}}, kMade).failure().kind, "unclear_words");
}

TEST(LabelText, SaysWhatNobodySettledInBrackets) {
  IndexRecord record;
  record.id = "K3V7Q2M9X1A";
  Interpretation& facts = record.interpretation;
  facts.place.emplace();
  facts.place->value = Place{"Simla", "", "IN", 31.1, 77.17, 5000};
  facts.place->confidence = 0.9;
  facts.date.emplace();
  facts.date->verbatim = "14.7.32";
  facts.collector.emplace();
  facts.collector->value = "A. Example";
  facts.collector->confidence = 1;
  facts.collector->reasons = {"settled by me, 2026-01-01T10:00:00Z"};
  facts.elevation.emplace();
  facts.elevation->value = ElevationRange{2200, 2200};
  facts.elevation->confidence = 0.4;
  const LabelText label = label_text(record, {"7", "3", "front", {}});
  EXPECT_EQ(label.country, "[INDIA]");
  EXPECT_EQ(label.locality, "[Simla]");
  EXPECT_EQ(label.coordinates, "[31.10°N 77.17°E ±5 km]");
  EXPECT_EQ(label.elevation, "[2200 m?]");
  EXPECT_EQ(label.date, "\"14.7.32\"");  // left open: as written
  EXPECT_EQ(label.collector, "A. Example");
  EXPECT_EQ(label.code(), record.id);
}

TEST(LabelText, WritesDatesAsTheTradeDoes) {
  // source: Purdue 4-H guide: month in Roman figures or written, year in full
  EXPECT_EQ(collecting_date("1932-07-14"), "14.vii.1932");
  EXPECT_EQ(collecting_date("1932-07"), "vii.1932");
  EXPECT_EQ(collecting_date("1932-07-XX"), "vii.1932");
  EXPECT_EQ(collecting_date("1932"), "1932");
  EXPECT_EQ(collecting_date("1932-07-14/1932-08-02"), "14.vii.1932–2.viii.1932");
  for (const char* other : {"", "193X", "1932-21", "1932-07-14?", "../1932", "1932-13-01"})
    EXPECT_EQ(collecting_date(other), "") << other;
}

}  // namespace
}  // namespace papillote::bench
