// A Darwin Core archive: occurrences, their pictures with regions of interest, and what the data set says of itself.
//
// Source: Darwin Core text guide (TDWG, 2023). Tables are divided by tabs without quotes, which every reader takes; line
// breaks within a text become " | ", the standard's mark between the values of a list.
#include <fmt/format.h>

#include <fstream>
#include <ostream>
#include <pugixml.hpp>
#include <sstream>
#include <stdexcept>

#include "pipeline/exports/darwin_core.h"
#include "pipeline/exports/exporter.h"
#include "pipeline/exports/scratch.h"
#include "pipeline/exports/utf8.h"
#include "pipeline/exports/zip.h"
#include "pipeline/record/csv.h"
#include "pipeline/record/digest.h"
#include "pipeline/record/uuid.h"

namespace papillote::exports::formats {
namespace {

// Valid UTF-8 on one line.
std::string cell(const std::string& text) {
  std::string out;
  for (const char c : no_formula(valid_utf8(text))) {
    if (c == '\n') out += " | ";
    else if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) out += ' ';
    else out += c;
  }
  return out;
}

void write_row(std::ostream& out, const std::vector<std::string>& cells) {
  for (std::size_t i = 0; i < cells.size(); ++i) out << (i == 0 ? "" : "\t") << cell(cells[i]);
  out << '\n';
}

void write_heading(std::ostream& out, const std::vector<Column>& columns) {
  for (std::size_t i = 0; i < columns.size(); ++i) out << (i == 0 ? "" : "\t") << columns[i].name;
  out << '\n';
}

void write_tables(const Rows& rows, const Dataset& dataset, std::ostream& occurrences, std::ostream& pictures) {
  write_heading(occurrences, occurrence_columns());
  write_heading(pictures, media_columns());
  for_each_occurrence(rows, [&](const std::vector<View>& views) { write_row(occurrences, occurrence(dataset, views)); });
  rows([&](const store::IndexedPhotograph& photograph) {
    const Sheet sheet = photograph.index.calibration.sheet.value_or(Sheet{});
    for (const IndexRecord& record : photograph.index.envelopes)
      for (const auto& row : media(dataset, {photograph.index.photo, sheet, record})) write_row(pictures, row);
  });
}

std::string xml_of(const pugi::xml_document& document) {
  std::ostringstream out;
  document.save(out, "  ", pugi::format_default, pugi::encoding_utf8);
  return out.str();
}

void describe(pugi::xml_node archive, const char* part, const char* location, const char* id, std::string_view row, const std::vector<Column>& columns) {
  pugi::xml_node node = archive.append_child(part);
  node.append_attribute("rowType") = std::string(row).c_str();
  node.append_attribute("encoding") = "UTF-8";
  node.append_attribute("fieldsTerminatedBy") = "\\t";
  node.append_attribute("linesTerminatedBy") = "\\n";
  node.append_attribute("fieldsEnclosedBy") = "";
  node.append_attribute("ignoreHeaderLines") = "1";
  node.append_child("files").append_child("location").text() = location;
  node.append_child(id).append_attribute("index") = 0;
  const bool core = std::string_view(part) == "core";
  for (std::size_t i = core ? 0 : 1; i < columns.size(); ++i) {
    pugi::xml_node field = node.append_child("field");
    field.append_attribute("index") = static_cast<unsigned>(i);
    field.append_attribute("term") = std::string(columns[i].term).c_str();
  }
}

std::string meta_xml() {
  pugi::xml_document document;
  pugi::xml_node archive = document.append_child("archive");
  archive.append_attribute("xmlns") = "http://rs.tdwg.org/dwc/text/";
  archive.append_attribute("metadata") = "eml.xml";
  describe(archive, "core", "occurrence.txt", "id", kOccurrenceRow, occurrence_columns());
  describe(archive, "extension", "multimedia.txt", "coreid", kMediaRow, media_columns());
  return xml_of(document);
}

// Ecological Metadata Language 2.1.1 as GBIF's metadata profile narrows it: what is not known is called so, never invented.
std::string eml_xml(const Dataset& dataset, const std::string& content) {
  const auto or_not = [](const std::string& text) { return cell(text.empty() ? "not stated" : text); };
  pugi::xml_document document;
  pugi::xml_node eml = document.append_child("eml:eml");
  eml.append_attribute("xmlns:eml") = "eml://ecoinformatics.org/eml-2.1.1";
  eml.append_attribute("packageId") = content.c_str();
  eml.append_attribute("system") = "papillote";
  eml.append_attribute("scope") = "system";
  pugi::xml_node set = eml.append_child("dataset");
  set.append_child("title").text() = or_not(dataset.title).c_str();
  for (const char* role : {"creator", "metadataProvider"}) {
    pugi::xml_node party = set.append_child(role);
    if (!dataset.contact_surname.empty()) {
      pugi::xml_node person = party.append_child("individualName");
      if (!dataset.contact_given_name.empty()) person.append_child("givenName").text() = cell(dataset.contact_given_name).c_str();
      person.append_child("surName").text() = cell(dataset.contact_surname).c_str();
    }
    party.append_child("organizationName").text() = or_not(dataset.organisation).c_str();
    if (!dataset.contact_email.empty()) party.append_child("electronicMailAddress").text() = cell(dataset.contact_email).c_str();
  }
  if (!dataset.published.empty()) set.append_child("pubDate").text() = dataset.published.c_str();
  set.append_child("language").text() = cell(dataset.language).c_str();
  set.append_child("abstract").append_child("para").text() = or_not(dataset.description).c_str();
  set.append_child("intellectualRights").append_child("para").text() = or_not(dataset.licence).c_str();
  pugi::xml_node contact = set.append_child("contact");
  if (!dataset.contact_surname.empty()) contact.append_child("individualName").append_child("surName").text() = cell(dataset.contact_surname).c_str();
  contact.append_child("organizationName").text() = or_not(dataset.organisation).c_str();
  if (!dataset.contact_email.empty()) contact.append_child("electronicMailAddress").text() = cell(dataset.contact_email).c_str();
  pugi::xml_node step = set.append_child("methods").append_child("methodStep").append_child("description").append_child("para");
  step.text() =
      "Paper envelopes were photographed, found, read and interpreted by machine. Values that no person has settled are machine readings: "
      "occurrenceRemarks says which, dynamicProperties how sure.";
  return xml_of(document);
}

void write_archive(const Rows& rows, const Dataset& dataset, std::ostream& out) {
  // The tables of a million envelopes do not fit in memory.
  const Scratch scratch;
  {
    std::ofstream occurrences(scratch / "occurrence.txt", std::ios::binary);
    std::ofstream pictures(scratch / "multimedia.txt", std::ios::binary);
    write_tables(rows, dataset, occurrences, pictures);
    if (!occurrences.flush() || !pictures.flush()) throw std::runtime_error("the temporary files cannot be written");
  }
  save(scratch / "meta.xml", meta_xml());
  Digest content;
  for (const char* table : {"occurrence.txt", "multimedia.txt"}) {
    std::ifstream in(scratch / table, std::ios::binary);
    std::string part(1 << 20, '\0');
    while (in.read(part.data(), static_cast<std::streamsize>(part.size())) || in.gcount() > 0)
      content = digest_of(content.hex + part.substr(0, static_cast<std::size_t>(in.gcount())));
  }
  constexpr const char* kNameSpace = "b1f6f1b6-5c0e-4d0a-9a43-6f2a5a0c7e51";
  save(scratch / "eml.xml", eml_xml(dataset, uuid_v5(kNameSpace, "archive " + content.hex)));
  write_zip(scratch / "archive.zip", {{"meta.xml", scratch / "meta.xml"},
                                      {"eml.xml", scratch / "eml.xml"},
                                      {"occurrence.txt", scratch / "occurrence.txt"},
                                      {"multimedia.txt", scratch / "multimedia.txt"}});
  out << std::ifstream(scratch / "archive.zip", std::ios::binary).rdbuf();
}

Result<Done> write(const Rows& rows, const Dataset& dataset, std::ostream& out) {
  try {
    write_archive(rows, dataset, out);
    return Done{};
  } catch (const store::Trouble&) {
    throw;
  } catch (const std::runtime_error& error) {
    return Failure{"exports", "unwritable", fmt::format("The archive cannot be made: {}.", error.what()),
                   "Make room for temporary files, or name another place for them in TMPDIR."};
  }
}

}  // namespace

extern const Exporter dwca{"dwca", "A Darwin Core archive (ZIP) with pictures and regions of interest.", write};

}  // namespace papillote::exports::formats
