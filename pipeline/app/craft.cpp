#include "pipeline/app/craft.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <memory>
#include <nlohmann/json.hpp>

#include "pipeline/app/clock.h"
#include "pipeline/app/days.h"
#include "pipeline/app/gazetteers.h"
#include "pipeline/app/photo_pixels.h"
#include "pipeline/app/refinding.h"
#include "pipeline/app/tins.h"
#include "pipeline/bench/pick.h"
#include "pipeline/bench/scan.h"
#include "pipeline/record/codec.h"
#include "stages/interpretation/coordinates.h"
#include "stages/interpretation/dates.h"
#include "stages/interpretation/edtf.h"
#include "stages/interpretation/elevations.h"
#include "stages/interpretation/place_names.h"
#include "stages/interpretation/places.h"
#include "stages/interpretation/taxa.h"
#include "stages/interpretation/tin.h"

namespace papillote::app {
namespace {

using nlohmann::json;
using review::Understood;

constexpr std::size_t kMostPlaces = 12;

Failure not_understood(const std::string& reason, const std::string& remedy) { return {"app", "not_understood", reason, remedy}; }

std::string trimmed(std::string_view text) {
  const std::size_t first = text.find_first_not_of(" \t\n");
  if (first == std::string_view::npos) return "";
  return std::string(text.substr(first, text.find_last_not_of(" \t\n") - first + 1));
}

Result<std::optional<store::DayRange>> days_of_edtf(const std::string& edtf) {
  const auto date = interpretation::parse_edtf(edtf);
  if (!date) return not_understood(fmt::format("\"{}\" is no date.", edtf.substr(0, 60)), "Write it as on the envelope, or as EDTF: 1897-05-12, 189X, 1895/1904.");
  const auto bounds = interpretation::day_bounds(*date);
  if (!bounds.first && !bounds.last) return std::optional<store::DayRange>();
  return std::optional(days_of(bounds));
}

Result<Understood> date_of(const std::string& typed, const Calibration& calibration) {
  Understood understood;
  if (interpretation::parse_edtf(typed)) {
    understood.value = json(typed).dump();
  } else {
    interpretation::DateContext context;
    context.period = tin_context(calibration).period;
    const auto reading = interpretation::read_date(typed, context);
    if (!reading.edtf) {
      const std::string why = reading.reasons.empty() ? fmt::format("\"{}\" is no date.", typed.substr(0, 60)) : reading.reasons.front();
      return not_understood(why, "Write it as EDTF: 1897-05-12, 1897-05, 189X, 1895/1904.");
    }
    understood.value = json(*reading.edtf).dump();
    understood.reasons = reading.reasons;
    for (const auto& [other, confidence] : reading.alternatives) understood.others.push_back(json(other).dump());
  }
  auto days = days_of_edtf(json::parse(understood.value).get<std::string>());
  if (!days.ok()) return days.failure();
  understood.days = *days;
  return understood;
}

std::optional<double> number(std::string_view text) {
  const std::string word = trimmed(text);
  double value = 0;
  const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
  if (word.empty() || error != std::errc{} || end != word.data() + word.size() || !std::isfinite(value)) return std::nullopt;
  return value;
}

// "Name @ 31.1, 77.17" or "Name @ 31.1, 77.17, 5" with the uncertainty in km: for what no gazetteer knows.
std::optional<Place> placed_by_hand(const std::string& typed) {
  const std::size_t at = typed.rfind('@');
  if (at == std::string::npos) return std::nullopt;
  std::vector<double> numbers;
  std::string_view rest = std::string_view(typed).substr(at + 1);
  while (true) {
    const std::size_t comma = std::min(rest.find(','), rest.size());
    const auto one = number(rest.substr(0, comma));
    if (!one) return std::nullopt;
    numbers.push_back(*one);
    if (comma == rest.size()) break;
    rest.remove_prefix(comma + 1);
  }
  const std::string name = trimmed(std::string_view(typed).substr(0, at));
  if (name.empty() || numbers.size() < 2 || numbers.size() > 3 || std::abs(numbers[0]) > 90 || std::abs(numbers[1]) > 180) return std::nullopt;
  return Place{name, "", "", numbers[0], numbers[1], numbers.size() == 3 ? 1000 * std::abs(numbers[2]) : 0};
}

std::vector<Place> places_named(const interpretation::Gazetteer& gazetteer, const std::string& name) {
  std::vector<interpretation::GazetteerPlace> found;
  for (const interpretation::NameMatch& match : gazetteer.named(interpretation::name_key(name)))
    if (!match.abbreviation) found.push_back(gazetteer.place(match.place));
  std::stable_sort(found.begin(), found.end(), [](const auto& a, const auto& b) { return a.population > b.population; });
  std::vector<Place> places;
  for (const auto& one : found) {
    const std::string country(one.division.substr(0, 2));
    const bool listed = std::any_of(places.begin(), places.end(), [&](const Place& p) {
      return p.name == one.name && std::abs(p.lat_deg - one.lat_deg) < 0.05 && std::abs(p.lon_deg - one.lon_deg) < 0.05;
    });
    if (!listed) places.push_back({std::string(one.name), std::string(one.id), country, one.lat_deg, one.lon_deg, one.radius_m});
    if (places.size() == kMostPlaces) break;
  }
  return places;
}

Result<Understood> place_of(const std::string& typed, const interpretation::Gazetteer* gazetteer) {
  Understood understood;
  if (const auto by_hand = placed_by_hand(typed)) {
    understood.value = json(*by_hand).dump();
    return understood;
  }
  std::vector<Place> choices;
  if (gazetteer != nullptr) {
    const interpretation::TextCandidate text{typed, 1};
    const auto claim = interpretation::read_place(std::span(&text, 1), *gazetteer).claim;
    if (claim.value) choices.push_back(*claim.value);
    for (const auto& [other, confidence] : claim.alternatives) choices.push_back(other);
    for (Place& place : places_named(*gazetteer, typed)) choices.push_back(std::move(place));
    understood.reasons = claim.reasons;
  }
  if (choices.empty())
    return not_understood(fmt::format("The gazetteer knows no place \"{}\".", typed.substr(0, 60)), "Write name @ latitude, longitude, kilometres of doubt.");
  for (const Place& choice : choices) {
    const std::string value = json(choice).dump();
    if (understood.value.empty())
      understood.value = value;
    else if (value != understood.value && std::find(understood.others.begin(), understood.others.end(), value) == understood.others.end() &&
             understood.others.size() < kMostPlaces)
      understood.others.push_back(value);
  }
  return understood;
}

Result<Understood> coordinates_of(const std::string& typed) {
  const auto reading = interpretation::read_coordinates(typed);
  std::optional<GeoPoint> point;
  if (reading.degrees && reading.degrees->lat_deg && reading.degrees->lon_deg)
    point = GeoPoint{*reading.degrees->lat_deg, *reading.degrees->lon_deg, reading.uncertainty_m};
  if (!point) {
    const std::size_t comma = typed.find(',');
    if (comma != std::string::npos) {
      const auto lat = number(std::string_view(typed).substr(0, comma));
      const auto lon = number(std::string_view(typed).substr(comma + 1));
      if (lat && lon && std::abs(*lat) <= 90 && std::abs(*lon) <= 180) point = GeoPoint{*lat, *lon, 0};
    }
  }
  if (!point) return not_understood("These are no coordinates.", "Write 31.1, 77.17 or 31° 6' N 77° 10' E.");
  return Understood{json(*point).dump(), std::nullopt, reading.reasons, {}};
}

Result<Understood> elevation_of(const std::string& typed) {
  const auto plain = number(typed);
  const auto reading = interpretation::read_elevation(plain ? typed + " m" : typed);
  if (!reading.metres) return not_understood("This is no elevation.", "Write 2100 m, 7000 ft or 1800-2100 m.");
  Understood understood{json(*reading.metres).dump(), std::nullopt, reading.reasons, {}};
  for (const auto& [other, confidence] : reading.alternatives) understood.others.push_back(json(other).dump());
  return understood;
}

}  // namespace

review::Craft desk_craft(const std::string& collection) {
  // Mapped into memory once, read by all.
  auto opened = open_gazetteer({}, collection);
  const auto gazetteer = opened.ok() ? std::make_shared<const interpretation::Gazetteer>(std::move(opened).value()) : nullptr;
  review::Craft craft;
  craft.now = now_utc;
  craft.file = [](store::Store& store, const Photo& photo) { return processed_bytes(store, photo); };
  craft.days = days_of_edtf;
  craft.understand = [gazetteer](const std::string& term, const std::string& raw, const Calibration& calibration) -> Result<Understood> {
    const std::string typed = trimmed(raw);
    if (typed.empty()) return not_understood("Nothing is written.", "Write a value, or settle that there is none.");
    if (term == "date") return date_of(typed, calibration);
    if (term == "place") return place_of(typed, gazetteer.get());
    if (term == "coordinates") return coordinates_of(typed);
    if (term == "elevation") return elevation_of(typed);
    if (term == "sex")
      if (const auto sex = interpretation::read_sex(typed); sex.sexes) return Understood{json(*sex.sexes).dump(), std::nullopt, {}, {}};
    return Understood{json(typed).dump(), std::nullopt, {}, {}};
  };
  craft.places = [gazetteer](const std::string& name) { return gazetteer ? places_named(*gazetteer, name) : std::vector<Place>{}; };
  craft.alike = [](std::span<const std::string> texts) { return interpretation::like_annotations(texts); };
  craft.refound = [](store::Store& store) {
    const auto at = [](const SeenAt& seen) {
      return review::RefoundAt{seen.record.id, seen.photo.path, seen.sheet, seen.record.outline.number + 1};
    };
    std::vector<review::Refound> pairs;
    for (const Proposal& p : propose(store, kWorthALook))
      pairs.push_back({at(p.newer), at(p.earlier), p.confidence, registration::words_of(p.likeness)});
    return pairs;
  };
  craft.scanned = [](store::Store& store, const std::string& text) -> Result<review::Scanned> {
    if (const auto place = bench::scanned_place(text)) {
      if (const auto plain = bench::plain_words(*place, "place"); !plain.ok()) return plain.failure();
      return review::Scanned{"", "", *place};
    }
    const auto envelope = bench::scanned_envelope(store, text);
    if (!envelope.ok()) return envelope.failure();
    return review::Scanned{envelope->id, envelope->catalogue_number, ""};
  };
  craft.plain = [](const std::string& words, const std::string& what) { return bench::plain_words(words, what); };
  craft.pick_list = [](store::Store& store, const std::vector<store::Hit>& hits, const std::string& who) {
    return bench::pick_list_pdf(bench::picked_from(store, hits, photo_pixels(store)), {"chosen at the desk", who, now_utc()});
  };
  return craft;
}

}  // namespace papillote::app
