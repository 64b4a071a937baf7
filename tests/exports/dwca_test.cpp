// The Darwin Core archive against the text guide, the lists of terms and the published validation rules.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <zip.h>

#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <pugixml.hpp>
#include <set>
#include <span>
#include <sstream>

#include "pipeline/exports/darwin_core.h"
#include "pipeline/store/decisions.h"
#include "tests/store/collection.h"

namespace papillote::exports {
namespace {

using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;
using Table = std::vector<std::map<std::string, std::string>>;

std::string archive_of(store::Store& store, const Dataset& dataset = {}) {
  for (const Exporter* exporter : formats::all())
    if (exporter->name == "dwca") {
      std::ostringstream out;
      (void)exporter->write(rows_of(store), dataset, out).value();
      return out.str();
    }
  throw std::runtime_error("no such format");
}

std::map<std::string, std::string> unpacked(const std::string& bytes) {
  zip_error_t error;
  zip_source_t* source = zip_source_buffer_create(bytes.data(), bytes.size(), 0, &error);
  zip_t* zip = zip_open_from_source(source, ZIP_RDONLY | ZIP_CHECKCONS, &error);
  if (zip == nullptr) throw std::runtime_error("no ZIP archive");
  std::map<std::string, std::string> files;
  for (zip_uint64_t i = 0; i < static_cast<zip_uint64_t>(zip_get_num_entries(zip, 0)); ++i) {
    zip_stat_t stat;
    zip_stat_index(zip, i, 0, &stat);
    std::string text(stat.size, '\0');
    zip_file_t* file = zip_fopen_index(zip, i, 0);
    zip_fread(file, text.data(), text.size());
    zip_fclose(file);
    files[stat.name] = text;
  }
  zip_close(zip);
  return files;
}

std::vector<std::string> parts(const std::string& line, char mark) {
  std::vector<std::string> cells;
  for (std::size_t at = 0; at <= line.size();) {
    const std::size_t end = std::min(line.find(mark, at), line.size());
    cells.push_back(line.substr(at, end - at));
    at = end + 1;
  }
  return cells;
}

// Reads a table as its part of meta.xml says, by the last part of each term's URI.
Table table_of(const std::map<std::string, std::string>& files, const pugi::xml_node& part) {
  Table table;
  std::istringstream lines(files.at(part.child("files").child("location").text().get()));
  int skip = part.attribute("ignoreHeaderLines").as_int();
  for (std::string line; std::getline(lines, line);) {
    if (skip-- > 0) continue;
    const auto cells = parts(line, '\t');
    std::map<std::string, std::string> row;
    row["(id)"] = cells.at(part.child(part.name() == std::string("core") ? "id" : "coreid").attribute("index").as_uint());
    for (const auto& field : part.children("field")) {
      const std::string term = field.attribute("term").value();
      row[term.substr(term.rfind('/') + 1)] = cells.at(field.attribute("index").as_uint());
    }
    table.push_back(row);
  }
  return table;
}

class DarwinCoreArchive : public ::testing::Test {
 protected:
  DarwinCoreArchive() {
    IndexRecord front = store::envelope(0, store::box(1000, 500, 400, 300), "=Zermatt\t1600 m\nJuli 97", "ENT 1");
    Interpretation& facts = front.interpretation;
    facts.date.emplace();
    facts.date->verbatim = "Juli 97";
    facts.date->value = "1897-07-XX";
    facts.date->confidence = 0.8;
    facts.date->alternatives = {{"1997-07-XX", 0.1}};
    facts.place.emplace();
    facts.place->verbatim = "Zermatt";
    facts.place->value = Place{"Zermatt", "2657928", "CH", 46.02, -7.75, 1999.2};
    facts.place->confidence = 0.7;
    facts.place->reasons = {"the largest of two"};
    facts.taxon.emplace();
    facts.taxon->verbatim = "Erebia cf. alpha";
    facts.taxon->value = "Erebia cf. alpha";
    facts.taxon->confidence = 0.6;
    facts.sex.emplace();
    facts.sex->value = "2 males, 1 female";
    facts.sex->confidence = 0.9;
    front.condition.findings = {{"water_stain", 3, 0.5, store::box(0, 0, 1, 1), {}, ""}, {"mould", 3, 0.2, store::box(0, 0, 1, 1), {}, ""}};
    IndexRecord back = store::envelope(0, store::box(-50, 500, 400, 300), "Coll. ?", "ENT 1");
    const IndexRecord bare = store::envelope(1, store::box(5000, 3900, 1200, 300));
    store::keep(store_, store::photograph("a front.jpg", {front, bare}, "7", "3"));
    store::keep(store_, store::photograph("b.jpg", {back}, "7", "3", "back"));
    read();
  }

