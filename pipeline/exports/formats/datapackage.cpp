// A tabular data package: tables as CSV with a description of every column, in one ZIP.
//
// Source: Frictionless Data Package and Tabular Data Package 1.0, Table Schema 1.0, CSV Dialect 1.2. A text that a spreadsheet
// would take for a formula begins with an apostrophe; the description of the package says so.
#include <fmt/format.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <ostream>
#include <stdexcept>

#include "pipeline/exports/exporter.h"
#include "pipeline/exports/scratch.h"
#include "pipeline/exports/utf8.h"
#include "pipeline/exports/zip.h"
#include "pipeline/record/csv.h"
#include "pipeline/record/digest.h"

namespace papillote::exports::formats {

extern const Exporter csv;

namespace {

using nlohmann::ordered_json;

struct Field {
  const char* name;
  const char* type;
  const char* description;
  bool required = false;
};

struct Table {
  const char* name;
  const char* title;
  std::vector<Field> fields;
  std::vector<std::string> primary_key;
  bool of_photographs = false;  // its column photograph names a row of photographs
};

const Table& photographs() {
  static const Table table{"photographs",
                           "Photographs of sheets",
                           {{"photograph", "string", "Path of the file below the folder that was processed.", true},
                            {"sha256", "string", "Of the file's bytes.", true},
                            {"tin", "string", "From the sheet's label."},
                            {"sheet", "string", "From the sheet's label."},
                            {"side", "string", "Of the envelopes: front or back."},
                            {"width_px", "integer", "Upright."},
                            {"height_px", "integer", "Upright."},
                            {"taken", "string", "Local time, ISO 8601, as the camera says."},
                            {"camera", "string", "As it says."},
                            {"px_per_mm", "number", "On the plane of the sheet."},
                            {"verdict", "string", "Of the capture check."}},
                           {"photograph"}};
  return table;
}

// In the order of the columns of the csv export.
const Table& envelopes() {
  static const Table table{"envelopes",
                           "Envelopes as the photographs show them, one row a view",
                           {{"id", "string", "Identity of the envelope, the same on every photograph.", true},
                            {"catalogue_number", "string", "From its slip."},
                            {"photograph", "string", "That shows it.", true},
                            {"tin", "string", "From the sheet's label."},
                            {"sheet", "string", "From the sheet's label."},
                            {"side", "string", "front or back."},
                            {"position", "integer", "1, 2 ... in reading order of the photograph."},
                            {"text", "string", "What is written, word for word as read."},
                            {"date_verbatim", "string", "The date as written."},
                            {"date", "string", "The date of collecting in EDTF; empty where left open."},
                            {"date_confidence", "number", "0 to 1; 1 = settled by a person."},
                            {"place_verbatim", "string", "The place as written."},
                            {"place", "string", "What it was taken to be; empty where left open."},
                            {"country", "string", "ISO 3166-1 alpha-2."},
                            {"latitude", "number", "Degrees, WGS 84, north positive."},
                            {"longitude", "number", "Degrees, WGS 84, east positive."},
                            {"uncertainty_m", "number", "Radius about the point in metres."},
                            {"place_confidence", "number", "0 to 1; 1 = settled by a person."},
                            {"collector", "string", ""},
                            {"elevation_min_m", "number", "Metres above the sea."},
                            {"elevation_max_m", "number", "Metres above the sea."},
                            {"taxon", "string", "As written or settled."},
                            {"sex", "string", ""},
                            {"type_status", "string", ""},
                            {"findings", "string", "Kinds of damage with severity 1 to 4."},
                            {"priority", "string", "isolate, stabilise, valuable or routine."},
                            {"reasons", "string", "Of the priority, in words."}},
                           {"photograph", "position"},
                           true};
  return table;
}

const Table& lines() {
  static const Table table{"lines",
                           "Lines of annotation in reading order",
                           {{"photograph", "string", "That shows it.", true},
                            {"id", "string", "Of the envelope.", true},
                            {"line", "integer", "1, 2 ...", true},
                            {"text", "string", "As read, or as left when a person settled the whole text."},
                            {"confidence", "number", "0 to 1."},
                            {"reader", "string", "What read it."}},
                           {"photograph", "id", "line"},
                           true};
  return table;
}

const Table& findings() {
  static const Table table{"findings",
                           "Signs of damage",
                           {{"photograph", "string", "That shows it.", true},
                            {"id", "string", "Of the envelope.", true},
                            {"finding", "integer", "1, 2 ...", true},
                            {"kind", "string", "tear, hole, mould_suspected ...", true},
                            {"severity", "integer", "1 trace, 2 slight, 3 serious, 4 severe."},
                            {"confidence", "number", "0 to 1."},
                            {"size_mm", "number", "Longest side."},
                            {"words", "string", ""}},
                           {"photograph", "id", "finding"},
                           true};
  return table;
}

std::string number(double value) { return fmt::format("{:.6g}", value); }

std::string head_of(const Table& table) {
  std::vector<std::string> names;
  for (const Field& field : table.fields) names.emplace_back(field.name);
  return csv_row(names);
}

void write_tables(const Rows& rows, const Scratch& scratch) {
  std::ofstream of_photographs(scratch / "photographs.csv", std::ios::binary);
  std::ofstream of_lines(scratch / "lines.csv", std::ios::binary);
  std::ofstream of_findings(scratch / "findings.csv", std::ios::binary);
  of_photographs << head_of(photographs());
  of_lines << head_of(lines());
  of_findings << head_of(findings());
  rows([&](const store::IndexedPhotograph& indexed) {
    const Photo& photo = indexed.index.photo;
    const Calibration& calibration = indexed.index.calibration;
    const Sheet sheet = calibration.sheet.value_or(Sheet{});
    of_photographs << csv_row({valid_utf8(photo.path), photo.sha256.hex, valid_utf8(sheet.tin), valid_utf8(sheet.sheet),
                               valid_utf8(sheet.side), std::to_string(photo.width_px), std::to_string(photo.height_px),
                               photo.taken, valid_utf8(photo.camera),
                               calibration.px_per_mm ? number(*calibration.px_per_mm) : "", calibration.quality.verdict});
    for (const IndexRecord& record : indexed.index.envelopes) {
      int at = 0;
      for (const Reading& reading : record.annotation.lines)
        of_lines << csv_row({valid_utf8(photo.path), record.id, std::to_string(++at), valid_utf8(reading.text),
                             number(reading.confidence), valid_utf8(reading.reader)});
      at = 0;
      for (const Finding& finding : record.condition.findings)
        of_findings << csv_row({valid_utf8(photo.path), record.id, std::to_string(++at), finding.kind,
                                std::to_string(finding.severity), number(finding.confidence),
                                finding.size_mm ? number(*finding.size_mm) : "", valid_utf8(finding.words)});
    }
  });
  if (!of_photographs.flush() || !of_lines.flush() || !of_findings.flush())
    throw std::runtime_error("the temporary files cannot be written");
}

ordered_json schema_of(const Table& table) {
  ordered_json fields = ordered_json::array();
  for (const Field& field : table.fields) {
    ordered_json one{{"name", field.name}, {"type", field.type}};
    if (*field.description != '\0') one["description"] = field.description;
    if (field.required) one["constraints"] = {{"required", true}};
    fields.push_back(std::move(one));
  }
  ordered_json schema{{"fields", std::move(fields)}, {"missingValues", {""}}, {"primaryKey", table.primary_key}};
  if (table.of_photographs)
    schema["foreignKeys"] = {
        {{"fields", "photograph"}, {"reference", {{"resource", "photographs"}, {"fields", "photograph"}}}}};
  return schema;
}

ordered_json resource_of(const Table& table, const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  const std::string bytes{std::istreambuf_iterator<char>(in), {}};
  return {{"profile", "tabular-data-resource"},
          {"name", table.name},
          {"title", table.title},
          {"path", file.filename().string()},
          {"format", "csv"},
          {"mediatype", "text/csv"},
          {"encoding", "utf-8"},
          {"bytes", bytes.size()},
          {"hash", "sha256:" + digest_of(bytes).hex},
          {"dialect",
           {{"csvddfVersion", 1.2},
            {"delimiter", ","},
            {"lineTerminator", "\r\n"},
            {"quoteChar", "\""},
            {"doubleQuote", true},
            {"header", true}}},
          {"schema", schema_of(table)}};
}

// Lower-case letters, digits and - . _ alone.
std::string slug_of(const std::string& title) {
  std::string slug;
  for (const char c : title) {
    if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9'))
      slug += c;
    else if (c >= 'A' && c <= 'Z')
      slug += static_cast<char>(c - 'A' + 'a');
    else if (!slug.empty() && slug.back() != '-')
      slug += '-';
  }
  while (!slug.empty() && slug.back() == '-') slug.pop_back();
  return slug.empty() ? "papered-specimens" : slug;
}

ordered_json package_of(const Dataset& dataset, const Scratch& scratch) {
  ordered_json package{{"profile", "tabular-data-package"}, {"name", slug_of(dataset.title)}};
  if (!dataset.title.empty()) package["title"] = dataset.title;
  package["description"] = fmt::format(
      "{}{}Paper envelopes were photographed, found, read and interpreted by machine; a confidence of 1 is a person's. A text "
      "that a spreadsheet would "
      "take for a formula begins with an apostrophe.",
      dataset.description, dataset.description.empty() ? "" : " ");
  if (dataset.licence.find("://") != std::string::npos) package["licenses"] = {{{"path", dataset.licence}}};
  if (!dataset.organisation.empty()) package["contributors"] = {{{"title", dataset.organisation}, {"role", "publisher"}}};
  package["resources"] = {resource_of(photographs(), scratch / "photographs.csv"),
                          resource_of(envelopes(), scratch / "envelopes.csv"), resource_of(lines(), scratch / "lines.csv"),
                          resource_of(findings(), scratch / "findings.csv")};
  return package;
}

Result<Done> write(const Rows& rows, const Dataset& dataset, std::ostream& out) {
  try {
    // The tables of a million envelopes do not fit in memory.
    const Scratch scratch;
    write_tables(rows, scratch);
    {
      std::ofstream of_envelopes(scratch / "envelopes.csv", std::ios::binary);
      if (const auto written = csv.write(rows, dataset, of_envelopes); !written.ok()) return written;
      if (!of_envelopes.flush()) throw std::runtime_error("the temporary files cannot be written");
    }
    save(scratch / "datapackage.json",
         package_of(dataset, scratch).dump(2, ' ', false, ordered_json::error_handler_t::replace) + "\n");
    write_zip(scratch / "package.zip", {{"datapackage.json", scratch / "datapackage.json"},
                                        {"photographs.csv", scratch / "photographs.csv"},
                                        {"envelopes.csv", scratch / "envelopes.csv"},
                                        {"lines.csv", scratch / "lines.csv"},
                                        {"findings.csv", scratch / "findings.csv"}});
    out << std::ifstream(scratch / "package.zip", std::ios::binary).rdbuf();
    return Done{};
  } catch (const store::Trouble&) {
    throw;
  } catch (const std::runtime_error& error) {
    return Failure{"exports", "unwritable", fmt::format("The package cannot be made: {}.", error.what()),
                   "Make room for temporary files, or name another place for them in TMPDIR."};
  }
}

}  // namespace

extern const Exporter datapackage{"datapackage", "A Frictionless data package (ZIP): tables as CSV with their schema.", write};

}  // namespace papillote::exports::formats
