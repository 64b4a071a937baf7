#include "pipeline/app/tins.h"

#include <fmt/format.h>

#include <cstdlib>

#include "pipeline/app/days.h"
#include "pipeline/store/index.h"
#include "stages/interpretation/dates.h"
#include "stages/interpretation/tin.h"

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

std::string where_of(const store::IndexedPhotograph& photograph, const IndexRecord& record) {
  const auto& sheet = photograph.index.calibration.sheet;
  const std::string place = sheet ? fmt::format("sheet {}", sheet->sheet) : photograph.index.photo.path;
  return fmt::format("{}, position {}", place, record.outline.number + 1);
}

// Fronts and backs are two rows of envelopes: a ditto on a back does not point to a front.
int go_through(std::vector<store::TinSheet>& sheets, bool backs, const TinContext& given) {
  TinContext known = given;
  std::vector<interpretation::TinMember> members;
  std::vector<IndexRecord*> records;
  for (store::TinSheet& sheet : sheets) {
    const Calibration& calibration = sheet.photograph.index.calibration;
    if ((calibration.sheet && calibration.sheet->side == "back") != backs) continue;
    if (!known.period) known = tin_context(calibration);
    for (IndexRecord& record : sheet.photograph.index.envelopes) {
      if (!record.alone) record.alone = record.interpretation;
      members.push_back({where_of(sheet.photograph, record), record.annotation, *record.alone});
      records.push_back(&record);
    }
  }
  std::vector<Interpretation> together = interpretation::read_tin(members, known);
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

}  // namespace

TinContext tin_context(const Calibration& calibration) {
  if (!calibration.sheet) return {};
  const auto period = calibration.sheet->more.find("period");
  return period == calibration.sheet->more.end() ? TinContext{} : TinContext{years_of(period->second)};
}

int go_through_tins(store::Store& store, const interpretation::Options& options) {
  const TinContext given{options.period.empty() ? std::nullopt : interpretation::read_period(options.period)};
  int owing = 0;
  for (const std::string& tin : store::tins_to_go_through(store)) {
    auto sheets = store::sheets_of_tin(store, tin);
    const auto before = sheets;
    // Photographs without a sheet label may come from anywhere: they are no tin.
    if (!tin.empty())
      for (const bool backs : {false, true}) owing += go_through(sheets, backs, given);
    store::Transaction transaction(store);
    for (std::size_t i = 0; i < sheets.size(); ++i) {
      const store::TinSheet& sheet = sheets[i];
      store::Outcome outcome{sheet.photograph.index, {}, sheet.photograph.failure};
      for (const IndexRecord& record : outcome.index.envelopes) outcome.days.push_back(days_of(record.interpretation));
      if (outcome.index != before[i].photograph.index) store::replace_index(store, sheet.key, outcome.index.photo.path, outcome);
      store::keep_in_context(store, sheet.key);
    }
    transaction.commit();
  }
  return owing;
}

}  // namespace papillote::app
