#include "pipeline/bench/label_text.h"

#include <fmt/format.h>
#include <unicode/locid.h>
#include <unicode/unistr.h>

#include <array>
#include <cmath>

#include "pipeline/bench/words.h"
#include "pipeline/store/decisions.h"

namespace papillote::bench {
namespace {

constexpr double kDoubtful = 0.6;

// A claim in a person's words, in brackets unless she settled it.
template <class Value, class Say>
std::string said(const std::optional<Claim<Value>>& claim, Say say) {
  if (!claim) return {};
  const std::string words = claim->value ? say(*claim->value) : "";
  if (words.empty()) return claim->verbatim.empty() ? "" : fmt::format("\"{}\"", claim->verbatim);
  if (store::is_settled(claim->reasons)) return words;
  return fmt::format("[{}{}]", words, claim->confidence < kDoubtful ? "?" : "");
}

std::string as_it_is(const std::string& text) { return text; }

std::string country_words(const std::string& code) {
  if (code.empty()) return {};
  icu::UnicodeString name;
  std::string utf8;
  icu::Locale("", code.c_str())
      .getDisplayCountry(icu::Locale::getEnglish(), name)
      .toUpper(icu::Locale::getEnglish())
      .toUTF8String(utf8);
  return utf8;
}

std::string uncertainty_words(double metres) {
  if (metres <= 0) return {};
  return metres < 1000 ? fmt::format(" ±{:.0f} m", metres) : fmt::format(" ±{:.0f} km", std::ceil(metres / 1000));
}

// As many places as the uncertainty lets mean anything: 0.01 degree is about 1.1 km.
std::string point_words(double lat_deg, double lon_deg, double uncertainty_m) {
  const int places = uncertainty_m > 1000 ? 2 : 4;
  return fmt::format("{:.{}f}°{} {:.{}f}°{}{}", std::abs(lat_deg), places, lat_deg < 0 ? "S" : "N", std::abs(lon_deg), places,
                     lon_deg < 0 ? "W" : "E", uncertainty_words(uncertainty_m));
}

std::string day_words(std::string_view day) {
  constexpr std::array<const char*, 12> kMonths{"i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x", "xi", "xii"};
  while (day.ends_with("-XX")) day.remove_suffix(3);  // not known: the month, or the year alone
  const auto figure = [&](std::size_t at, std::size_t count) {
    int value = 0;
    for (const char c : day.substr(at, count)) {
      if (c < '0' || c > '9') return -1;
      value = 10 * value + (c - '0');
    }
    return value;
  };
  const bool has_month = day.size() == 7 || day.size() == 10;
  if ((day.size() != 4 && !has_month) || figure(0, 4) < 0 || (has_month && day[4] != '-') ||
      (day.size() == 10 && day[7] != '-'))
    return {};
  std::string words(day.substr(0, 4));
  if (!has_month) return words;
  const int month = figure(5, 2);
  if (month < 1 || month > 12) return {};
  words = fmt::format("{}.{}", kMonths[static_cast<std::size_t>(month - 1)], words);
  if (day.size() == 7) return words;
  const int number = figure(8, 2);
  return number < 1 || number > 31 ? "" : fmt::format("{}.{}", number, words);
}

}  // namespace

std::string collecting_date(std::string_view edtf) {
  const std::size_t slash = edtf.find('/');
  if (slash == std::string_view::npos) return day_words(edtf);
  const std::string first = day_words(edtf.substr(0, slash));
  const std::string last = day_words(edtf.substr(slash + 1));
  return first.empty() || last.empty() ? "" : first + "–" + last;
}

LabelText label_text(const IndexRecord& record, const Sheet& sheet) {
  const Interpretation& facts = record.interpretation;
  LabelText text;
  text.id = record.id;
  text.catalogue_number = record.catalogue_number;
  text.country = said(facts.place, [](const Place& place) { return country_words(place.country); });
  if (facts.place && !facts.place->value) text.country.clear();  // what was left open is the locality
  text.locality = said(facts.place, [](const Place& place) { return place.name; });
  if (facts.coordinates)
    text.coordinates =
        said(facts.coordinates, [](const GeoPoint& p) { return point_words(p.lat_deg, p.lon_deg, p.uncertainty_m); });
  else if (facts.place && facts.place->value)
    text.coordinates = said(facts.place, [](const Place& p) { return point_words(p.lat_deg, p.lon_deg, p.uncertainty_m); });
  text.elevation = said(facts.elevation, [](const ElevationRange& range) {
    return range.min_m == range.max_m ? fmt::format("{:.0f} m", range.min_m)
                                      : fmt::format("{:.0f}–{:.0f} m", range.min_m, range.max_m);
  });
  text.date = said(facts.date, [](const std::string& edtf) { return collecting_date(edtf); });
  text.collector = said(facts.collector, as_it_is);
  text.taxon = said(facts.taxon, as_it_is);
  text.sex = said(facts.sex, as_it_is);
  text.verbatim = record.annotation.text;
  text.tin = sheet.tin;
  text.sheet = sheet.sheet;
  return text;
}

std::vector<std::string> LabelText::data() const {
  std::vector<std::string> parts;
  const auto add = [&](std::string words) {
    if (!words.empty()) parts.push_back(std::move(words));
  };
  add(country);
  add(locality);
  add(joined({coordinates, elevation}, ", "));
  add(date);
  add(collector.empty() ? "" : "leg. " + collector);
  return parts;
}

}  // namespace papillote::bench
