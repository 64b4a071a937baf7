#include "annotation.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace papillote::samples {
namespace {

std::string near_word(Language language, Random& random) {
  switch (language) {
    case Language::english: return random.pick({"nr. ", "near "});
    case Language::french: return random.pick({"env. de ", "près "});
    case Language::german: return random.pick({"bei ", "b. ", "Umg. "});
    case Language::spanish: return "cerca de ";
    case Language::portuguese: return "perto de ";
    case Language::dutch: return "bij ";
    case Language::italian: return "presso ";
  }
  return "";
}

PlaceClaim write_place(const Place& place, Random& random) {
  std::string text = place.name;
  if (random.chance(0.08)) text = near_word(place.language, random) + text;
  const bool province = !place.province.empty() && random.chance(0.5);
  const bool country = !place.country_written.empty() && random.chance(province ? 0.35 : 0.55);
  if (province) text += random.chance(0.25) ? fmt::format(" ({})", place.province) : ", " + place.province;
  if (country) text += ", " + place.country_written;
  return {text, place.name, place.country, place.country_code, place.lat_deg, place.lon_deg};
}

ElevationClaim write_elevation(const Place& place, Random& random) {
  const double metres = random.between(place.low_m, place.high_m);
  if (place.language == Language::english && random.chance(0.75)) {
    const int feet = std::max(50, static_cast<int>(std::lround(metres / 0.3048 / 50.0)) * 50);
    const double m = std::round(feet * 0.3048 * 10) / 10;
    return {fmt::format("{} {}", feet, random.pick({"ft.", "ft", "feet"})), m, m};
  }
  const int m = std::max(10, static_cast<int>(std::lround(metres / 10.0)) * 10);
  switch (random.whole(0, 5)) {
    case 0: {
      const int top = m + random.whole(1, 4) * 50;
      return {fmt::format("{}-{} m", m, top), double(m), double(top)};
    }
    case 1: return {fmt::format("alt. {} m", m), double(m), double(m)};
    case 2: return {fmt::format("{} m.", m), double(m), double(m)};
    case 3:
      if (place.language == Language::german) return {fmt::format("{} m ü. M.", m), double(m), double(m)};
      [[fallthrough]];
    default: return {fmt::format("{} m", m), double(m), double(m)};
  }
}

CoordinatesClaim write_coordinates(const Place& place, Random& random) {
  const auto half = [](double value, const char* positive, const char* negative) {
    const int minutes = static_cast<int>(std::lround(std::abs(value) * 60));
    const double back = minutes / 60.0 * (value < 0 ? -1 : 1);
    return std::pair{fmt::format("{}°{:02}'{}", minutes / 60, minutes % 60, value < 0 ? negative : positive),
                     std::round(back * 10000) / 10000};
  };
  const auto [lat_text, lat] = half(place.lat_deg, "N", "S");
  const auto [lon_text, lon] = half(place.lon_deg, "E", "W");
  return {lat_text + random.pick({" ", ", "}) + lon_text, lat, lon};
}

std::string write_collector(const Person& person, Random& random) {
  return random.pick({"leg. ", "Leg. ", "coll. ", "Coll. ", "leg. ", ""}) + person.name;
}

std::string write_number(Random& random) {
  const int number = random.whole(3, 4800);
  switch (random.whole(0, 4)) {
    case 0: return fmt::format("No. {}", number);
    case 1: return fmt::format("N° {}", number);
    case 2: return fmt::format("{}/{}", number % 400, random.pick({"a", "b", "2", "3"}));
    case 3: return fmt::format("Nr. {}", number);
    default: return std::to_string(number);
  }
}

struct Taxon {
  std::string text, name;
};

Taxon write_taxon(const Species& kind, Random& random) {
  std::string name = kind.name;
  if (random.chance(0.25)) name = name.substr(0, 1) + "." + name.substr(name.find(' '));
  if (random.chance(0.55)) return {name + " " + kind.author, name + " " + kind.author};
  return {name, name};
}

const std::vector<std::string>& stamp_words() {
  static const std::vector<std::string> words{"COLL. BRISANDIER", "THORNQUILL COLL.", "SAMMLUNG HOLLRIEGLER",
                                              "COLECCIÓN QUINTAVALLE", "COLL. MEERWOLDE", "DUBLETTE", "DUPLICATA",
                                              "ACCESSIONED", "DETERMINED"};
  return words;
}

const std::vector<std::string>& printed_headings() {
  static const std::vector<std::string> words{"Thornquill & Brisandier Expedition", "Sammlung H. Hollriegler",
                                              "Collection A. Brisandier", "Colección T. Quintavalle",
                                              "Verzameling Meerwolde", "Collezione Serravecchi"};
  return words;
}

}  // namespace

