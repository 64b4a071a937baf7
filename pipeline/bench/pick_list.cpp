#include "pipeline/bench/pick_list.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <iterator>
#include <span>
#include <tuple>

#include "pipeline/bench/cautions.h"
#include "pipeline/bench/code.h"
#include "pipeline/record/csv.h"
#include "pipeline/bench/flow.h"
#include "pipeline/bench/natural_order.h"
#include "pipeline/bench/words.h"

namespace papillote::bench {
namespace {

constexpr double kWidth = 210 - 2 * kMarginMm;

using Entries = std::span<const PickEntry>;

// Consecutive entries for which `same` holds of neighbours.
template <class Same>
std::vector<Entries> groups(Entries entries, Same same) {
  std::vector<Entries> all;
  std::size_t begin = 0;
  for (std::size_t end = 1; end <= entries.size(); ++end) {
    if (end < entries.size() && same(entries[begin], entries[end])) continue;
    all.push_back(entries.subspan(begin, end - begin));
    begin = end;
  }
  return all;
}

std::vector<Entries> by_tin(Entries entries) {
  return groups(entries, [](const PickEntry& a, const PickEntry& b) { return a.tin == b.tin; });
}

std::vector<Entries> by_sheet(Entries entries) {
  return groups(entries, [](const PickEntry& a, const PickEntry& b) {
    return std::tie(a.tin, a.sheet, a.side, a.photo) == std::tie(b.tin, b.sheet, b.side, b.photo);
  });
}

std::string tin_words(const std::string& tin) { return tin.empty() ? "Tin not known" : "Tin " + tin; }

std::string count_words(std::size_t count, std::string_view one) {
  return fmt::format("{} {}{}", count, one, count == 1 ? "" : "s");
}

std::vector<Caution> cautions_of(Entries entries) {
  std::vector<std::string> kinds;
  bool isolate = false;
  for (const PickEntry& entry : entries) {
    isolate = isolate || entry.triage.level == "isolate";
    for (const Finding& finding : entry.findings) kinds.push_back(finding.kind);
  }
  return cautions_for(kinds, isolate);
}

// One line a tin: what to fetch, and which tins ask for care.
void draw_summary(Flow& flow, const std::vector<Entries>& tins) {
  struct Column {
    std::string_view head;
    double x;
  };
  constexpr std::array<Column, 6> kColumns{
      {{"TIN", 8}, {"SHEETS", 48}, {"ENVELOPES", 100}, {"ISOLATE", 124}, {"STABILISE", 142}, {"CARE", 160}}};
  constexpr double kLine = 6;
  Page& head_page = flow.room_for(2 * kLine);
  for (const Column& column : kColumns) head_page.write({kMarginMm + column.x, flow.y}, 30, column.head, kCaps);
  flow.y += 4;
  for (const Entries& tin : tins) {
    std::vector<std::string> sheets;
    for (const Entries& sheet : by_sheet(tin)) {
      const std::string& name = sheet.front().sheet.empty() ? std::string("?") : sheet.front().sheet;
      if (sheets.empty() || sheets.back() != name) sheets.push_back(name);
    }
    const auto of_level = [&](std::string_view level) {
      const auto count = std::count_if(tin.begin(), tin.end(), [&](const PickEntry& e) { return e.triage.level == level; });
      return count == 0 ? std::string("·") : std::to_string(count);
    };
    std::vector<std::string> care;
    for (const Caution& caution : cautions_of(tin)) care.push_back(caution.heading == "Signs of mould" ? "mould" : "pests");

    Page& page = flow.room_for(kLine);
    page.line({kMarginMm, flow.y}, {kMarginMm + kWidth, flow.y}, kRule, kHairlineMm);
    const double y = flow.y + 1.2;
    tick_box(page, {kMarginMm, y}, "");
    page.write({kMarginMm + kColumns[0].x, y}, 38, tin.front().tin.empty() ? "not known" : tin.front().tin, lines(kStrong, 1));
    page.write({kMarginMm + kColumns[1].x, y}, 50, joined(sheets, ", "), lines(kBody, 1));
    page.write({kMarginMm + kColumns[2].x, y}, 20, std::to_string(tin.size()), lines(kBody, 1));
    page.write({kMarginMm + kColumns[3].x, y}, 16, of_level("isolate"), lines(kBody, 1));
    page.write({kMarginMm + kColumns[4].x, y}, 16, of_level("stabilise"), lines(kBody, 1));
    page.write({kMarginMm + kColumns[5].x, y}, kWidth - kColumns[5].x, joined(care, ", "), lines(with(kStrong, kCaution), 1));
    flow.y += kLine;
  }
  flow.y += 3;
}

// Position and tick boxes, picture, what it says, why it is wanted, and a code for the hand scanner.
struct Row {
  static constexpr double kPosition = 0;
  static constexpr double kPicture = 21;
  static constexpr double kText = 59;
  static constexpr double kWhy = 117;
  static constexpr double kCode = 168;
  static constexpr double kPictureWidth = 35;
  static constexpr double kPictureHeight = 24;
  static constexpr double kTextWidth = kWhy - kText - 3;
  static constexpr double kWhyWidth = kCode - kWhy - 2;
  static constexpr double kGap = 1.6;  // above and below
};

struct Block {
  std::string text;
  Type type;
};

double height_of(const Page& page, double width, const std::vector<Block>& blocks) {
  double height = 0;
  for (const Block& block : blocks)
    if (!block.text.empty()) height += page.height_of(width, block.text, block.type) + 0.5;
  return height;
}

void write(Page& page, Point at, double width, const std::vector<Block>& blocks) {
  for (const Block& block : blocks)
    if (!block.text.empty()) at.y += page.write(at, width, block.text, block.type) + 0.5;
}

std::vector<Block> text_blocks(const PickEntry& entry) {
  return {{entry.text.empty() ? "no text read" : entry.text, lines(entry.text.empty() ? kSmall : kVerbatim, 5)},
          {joined({entry.date, entry.place}, " · "), lines(kBody, 2)},
          {entry.taxon, lines(kBody, 1)},
          {entry.out.empty() ? "" : "Not in its tin: " + entry.out, lines(with(kStrong, kCaution), 2)}};
}

std::vector<Block> why_blocks(const PickEntry& entry) {
  const LevelLook look = look_of_level(entry.triage.level);
  std::vector<std::string> findings;
  for (const Finding& finding : entry.findings) findings.push_back(finding_words(finding));
  return {{fmt::format("{} {}", look.mark, look.words), lines(with(kStrong, look.ink), 1)},
          {joined(entry.triage.reasons, "; "), lines(with(kSmall, kText), 4)},
          {joined(findings, "; "), lines(kSmall, 4)}};
}

void draw_entry(Flow& flow, const PickEntry& entry) {
  const std::vector<Block> text = text_blocks(entry);
  const std::vector<Block> why = why_blocks(entry);
  constexpr double kLeast = 21;
  const bool pictured = entry.thumbnail.height_px > 0;
  const double picture_height =
      pictured ? std::min(Row::kPictureHeight, Row::kPictureWidth * entry.thumbnail.height_px / entry.thumbnail.width_px) : 0;
  const Page& measured = flow.room_for(0);
  const double height =
      std::max({kLeast, picture_height, height_of(measured, Row::kTextWidth, text), height_of(measured, Row::kWhyWidth, why)}) +
      2 * Row::kGap;
  Page& page = flow.room_for(height);
  page.line({kMarginMm, flow.y}, {kMarginMm + kWidth, flow.y}, kRule, kHairlineMm);
  const double y = flow.y + Row::kGap;

  page.write({kMarginMm, y}, Row::kPicture - 1, fmt::format("row {}", entry.position.row), kBody);
  page.write({kMarginMm, y + 3.4}, Row::kPicture - 1, fmt::format("no. {}", entry.position.number),
             {11, kText, Face::sans, true});
  tick_box(page, {kMarginMm, y + 11}, "taken");
  tick_box(page, {kMarginMm, y + 16.4}, "put back");

  if (pictured)
    page.picture({kMarginMm + Row::kPicture, y, Row::kPictureWidth, Row::kPictureHeight}, entry.thumbnail);
  else
    page.write({kMarginMm + Row::kPicture, y}, Row::kPictureWidth, "no picture", kSmall);
  write(page, {kMarginMm + Row::kText, y}, Row::kTextWidth, text);
  write(page, {kMarginMm + Row::kWhy, y}, Row::kWhyWidth, why);

  const std::string& name = entry.catalogue_number.empty() ? entry.id : entry.catalogue_number;
  double below = y;
  if (const auto code = data_matrix(name); code.ok()) {
    constexpr double kModule = 0.42;
    const double module = std::min(kModule, (kWidth - Row::kCode) / code->columns);
    draw(page, {kMarginMm + kWidth - code->width(module), y}, *code, module);
    below += code->height(module) + 1;
  }
  const double name_width = kWidth - Row::kCode;
  page.write({kMarginMm + Row::kCode, below}, name_width, name,
             {5.6, kText, Face::mono, !entry.catalogue_number.empty(), Align::right, 5});
  flow.y += height;
}

void draw_tin(Flow& flow, Entries tin, std::string& running_head) {
  constexpr double kHeadingHeight = 9;
  const std::vector<Caution> cautions = cautions_of(tin);
  running_head.clear();  // a tin that begins a page is not a continued one
  Page& page =
      flow.room_for(kHeadingHeight + 12 * static_cast<double>(cautions.size()) + 38);  // never a heading without its first row
  running_head = tin_words(tin.front().tin);
  page.fill({kMarginMm, flow.y, kWidth, kHeadingHeight - 1}, kPaperTint);
  page.write({kMarginMm + 2, flow.y + 1.4}, kWidth / 2, running_head, kHeading);
  page.write({kMarginMm + kWidth / 2 - 12, flow.y + 2.6}, 50, count_words(tin.size(), "envelope"), lines(kBody, 1));
  tick_box(page, {kMarginMm + kWidth - 58, flow.y + 2.3}, "opened and aired");
  tick_box(page, {kMarginMm + kWidth - 22, flow.y + 2.3}, "closed");
  flow.y += kHeadingHeight + 0.5;
  for (const Caution& each : cautions)
    flow.y += caution(flow.room_for(14), {kMarginMm, flow.y}, kWidth, each.heading, each.text) + 1;
  for (const Entries& sheet : by_sheet(tin)) {
    Page& sheet_page = flow.room_for(38);
    const PickEntry& first = sheet.front();
    const double y = flow.y + 1;
    std::string words = sheet_words(first.sheet, first.side);
    words.front() = 'S';
    const double width = sheet_page.width_of(words, kStrong) + 3;
    sheet_page.write({kMarginMm, y}, kWidth, words, lines(kStrong, 1));
    sheet_page.write({kMarginMm + width, y + 0.35}, kWidth - width,
                     fmt::format("{} · {}", count_words(sheet.size(), "envelope"), first.photo), lines(kSmall, 1));
    flow.y += 5.4;
    for (const PickEntry& entry : sheet) draw_entry(flow, entry);
  }
  flow.y += 4;
}

}  // namespace

PickEntry pick_entry(const store::Hit& hit, const store::EnvelopeView& seen, const Position& position) {
  const Interpretation& facts = seen.record.interpretation;
  const auto settled = [&](std::string_view term) {
    return std::find(hit.settled.begin(), hit.settled.end(), term) != hit.settled.end();
  };
  PickEntry entry;
  entry.id = hit.id;
  entry.catalogue_number = hit.catalogue_number;
  if (const auto& sheet = seen.calibration.sheet) {
    entry.tin = sheet->tin;
    entry.sheet = sheet->sheet;
    entry.side = sheet->side;
  }
  entry.photo = seen.photo.path;
  entry.position = position;
  entry.text = hit.text;
  entry.date = settled("date") ? hit.date : date_words(facts);
  entry.place = settled("place") ? joined({hit.place, hit.country}, ", ") : place_words(facts);
  entry.taxon = settled("taxon") ? hit.taxon : taxon_words(facts);
  entry.triage = seen.record.triage;
  std::ranges::copy_if(seen.record.condition.findings, std::back_inserter(entry.findings), &Finding::sure);
  return entry;
}

void sort_for_picking(std::vector<PickEntry>& entries) {
  const auto key_order = [](const PickEntry& a, const PickEntry& b) {
    if (a.tin.empty() != b.tin.empty()) return a.tin.empty() ? 1 : -1;
    if (const int tins = natural_compare(a.tin, b.tin); tins != 0) return tins;
    if (const int sheets = natural_compare(a.sheet, b.sheet); sheets != 0) return sheets;
    if (a.side != b.side) return a.side < b.side ? 1 : -1;  // front before back
    return natural_compare(a.photo, b.photo);
  };
  std::sort(entries.begin(), entries.end(), [&](const PickEntry& a, const PickEntry& b) {
    if (const int order = key_order(a, b); order != 0) return order < 0;
    return std::tie(a.position, a.id) < std::tie(b.position, b.id);
  });
}

std::string pick_list_pdf(const std::vector<PickEntry>& entries, const PickHead& head) {
  const std::string day = head.made.substr(0, 10);
  const std::vector<Entries> tins = by_tin(entries);
  const std::string footer = joined({"papillote · pick list", day, head.who}, " · ");
  return pdf({"Pick list", head.made, footer, false}, [&](Book& book) {
    std::string running_head;
    Flow flow(book, [&](Page& page) {
      page.write({kMarginMm, kMarginMm - 4}, kWidth,
                 running_head.empty() ? "Pick list, continued" : running_head + ", continued", lines(kSmall, 1));
      return kMarginMm + 1;
    });
    Page& page = book.page();
    flow.y += page.write({kMarginMm, flow.y}, kWidth, "Pick list", kTitle) + 1;
    flow.y += page.write({kMarginMm, flow.y}, kWidth,
                         fmt::format("{} from {}, each tin opened once", count_words(entries.size(), "envelope"),
                                     count_words(tins.size(), "tin")),
                         kStrong) +
              0.8;
    flow.y +=
        page.write({kMarginMm, flow.y}, kWidth, joined({head.asked, head.who.empty() ? "" : "for " + head.who, day}, " · "),
                   lines(with(kBody, kQuiet), 3)) +
        4;
    flow.y += caution(page, {kMarginMm, flow.y}, kWidth, residues_caution().heading, residues_caution().text) + 5;
    if (entries.empty()) {
      page.write({kMarginMm, flow.y}, kWidth, "Nothing in the collection answers this.", kBody);
      return;
    }
    draw_summary(flow, tins);
    for (const Entries& tin : tins) draw_tin(flow, tin, running_head);
  });
}

std::string pick_list_csv(const std::vector<PickEntry>& entries) {
  std::string table = csv_row({"order", "tin", "sheet", "side", "row", "number", "id", "catalogue_number", "text", "date",
                               "place", "taxon", "priority", "score", "reasons", "findings", "out", "photograph"});
  std::size_t order = 0;
  for (const PickEntry& entry : entries) {
    std::vector<std::string> findings;
    for (const Finding& finding : entry.findings) findings.push_back(finding_words(finding));
    table += csv_row({std::to_string(++order), entry.tin, entry.sheet, entry.side, std::to_string(entry.position.row),
                      std::to_string(entry.position.number), entry.id, entry.catalogue_number, entry.text, entry.date,
                      entry.place, entry.taxon, entry.triage.level, fmt::format("{:.2f}", entry.triage.score),
                      joined(entry.triage.reasons, "; "), joined(findings, "; "), entry.out, entry.photo});
  }
  return table;
}

}  // namespace papillote::bench
