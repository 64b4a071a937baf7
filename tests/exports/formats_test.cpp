// Exports: the documented form, for any text that may stand on an envelope.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <sstream>
#include <stdexcept>

#include "pipeline/exports/exporter.h"
#include "pipeline/store/decisions.h"
#include "tests/store/collection.h"

namespace papillote::exports {
namespace {

using ::testing::HasSubstr;

std::string written(std::string_view name, store::Store& store) {
  for (const Exporter* exporter : formats::all())
    if (exporter->name == name) {
      std::ostringstream out;
      Dataset dataset;
      dataset.media_uri = "https://pictures.example.org/";
      (void)exporter->write(rows_of(store), dataset, out).value();
      return out.str();
    }
  throw std::runtime_error("no such format");
}

nlohmann::json json(const char* text) { return nlohmann::json::parse(text); }

class Exports : public ::testing::Test {
 protected:
  Exports() {
    IndexRecord full =
        store::envelope(0, store::box(10.123456, 20, 400, 300), "Zermatt\n=HYPERLINK(\"x\"), \"quoted\"", "ENT 1");
    full.outline.size_mm = Point{100, 75};
    full.annotation.lines[0].line.kind = LineKind::stamped;
    full.annotation.lines[0].alternatives = {{"Zermall", 0.2}};
    full.interpretation.date.emplace();
    full.interpretation.date->verbatim = "14.vii.97";
    full.interpretation.place.emplace();
    full.interpretation.place->verbatim = "Zermatt";
    full.interpretation.place->value = Place{"Zermatt", "", "CH", 46.02, 7.75, 2000};
    full.interpretation.elevation.emplace();
    full.interpretation.elevation->value = ElevationRange{1600, 1700};
    full.condition.findings = {{"tear", 2, 0.5, store::box(0, 0, 1, 1), {}, ""}, {"rust", 1, 0.2, store::box(0, 0, 1, 1), {}, ""}};
    full.triage = {"stabilise", 0.5, {"a tear"}};
    const IndexRecord odd = store::envelope(1, store::box(500, 0, 10, 10), "bytes \xff\xfe that are no UTF-8");
    store::keep(store_, store::photograph("b.jpg", {full, odd}, "7", "3"));
    store::Outcome failed;
    failed.index.photo.path = "a.jpg";
    failed.index.photo.sha256 = digest_of("a");
    failed.failure = Failure{"registration", "not_an_image", "a.jpg: no image.", "Look at it."};
    store::keep(store_, failed);
  }

  store::TemporaryFolder folder_;
  store::Store store_ = store::opened(folder_.path());
};

TEST_F(Exports, JsonHasTheDocumentedForm) {
  const nlohmann::json all = nlohmann::json::parse(written("json", store_));
  ASSERT_EQ(all.at("photographs").size(), 2U);
  const auto& failed = all["photographs"][0];
  EXPECT_EQ(failed.at("file"), "a.jpg");
  EXPECT_EQ(failed.at("quality").at("verdict"), "retake");
  EXPECT_TRUE(failed.at("tin").is_null());
  EXPECT_TRUE(failed.at("px_per_mm").is_null());
  EXPECT_TRUE(failed.at("envelopes").empty());
  const auto& photograph = all["photographs"][1];
  EXPECT_EQ(photograph.at("tin"), "7");
  EXPECT_EQ(photograph.at("sheet"), "3");
  EXPECT_EQ(photograph.at("side"), "front");
  EXPECT_EQ(photograph.at("sha256").get<std::string>().size(), 64U);
  const auto& envelope = photograph.at("envelopes").at(0);
  EXPECT_EQ(envelope.at("id").get<std::string>().size(), 11U);
  EXPECT_EQ(envelope.at("polygon_px").at(0), json("[10.12, 20.0]"));
  EXPECT_EQ(envelope.at("crop_px").size(), 4U);
  EXPECT_EQ(envelope.at("size_mm"), json("[100.0, 75.0]"));
  EXPECT_EQ(envelope.at("lines").at(0).at("kind"), "stamped");
  EXPECT_EQ(envelope.at("lines").at(0).at("alternatives"), json(R"([["Zermall", 0.2]])"));
  EXPECT_EQ(envelope.at("date").at("verbatim"), "14.vii.97");
  EXPECT_TRUE(envelope.at("date").at("edtf").is_null()) << "left open";
  EXPECT_EQ(envelope.at("place").at("country"), "CH");
  EXPECT_EQ(envelope.at("elevation_m"), json("[1600.0, 1700.0]"));
  EXPECT_TRUE(envelope.at("taxon").is_null());
  EXPECT_EQ(envelope.at("findings").at(0).at("severity"), 2);
  EXPECT_EQ(envelope.at("findings").at(1).at("confidence"), 0.2) << "with its confidence beside it";
  EXPECT_EQ(envelope.at("priority").at("level"), "stabilise");
  const auto& bare = photograph.at("envelopes").at(1);
  for (const char* key : {"size_mm", "date", "place", "collector", "elevation_m", "coordinates", "taxon", "sex", "type_status"})
    EXPECT_TRUE(bare.at(key).is_null()) << key;
}

TEST_F(Exports, AreTheSameBytesEveryTime) {
  for (const Exporter* exporter : formats::all()) EXPECT_EQ(written(exporter->name, store_), written(exporter->name, store_));
}

TEST_F(Exports, ShowDecisionsBeforeClaims) {
  const std::string id = store::ids_on(store_, "b.jpg")[0];
  store::decide(store_, {id, "date", "\"1897-07-14\"", "me", "2026-01-01T10:00:00Z", "", store::DayRange{-26469, -26469}});
  const nlohmann::json all = nlohmann::json::parse(written("json", store_));
  EXPECT_EQ(all["photographs"][1]["envelopes"][0]["date"]["edtf"], "1897-07-14");
  EXPECT_EQ(all["photographs"][1]["envelopes"][0]["date"]["confidence"], 1);
}

TEST_F(Exports, CsvIsOneRowAnEnvelopeAndNoFormula) {
  EXPECT_THAT(written("csv", store_), HasSubstr("\"Zermatt\n=HYPERLINK(\"\"x\"\"), \"\"quoted\"\"\""));
  EXPECT_THAT(written("csv", store_), HasSubstr("tear 2"));
  EXPECT_EQ(written("csv", store_).find("rust"), std::string::npos) << "too doubtful without its confidence";
  store::keep(store_, store::photograph("c.jpg", {store::envelope(0, store::box(0, 0, 10, 10), "=1+1")}));
  const std::string csv = written("csv", store_);
  EXPECT_EQ(csv.find(",=1+1"), std::string::npos);
  EXPECT_THAT(csv, HasSubstr("'=1+1"));
}

}  // namespace
}  // namespace papillote::exports
