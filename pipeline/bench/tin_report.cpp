#include "pipeline/bench/tin_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <set>
#include <tuple>

#include "pipeline/bench/cautions.h"
#include "pipeline/bench/look.h"
#include "pipeline/bench/position.h"
#include "pipeline/bench/words.h"

namespace papillote::bench {
namespace {

constexpr double kWidth = 210 - 2 * kMarginMm;
constexpr std::size_t kMostWorst = 6;
constexpr std::size_t kMostKinds = 11;
constexpr std::size_t kKindsBesideStorage = 7;
constexpr std::size_t kMostSigns = 8;
constexpr int kPicturePx = 560;

struct Seen {
  const PhotoIndex* photo;
  std::size_t envelope;

  [[nodiscard]] const IndexRecord& record() const { return photo->envelopes[envelope]; }
  [[nodiscard]] int severity() const {
    int worst = 0;
    for (const Finding& finding : record().condition.findings)
      if (finding.sure()) worst = std::max(worst, finding.severity);
    return worst;
  }
};

WorstCase worst_case(const Seen& seen, const Position& position, const PhotoSource& pixels) {
  const IndexRecord& record = seen.record();
  WorstCase worst;
  worst.name = record.catalogue_number.empty() ? record.id : record.catalogue_number;
  const auto& sheet = seen.photo->calibration.sheet;
  worst.where =
      fmt::format("{}, {}", sheet ? sheet_words(sheet->sheet, sheet->side) : seen.photo->photo.path, position.words());
  worst.level = record.triage.level;
  std::vector<std::string> findings;
  for (const Finding& finding : record.condition.findings)
    if (finding.sure())
      findings.push_back(finding_words(finding) +
                         (finding.grown_since.empty() ? "" : ", grown since " + finding.grown_since.substr(0, 10)));
  worst.why = joined({joined(findings, "; "), joined(record.triage.reasons, "; ")}, " — ");
  const auto photo = pixels(seen.photo->photo);
  if (!photo || record.outline.crop.width_px <= 0 || record.outline.crop.height_px <= 0) return worst;
  worst.picture = picture_of(image::rectify(*photo, record.outline.crop), kPicturePx);
  const double scale = worst.picture.width_px / static_cast<double>(record.outline.crop.width_px);
  for (const Finding& finding : record.condition.findings) {
    if (!finding.sure()) continue;
    Polygon region = image::carried(finding.polygon_px, image::crop_from_photo(record.outline.crop));
    for (Point& p : region) p = {p.x * scale, p.y * scale};
    worst.findings_px.push_back(std::move(region));
  }
  return worst;
}

void draw_levels(Page& page, Point at, double width, const TinReport& report) {
  page.write(at, width, "WHAT TO DO FIRST", kCaps);
  std::size_t most = 1;
  for (const auto& [level, count] : report.by_level) most = std::max(most, count);
  double y = at.y + 5;
  for (const char* level : {"isolate", "stabilise", "valuable", "routine"}) {
    const LevelLook look = look_of_level(level);
    const auto found = report.by_level.find(level);
    const std::size_t count = found == report.by_level.end() ? 0 : found->second;
    page.write({at.x, y}, 30, fmt::format("{} {}", look.mark, look.words), lines(with(kStrong, look.ink), 1));
    const double room = width - 44;
    const double length = room * static_cast<double>(count) / static_cast<double>(most);
    page.fill({at.x + 30, y + 0.2, room, 3}, kPaperTint);
    page.fill({at.x + 30, y + 0.2, length, 3}, look.ink);
    page.write({at.x + width - 12, y}, 12, std::to_string(count), aligned(lines(kStrong, 1), Align::right));
    y += 6;
  }
  if (report.not_judged > 0)
    y += page.write({at.x, y + 0.5}, width, fmt::format("{} could not be judged from the photograph.", report.not_judged),
                    kSmall) +
         0.8;
  if (report.grown > 0)
    y += page.write({at.x, y + 0.5}, width, fmt::format("{} findings grew since an earlier photograph.", report.grown), kSmall) + 0.8;
  if (!report.to_retake.empty())
    page.write({at.x, y + 0.5}, width, "To photograph again: " + joined(report.to_retake, ", "), lines(kSmall, 2));
}

std::size_t most_kinds(const TinReport& report) { return report.storage == Storage{} ? kMostKinds : kKindsBesideStorage; }

void draw_findings(Page& page, Point at, double width, const TinReport& report) {
  page.write(at, width, "FINDINGS", kCaps);
  constexpr double kColumn = 13;
  for (int severity = 1; severity <= 4; ++severity)
    page.write({at.x + width - (5 - severity) * kColumn, at.y}, kColumn - 1, severity_words(severity),
               aligned(lines(kSmall, 1), Align::right));
  // Kinds with the most serious findings first; what does not fit is counted.
  std::vector<std::pair<std::string, std::array<std::size_t, 4>>> kinds(report.findings.begin(), report.findings.end());
  std::stable_sort(kinds.begin(), kinds.end(), [](const auto& a, const auto& b) {
    return std::tie(b.second[3], b.second[2], b.second[1], b.second[0]) <
           std::tie(a.second[3], a.second[2], a.second[1], a.second[0]);
  });
  double y = at.y + 4.4;
  for (std::size_t k = 0; k < std::min(kinds.size(), most_kinds(report)); ++k) {
    page.line({at.x, y - 0.3}, {at.x + width, y - 0.3}, kRule, kHairlineMm);
    page.write({at.x, y}, width - 4 * kColumn, kind_words(kinds[k].first), lines(kBody, 1));
    for (std::size_t severity = 0; severity < 4; ++severity) {
      const std::size_t count = kinds[k].second[severity];
      page.write(
          {at.x + width - static_cast<double>(4 - severity) * kColumn, y}, kColumn - 1,
          count == 0 ? "·" : std::to_string(count),
          aligned(lines(count > 0 && severity >= 2 ? kStrong : with(kBody, count == 0 ? kRule : kText), 1), Align::right));
    }
    y += 4.2;
  }
  if (kinds.empty()) page.write({at.x, y}, width, "none", kSmall);
  if (kinds.size() > most_kinds(report))
    page.write({at.x, y}, width, fmt::format("and {} more kinds", kinds.size() - most_kinds(report)), kSmall);
}

// Signs in two columns, then what the climate table left open. Answers the height used.
double draw_storage(Page& page, Point at, const Storage& storage) {
  constexpr double kColumn = (kWidth - 8) / 2;
  constexpr double kBullet = 3;
  page.write(at, kWidth, "STORAGE", kCaps);
  const double top = at.y + 4.2;
  const std::size_t shown = std::min(storage.signs.size(), kMostSigns);
  std::array<double, 2> y{top, top};
  for (std::size_t k = 0; k < shown; ++k) {
    const std::size_t column = y[1] < y[0] ? 1 : 0;
    const double x = at.x + static_cast<double>(column) * (kColumn + 8);
    page.write({x, y[column]}, kBullet, "·", lines(kBody, 1));
    y[column] += page.write({x + kBullet, y[column]}, kColumn - kBullet, storage.signs[k].words, lines(with(kSmall, kText), 3)) + 0.6;
  }
  double bottom = std::max(y[0], y[1]);
  std::vector<std::string> remarks = storage.remarks;
  if (storage.signs.size() > shown) remarks.insert(remarks.begin(), fmt::format("and {} more", storage.signs.size() - shown));
  if (storage.signs.empty()) remarks.emplace_back("no sign of risk in what is noted of this tin");
  if (!remarks.empty()) bottom += page.write({at.x, bottom}, kWidth, joined(remarks, " · "), lines(kSmall, 2));
  return bottom - at.y;
}

void draw_worst(Page& page, const Area& area, const WorstCase& worst) {
  constexpr double kCaption = 15;
  const LevelLook look = look_of_level(worst.level);
  const Area frame{area.x, area.y, area.width, area.height - kCaption};
  page.fill(frame, kPaperTint);
  if (worst.picture.width_px > 0) {
    const double scale = std::min(frame.width / worst.picture.width_px, frame.height / worst.picture.height_px);
    const Point corner{frame.x + (frame.width - worst.picture.width_px * scale) / 2,
                       frame.y + (frame.height - worst.picture.height_px * scale) / 2};
    page.picture({corner.x, corner.y, worst.picture.width_px * scale, worst.picture.height_px * scale}, worst.picture);
    for (const Polygon& region : worst.findings_px) {
      if (region.size() < 3) continue;
      Polygon on_page;
      // What sticks out of the paper goes on beyond the picture.
      for (const Point& p : region)
        on_page.push_back({corner.x + std::clamp(p.x, 0.0, double(worst.picture.width_px)) * scale,
                           corner.y + std::clamp(p.y, 0.0, double(worst.picture.height_px)) * scale});
      page.shade(on_page, look.ink, 0.15);
      page.polygon(on_page, kWhite, 0.7);
      page.polygon(on_page, look.ink, 0.35);
    }
  } else {
    page.write({frame.x + 2, frame.y + 2}, frame.width - 4, "no picture", kSmall);
  }
  double y = frame.bottom() + 1;
  y += page.write({area.x, y}, area.width, fmt::format("{} {}", look.mark, worst.where), lines(with(kStrong, look.ink), 1)) +
       0.2;
  y += page.write({area.x, y}, area.width, worst.name,
                  page.fitted(worst.name, area.width, {6, kQuiet, Face::mono, false, Align::left, 1}, 4.8)) +
       0.2;
  page.write({area.x, y}, area.width, worst.why, lines(with(kSmall, kText), 2));
}

constexpr double kColdCaution = 0.56;  // share of the width
constexpr double kColdHeight = 28.5;

// Published practice beside its caution.
void draw_cold(Page& page, Point at, double width) {
  const double half = width * kColdCaution;
  caution(page, at, half, low_temperature_caution().heading, low_temperature_caution().text);
  const double x = at.x + half + 4;
  page.write({x, at.y}, width - half, "PUBLISHED PRACTICE, AS INFORMATION", kCaps);
  double y = at.y + 4;
  for (const ColdRegime& regime : cold_regimes()) {
    page.write({x, y}, 11, regime.temperature, lines(kBody, 1));
    const double used = page.write({x + 12, y}, width - half - 16, std::string(regime.exposure), lines(kBody, 1));
    page.write({x + 12, y + used}, width - half - 16, std::string(regime.source), lines({5.4, kQuiet}, 1));
    y += used + 2.6;
  }
}

// Cases three abreast in what room there is: low ones rather than few, but a picture must stay worth looking at.
double draw_cases(Page& page, Point at, double room, const std::vector<WorstCase>& cases) {
  constexpr double kGap = 4;
  constexpr double kWidest = (kWidth - 2 * kGap) / 3;
  constexpr double kTallest = 52;
  constexpr double kLeast = 36;
  std::size_t rows = (cases.size() + 2) / 3;
  if (rows > 1 && room / static_cast<double>(rows) < kLeast + 2) rows = 1;
  const double height = std::min(kTallest, room / static_cast<double>(rows) - 2);
  for (std::size_t k = 0; k < std::min(cases.size(), 3 * rows); ++k)
    draw_worst(page,
               {at.x + static_cast<double>(k % 3) * (kWidest + kGap), at.y + static_cast<double>(k / 3) * (height + 2), kWidest,
                height},
               cases[k]);
  return static_cast<double>(rows) * (height + 2);
}

}  // namespace

TinReport tin_report(const std::string& tin, const std::vector<PhotoIndex>& photos, const Storage& storage, const PhotoSource& pixels) {
  TinReport report;
  report.tin = tin;
  report.storage = storage;
  report.photographs = photos.size();
  std::map<std::string, int> rank_by_id;  // an envelope photographed twice counts once, at its most urgent
  std::vector<Seen> seen;
  for (const PhotoIndex& photo : photos) {
    if (photo.calibration.quality.verdict == "retake") report.to_retake.push_back(photo.photo.path);
    for (std::size_t k = 0; k < photo.envelopes.size(); ++k) {
      const IndexRecord& envelope = photo.envelopes[k];
      const std::string id = envelope.id.empty() ? fmt::format("{}#{}", photo.photo.path, k) : envelope.id;
      const int rank = rank_of_level(envelope.triage.level);
      const auto [at, fresh] = rank_by_id.emplace(id, rank);
      if (!fresh) at->second = std::min(at->second, rank);
      if (!envelope.condition.judged) ++report.not_judged;
      for (const Finding& finding : envelope.condition.findings) {
        report.grown += finding.grown_since.empty() ? 0 : 1;
        if (finding.sure() && finding.severity >= 1 && finding.severity <= 4)
          ++report.findings[finding.kind][static_cast<std::size_t>(finding.severity - 1)];
      }
      seen.push_back({&photo, k});
    }
  }
  report.envelopes = rank_by_id.size();
  for (const Seen& each : seen) {
    const IndexRecord& record = each.record();
    const std::string id = record.id.empty() ? fmt::format("{}#{}", each.photo->photo.path, each.envelope) : record.id;
    const auto at = rank_by_id.find(id);
    if (at == rank_by_id.end() || at->second != rank_of_level(record.triage.level)) continue;
    ++report.by_level[record.triage.level];
    rank_by_id.erase(at);
  }

  std::stable_sort(seen.begin(), seen.end(), [](const Seen& a, const Seen& b) {
    return std::tuple(rank_of_level(a.record().triage.level), -a.severity(), -a.record().triage.score) <
           std::tuple(rank_of_level(b.record().triage.level), -b.severity(), -b.record().triage.score);
  });
  std::set<std::string> shown;  // the worst view of each envelope
  for (const Seen& each : seen) {
    if (report.worst.size() == kMostWorst) break;
    if (each.severity() == 0 && rank_of_level(each.record().triage.level) >= rank_of_level("valuable")) continue;
    if (!each.record().id.empty() && !shown.insert(each.record().id).second) continue;
    std::vector<Polygon> outlines;
    for (const IndexRecord& envelope : each.photo->envelopes) outlines.push_back(envelope.outline.polygon_px);
    report.worst.push_back(worst_case(each, positions_of(outlines)[each.envelope], pixels));
  }
  return report;
}

std::string tin_report_pdf(const TinReport& report, const std::string& made) {
  const std::string title = report.tin.empty() ? "Tin not known" : "Tin " + report.tin;
  return pdf({title, made, "papillote · tin report · " + made.substr(0, 10), false}, [&](Book& book) {
    Page& page = book.turn();
    double y = kMarginMm;
    y += page.write({kMarginMm, y}, kWidth, title, kTitle) + 0.8;
    y += page.write({kMarginMm, y}, kWidth, fmt::format("{} envelopes on {} photographs", report.envelopes, report.photographs),
                    with(kBody, kQuiet)) +
         5;

    constexpr double kColumn = (kWidth - 8) / 2;
    draw_levels(page, {kMarginMm, y}, kColumn, report);
    draw_findings(page, {kMarginMm + kColumn + 8, y}, kColumn, report);
    const std::size_t kinds = std::min(report.findings.size(), most_kinds(report));
    y += std::max(39.0, 9 + 4.2 * static_cast<double>(kinds)) + 3;

    std::vector<std::string> found;
    for (const auto& [kind, counts] : report.findings) found.push_back(kind);
    const auto isolated = report.by_level.find("isolate");
    const bool isolate = isolated != report.by_level.end() && isolated->second > 0;
    const std::vector<Caution> special = cautions_for(found, isolate);

    if (report.storage != Storage{}) y += draw_storage(page, {kMarginMm, y}, report.storage) + 4;
    constexpr double kFooter = 14;
    double below = caution_height(page, kWidth, residues_caution().heading, residues_caution().text) + 2.5;
    for (const Caution& each : special) below += caution_height(page, kWidth, each.heading, each.text) + 1.2;
    if (!special.empty()) below += kColdHeight;
    if (!report.worst.empty()) {
      page.write({kMarginMm, y}, kWidth, "LOOK AT THESE FIRST", kCaps);
      y += 4.4;
      y += draw_cases(page, {kMarginMm, y}, page.height() - kFooter - below - y - 1, report.worst) + 1;
    }
    for (const Caution& each : special) y += caution(page, {kMarginMm, y}, kWidth, each.heading, each.text) + 1.2;
    y += caution(page, {kMarginMm, y}, kWidth, residues_caution().heading, residues_caution().text) + 2.5;
    if (!special.empty()) draw_cold(page, {kMarginMm, y}, kWidth);
  });
}

}  // namespace papillote::bench
