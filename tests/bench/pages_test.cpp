// Pick lists, maps and reports: order, completeness, and texts that would like to be something else.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>
#include <random>
#include <set>

#include "pipeline/record/csv.h"
#include "pipeline/bench/found_map.h"
#include "pipeline/bench/layout_map.h"
#include "pipeline/bench/pick_list.h"
#include "pipeline/bench/save.h"
#include "pipeline/bench/tin_report.h"
#include "pipeline/bench/words.h"
#include "printed.h"

namespace papillote::bench {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

const PickHead kHead{"all of it", "A. Curator", "2026-11-25T08:30:00Z"};

PickEntry entry(const std::string& id, const std::string& tin, const std::string& sheet, Position position) {
  PickEntry made;
  made.id = id;
  made.tin = tin;
  made.sheet = sheet;
  made.side = "front";
  made.photo = "tin " + tin + " sheet " + sheet + ".jpg";
  made.position = position;
  made.text = "Samoëns 1932";
  return made;
}

std::vector<PickEntry> random_entries(std::mt19937& random, std::size_t count) {
  const std::vector<std::string> tins{"", "1", "2", "07", "7", "10", "A2", "A10"};
  std::vector<PickEntry> entries;
  for (std::size_t k = 0; k < count; ++k) {
    entries.push_back(entry("id" + std::to_string(k), tins[random() % tins.size()], std::to_string(random() % 12),
                            {1 + static_cast<int>(random() % 4), 1 + static_cast<int>(random() % 6)}));
    if (random() % 4 == 0) entries.back().side = "back";
  }
  return entries;
}

// How often one goes from one thing to another; the least possible is the number of things.
template <class Key>
std::size_t openings(const std::vector<PickEntry>& entries, Key key) {
  std::size_t count = 0;
  for (std::size_t k = 0; k < entries.size(); ++k)
    if (k == 0 || key(entries[k - 1]) != key(entries[k])) ++count;
  return count;
}

TEST(PickOrder, OpensEachTinAndEachSheetOnce) {
  std::mt19937 random(5);
  for (int trial = 0; trial < 200; ++trial) {
    std::vector<PickEntry> entries = random_entries(random, 1 + random() % 60);
    std::set<std::string> ids;
    for (const PickEntry& each : entries) ids.insert(each.id);
    sort_for_picking(entries);
    const auto tin = [](const PickEntry& e) { return e.tin; };
    const auto sheet = [](const PickEntry& e) { return std::tuple(e.tin, e.sheet, e.side, e.photo); };
    std::set<std::string> tins;
    std::set<std::tuple<std::string, std::string, std::string, std::string>> sheets;
    for (const PickEntry& each : entries) {
      tins.insert(tin(each));
      sheets.insert(sheet(each));
      ids.erase(each.id);
    }
    EXPECT_TRUE(ids.empty());
    EXPECT_EQ(openings(entries, tin), tins.size());
    EXPECT_EQ(openings(entries, sheet), sheets.size());
    for (std::size_t k = 1; k < entries.size(); ++k) {
      EXPECT_TRUE(sheet(entries[k - 1]) != sheet(entries[k]) || entries[k - 1].position <= entries[k].position);
      EXPECT_TRUE(!entries[k - 1].tin.empty() || entries[k].tin.empty());
    }
  }
}

TEST(PickOrder, CountsTinsByValue) {
  std::vector<PickEntry> entries{entry("a", "10", "1", {1, 1}), entry("b", "9", "10", {1, 1}), entry("c", "9", "9", {2, 1}),
                                 entry("d", "9", "9", {1, 2})};
  sort_for_picking(entries);
  std::string order;
  for (const PickEntry& each : entries) order += each.id;
  EXPECT_EQ(order, "dcba");
}

TEST(PickEntry, ShowsWhatIsSettledAndDoubtsTheRest) {
  store::Hit hit;
  hit.id = "id";
  hit.date = "1932-07-14";
  hit.place = "Samoëns";
  hit.country = "FR";
  hit.settled = {"date"};
  store::EnvelopeView seen;
  seen.calibration.sheet = Sheet{"07", "3", "back", {}};
  seen.photo.path = "a.jpg";
  seen.record.interpretation.date = Claim<std::string>{"14.7.32", "1832-07-14", 0.2, {}, {}, {}};
  seen.record.interpretation.place = Claim<Place>{"Samoens", Place{"Samoëns", "", "FR", 46, 6, 0}, 0.2, {}, {}, {}};
  const PickEntry made = pick_entry(hit, seen, {2, 3});
  EXPECT_EQ(made.tin + "/" + made.sheet + "/" + made.side + "/" + made.photo, "07/3/back/a.jpg");
  EXPECT_EQ(made.date, "1932-07-14");
  EXPECT_EQ(made.place, "Samoëns, FR (doubtful)");
  EXPECT_EQ(made.position, (Position{2, 3}));
}

TEST(PickList, SaysWhatIsNotInItsTin) {
  std::vector<PickEntry> entries{entry("a", "1", "1", {1, 1})};
  entries[0].out = "relaxing since 2026-11-20, box 2";
  const std::string words = printed::words(pick_list_pdf(entries, kHead));
  EXPECT_THAT(words, HasSubstr("Not in its tin: relaxing since"));
  EXPECT_THAT(words, HasSubstr("2026-11-20, box 2"));
  EXPECT_THAT(pick_list_csv(entries), HasSubstr("\"relaxing since 2026-11-20, box 2\""));
}

TEST(PickList, SaysWhereEachEnvelopeLiesAndWarns) {
  std::vector<PickEntry> entries{entry("first", "07", "3", {2, 3}), entry("second", "12", "1", {1, 1})};
  entries[0].catalogue_number = "PAP000123K";
  entries[0].triage = {"isolate", 0.9, {"exit holes"}};
  entries[0].findings = {{"hole", 3, 0.9, {}, 1.4, "round hole of 1.4 mm"}};
  entries[1].findings = {{"mould", 2, 0.8, {}, {}, ""}};
  const std::string words = printed::words(pick_list_pdf(entries, kHead));
  for (const char* expected : {"2 envelopes from 2 tins",
                               "Tin 07",
                               "Sheet 3",
                               "row 2",
                               "no. 3",
                               "PAP000123K",
                               "isolate now",
                               "round hole of 1.4 mm",
                               "Tin 12",
                               "taken",
                               "arsenic",
                               "mercury",
                               "naphthalene",
                               "paradichlorobenzene",
                               "nitrile gloves",
                               "mask",
                               "mould",
                               "Follow your institution",
                               "conservator",
                               "Signs of pests",
                               "Signs of mould",
                               "page 1 of 1"})
    EXPECT_THAT(words, HasSubstr(expected));
}

TEST(PickList, CodesBringTheNumberBack) {
  std::vector<PickEntry> entries{entry("01936033-7cc3-7a2b-98c4-dc0c0c073943", "1", "1", {1, 1}), entry("x", "1", "1", {1, 2})};
  entries[1].catalogue_number = "PAP000123K";
  const cv::Mat page = printed::page(pick_list_pdf(entries, kHead), 1, 300);
  EXPECT_EQ(printed::codes(page, 300, ZXing::BarcodeFormat::DataMatrix),
            (std::vector<std::string>{"01936033-7cc3-7a2b-98c4-dc0c0c073943", "PAP000123K"}));
}

TEST(PickList, EmbedsThumbnailsAsTheyAre) {
  std::vector<PickEntry> entries{entry("a", "1", "1", {1, 1})};
  entries[0].thumbnail = picture_of(cv::Mat(300, 500, CV_8UC3, cv::Scalar(40, 120, 200)), 420);
  EXPECT_EQ(entries[0].thumbnail.width_px, 420);
  EXPECT_EQ(entries[0].thumbnail.height_px, 252);
  const std::string pdf = pick_list_pdf(entries, kHead);
  const std::string jpeg(reinterpret_cast<const char*>(entries[0].thumbnail.jpeg.data()), entries[0].thumbnail.jpeg.size());
  EXPECT_THAT(pdf, HasSubstr(jpeg));
  const cv::Mat page = printed::page(pdf, 1, 100);
  const cv::Mat orange = cv::abs(page - cv::Scalar(40, 120, 200));
  cv::Mat near;
  cv::inRange(orange, cv::Scalar::all(0), cv::Scalar::all(6), near);
  EXPECT_GT(cv::countNonZero(near) / (100 / 25.4) / (100 / 25.4), 600);  // mm²: 35 x 21
}

TEST(PickList, IsWholeWhenEmpty) {
  EXPECT_THAT(printed::words(pick_list_pdf({}, kHead)), HasSubstr("Nothing in the collection answers this."));
  const std::string table = pick_list_csv({});
  EXPECT_EQ(std::count(table.begin(), table.end(), '\n'), 1);
}

// Nothing but the running lines may stand in the margins.
void expect_clean_margins(const cv::Mat& page, int dpi) {
  cv::Mat grey;
  cv::cvtColor(page, grey, cv::COLOR_BGR2GRAY);
  const int margin = static_cast<int>(12 * dpi / 25.4);
  for (const cv::Mat& strip :
       {grey.colRange(0, margin), grey.colRange(grey.cols - margin, grey.cols), grey.rowRange(0, margin / 2)}) {
    double darkest = 0;
    cv::minMaxLoc(strip, &darkest);
    EXPECT_GE(darkest, 250);
  }
}

const std::vector<std::string>& hostile_texts() {
  static const std::vector<std::string> texts{"<b>bold</b> &amp; <script>alert(1)</script>",
                                              "=HYPERLINK(\"http://example.org\")",
                                              "left \u202Ethgir\u202C and \u2066isolated\u2069",
                                              "الإسكندرية ١٩٠٤ עברית",
                                              std::string(4000, 'W'),
                                              std::string(300, '\n') + "deep",
                                              std::string("nul\0inside\x01\x7f", 13),
                                              "broken \xff\xfe\xc3 utf-8",
                                              "%s %n {} \\ ' \" ; --",
                                              "a\xCC\x81\xCC\x81\xCC\x81\xCC\x81\xCC\x81\xCC\x81\xCC\x81\xCC\x81"};
  return texts;
}

TEST(HostileText, StaysTextAndInItsPlace) {
  std::vector<PickEntry> entries;
  for (const std::string& text : hostile_texts()) {
    entries.push_back(entry(text, "1", "1", {1, 1}));
    PickEntry& made = entries.back();
    made.text = made.date = made.place = made.taxon = made.photo = made.tin = made.sheet = text;
    made.triage = {text, 0.5, {text, text}};
    made.findings = {{text, 9, 0.5, {}, {}, text}};
  }
  sort_for_picking(entries);
  const std::string pdf = pick_list_pdf(entries, {hostile_texts()[4], hostile_texts()[2], "2026-11-25T08:30:00Z"});
  const std::string words = printed::words(pdf);
  EXPECT_THAT(words, HasSubstr("<script>alert(1)</script>"));
  EXPECT_THAT(words, HasSubstr("<U+202E>"));
  EXPECT_THAT(words, Not(HasSubstr("\u202E")));
  const std::size_t pages = printed::pages(pdf);
  EXPECT_LE(pages, 2 * entries.size());
  for (std::size_t page = 1; page <= pages; ++page) expect_clean_margins(printed::page(pdf, static_cast<int>(page), 60), 60);
}

TEST(HostileText, StaysInItsColumn) {
  std::vector<PickEntry> entries{entry("a", "1", "1", {1, 1})};
  entries[0].text = std::string(4000, 'W');
  const cv::Mat with_long_word = printed::page(pick_list_pdf(entries, kHead), 1, 100);
  entries[0].text = "W";
  const cv::Mat with_short_word = printed::page(pick_list_pdf(entries, kHead), 1, 100);
  // Right of the text column the two pages differ only where the row is taller, not in the height of a short row.
  cv::Mat change;
  cv::absdiff(with_long_word, with_short_word, change);
  const int right = static_cast<int>((14 + 116) * 100 / 25.4);
  EXPECT_EQ(cv::sum(change.colRange(right, change.cols))[0], 0);
  EXPECT_GT(cv::sum(change.colRange(0, right))[0], 0);
}

TEST(Harmless, SpellsOutControlsAndKeepsTheRest) {
  EXPECT_EQ(harmless("Köln\t♂\n"), "Köln\t♂\n");
  EXPECT_EQ(harmless("a\u202Eb\u200Fc"), "a<U+202E>b<U+200F>c");
  EXPECT_EQ(harmless(std::string("\x01\x7f", 2)), "<U+0001><U+007F>");
  EXPECT_EQ(harmless("\xff"), "\uFFFD");
}

TEST(Csv, NeutralisesFormulasAndQuotes) {
  EXPECT_EQ(csv_cell("plain"), "plain");
  EXPECT_EQ(csv_cell("a \"b\", c"), "\"a \"\"b\"\", c\"");
  for (const char* formula : {"=1+1", "+1+A1", "-1+A1", "@SUM(A1)", "\t=1", "\r=1"}) {
    const std::string cell = csv_cell(formula);
    EXPECT_EQ(cell.front() == '"' ? cell[1] : cell[0], '\'') << formula;
  }
  EXPECT_EQ(csv_cell("-33.9"), "-33.9");  // a latitude is no formula
  EXPECT_EQ(csv_row({"a", "", "b\nc"}), "a,,\"b\nc\"\r\n");
}

PhotoIndex photographed(const std::string& sheet, const std::string& side, int envelopes) {
  PhotoIndex index;
  index.photo.path = "tin-07/" + sheet + "-" + side + ".jpg";
  index.photo.width_px = 3600;
  index.photo.height_px = 2400;
  index.calibration.sheet = Sheet{"07", sheet, side, {}};
  for (int k = 0; k < envelopes; ++k) {
    const double x = 60 + 340.0 * (k % 10);
    const double y = 60 + 330.0 * (k / 10);
    IndexRecord envelope;
    envelope.id = sheet + "-" + std::to_string(k);
    envelope.annotation.text = "first words " + std::to_string(k) + "\nsecond line";
    envelope.outline.polygon_px = {{x, y}, {x + 300, y}, {x + 300, y + 260}, {x, y + 260}};
    envelope.outline.crop = {{Point{x, y}, {x + 300, y}, {x + 300, y + 260}, {x, y + 260}}, 300, 260};
    index.envelopes.push_back(envelope);
  }
  return index;
}

std::optional<image::Image> grey_photo(const Photo& photo) {
  return image::Image{cv::Mat(photo.height_px, photo.width_px, CV_8UC3, cv::Scalar::all(150))};
}

TEST(LayoutMap, ListsEveryEnvelopeUnderItsPosition) {
  PhotoIndex index = photographed("3", "front", 70);
  index.envelopes[12].triage.level = "isolate";
  const SheetMap map = sheet_map(index, {"3-12"}, grey_photo);
  ASSERT_EQ(map.entries.size(), 70u);
  EXPECT_EQ(map.entries[12].position, (Position{2, 3}));
  EXPECT_TRUE(map.entries[12].chosen);
  const std::string pdf = layout_maps_pdf({map}, kHead.made);
  const std::string words = printed::words(pdf);
  EXPECT_THAT(words, HasSubstr("Tin 07 / sheet 3"));
  for (int k = 0; k < 70; ++k) EXPECT_THAT(words, HasSubstr("first words " + std::to_string(k)));
  EXPECT_THAT(words, Not(HasSubstr("second line")));
  for (std::size_t page = 1; page <= printed::pages(pdf); ++page)
    expect_clean_margins(printed::page(pdf, static_cast<int>(page), 60), 60);
}

TEST(LayoutMap, DrawsOutlinesWhereTheyLie) {
  PhotoIndex index = photographed("3", "front", 1);
  index.envelopes[0].triage.level = "isolate";
  index.envelopes[0].outline.polygon_px = {{1800, 1200}, {2700, 1200}, {2700, 2100}, {1800, 2100}};
  const cv::Mat page = printed::page(layout_maps_pdf({sheet_map(index, {}, grey_photo)}, kHead.made), 1, 100);
  cv::Mat grey_part;
  cv::inRange(page, cv::Scalar::all(148), cv::Scalar::all(152), grey_part);
  std::vector<std::vector<cv::Point>> parts;
  cv::findContours(grey_part, parts, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_SIMPLE);
  const cv::Rect photo = cv::boundingRect(*std::max_element(parts.begin(), parts.end(), [](const auto& a, const auto& b) {
    return cv::boundingRect(a).area() < cv::boundingRect(b).area();
  }));
  cv::Mat red;
  cv::inRange(page(photo), cv::Scalar(0, 0, 120), cv::Scalar(80, 90, 200), red);
  const cv::Rect outline = cv::boundingRect(red);
  EXPECT_NEAR(outline.x, photo.width * 1800 / 3600.0, 3);
  EXPECT_NEAR(outline.y, photo.height * 1200 / 2400.0, 3);
  EXPECT_NEAR(outline.br().x, photo.width * 2700 / 3600.0, 3);
  EXPECT_NEAR(outline.br().y, photo.height * 2100 / 2400.0, 3);
}

TEST(LayoutMap, GoesOnWithoutThePhotograph) {
  const SheetMap map = sheet_map(photographed("3", "back", 3), {}, [](const Photo&) { return std::nullopt; });
  EXPECT_THAT(printed::words(layout_maps_pdf({map}, kHead.made)), HasSubstr("sheet 3, back"));
  EXPECT_THAT(printed::words(layout_maps_pdf({}, kHead.made)), HasSubstr("No sheet"));
}

TEST(FoundMap, NamesKindsInReadingOrderAndFindings) {
  PhotoIndex index = photographed("3", "front", 1);
  index.envelopes[0].outline.polygon_px = {{1800, 1200}, {2700, 1200}, {2700, 2100}, {1800, 2100}};
  index.envelopes[0].annotation.lines.resize(3);
  for (std::size_t k = 0; k < 3; ++k) {
    const double y = 1300 + 200 * static_cast<double>(k);
    TextLine& line = index.envelopes[0].annotation.lines[k].line;
    line.quad_px = {{{1900, y}, {2500, y}, {2500, y + 80}, {1900, y + 80}}};
    line.polygon_px = {line.quad_px.begin(), line.quad_px.end()};
  }
  index.envelopes[0].annotation.lines[1].line.kind = LineKind::stamped;
  index.envelopes[0].annotation.lines[2].line.kind = LineKind::newsprint;
  index.envelopes[0].condition.findings = {{"tear", 3, 0.9, {{2600, 1900}, {2690, 1900}, {2690, 2000}}, std::nullopt, ""}};
  const std::string pdf = found_maps_pdf({found_map(index, grey_photo), found_map(index, grey_photo)}, kHead.made);
  EXPECT_EQ(printed::pages(pdf), 2u);
  const std::string words = printed::words(pdf);
  for (const char* part : {"h1", "s2", "tear 3", "newsprint"}) EXPECT_THAT(words, HasSubstr(part));
  EXPECT_THAT(words, Not(HasSubstr("n3")));  // newsprint has no place in the reading order
  expect_clean_margins(printed::page(pdf, 1, 60), 60);
  EXPECT_THAT(printed::words(found_maps_pdf({}, kHead.made)), HasSubstr("No photograph"));
}

TEST(TinReport, CountsEachEnvelopeOnceAtItsMostUrgent) {
  PhotoIndex front = photographed("1", "front", 10);
  PhotoIndex back = photographed("1", "back", 10);
  back.calibration.quality.verdict = "retake";
  front.envelopes[4].triage.level = "stabilise";
  back.envelopes[4].triage.level = "isolate";
  back.envelopes[4].condition.findings = {{"hole", 3, 0.9, {{100, 100}, {120, 100}, {120, 120}}, 1.5, "round hole of 1.5 mm"},
                                          {"frass", 1, 0.9, {}, {}, ""}};
  front.envelopes[7].triage.level = "valuable";
  front.envelopes[8].condition.judged = false;
  const TinReport report = tin_report("07", {front, back}, {}, grey_photo);
  EXPECT_EQ(report.envelopes, 10u);
  EXPECT_EQ(report.photographs, 2u);
  EXPECT_EQ(report.by_level, (std::map<std::string, std::size_t>{{"isolate", 1}, {"valuable", 1}, {"routine", 8}}));
  EXPECT_EQ(report.findings.at("hole"), (std::array<std::size_t, 4>{0, 0, 1, 0}));
  EXPECT_EQ(report.not_judged, 1u);
  ASSERT_FALSE(report.worst.empty());
  EXPECT_EQ(report.worst[0].name, "1-4");
  EXPECT_EQ(report.worst[0].where, "sheet 1, back, row 1, no. 5");
}

TEST(TinReport, FitsOnePageAtItsFullest) {
  std::vector<PhotoIndex> photos;
  for (int sheet = 1; sheet <= 12; ++sheet) {
    photos.push_back(photographed(std::to_string(sheet), "front", 40));
    photos.back().calibration.quality.verdict = "retake";
    for (std::size_t k = 0; k < 40; ++k) {
      IndexRecord& envelope = photos.back().envelopes[k];
      envelope.triage = {"isolate", 0.9, {std::string(300, 'r')}};
      envelope.condition.findings = {
          {"kind_" + std::to_string(k % 15), 4, 0.9, {{100, 100}, {120, 100}, {120, 120}}, {}, std::string(300, 'f')},
          {"mould", 2, 0.9, {}, {}, ""}};
      envelope.condition.judged = k % 2 == 0;
    }
  }
  TinReport report = tin_report("07", photos, {}, grey_photo);
  report.storage = {std::vector(12, StorageSign{"floor", 1, std::string(300, 's')}), std::vector(6, std::string(200, 'm'))};
  EXPECT_EQ(report.worst.size(), 6u);
  const std::string pdf = tin_report_pdf(report, kHead.made);
  EXPECT_EQ(printed::pages(pdf), 1u);
  const std::string words = printed::words(pdf);
  // source: South East Museums freezer guidance (Kent); US National Park Service, Conserve O Gram 3/6, 1994
  for (const char* expected :
       {"Tin 07", "480 envelopes on 12 photographs", "isolate now", "480", "Signs of mould", "Signs of pests", "arsenic",
        "−30 °C", "3 days", "South East Museums", "Conserve O Gram 3/6", "not a guarantee"})
    EXPECT_THAT(words, HasSubstr(expected));
  // The last block ends above the footer's rule, which stands 10.7 mm above the edge.
  cv::Mat grey;
  cv::cvtColor(printed::page(pdf, 1, 100), grey, cv::COLOR_BGR2GRAY);
  double darkest = 0;
  cv::minMaxLoc(grey.rowRange(static_cast<int>(283 * 100 / 25.4), static_cast<int>(286 * 100 / 25.4)), &darkest);
  EXPECT_GE(darkest, 250);
}

TEST(Words, ShowDoubtAsDoubt) {
  Interpretation facts;
  EXPECT_EQ(date_words(facts), "");
  facts.date = Claim<std::string>{"14.7.32", "1932-07-14", 0.9, {}, {}, {}};
  EXPECT_EQ(date_words(facts), "1932-07-14");
  facts.date->confidence = 0.3;
  EXPECT_EQ(date_words(facts), "1932-07-14 (doubtful)");
  facts.date->value.reset();
  EXPECT_EQ(date_words(facts), "open: \"14.7.32\"");
  facts.place = Claim<Place>{"Samoens", Place{"Samoëns", "", "FR", 46, 6, 0}, 0.9, {}, {}, {}};
  EXPECT_EQ(place_words(facts), "Samoëns, FR");
}

TEST(Save, PutsTheWholeFileInPlaceAndLeavesNothingBeside) {
  const printed::Folder folder;
  const auto file = folder.path() / "pick.pdf";
  ASSERT_TRUE(save(file, "first").ok());
  ASSERT_TRUE(save(file, "second").ok());
  EXPECT_EQ(printed::bytes_of(file), "second");
  std::filesystem::create_directory(folder.path() / "taken.pdf");
  const auto taken = save(folder.path() / "taken.pdf", "x");
  ASSERT_FALSE(taken.ok());
  EXPECT_THAT(taken.failure().reason, HasSubstr("taken.pdf"));
  EXPECT_FALSE(save(folder.path() / "no such folder" / "pick.pdf", "x").ok());
  EXPECT_EQ(std::distance(std::filesystem::directory_iterator(folder.path()), {}), 2);
}

}  // namespace
}  // namespace papillote::bench
