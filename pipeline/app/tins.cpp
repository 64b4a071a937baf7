#include "pipeline/app/tins.h"

#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <map>
#include <nlohmann/json.hpp>
#include <set>
#include <vector>

#include "pipeline/app/days.h"
#include "pipeline/record/codec.h"
#include "pipeline/store/envelopes.h"
#include "pipeline/store/index.h"
#include "pipeline/store/results.h"
#include "stages/interpretation/dates.h"
#include "stages/interpretation/tin.h"
#include "stages/registration/sides.h"

namespace papillote::app {
namespace {

using interpretation::TinContext;

// "1895-1904", "1895–1904", "1895/1904": two years of four digits.
std::optional<std::pair<int, int>> years_of(const std::string& words) {
  std::vector<int> years;
  for (std::size_t i = 0; i < words.size();) {
    std::size_t end = i;
    while (end < words.size() && words[end] >= '0' && words[end] <= '9') ++end;
    if (end - i == 4) years.push_back(std::atoi(words.substr(i, 4).c_str()));
    i = end + 1;
  }
  if (years.size() != 2 || years[0] > years[1]) return std::nullopt;
  return std::pair{years[0], years[1]};
}

std::string sheet_of(const store::IndexedPhotograph& photograph) {
  const auto& sheet = photograph.index.calibration.sheet;
  return sheet ? fmt::format("sheet {}", sheet->sheet) : photograph.index.photo.path;
}

std::string where_of(const store::IndexedPhotograph& photograph, const IndexRecord& record) {
  return fmt::format("{}, position {}", sheet_of(photograph), record.outline.number + 1);
}

// Fronts and backs are two rows of envelopes: a ditto on a back does not point to a front.
int go_through(std::vector<store::TinSheet>& sheets, bool backs, const TinContext& given,
               const std::optional<interpretation::Heading>& heading) {
  TinContext known = given;
  std::vector<interpretation::TinMember> members;
  std::vector<IndexRecord*> records;
  for (store::TinSheet& sheet : sheets) {
    const Calibration& calibration = sheet.photograph.index.calibration;
    if ((calibration.sheet && calibration.sheet->side == "back") != backs) continue;
    if (!known.period) known = tin_context(calibration);
    for (IndexRecord& record : sheet.photograph.index.envelopes) {
      if (!record.alone) record.alone = record.interpretation;
      members.push_back({where_of(sheet.photograph, record), record.annotation, *record.alone, sheet_of(sheet.photograph)});
      records.push_back(&record);
    }
  }
  std::vector<Interpretation> together = interpretation::read_tin(members, known, heading);
  int owing = 0;
  for (std::size_t i = 0; i < records.size(); ++i) {
    IndexRecord& record = *records[i];
    const bool owes = together[i] != *record.alone;
    record.interpretation = std::move(together[i]);
    owing += owes ? 1 : 0;
    if (!owes) record.alone.reset();
  }
  return owing;
}

std::vector<registration::Lying> lying_on(const PhotoIndex& index) {
  const double px_per_mm = index.calibration.px_per_mm.value_or(0);
  std::vector<registration::Lying> all;
  for (const IndexRecord& record : index.envelopes) {
    const Point middle = centroid_of(record.outline.polygon_px);
    all.push_back({{middle.x / px_per_mm, middle.y / px_per_mm}, area_of(record.outline.polygon_px) / (px_per_mm * px_per_mm)});
  }
  return all;
}

// One back without a slip, and the front that it now counts as; empty = as no other.
struct Joined {
  Digest photograph;
  std::string id;
  Digest front;
  std::string other;
};

constexpr double kSureSide = 0.8;  // below, the pair is named and not joined

// Says of every back to which front it belongs; returns whose identity changes by it.
std::vector<Joined> pair_with_front(const store::TinSheet& front, store::TinSheet& back) {
  const auto& fronts = front.photograph.index.envelopes;
  auto& backs = back.photograph.index.envelopes;
  std::vector<std::pair<std::size_t, std::size_t>> known;
  std::set<std::string> front_ids;
  for (std::size_t i = 0; i < fronts.size(); ++i) {
    front_ids.insert(fronts[i].id);
    for (std::size_t j = 0; j < backs.size(); ++j)
      if (!fronts[i].catalogue_number.empty() && fronts[i].catalogue_number == backs[j].catalogue_number)
        known.emplace_back(i, j);
  }
  const auto sides = registration::pair_sides(lying_on(front.photograph.index), lying_on(back.photograph.index), known);
  std::vector<const registration::SidePair*> pair_of(backs.size());
  for (const auto& pair : sides.pairs) pair_of[pair.back] = &pair;

  std::vector<Joined> joined;
  for (std::size_t j = 0; j < backs.size(); ++j) {
    IndexRecord& record = backs[j];
    record.other_side.reset();
    // A slip of its own, or of the front on which none is seen on the back, is never overruled.
    if (!record.catalogue_number.empty()) continue;
    std::string other;
    if (const auto* pair = pair_of[j]) {
      record.other_side = OtherSide{std::round(pair->confidence * 1000) / 1000,
                                    fmt::format("the back of {}, {}", where_of(front.photograph, fronts[pair->front]),
                                                registration::words_of(sides.turn))};
      if (pair->confidence >= kSureSide) other = fronts[pair->front].id;
    }
    if (other != record.id && (!other.empty() || front_ids.contains(record.id)))
      joined.push_back({back.photograph.index.photo.sha256, record.id, front.photograph.index.photo.sha256, other});
  }
  return joined;
}

// Fronts and backs of one sheet, where each was photographed once with a scale.
std::vector<Joined> pair_fronts_and_backs(std::vector<store::TinSheet>& sheets) {
  std::map<std::string, std::vector<store::TinSheet*>> fronts, backs;
  for (store::TinSheet& sheet : sheets) {
    const Calibration& calibration = sheet.photograph.index.calibration;
    if (!calibration.sheet || !calibration.px_per_mm || sheet.photograph.index.envelopes.empty()) continue;
    (calibration.sheet->side == "back" ? backs : fronts)[calibration.sheet->sheet].push_back(&sheet);
  }
  std::vector<Joined> joined;
  for (const auto& [name, back] : backs) {
    const auto front = fronts.find(name);
    if (back.size() != 1 || front == fronts.end() || front->second.size() != 1) continue;
    for (Joined& one : pair_with_front(*front->second.front(), *back.front())) joined.push_back(std::move(one));
  }
  return joined;
}

// The headings in force when the tins were last gone through: one answer that is replaced.
Digest headings_key() { return digest_of("headings of the tins"); }
std::string body_of(const Headings& headings) { return canonical(nlohmann::json{{"value", headings}}); }

bool other_headings(store::Store& store, const Headings& headings) {
  const auto known = store::find_answer(store, headings_key());
  return known ? known->body != body_of(headings) : !headings.empty();
}

std::vector<std::string> all_tins(store::Store& store) {
  std::vector<std::string> tins;
  for (const auto& photograph : store::labelled_photographs(store))
    if (tins.empty() || tins.back() != photograph.tin) tins.push_back(photograph.tin);
  return tins;
}

}  // namespace

TinContext tin_context(const Calibration& calibration) {
  if (!calibration.sheet) return {};
  const auto period = calibration.sheet->more.find("period");
  return period == calibration.sheet->more.end() ? TinContext{} : TinContext{years_of(period->second)};
}

bool tins_due(store::Store& store, const Headings& headings) {
  return !store::tins_to_go_through(store).empty() || other_headings(store, headings);
}

int go_through_tins(store::Store& store, const interpretation::Options& options, const Headings& headings,
                    const interpretation::Gazetteer* gazetteer) {
  const TinContext given{options.period.empty() ? std::nullopt : interpretation::read_period(options.period)};
  int owing = 0;
  const bool anew = other_headings(store, headings);
  for (const std::string& tin : anew ? all_tins(store) : store::tins_to_go_through(store)) {
    const auto noted = headings.find(tin);
    const auto heading =
        noted == headings.end()
            ? std::nullopt
            : interpretation::heading_of(noted->second, fmt::format("the heading of tin {}", tin), gazetteer, options);
    auto sheets = store::sheets_of_tin(store, tin);
    const auto before = sheets;
    std::vector<Joined> joined;
    // Photographs without a sheet label may come from anywhere: they are no tin.
    if (!tin.empty()) {
      for (const bool backs : {false, true}) owing += go_through(sheets, backs, given, heading);
      joined = pair_fronts_and_backs(sheets);
    }
    store::Transaction transaction(store);
    for (const Joined& one : joined) store::count_as(store, one.photograph, one.id, one.front, one.other);
    for (std::size_t i = 0; i < sheets.size(); ++i) {
      const store::TinSheet& sheet = sheets[i];
      store::Outcome outcome{sheet.photograph.index, {}, sheet.photograph.failure};
      for (const IndexRecord& record : outcome.index.envelopes) outcome.days.push_back(days_of(record.interpretation));
      if (outcome.index != before[i].photograph.index)
        store::replace_index(store, sheet.key, outcome.index.photo.path, outcome);
      store::keep_in_context(store, sheet.key);
    }
    transaction.commit();
  }
  if (anew) {
    store::Transaction transaction(store);
    store::keep_answer(store, headings_key(), "tins", body_of(headings), digest_of(body_of(headings)));
    transaction.commit();
  }
  return owing;
}

}  // namespace papillote::app
