// One row a view of an envelope, for a spreadsheet.
#include <ostream>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "pipeline/exports/exporter.h"
#include "pipeline/exports/utf8.h"
#include "pipeline/record/csv.h"

namespace papillote::exports::formats {
namespace {

std::string number(double value) { return fmt::format("{:.6g}", value); }

std::string value_of(const std::optional<Claim<std::string>>& claim) { return claim && claim->value ? *claim->value : ""; }

Result<Done> write(const Rows& rows, const Dataset&, std::ostream& out) {
  out << "id,catalogue_number,photograph,tin,sheet,side,position,text,date_verbatim,date,date_confidence,place_verbatim,place,country,latitude,"
         "longitude,uncertainty_m,place_confidence,collector,elevation_min_m,elevation_max_m,taxon,sex,type_status,findings,priority,reasons\r\n";
  rows([&](const store::IndexedPhotograph& indexed) {
    const Sheet sheet = indexed.index.calibration.sheet.value_or(Sheet{});
    int position = 0;
    for (const IndexRecord& record : indexed.index.envelopes) {
      const Interpretation& facts = record.interpretation;
      std::vector<std::string> cells{record.id, record.catalogue_number, indexed.index.photo.path, sheet.tin, sheet.sheet, sheet.side,
                                     std::to_string(++position), record.annotation.text};
      cells.push_back(facts.date ? facts.date->verbatim : "");
      cells.push_back(value_of(facts.date));
      cells.push_back(facts.date && facts.date->value ? number(facts.date->confidence) : "");
      cells.push_back(facts.place ? facts.place->verbatim : "");
      const Place* place = facts.place && facts.place->value ? &*facts.place->value : nullptr;
      const GeoPoint* point = facts.coordinates && facts.coordinates->value ? &*facts.coordinates->value : nullptr;
      cells.push_back(place ? place->name : "");
      cells.push_back(place ? place->country : "");
      cells.push_back(point ? number(point->lat_deg) : place ? number(place->lat_deg) : "");
      cells.push_back(point ? number(point->lon_deg) : place ? number(place->lon_deg) : "");
      cells.push_back(point ? number(point->uncertainty_m) : place ? number(place->uncertainty_m) : "");
      cells.push_back(place ? number(facts.place->confidence) : "");
      cells.push_back(value_of(facts.collector));
      const ElevationRange* height = facts.elevation && facts.elevation->value ? &*facts.elevation->value : nullptr;
      cells.push_back(height ? number(height->min_m) : "");
      cells.push_back(height ? number(height->max_m) : "");
      cells.push_back(value_of(facts.taxon));
      cells.push_back(value_of(facts.sex));
      cells.push_back(value_of(facts.type_status));
      std::string findings;
      for (const Finding& finding : record.condition.findings)
        if (finding.sure()) findings += fmt::format("{}{} {}", findings.empty() ? "" : "; ", finding.kind, finding.severity);
      if (!record.condition.judged) findings = "not judged";
      cells.push_back(findings);
      cells.push_back(record.triage.level);
      std::string reasons;
      for (const std::string& reason : record.triage.reasons) reasons += (reasons.empty() ? "" : "; ") + reason;
      cells.push_back(reasons);
      for (std::string& cell : cells) cell = valid_utf8(cell);
      out << csv_row(cells);
    }
  });
  return Done{};
}

}  // namespace

extern const Exporter csv{"csv", "One row an envelope, for a spreadsheet.", write};

}  // namespace papillote::exports::formats