Tin invent_tin(int number, Random& random) {
  Tin tin{number, 0, 0, {}, {}};
  tin.first_year = random.whole(1868, 1928);
  tin.last_year = tin.first_year + random.whole(2, 14);
  // One journey keeps to one fauna and its neighbourhood; a tin holds one or two journeys.
  const int journeys = random.whole(1, 2);
  for (int j = 0; j < journeys; ++j) {
    const Fauna fauna = random.weighted<Fauna>({{Fauna::europe, 4}, {Fauna::americas, 3}, {Fauna::asia, 2}, {Fauna::africa, 2}});
    for (const Place& place : places())
      if (place.fauna == fauna && random.chance(fauna == Fauna::europe ? 0.35 : 0.6)) tin.places.push_back(&place);
  }
  if (tin.places.empty()) tin.places.push_back(&random.pick(places()));
  for (int i = 0; i < 4; ++i) tin.travellers.push_back(&random.pick(people()));
  return tin;
}

Annotation write_annotation(const Tin& tin, bool on_newsprint, Random& random) {
  Annotation out;
  const Place& place = *random.pick(tin.places);
  std::vector<const Species*> local;
  const bool dragonflies = random.chance(0.15);
  for (const Species& kind : species())
    if (kind.fauna == place.fauna && (kind.order == Order::dragonfly) == dragonflies) local.push_back(&kind);
  const Species& kind = *random.pick(local);
  out.order = kind.order;
  out.fauna = place.fauna;

  const LineKind main = on_newsprint ? LineKind::handwritten
                                     : random.weighted<LineKind>({{LineKind::handwritten, 70},
                                                                  {LineKind::typed, 14},
                                                                  {LineKind::printed, 16}});
  const bool printed = main == LineKind::printed;
  const int year = random.whole(tin.first_year, tin.last_year);
  const int month = place.lat_deg > 25 ? random.weighted<int>({{3, 1}, {4, 2}, {5, 5}, {6, 8}, {7, 10}, {8, 8}, {9, 3}, {10, 1}})
                                       : random.whole(1, 12);
  const CalendarDay day{year, month, random.whole(1, days_in_month(year, month))};
  const WrittenDate date = printed ? write_plain_date(day, place.language, random) : write_date(day, place.language, random);
  PlaceClaim where = write_place(place, random);
  if (main == LineKind::handwritten && random.chance(0.015)) where = {random.pick({"do.", "id.", "ditto"}), {}, {}, {}, 0, 0};
  const Taxon taxon = write_taxon(kind, random);
  const ElevationClaim height = write_elevation(place, random);
  const CoordinatesClaim coordinates = write_coordinates(place, random);
  const Person& person = *random.pick(tin.travellers);
  const std::string collector = write_collector(person, random);
  const std::string number = write_number(random);
  const std::string sign = random.weighted<std::string>({{"♂", 5}, {"♀", 4}, {"♂♀", 1}});
  Facts& facts = out.facts;
  std::vector<std::string> lines;

  const auto take_date = [&] {
    facts.date = date;
    return date.verbatim;
  };
  const auto take_place = [&] {
    facts.place = where;
    return where.verbatim;
  };
  const auto take_collector = [&] {
    facts.collector = person.name;
    return collector;
  };
  const auto take_taxon = [&] {
    facts.taxon = taxon.name;
    return taxon.text;
  };
  const auto take_sex = [&] {
    facts.sex = sign == "♂♀" ? "male and female" : sign == "♂" ? "male" : "female";
    return sign;
  };
  const auto take_height = [&] {
    facts.elevation = height;
    return height.verbatim;
  };
  const auto take_number = [&] {
    facts.number = number;
    return number;
  };

  switch (random.weighted<int>({{0, 18}, {1, 16}, {2, 9}, {3, 12}, {4, 8}, {5, 8}, {6, 7}, {7, 5}, {8, 5}, {9, 4}, {10, 4}, {11, 4}})) {
    case 0:
      lines = {take_taxon() + (random.chance(0.6) ? " " + take_sex() : ""), take_place(), take_date()};
      if (random.chance(0.55)) lines.push_back(take_collector());
      break;
    case 1: lines = {take_place(), take_date()}; break;
    case 2: lines = {take_place() + " " + take_date()}; break;
    case 3:
      lines = {take_place(), take_height(), take_date()};
      if (random.chance(0.6)) lines.push_back(take_collector());
      break;
    case 4:
      lines = {take_number(), take_place(), take_date()};
      break;
    case 5:
      lines = {take_taxon()};
      if (random.chance(0.5)) lines.push_back(random.pick({"1 ", "2 ", ""}) + take_sex());
      lines.push_back(take_date());
      break;
    case 6: lines = {take_date(), take_place() + " " + take_height(), take_collector()}; break;
    case 7: lines = {take_date()}; break;
    case 8:
      facts.coordinates = coordinates;
      lines = {take_place(), coordinates.verbatim, take_date(), take_collector()};
      if (random.chance(0.5)) lines.insert(lines.begin() + 2, take_height());
      break;
    case 9: lines = {take_number() + "  " + take_sex(), take_date()}; break;
    case 10: lines = {take_taxon(), take_place() + ", " + take_height(), take_date(), take_collector()}; break;
    default: lines = {take_taxon(), take_place()}; break;
  }
  if (facts.taxon && random.chance(0.04)) {
    facts.type_status = random.pick({"Type", "Cotype", "Paratype"});
    lines.insert(lines.begin(), *facts.type_status);
  }
  out.blocks.push_back({main, lines});

  if (random.chance(0.13)) out.blocks.push_back({LineKind::stamped, {random.pick(stamp_words())}});
  else if (!facts.number && random.chance(0.12)) out.blocks.push_back({LineKind::stamped, {take_number()}});
  else if (main == LineKind::handwritten && !on_newsprint && random.chance(0.10))
    out.blocks.push_back({LineKind::printed, {random.pick(printed_headings())}});
  else if (main != LineKind::handwritten && !facts.sex && random.chance(0.3))
    out.blocks.push_back({LineKind::handwritten, {take_sex()}});
  return out;
}

Annotation write_back_annotation(const Tin& tin, const Annotation& front, Random& random) {
  Annotation out;
  out.order = front.order;
  out.fauna = front.fauna;
  if (random.chance(0.55)) return out;
  if (front.facts.taxon && random.chance(0.5)) {
    const std::string text = random.pick({"det. ", "Det. "}) + random.pick(tin.travellers)->name;
    out.blocks.push_back({LineKind::handwritten, {text}});
  } else if (random.chance(0.5)) {
    out.facts.number = write_number(random);
    out.blocks.push_back({LineKind::handwritten, {*out.facts.number}});
  } else {
    out.blocks.push_back({LineKind::stamped, {random.pick(stamp_words())}});
  }
  return out;
}

}  // namespace papillote::samples
