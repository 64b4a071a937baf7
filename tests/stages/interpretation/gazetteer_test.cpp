// The gazetteer: keys of names, look-ups exact and misread, files that are damaged, tables that a curator adds.
#include "stages/interpretation/gazetteer.h"

#include <algorithm>
#include <fstream>
#include <iostream>
#include <iterator>
#include <nlohmann/json.hpp>

#include "stages/interpretation/place_names.h"
#include "tests/stages/interpretation/small_gazetteer.h"

namespace papillote::interpretation {
namespace {

TEST(PlaceNames, OneKeyForEverySpelling) {
  EXPECT_EQ(name_key("Kraków"), "krakow");
  EXPECT_EQ(name_key("K\u0301raków"), "krakow");
  EXPECT_EQ(name_key("Mt. Kinabalu"), name_key("Mount Kinabalu"));
  EXPECT_EQ(name_key("Sta. Marta"), name_key("Santa Marta"));
  EXPECT_EQ(name_key("St. Petersburg"), name_key("Saint  Petersburg"));
  EXPECT_EQ(name_key("Is. Magdalena"), name_key("Isla Magdalena"));
  EXPECT_EQ(name_key("U. S. A."), name_key("U.S.A."));
  EXPECT_EQ(name_key("U.S.A."), "usa");
  EXPECT_EQ(name_key("Sierra Co."), name_key("Sierra County"));
  EXPECT_EQ(name_key("D'Entrecasteaux"), "dentrecasteaux");
  EXPECT_EQ(name_key("Hj<U+00E4>lstaviken"), name_key("Hjälstaviken"));
  EXPECT_EQ(name_key("Łódź, Ærø"), "lodz aero");
  EXPECT_EQ(name_key("東京"), "");
  EXPECT_EQ(without_kind_words("prov toledo"), "toledo");
  EXPECT_EQ(without_kind_words("state"), "state");
  EXPECT_TRUE(is_latin("São Tomé"));
  EXPECT_FALSE(is_latin("Москва"));
}

TEST(PlaceNames, KeysAreStable) {  // a key of a key is the key
  for (const auto* name :
       {"Mt. Kina Balu", "Sankt Gallen", "Isla Cedros", "U. S. A.", "Hda. Taboga", "Río Purón", "x y z", "3 mi. N"})
    EXPECT_EQ(name_key(name_key(name)), name_key(name)) << name;
}

TEST(PlaceNames, ReadersConfusionsCostLess) {
  EXPECT_LT(reading_distance("rurnford", "rumford", 2), 0.5);  // rn read for m
  EXPECT_LT(reading_distance("clunedin", "dunedin", 2), 0.5);  // cl read for d
  EXPECT_LT(reading_distance("trichiuopoly", "trichinopoly", 2), 0.5);
  EXPECT_LT(reading_distance("mofcow", "moscow", 2), 0.5);  // long s
  EXPECT_LT(reading_distance("gandvoort", "zandvoort", 2), 0.6);  // learnt from the project's reader (data/confusions.tsv)
  EXPECT_DOUBLE_EQ(reading_distance("kuching", "kuching", 2), 0);
  EXPECT_GE(reading_distance("kuching", "kuchibg", 2), 0.9);
  EXPECT_GT(reading_distance("kuching", "salzburg", 2), 2);
  for (const auto& [a, b] : {std::pair{"rumford", "runford"}, {"salzburg", "sulzburg"}, {"la paz", "lapaz"}})
    EXPECT_DOUBLE_EQ(reading_distance(a, b, 3), reading_distance(b, a, 3)) << a;
}

TEST(Gazetteer, FindsNamesExactlyAndMisread) {
  const Folder folder;
  const auto gazetteer = open_or_die(small_places(), folder / "places.bin");
  EXPECT_EQ(gazetteer.size(), small_places().size());
  EXPECT_EQ(gazetteer.named("bloomington").size(), 2U);
  EXPECT_TRUE(gazetteer.named("blooming").empty());
  const auto trichinopoly = gazetteer.named(name_key("Trichinopoly"));
  ASSERT_EQ(trichinopoly.size(), 1U);
  EXPECT_FALSE(trichinopoly[0].main_name);
  const auto place = gazetteer.place(trichinopoly[0].place);
  EXPECT_EQ(place.name, "Tiruchirappalli");
  EXPECT_NEAR(place.lat_deg, 10.8155, 1e-6);
  EXPECT_EQ(place.kind, PlaceKind::settlement);
  EXPECT_GT(place.radius_m, 1000);
  for (const auto* misread : {"Trichiuopoly", "Trichinopaly", "Tricliinopoly", "Trichinpoly", "Trichinopolly"}) {
    const auto found = gazetteer.named_about(name_key(misread), 1.5);
    ASSERT_FALSE(found.empty()) << misread;
    EXPECT_EQ(gazetteer.place(found[0].place).name, "Tiruchirappalli") << misread;
    EXPECT_GT(found[0].distance, 0);
  }
  EXPECT_TRUE(gazetteer.named_about("zzzzzzzz", 1.5).empty());
  EXPECT_EQ(gazetteer.attributions(), std::vector<std::string>{"Places of the test."});
}

TEST(Gazetteer, Divisions) {
  EXPECT_TRUE(lies_in("US.CA.057", "US.CA"));
  EXPECT_TRUE(lies_in("US.CA.057", "US"));
  EXPECT_TRUE(lies_in("MY.11", "ID,MY,BN"));
  EXPECT_TRUE(lies_in("ID,MY,BN", "MY"));
  EXPECT_FALSE(lies_in("US.CA", "US.C"));
  EXPECT_FALSE(lies_in("US", "US.CA"));
  EXPECT_FALSE(lies_in("", "US"));
}

TEST(Gazetteer, RefusesDamagedFilesInOneSentence) {
  const Folder folder;
  const auto open = [](const std::filesystem::path& file) { return Gazetteer::open(std::span(&file, 1)); };
  const auto absent = open(folder / "absent.bin");
  ASSERT_FALSE(absent.ok());
  EXPECT_EQ(absent.failure().kind, "no_gazetteer");
  EXPECT_NE(absent.failure().reason.find("absent.bin"), std::string::npos);

  (void)open_or_die(small_places(), folder / "good.bin");
  std::ifstream in(folder / "good.bin", std::ios::binary);
  const std::string good{std::istreambuf_iterator<char>(in), {}};
  const auto with = [&](const std::string& bytes) {
    std::ofstream(folder / "bad.bin", std::ios::binary | std::ios::trunc) << bytes;
    return open(folder / "bad.bin");
  };
  for (const std::size_t length : {std::size_t{0}, std::size_t{7}, std::size_t{100}, good.size() / 2, good.size() - 1}) {
    const auto cut = with(good.substr(0, length));
    ASSERT_FALSE(cut.ok()) << length;
    EXPECT_EQ(cut.failure().kind, "damaged_gazetteer");
  }
  EXPECT_FALSE(with("not a gazetteer" + good).ok());
  // A wrong byte anywhere gives a failure or wrong answers, never a crash.
  for (std::size_t at = 0; at < good.size(); at += 11) {
    auto bytes = good;
    bytes[at] = static_cast<char>(~bytes[at]);
    if (const auto damaged = with(bytes); damaged.ok()) {
      for (const auto& match : damaged->named("bloomington")) (void)damaged->place(match.place).name.size();
      for (const auto& match : damaged->named_about("trichinopaly", 1.5)) (void)damaged->place(match.place).division.size();
    }
  }
}

TEST(Gazetteer, TakesACuratorsTables) {
  const Folder folder;
  const auto base = open_or_die(small_places(), folder / "base.bin");
  const auto add = [&](const char* name, const std::string& text) {
    std::ofstream(folder / name, std::ios::binary) << text;
    return build_added_gazetteer(folder / name, &base, folder / "added.bin");
  };
  const auto open_added = [&] {
    const std::vector<std::filesystem::path> files{folder / "base.bin", folder / "added.bin"};
    auto both = Gazetteer::open(files);
    EXPECT_TRUE(both.ok());
    return std::move(both).value();
  };
  {  // a simple table, Windows line ends, one row without a position
    const auto added =
        add("estates.tsv",
            "\xEF\xBB\xBFname\talternates\tcountry_code\tlat\tlon\tradius_km\tadmin1\r\n"
            "Finca Aribabi\tRancho Aribabi,Casco Viejo\tMX\t30.85\t-110.65\t4\tSonora\r\nNowhere\t\tMX\t\t\t\t\r\n");
    ASSERT_TRUE(added.ok()) << added.failure().reason;
    EXPECT_EQ(added->places, 1U);
    EXPECT_EQ(added->left_out, 1U);
    const auto both = open_added();
    const auto found = both.named(name_key("Rancho Aribabi"));
    ASSERT_EQ(found.size(), 1U);
    const auto place = both.place(found[0].place);
    EXPECT_EQ(place.name, "Finca Aribabi");
    EXPECT_EQ(place.division, "MX.26");  // Sonora, as the base numbers it
    EXPECT_NEAR(place.radius_m, 4000, 0.5);
    EXPECT_EQ(both.named("kuching").size(), 1U);  // the base is still there
  }
  {  // a GeoNames dump as published: 19 columns, no header
    const auto added = add("dump.txt",
                           "3521972\tSierra Azul\tSierra Azul\tBlue "
                           "Range,Синяя\t30.5\t-110.1\tT\tMTS\tMX\t\t26\t\t\t\t0\t\t1200\tAmerica/Hermosillo\t2016-01-01\n");
    ASSERT_TRUE(added.ok()) << added.failure().reason;
    const auto both = open_added();
    const auto found = both.named("blue range");
    ASSERT_EQ(found.size(), 1U);
    EXPECT_EQ(both.place(found[0].place).id, "geonames:3521972");
    EXPECT_EQ(both.place(found[0].place).kind, PlaceKind::mountain);
    EXPECT_EQ(both.place(found[0].place).division, "MX.26");
  }
  for (const auto* text :
       {"", "just words\n", "a\tb\tc\n1\t2\t3\n", "name\tlat\tlon\n\t1\t2\n", "name\tlat\tlon\nX\t91\t0\n"}) {
    const auto wrong = add("wrong.tsv", text);
    ASSERT_FALSE(wrong.ok()) << text;
    EXPECT_NE(wrong.failure().reason.find("wrong.tsv"), std::string::npos);
  }
}

// ISO 3166-3: every former country has a row in former_names.tsv under its ISO name.
TEST(Gazetteer, FormerNamesHoldEveryFormerCountry) {
  std::ifstream iso("/usr/share/iso-codes/json/iso_3166-3.json");
  if (!iso) {
    std::cout << "skipped: Debian package iso-codes is not installed\n";
    return;
  }
  std::ifstream table(PAPILLOTE_SOURCE_DIR "/stages/interpretation/data/former_names.tsv");
  ASSERT_TRUE(table);
  std::vector<std::string> keys;
  for (std::string line; std::getline(table, line);) {
    EXPECT_EQ(std::count(line.begin(), line.end(), '\t'), 7) << line;
    keys.push_back(name_key(line.substr(0, line.find('\t'))));
  }
  const auto json = nlohmann::json::parse(iso);
  for (const auto& row : json["3166-3"]) {
    const std::string name = row["name"];
    const auto has = [&keys](const std::string& spelling) {
      return std::find(keys.begin(), keys.end(), name_key(spelling)) != keys.end();
    };
    EXPECT_TRUE(has(name) || has(name.substr(0, name.find(',')))) << name;
  }
}

}  // namespace
}  // namespace papillote::interpretation