  void read(const Dataset& dataset = {}) {
    files_ = unpacked(archive_of(store_, dataset));
    ASSERT_TRUE(meta_.load_string(files_.at("meta.xml").c_str()));
    ASSERT_TRUE(eml_.load_string(files_.at("eml.xml").c_str()));
    occurrences_ = table_of(files_, meta_.child("archive").child("core"));
    pictures_ = table_of(files_, meta_.child("archive").child("extension"));
  }

  const std::map<std::string, std::string>& of(const std::string& catalogue_number) const {
    for (const auto& row : occurrences_)
      if (row.at("catalogNumber") == catalogue_number) return row;
    throw std::runtime_error("no occurrence " + catalogue_number);
  }

  store::TemporaryFolder folder_;
  store::Store store_ = store::opened(folder_.path());
  std::map<std::string, std::string> files_;
  pugi::xml_document meta_;
  pugi::xml_document eml_;
  Table occurrences_;
  Table pictures_;
};

// Darwin Core text guide, TDWG 2023-09-13, and its schema tdwg_dwc_text.xsd: one core; rowType; files, then id or coreid, then
// fields; indexes unique and inside the table; the heading counted by ignoreHeaderLines; every coreid in the core.
TEST_F(DarwinCoreArchive, FollowsTheTextGuide) {
  const pugi::xml_node archive = meta_.child("archive");
  EXPECT_STREQ(archive.attribute("xmlns").value(), "http://rs.tdwg.org/dwc/text/");
  EXPECT_TRUE(files_.contains(archive.attribute("metadata").value()));
  int cores = 0;
  std::set<std::string> ids;
  for (const pugi::xml_node& part : archive.children()) {
    const bool core = part.name() == std::string("core");
    cores += core;
    EXPECT_THAT(part.attribute("rowType").value(), ::testing::StartsWith("http"));
    auto child = part.first_child();
    EXPECT_STREQ(child.name(), "files");
    child = child.next_sibling();
    EXPECT_STREQ(child.name(), core ? "id" : "coreid");
    std::set<unsigned> indexes;
    std::set<std::string> terms;
    for (child = child.next_sibling(); child; child = child.next_sibling()) {
      EXPECT_STREQ(child.name(), "field");
      EXPECT_TRUE(indexes.insert(child.attribute("index").as_uint()).second);
      EXPECT_TRUE(terms.insert(child.attribute("term").value()).second);
    }
    std::istringstream lines(files_.at(part.child("files").child("location").text().get()));
    std::string line;
    while (std::getline(lines, line)) EXPECT_GT(parts(line, '\t').size(), *indexes.rbegin()) << line;
    for (const auto& row : table_of(files_, part)) {
      if (core) {
        EXPECT_TRUE(ids.insert(row.at("(id)")).second);
      } else {
        EXPECT_TRUE(ids.contains(row.at("(id)"))) << row.at("(id)");
      }
    }
  }
  EXPECT_EQ(cores, 1);
  EXPECT_EQ(ids.size(), 2U) << "one envelope on two photographs is one occurrence";
}

// Darwin Core list of terms (TDWG, 2026-05-26) as far as papered specimens need it; the six at the end from memory of the
// same list. Audiovisual Core term list (TDWG, 2026-02-24).
TEST_F(DarwinCoreArchive, UsesTermsOfTheLists) {
  const std::set<std::string> darwin_core{
      "occurrenceID", "basisOfRecord", "scientificName", "eventDate", "verbatimEventDate", "verbatimLabel", "recordedBy", "recordNumber", "locality",
      "verbatimLocality", "countryCode", "verbatimElevation", "decimalLatitude", "decimalLongitude", "geodeticDatum", "coordinateUncertaintyInMeters",
      "coordinatePrecision", "georeferencedBy", "georeferencedDate", "georeferenceProtocol", "georeferenceSources", "georeferenceVerificationStatus",
      "georeferenceRemarks", "preparations", "disposition", "occurrenceRemarks", "identificationQualifier", "verbatimIdentification", "identifiedBy",
      "dateIdentified", "typeStatus", "individualCount", "sex", "lifeStage", "catalogNumber", "otherCatalogNumbers", "institutionCode", "collectionCode",
      "associatedMedia", "materialEntityID", "occurrenceStatus",
      "kingdom", "class", "taxonRank", "minimumElevationInMeters", "maximumElevationInMeters", "verbatimCoordinates", "dynamicProperties"};
  for (const Column& column : occurrence_columns()) {
    const std::string term(column.term);
    EXPECT_TRUE(term.starts_with("http://rs.tdwg.org/dwc/terms/") && darwin_core.contains(term.substr(29))) << term;
    EXPECT_EQ(term.substr(29), column.name);
  }
  const std::set<std::string> audiovisual{"http://purl.org/dc/terms/identifier",
                                          "http://purl.org/dc/elements/1.1/type",
                                          "http://purl.org/dc/terms/title",
                                          "http://rs.tdwg.org/ac/terms/metadataLanguageLiteral",
                                          "http://purl.org/dc/elements/1.1/rights",
                                          "http://rs.tdwg.org/ac/terms/accessURI",
                                          "http://purl.org/dc/elements/1.1/format",
                                          "http://ns.adobe.com/exif/1.0/PixelXDimension",
                                          "http://ns.adobe.com/exif/1.0/PixelYDimension",
                                          "http://rs.tdwg.org/ac/terms/hashFunction",
                                          "http://rs.tdwg.org/ac/terms/hashValue",
                                          "http://rs.tdwg.org/ac/terms/digitizationDate",
                                          "http://rs.tdwg.org/ac/terms/captureDevice",
                                          "http://rs.tdwg.org/ac/terms/associatedSpecimenReference",
                                          "http://rs.tdwg.org/ac/terms/IDofContainingCollection",
                                          "http://rs.tdwg.org/ac/terms/isROIOf",
                                          "http://rs.tdwg.org/ac/terms/hasROI",
                                          "http://rs.tdwg.org/ac/terms/xFrac",
                                          "http://rs.tdwg.org/ac/terms/yFrac",
                                          "http://rs.tdwg.org/ac/terms/widthFrac",
                                          "http://rs.tdwg.org/ac/terms/heightFrac"};
  for (std::size_t i = 1; i < media_columns().size(); ++i) EXPECT_TRUE(audiovisual.contains(std::string(media_columns()[i].term))) << media_columns()[i].term;
}

// TDWG Biodiversity Data Quality, TG2 core tests: VALIDATION_BASISOFRECORD_STANDARD, ..._GEODETICDATUM_STANDARD,
// ..._DECIMALLATITUDE_INRANGE, ..._DECIMALLONGITUDE_INRANGE, ..._COORDINATEUNCERTAINTY_INRANGE (over 0), ..._COUNTRYCODE_STANDARD,
// ..._SEX_STANDARD; required terms after GBIF's data quality requirements for occurrences.
TEST_F(DarwinCoreArchive, HasTheRequiredTermsInTheirStandardForm) {
  for (const auto& row : occurrences_) {
    EXPECT_TRUE(row.at("occurrenceID").starts_with("urn:uuid:") && row.at("occurrenceID").size() == 45) << row.at("occurrenceID");
    EXPECT_EQ(row.at("basisOfRecord"), "PreservedSpecimen");
    EXPECT_NE(row.at("scientificName"), "");
  }
  const auto& row = of("ENT 1");
  EXPECT_EQ(row.at("geodeticDatum"), "EPSG:4326");
  EXPECT_EQ(row.at("decimalLatitude"), "46.02");
  EXPECT_EQ(row.at("decimalLongitude"), "-7.75") << "a sign makes no formula";
  EXPECT_EQ(row.at("coordinateUncertaintyInMeters"), "2000");
  EXPECT_EQ(row.at("countryCode"), "CH");
  EXPECT_EQ(row.at("sex"), "male | female");
  EXPECT_EQ(row.at("scientificName"), "Erebia");
  EXPECT_EQ(row.at("identificationQualifier"), "cf. alpha");
  EXPECT_EQ(row.at("georeferenceVerificationStatus"), "requires verification");
  for (const auto& other : occurrences_)
    if (&other != &row) {
      EXPECT_EQ(other.at("geodeticDatum"), "") << "no datum without coordinates";
      EXPECT_EQ(other.at("eventDate"), "") << "no date is invented";
    }
}

TEST_F(DarwinCoreArchive, SetsWhatIsWrittenBesideWhatItMeansAndNamesTheMachine) {
  const auto& row = of("ENT 1");
  EXPECT_EQ(row.at("verbatimLabel"), "'=Zermatt 1600 m | Juli 97 | Coll. ?") << "front before back, one line, no formula";
  EXPECT_EQ(row.at("eventDate"), "1897-07");
  EXPECT_EQ(row.at("verbatimEventDate"), "Juli 97");
  EXPECT_EQ(row.at("verbatimLocality"), "Zermatt");
  EXPECT_EQ(row.at("verbatimIdentification"), "Erebia cf. alpha");
  EXPECT_THAT(row.at("occurrenceRemarks"), HasSubstr("by machine"));
  EXPECT_THAT(row.at("occurrenceRemarks"), HasSubstr("water stain (serious)"));
  EXPECT_EQ(row.at("occurrenceRemarks").find("mould"), std::string::npos) << "too doubtful to publish";
  const auto machine = nlohmann::json::parse(row.at("dynamicProperties")).at("machineInterpretation");
  EXPECT_EQ(machine.at("date").at("confidence"), 0.8);
  EXPECT_EQ(machine.at("date").at("edtf"), "1897-07-XX");
  EXPECT_EQ(machine.at("date").at("alternatives").at(0).at(0), "1997-07-XX");
}

TEST_F(DarwinCoreArchive, KeepsIdentifiersAndBytesOverReExports) {
  EXPECT_TRUE(archive_of(store_) == archive_of(store_)) << "the same index, the same bytes";
  const std::string before = of("ENT 1").at("occurrenceID");
  store::decide(store_, {store::ids_on(store_, "b.jpg")[0], "date", "\"1897-07-14\"", "me", "2026-01-01T10:00:00Z", "", store::DayRange{-26469, -26469}});
  read();
  const auto& row = of("ENT 1");
  EXPECT_EQ(row.at("occurrenceID"), before);
  EXPECT_EQ(row.at("eventDate"), "1897-07-14");
  EXPECT_THAT(row.at("occurrenceRemarks"), HasSubstr("settled by a person: date"));
  EXPECT_FALSE(nlohmann::json::parse(row.at("dynamicProperties")).at("machineInterpretation").contains("date"));
  Dataset other;
  other.institution_code = "OTHER";
  EXPECT_NE(occurrence_id(other, "X"), occurrence_id({}, "X")) << "two houses may both have a number 1";
}

// Audiovisual Core (2026-02-24): fractions from the upper left corner, sizes over 0, sums at most 1; a region names its picture.
TEST_F(DarwinCoreArchive, GivesEveryViewAsARegionOfItsPhotograph) {
  std::map<std::string, std::map<std::string, std::string>> by_id;
  for (const auto& row : pictures_) by_id[row.at("identifier")] = row;
  int regions = 0;
  for (const auto& row : pictures_) {
    EXPECT_EQ(row.at("type"), "StillImage");
    EXPECT_NE(row.at("rights"), "");
    EXPECT_NE(row.at("metadataLanguageLiteral"), "");
    if (row.at("isROIOf").empty()) {
      EXPECT_EQ(row.at("hashFunction"), "SHA-256");
      continue;
    }
    ++regions;
    EXPECT_TRUE(by_id.contains(row.at("isROIOf")));
    const double x = std::stod(row.at("xFrac")), y = std::stod(row.at("yFrac")), w = std::stod(row.at("widthFrac")), h = std::stod(row.at("heightFrac"));
    EXPECT_TRUE(x >= 0 && y >= 0 && w > 0 && h > 0);
    EXPECT_TRUE(x + w <= 1 + 1e-9 && y + h <= 1 + 1e-9);
  }
  EXPECT_EQ(regions, 3);
  const auto& first = pictures_.at(1);  // box 1000, 500, 400 x 300 of 6000 x 4000
  EXPECT_NEAR(std::stod(first.at("xFrac")) * 6000, 1000, 0.5);
  EXPECT_NEAR(std::stod(first.at("heightFrac")) * 4000, 300, 0.5);
}

// The worked example of the Audiovisual Core repository (fragments): 611, 598, 192 x 666 px of 2112 x 2526 px.
TEST(Regions, AgreeWithThePublishedExample) {
  View view;
  view.photo.width_px = 2112;
  view.photo.height_px = 2526;
  view.photo.sha256 = digest_of("x");
  view.record.outline.polygon_px = store::box(611, 598, 192, 666);
  const auto rows = media({}, view);
  ASSERT_EQ(rows.size(), 2U);
  const double expected[] = {0.28939, 0.23674, 0.09066, 0.26373};
  for (std::size_t i = 0; i < 4; ++i) EXPECT_NEAR(std::stod(rows[1][18 + i]), expected[i], 4e-4) << i;  // their corners are rounded to pixels
}

// ISO 8601-1 forms of EDTF dates (Library of Congress, EDTF 2019): what only part 2 can say stays empty.
TEST(EventDate, SaysInIsoWhatIsoCanSay) {
  const std::map<std::string, std::string> cases{
      {"1906", "1906"},       {"1906-06", "1906-06"},   {"1906-06-09", "1906-06-09"}, {"1906-06-09/1906-06-12", "1906-06-09/1906-06-12"},
      {"1906-06-XX", "1906-06"}, {"1906-XX-XX", "1906"}, {"190X", "1900/1909"},        {"19XX", "1900/1999"},
      {"1906?", "1906"},      {"1906~", ""},            {"1906-21", ""},              {"[1896,1996]", ""},
      {"1906/..", ""},        {"../1906", ""},          {"1906-XX-09", ""},           {"", ""},
      {"190X/191X", "1900/1919"}, {"-0044", ""},        {"XXXX", ""}};
  for (const auto& [edtf, iso] : cases) EXPECT_EQ(iso_of_edtf(edtf), iso) << edtf;
}

TEST_F(DarwinCoreArchive, DescribesTheDataSetAndInventsNothing) {
  const auto set = eml_.child("eml:eml").child("dataset");
  EXPECT_STREQ(set.child("title").text().get(), "not stated");
  // GBIF's data quality requirements: title, description, organisation, licence, contact, creator, metadata provider.
  for (const char* part : {"title", "creator", "metadataProvider", "abstract", "intellectualRights", "contact"}) EXPECT_TRUE(set.child(part)) << part;
  const auto dataset = read_dataset(R"({"title": "Tins <7> & 8", "contact_surname": "Someone", "media_uri": "https://example.org/p"})", "about.json");
  ASSERT_TRUE(dataset.ok());
  read(*dataset);
  EXPECT_STREQ(eml_.child("eml:eml").child("dataset").child("title").text().get(), "Tins <7> & 8");
  EXPECT_EQ(pictures_.at(0).at("accessURI"), "https://example.org/p/a%20front.jpg");
  EXPECT_THAT(read_dataset(R"({"titel": "x"})", "about.json").failure().reason, HasSubstr("titel"));
  EXPECT_THAT(read_dataset(R"({"title": 3})", "about.json").failure().reason, HasSubstr("title"));
  EXPECT_THAT(read_dataset("[", "about.json").failure().reason, HasSubstr("about.json"));
}

struct Part {
  const char* name;
  int least;
  int most;
};
constexpr int kMany = 1000;

// GBIF's metadata profile as published (eml-gbif-profile.xsd), what may stand in a data set, in this order.
constexpr Part kDataset[]{{"alternateIdentifier", 0, kMany}, {"shortName", 0, 1},    {"title", 1, kMany},          {"creator", 1, kMany},
                          {"metadataProvider", 0, kMany},    {"associatedParty", 0, kMany}, {"pubDate", 1, 1},     {"language", 0, 1},
                          {"abstract", 1, 1},                {"keywordSet", 0, kMany}, {"additionalInfo", 0, 1},  {"intellectualRights", 0, 1},
                          {"distribution", 0, 1},            {"coverage", 0, 1},     {"purpose", 0, 1},            {"maintenance", 0, 1},
                          {"contact", 1, kMany},             {"publisher", 0, 1},    {"methods", 0, 1},            {"project", 0, 1}};
// Of an agentType: one or more names in any order before the ways to reach it.
constexpr Part kReach[]{{"address", 0, kMany}, {"phone", 0, kMany}, {"electronicMailAddress", 0, kMany}, {"onlineUrl", 0, kMany}, {"userId", 0, kMany}};

std::string faults_of_order(const pugi::xml_node& node, std::span<const Part> parts) {
  std::string faults;
  auto child = node.first_child();
  for (const Part& part : parts) {
    int count = 0;
    for (; child && child.name() == std::string_view(part.name); child = child.next_sibling()) ++count;
    if (count < part.least || count > part.most) faults += fmt::format("{} stands {} times in {}; ", part.name, count, node.name());
  }
  if (child) faults += fmt::format("{} stands out of order in {}; ", child.name(), node.name());
  return faults;
}

std::string faults_of_words(const pugi::xml_node& node) {  // NonEmptyStringType
  const std::string words = node.text().get();
  return words.find_first_not_of(" \t\r\n") == std::string::npos ? fmt::format("{} is empty; ", node.name()) : "";
}

std::string faults_of_agent(const pugi::xml_node& agent) {
  std::string faults;
  pugi::xml_document reach;
  auto rest = reach.append_child(agent.name());
  int names = 0;
  for (const auto& part : agent.children()) {
    const std::string_view name = part.name();
    if (name == "individualName") {
      constexpr Part kName[]{{"salutation", 0, kMany}, {"givenName", 0, kMany}, {"surName", 1, 1}};
      faults += faults_of_order(part, kName);
      for (const auto& word : part.children()) faults += faults_of_words(word);
    } else {
      faults += faults_of_words(part);
    }
    if (name != "individualName" && name != "organizationName" && name != "positionName") rest.append_copy(part);
    else if (rest.first_child()) faults += fmt::format("{} comes too late; ", name);
    else ++names;
  }
  return faults + (names == 0 ? fmt::format("{} has no name; ", agent.name()) : "") + faults_of_order(rest, kReach);
}

std::string faults_of_eml(const pugi::xml_document& document) {
  const auto eml = document.first_child();
  std::string faults;
  if (eml.name() != std::string_view("eml:eml") || eml.attribute("xmlns:eml").value() != std::string_view("eml://ecoinformatics.org/eml-2.1.1"))
    faults += "the root is not that of EML 2.1.1; ";
  if (eml.attribute("scope").value() != std::string_view("system")) faults += "scope is not 'system'; ";
  for (const char* name : {"packageId", "system"})
    if (!*eml.attribute(name).value()) faults += fmt::format("there is no {}; ", name);
  constexpr Part kEml[]{{"dataset", 1, 1}, {"additionalMetadata", 0, 1}};
  faults += faults_of_order(eml, kEml);
  const auto set = eml.child("dataset");
  faults += faults_of_order(set, kDataset);
  for (const char* role : {"creator", "metadataProvider", "contact"})
    for (const auto& agent : set.children(role)) faults += faults_of_agent(agent);
  for (const char* words : {"title", "language"}) faults += faults_of_words(set.child(words));
  for (const char* block : {"abstract", "intellectualRights"})
    for (const auto& para : set.child(block).children())
      if (para.name() != std::string_view("para")) faults += fmt::format("{} in {}; ", para.name(), block);
  const std::string day = set.child("pubDate").text().get();  // yearDate: xs:gYear or xs:date
  if (day.size() != 4 && (day.size() != 10 || day[4] != '-' || day[7] != '-')) faults += "pubDate is neither a year nor a day; ";
  return faults;
}

// The schema's own rules, written out here: its files may not be copied into this repository.
TEST_F(DarwinCoreArchive, EmlKeepsToTheSchemaOfItsProfile) {
  const auto full = read_dataset(R"({"title": "Tins", "description": "Papered", "organisation": "A house", "contact_given_name": "N.",
      "contact_surname": "Example", "contact_email": "n@example.org", "licence": "https://creativecommons.org/licenses/by/4.0/", "published": "2026"})", "about.json");
  ASSERT_TRUE(full.ok()) << full.failure().reason;
  Dataset bare;
  bare.published = "2026-05-01";
  Dataset surname = bare;
  surname.contact_surname = "Example";
  for (const Dataset& dataset : {*full, bare, surname}) {
    read(dataset);
    EXPECT_EQ(faults_of_eml(eml_), "");
  }
  // The check itself: what is amiss is seen.
  auto set = eml_.first_child().child("dataset");
  set.remove_child("pubDate");
  EXPECT_THAT(faults_of_eml(eml_), HasSubstr("pubDate stands 0 times"));
  set.append_copy(set.child("title"));
  EXPECT_THAT(faults_of_eml(eml_), HasSubstr("title stands out of order"));
  set.child("contact").prepend_copy(set.child("title"));
  EXPECT_THAT(faults_of_eml(eml_), HasSubstr("organizationName comes too late"));
  for (const char* wrong : {"May 2026", "2026-5-1", "2026-02-30", "20260501"})
    EXPECT_FALSE(read_dataset(fmt::format(R"({{"published": "{}"}})", wrong), "about.json").ok()) << wrong;
}

}  // namespace
}  // namespace papillote::exports
