// GeoJSON, data package, IIIF manifest and bag against their published schemas and rules; hostile text stays text in each.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <spawn.h>
#include <sys/wait.h>
#include <zip.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <pugixml.hpp>
#include <regex>
#include <set>
#include <sstream>

#include "pipeline/exports/bag.h"
#include "pipeline/exports/exporter.h"
#include "pipeline/record/csv.h"
#include "tests/store/collection.h"

extern char** environ;

namespace papillote::exports {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

const std::string kHostile = "<script>alert(1)</script>\n=HYPERLINK(\"x\") \xE2\x80\xAEgnp.exe \xff";

std::string bytes_of(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

void put(const fs::path& file, const std::string& bytes) { std::ofstream(file, std::ios::binary) << bytes; }

int status_of(std::vector<std::string> words, const fs::path& folder = ".") {
  std::vector<char*> arguments;
  for (std::string& word : words) arguments.push_back(word.data());
  arguments.push_back(nullptr);
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_addchdir_np(&actions, folder.c_str());
  pid_t child = 0;
  int status = -1;
  if (::posix_spawnp(&child, arguments[0], &actions, nullptr, arguments.data(), environ) == 0) ::waitpid(child, &status, 0);
  posix_spawn_file_actions_destroy(&actions);
  return status;
}

// By Debian's python3-jsonschema.
int schema_status(const json& document, const std::string& schema) {
  const store::TemporaryFolder folder;
  put(folder.path() / "document.json", document.dump());
  return status_of({"/usr/bin/python3", "-W", "ignore", "-m", "jsonschema", "-i", (folder.path() / "document.json").string(),
                    std::string(PAPILLOTE_SOURCE_DIR) + "/tests/exports/schemas/" + schema});
}

class OpenFormats : public ::testing::Test {
 protected:
  OpenFormats() {
    dataset_.title = "Tins of a Museum";
    dataset_.organisation = "A Museum";
    dataset_.licence = "https://creativecommons.org/licenses/by/4.0/";
    dataset_.media_uri = "https://pictures.example.org/tins";
    IndexRecord placed = store::envelope(0, store::box(10.5, 20, 400, 300), kHostile, "ENT 1");
    placed.interpretation.place.emplace();
    placed.interpretation.place->verbatim = "Zermatt";
    placed.interpretation.place->value = Place{"Zermatt", "", "CH", 46.0207123456, 7.7491, 2000};
    placed.interpretation.place->confidence = 0.9;
    placed.condition.findings = {{"tear", 2, 0.5, store::box(0, 0, 1, 1), 3.5, "a tear"}};
    const IndexRecord nowhere = store::envelope(1, store::box(500, 0, 10, 10), "");
    for (const std::string& path : paths_) {
      PhotoIndex index =
          store::photograph(path, path == paths_[0] ? std::vector{placed, nowhere} : std::vector{placed}, "7", "3");
      index.photo.format = "jpeg";
      index.calibration.px_per_mm = 9.5;
      store::keep(store_, index);
    }
  }

  std::string written(std::string_view name) {
    for (const Exporter* exporter : formats::all())
      if (exporter->name == name) {
        std::ostringstream out;
        const auto done = exporter->write(rows_of(store_), dataset_, out);
        return done.ok() ? out.str() : done.failure().kind;
      }
    return "no such format";
  }

  const std::vector<std::string> paths_{"a sheet+1.jpg", "b.jpg"};
  Dataset dataset_;
  store::TemporaryFolder folder_;
  store::Store store_ = store::opened(folder_.path());
};

TEST_F(OpenFormats, GeoJsonFollowsRfc7946) {
  const json all = json::parse(written("geojson"));
  EXPECT_EQ(schema_status(all, "geojson-feature-collection.json"), 0);
  ASSERT_EQ(all["features"].size(), 2U);  // one an envelope, though two photographs show one of them
  EXPECT_FALSE(all.contains("crs"));      // RFC 7946, 4: WGS 84, and no crs member
  std::set<std::string> ids;
  for (const json& feature : all["features"]) ids.insert(feature.at("id").get<std::string>());
  EXPECT_EQ(ids.size(), 2U);
  const bool first_is_placed = !all["features"][0]["geometry"].is_null();
  const json& placed = all["features"][first_is_placed ? 0 : 1];
  EXPECT_EQ(placed["geometry"]["coordinates"], json::parse("[7.7491, 46.020712]"));  // 3.1.1: longitude first; 11.2: six places
  EXPECT_TRUE(all["features"][first_is_placed ? 1 : 0]["geometry"].is_null());       // 3.2: unlocated
  EXPECT_EQ(placed["properties"]["verbatimLocality"], "Zermatt");
  EXPECT_THAT(placed["properties"]["verbatimLabel"].get<std::string>(), HasSubstr("<script>"));
  EXPECT_TRUE(placed["properties"]["coordinateUncertaintyInMeters"].is_number());
}

// The schema's check can fail: a feature without its geometry, a profile that is none.
TEST_F(OpenFormats, SchemasRefuseWhatIsWrong) {
  json all = json::parse(written("geojson"));
  all["features"][0].erase("geometry");
  EXPECT_NE(schema_status(all, "geojson-feature-collection.json"), 0);
  EXPECT_NE(schema_status(json{{"profile", "tabular-data-package"}, {"resources", json::array()}}, "tabular-data-package.json"),
            0);
}

std::map<std::string, std::string> unzipped(const std::string& bytes, const fs::path& folder) {
  put(folder / "package.zip", bytes);
  std::map<std::string, std::string> files;
  int error = 0;
  zip_t* archive = zip_open((folder / "package.zip").c_str(), ZIP_RDONLY, &error);
  if (archive == nullptr) return files;
  for (zip_int64_t k = 0; k < zip_get_num_entries(archive, 0); ++k) {
    zip_stat_t about;
    zip_stat_index(archive, static_cast<zip_uint64_t>(k), 0, &about);
    std::string text(about.size, '\0');
    zip_file_t* file = zip_fopen_index(archive, static_cast<zip_uint64_t>(k), 0);
    EXPECT_EQ(zip_fread(file, text.data(), text.size()), static_cast<zip_int64_t>(text.size()));
    zip_fclose(file);
    files[about.name] = text;
  }
  zip_close(archive);
  return files;
}

bool is_of_type(const std::string& cell, const std::string& type) {
  if (type == "string") return true;
  static const std::regex integer("-?[0-9]+");
  static const std::regex number("-?[0-9]+(\\.[0-9]+)?([eE][-+]?[0-9]+)?");
  return std::regex_match(cell, type == "integer" ? integer : number);
}

TEST_F(OpenFormats, DataPackageFollowsItsProfileAndItsTablesTheirSchemas) {
  const store::TemporaryFolder folder;
  auto files = unzipped(written("datapackage"), folder.path());
  const json package = json::parse(files.at("datapackage.json"));
  EXPECT_EQ(schema_status(package, "tabular-data-package.json"), 0);
  EXPECT_EQ(package["name"], "tins-of-a-museum");
  EXPECT_EQ(package["resources"].size() + 1, files.size());
  std::map<std::string, std::set<std::string>> photographs;
  for (const json& resource : package["resources"]) {
    const std::string& text = files.at(resource["path"].get<std::string>());
    // Data Resource 1.0: bytes and hash; Table Schema 1.0: headings, types, required cells, primary and foreign keys.
    EXPECT_EQ(resource["bytes"], text.size());
    EXPECT_EQ(resource["hash"], "sha256:" + digest_of(text).hex);
    EXPECT_NO_THROW((void)json(text).dump()) << "no UTF-8";
    const auto rows = csv_rows(text, ',');
    const json& schema = resource["schema"];
    ASSERT_FALSE(rows.empty());
    ASSERT_EQ(rows[0].cells.size(), schema["fields"].size());
    std::set<std::vector<std::string>> keys;
    for (std::size_t r = 0; r < rows.size(); ++r) {
      ASSERT_EQ(rows[r].cells.size(), schema["fields"].size());
      std::vector<std::string> key;
      for (std::size_t c = 0; c < rows[r].cells.size(); ++c) {
        const json& field = schema["fields"][c];
        const std::string& cell = rows[r].cells[c];
        if (r == 0) {
          EXPECT_EQ(cell, field["name"]);
          continue;
        }
        EXPECT_TRUE(cell.empty() || is_of_type(cell, field["type"])) << field["name"] << " " << cell;
        EXPECT_FALSE(cell.empty() && field.contains("constraints")) << field["name"];
        for (const json& part : schema["primaryKey"])
          if (part == field["name"]) key.push_back(cell);
        if (field["name"] == "photograph") photographs[resource["name"]].insert(cell);
      }
      if (r > 0) {
        EXPECT_TRUE(keys.insert(key).second) << "a primary key comes twice in " << resource["name"];
      }
    }
    EXPECT_GT(rows.size(), 1U) << resource["name"];
  }
  for (const auto& [name, named] : photographs)
    for (const std::string& photograph : named) EXPECT_TRUE(photographs["photographs"].contains(photograph)) << name;
  EXPECT_THAT(files.at("envelopes.csv"), HasSubstr("alert(1)"));
}

// IIIF Presentation API 3.0, the numbers being those of its sections.
void expect_language_map(const json& value) {  // 4.4
  ASSERT_TRUE(value.is_object());
  for (const auto& [language, texts] : value.items()) {
    ASSERT_TRUE(texts.is_array()) << language;
    for (const json& text : texts) EXPECT_TRUE(text.is_string());
  }
}

TEST_F(OpenFormats, ManifestFollowsPresentation3) {
  const json manifest = json::parse(written("iiif"));
  EXPECT_EQ(manifest.begin().key(), "@context");
  EXPECT_EQ(manifest["@context"], "http://iiif.io/api/presentation/3/context.json");  // 4.6
  EXPECT_EQ(manifest["type"], "Manifest");
  expect_language_map(manifest["label"]);                                        // 5.2: required
  EXPECT_EQ(manifest["rights"], "http://creativecommons.org/licenses/by/4.0/");  // 3.1: as an http URI
  ASSERT_EQ(manifest["items"].size(), 2U);
  std::set<std::string> ids{manifest["id"].get<std::string>()};
  const std::regex uri("https?://[-A-Za-z0-9._~:/%]+");
  const auto fresh = [&](const json& id) {  // 3.2: an HTTP(S) URI, no two alike, without a fragment (5.3)
    EXPECT_TRUE(std::regex_match(id.get<std::string>(), uri)) << id;
    EXPECT_TRUE(ids.insert(id.get<std::string>()).second) << id;
  };
  for (const json& canvas : manifest["items"]) {
    EXPECT_EQ(canvas["type"], "Canvas");
    fresh(canvas["id"]);
    EXPECT_GT(canvas["width"].get<int>(), 0);
    EXPECT_GT(canvas["height"].get<int>(), 0);
    expect_language_map(canvas["label"]);
    ASSERT_EQ(canvas["items"].size(), 1U);
    const json& page = canvas["items"][0];
    EXPECT_EQ(page["type"], "AnnotationPage");
    fresh(page["id"]);
    const json& painting = page["items"][0];
    fresh(painting["id"]);
    EXPECT_EQ(painting["motivation"], "painting");  // 5.6: and its target is the canvas
    EXPECT_EQ(painting["target"], canvas["id"]);
    EXPECT_EQ(painting["body"]["type"], "Image");
    EXPECT_EQ(painting["body"]["format"], "image/jpeg");
    EXPECT_TRUE(std::regex_match(painting["body"]["id"].get<std::string>(), uri));
    for (const json& envelopes : canvas["annotations"]) {
      EXPECT_EQ(envelopes["type"], "AnnotationPage");
      fresh(envelopes["id"]);
      for (const json& annotation : envelopes["items"]) {
        fresh(annotation["id"]);
        EXPECT_EQ(annotation["type"], "Annotation");
        EXPECT_EQ(annotation["motivation"], "supplementing");  // 5.2 annotations: never painting
        EXPECT_EQ(annotation["target"]["source"], canvas["id"]);
        EXPECT_EQ(annotation["target"]["selector"]["type"], "SvgSelector");
        pugi::xml_document svg;
        ASSERT_TRUE(svg.load_string(annotation["target"]["selector"]["value"].get<std::string>().c_str()));
        EXPECT_THAT(svg.child("svg").child("path").attribute("d").value(), ::testing::MatchesRegex("M[0-9., L]+ Z"));
        for (const json& body : annotation["body"]) EXPECT_EQ(body["format"], "text/plain");
      }
    }
  }
  EXPECT_EQ(manifest["items"][0]["items"][0]["items"][0]["body"]["id"], "https://pictures.example.org/tins/a%20sheet%2B1.jpg");
  EXPECT_THAT(manifest["items"][0]["annotations"][0]["items"][0]["body"][1]["value"].get<std::string>(), HasSubstr("<script>"));
}

TEST_F(OpenFormats, ManifestNeedsToKnowWhereItsPicturesAre) {
  dataset_.media_uri = "ftp://x";
  EXPECT_EQ(written("iiif"), "no_media_uri");
}

// RFC 8493, the numbers being those of its sections.
class Bags : public ::testing::Test {
 protected:
  void SetUp() override {
    const fs::path bag = folder_.path();
    fs::create_directories(bag / "data/a");
    put(bag / "data/a/100%.txt", "x");
    put(bag / "data/b.txt", "yy");
    const std::map<std::string, std::string> tags{
        {"bagit.txt", kBagDeclaration},
        {"bag-info.txt", bag_info({}, "2026-11-25", 3, 2)},
        {kPayloadManifest, manifest_text({{"data/a/100%.txt", digest_of("x")}, {"data/b.txt", digest_of("yy")}})}};
    BagManifest tag_manifest;
    for (const auto& [name, text] : tags) {
      put(bag / name, text);
      tag_manifest[name] = digest_of(text);
    }
    put(bag / kTagManifest, manifest_text(tag_manifest));
  }

  std::vector<std::string> faults() { return faults_of_bag(folder_.path()).value(); }

  store::TemporaryFolder folder_;
};

TEST_F(Bags, AreCompleteAndValid) {
  EXPECT_THAT(faults(), IsEmpty());
  EXPECT_EQ(bytes_of(folder_.path() / "bagit.txt"), "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");  // 2.1.1
  EXPECT_THAT(bytes_of(folder_.path() / kPayloadManifest), HasSubstr("  data/a/100%25.txt\n"));                   // 2.1.3
  EXPECT_THAT(bytes_of(folder_.path() / "bag-info.txt"), HasSubstr("Payload-Oxum: 3.2\n"));                       // 2.2.2
  // By another program: coreutils reads the same lines, paths without % alone.
  EXPECT_EQ(status_of({"sha256sum", "--quiet", "--strict", "-c", kTagManifest}, folder_.path()), 0);
}

TEST_F(Bags, TellEveryFault) {
  put(folder_.path() / "data/b.txt", "changed");
  put(folder_.path() / "data/new.txt", "not listed");
  fs::remove(folder_.path() / "data/a/100%.txt");
  EXPECT_EQ(faults().size(), 3U);
  put(folder_.path() / "bag-info.txt", "changed");
  EXPECT_EQ(faults().size(), 4U);
  fs::remove(folder_.path() / kPayloadManifest);
  EXPECT_EQ(faults_of_bag(folder_.path()).failure().kind, "no_bag");
}

TEST_F(Bags, ManifestsNeverLeaveTheBag) {
  const std::string hex(64, 'a');
  for (const std::string& line : {hex + "  ../x", hex + "  /etc/passwd", hex + "  ~/x", hex + "  data/../../x", hex,
                                  std::string("short  data/x"), hex + "data/x", hex + "  data/x\n" + hex + "  data/x"})
    EXPECT_EQ(read_manifest(line + "\n", "m").failure().kind, "damaged_list") << line;  // 5.2, 5.1.3
  const auto odd = read_manifest(hex + "  data/a%0Ab%25\n", "m");
  ASSERT_TRUE(odd.ok());
  EXPECT_EQ(odd->begin()->first, "data/a\nb%");
}

TEST_F(Bags, FoldLongValues) {
  Dataset dataset;
  dataset.description = std::string(40, 'a') + " " + std::string(60, 'b') + "\nBagging-Date: 1900-01-01";
  const std::string info = bag_info(dataset, "2026-11-25", 0, 0);
  std::istringstream lines(info);
  int dates = 0;
  for (std::string line; std::getline(lines, line);) {
    EXPECT_LE(line.size(), 79U);
    dates += line.starts_with("Bagging-Date:") ? 1 : 0;
  }
  EXPECT_EQ(dates, 1);  // a text cannot pose as another label
}

}  // namespace
}  // namespace papillote::exports
