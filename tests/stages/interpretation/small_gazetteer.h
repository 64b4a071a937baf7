// A gazetteer of a few real places (positions: GeoNames, rounded), made in a temporary folder.
#pragma once

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <string>
#include <vector>

#include "stages/interpretation/gazetteer_build.h"

namespace papillote::interpretation {

class Folder {
 public:
  Folder()
      : path_(std::filesystem::temp_directory_path() /
              ("papillote_places_" + std::to_string(::getpid()) + "_" + std::to_string(count()++))) {
    std::filesystem::create_directories(path_);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() {
    std::error_code error;
    std::filesystem::remove_all(path_, error);
  }
  std::filesystem::path operator/(const char* name) const { return path_ / name; }

 private:
  static int& count() {
    static int number = 0;
    return number;
  }
  std::filesystem::path path_;
};

inline GazetteerEntry entry(std::string name, PlaceKind kind, std::string division, double lat_deg, double lon_deg,
                            std::uint32_t population, std::vector<std::string> other_names = {}, double radius_m = 0,
                            std::vector<std::string> abbreviations = {}) {
  GazetteerEntry one;
  one.id = "test:" + name + ":" + division;
  one.name = std::move(name);
  one.kind = kind;
  one.division = std::move(division);
  one.lat_deg = lat_deg;
  one.lon_deg = lon_deg;
  one.population = population;
  one.other_names = std::move(other_names);
  one.radius_m = radius_m;
  one.abbreviations = std::move(abbreviations);
  return one;
}

inline std::vector<GazetteerEntry> small_places() {
  using enum PlaceKind;
  return {entry("Malaysia", country, "MY", 4, 108, 0, {"Malaisie"}, 1'200'000, {"MY"}),
          entry("United States", country, "US", 39, -98, 0, {"USA", "United States of America"}, 3'000'000, {"US"}),
          entry("Mexico", country, "MX", 23, -102, 0, {"Mexique"}, 1'700'000, {"MX"}),
          entry("Germany", country, "DE", 51, 10, 0, {"Deutschland", "Allemagne"}, 500'000, {"DE"}),
          entry("Austria", country, "AT", 47.6, 14, 0, {"Österreich"}, 320'000, {"AT"}),
          entry("Sarawak", division1, "MY.11", 2.5, 113, 2'400'000, {}, 450'000),
          entry("Illinois", division1, "US.IL", 40, -89, 12'000'000, {}, 330'000, {"IL", "Ill."}),
          entry("Minnesota", division1, "US.MN", 46, -94, 5'500'000, {}, 330'000, {"MN", "Minn."}),
          entry("Sonora", division1, "MX.26", 29.6, -110.9, 2'800'000, {}, 400'000, {"Son."}),
          entry("McLean County", division2, "US.IL.113", 40.49, -88.85, 170'000, {}, 50'000),
          entry("Borneo", island, "ID,MY,BN", 0.5, 114, 0, {}, 650'000),
          entry("Mount Kinabalu", mountain, "MY", 6.07, 116.55, 0, {"Kina Balu", "Kini Balu"}, 15'000),
          entry("Kuching", settlement, "MY.11", 1.55, 110.333, 570'000, {}),
          entry("Bloomington", settlement, "US.IL.113", 40.4842, -88.9937, 78'000),
          entry("Bloomington", settlement, "US.MN.053", 44.8408, -93.2983, 86'000),
          entry("Funks", settlement, "US.IL.113", 40.36, -89.12, 0),
          entry("Hermosillo", settlement, "MX.26.030", 29.1026, -110.9773, 855'000),
          entry("Imuris", settlement, "MX.26.035", 30.7862, -110.8472, 7'000),
          entry("Rumford", settlement, "US.ME.017", 44.5537, -70.5509, 4'200),
          entry("Tiruchirappalli", settlement, "IN.25.614", 10.8155, 78.6965, 1'022'000, {"Trichinopoly", "Тируччираппалли"}),
          entry("Salzburg", settlement, "AT.05", 47.7994, 13.0440, 150'000),
          entry("Santa Rosa", settlement, "MX.26.999", 31.0, -112.0, 2'000)};
}

inline Gazetteer open_or_die(const std::vector<GazetteerEntry>& entries, const std::filesystem::path& file) {
  const auto written = write_gazetteer(entries, "Places of the test.", file);
  EXPECT_TRUE(written.ok()) << (written.ok() ? "" : written.failure().reason);
  auto opened = Gazetteer::open(std::span(&file, 1));
  EXPECT_TRUE(opened.ok()) << (opened.ok() ? "" : opened.failure().reason);
  return std::move(opened).value();
}

}  // namespace papillote::interpretation
