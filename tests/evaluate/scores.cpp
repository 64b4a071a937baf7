#include "tests/evaluate/scores.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "pipeline/record/verdict.h"
#include "tests/evaluate/overlap.h"

namespace papillote::evaluation {
namespace {

using nlohmann::json;

constexpr double kLeastVisible = 0.3;
constexpr double kLineVisible = 0.9;
constexpr double kBulging_mm = 1.6;

Polygon polygon_of(const json& points) {
  Polygon out;
  if (points.is_array())
    for (const auto& p : points) out.emplace_back(p[0].get<double>(), p[1].get<double>());
  return out;
}

std::vector<Polygon> polygons_of(const std::vector<const json*>& things) {
  std::vector<Polygon> out;
  for (const json* thing : things) out.push_back(polygon_of((*thing)["polygon_px"]));
  return out;
}

std::string words_of(const json& thing, const char* key) {
  const auto it = thing.find(key);
  return it != thing.end() && it->is_string() ? it->get<std::string>() : "";
}

double number_of(const json& thing, const char* key, double otherwise) {
  const auto it = thing.find(key);
  return it != thing.end() && it->is_number() ? it->get<double>() : otherwise;
}

std::string without_doubt(std::string edtf) {
  std::erase_if(edtf, [](char c) { return c == '?' || c == '~' || c == '%'; });
  return edtf;
}

// An open digit stands for any digit.
bool fits(const std::string& open, const std::string& settled) {
  return open.size() == settled.size() &&
         std::equal(open.begin(), open.end(), settled.begin(), [](char o, char s) { return o == s || (o == 'X' && s >= '0' && s <= '9'); });
}

// "[a,b]" or "a": is the truth among the choices?
bool leaves_room(const std::string& answer, const std::string& truth) {
  std::string choices = without_doubt(answer);
  if (!choices.empty() && (choices.front() == '[' || choices.front() == '{')) choices = choices.substr(1, choices.size() - 2);
  std::size_t from = 0;
  while (from <= choices.size()) {
    const std::size_t comma = std::min(choices.find(',', from), choices.size());
    const std::string one = choices.substr(from, comma - from);
    if (fits(one, truth)) return true;
    // A year or month that contains the truth says less, not something else.
    if (one.size() < truth.size() && one.find('/') == std::string::npos && fits(one, truth.substr(0, one.size())) && truth[one.size()] == '-') return true;
    from = comma + 1;
  }
  return false;
}

double distance_km(double lat_a, double lon_a, double lat_b, double lon_b) {
  const double rad = std::numbers::pi / 180;
  const double s = std::pow(std::sin((lat_b - lat_a) * rad / 2), 2) + std::cos(lat_a * rad) * std::cos(lat_b * rad) * std::pow(std::sin((lon_b - lon_a) * rad / 2), 2);
  return 2 * 6371.0 * std::asin(std::min(1.0, std::sqrt(s)));
}

std::vector<const json*> lines_where(const json& envelopes, bool newsprint, double least_visible) {
  std::vector<const json*> out;
  for (const auto& envelope : envelopes)
    for (const auto& line : envelope["lines"])
      if ((words_of(line, "kind") == "newsprint") == newsprint && number_of(line, "visible_fraction", 1) >= least_visible) out.push_back(&line);
  return out;
}

std::string kind_of_date(const json& envelope) {
  const std::string verbatim = words_of(envelope["date"], "verbatim");
  for (const auto& line : envelope["lines"])
    if (words_of(line, "text").find(verbatim) != std::string::npos) return words_of(line, "kind");
  return "";
}

std::string percent(std::size_t part, std::size_t whole) {
  return whole == 0 ? "      -" : fmt::format("{:6.1f}%", 100.0 * static_cast<double>(part) / static_cast<double>(whole));
}

std::string row(const std::string& what, const Found& f) {
  return fmt::format("{:<28}{:>6} of {:>6}  recall {}  precision {}  false {}\n", what, f.found, f.truth, percent(f.found, f.truth),
                     percent(f.found, f.found + f.false_alarms), f.false_alarms);
}

}  // namespace

Verdict judge_date(const json& truth, const std::string& answer) {
  if (!truth.is_object()) return answer.empty() ? Verdict::right : Verdict::wrong;
  if (answer.empty()) return Verdict::open;
  const std::string meant = words_of(truth, "true_edtf");
  if (answer == words_of(truth, "edtf") || answer == meant) return Verdict::right;
  // A year of two digits whose century the tin settled, marked as such: "1909?-07-12".
  if (!truth["edtf"].is_string() && answer.size() > 4 && answer[4] == '?' && without_doubt(answer) == meant) return Verdict::right;
  if (answer == words_of(truth, "open_edtf") || leaves_room(answer, without_doubt(meant))) return Verdict::open;
  return Verdict::wrong;
}

void Answers::add(Verdict verdict) { ++(verdict == Verdict::right ? right : verdict == Verdict::open ? open : wrong); }

void Scores::add(const json& truth, const json& found) {
  ++photographs;
  if (!found.is_object()) ++missing;
  static const json kNone = json::array();
  const json& expected = truth["envelopes"];
  const json& exported = found.is_object() ? found["envelopes"] : kNone;

  std::vector<const json*> there;
  std::vector<const json*> claimed;
  for (const auto& e : expected) there.push_back(&e);
  for (const auto& e : exported) claimed.push_back(&e);
  const std::vector<Polygon> there_px = polygons_of(there);
  const std::vector<Polygon> claimed_px = polygons_of(claimed);
  const auto counts = [&](std::size_t i) { return number_of(*there[i], "visible_fraction", 1) >= kLeastVisible; };
  const auto score = [&](Found& into, double least) {
    const auto pairs = pair_up(there_px, claimed_px, least);
    for (std::size_t i = 0; i < there.size(); ++i) into.truth += counts(i);
    for (const Pair& pair : pairs) into.found += counts(pair.truth);
    into.false_alarms += claimed.size() - pairs.size();
  };
  score(envelopes75, 0.75);
  score(envelopes90, 0.9);
  for (const Polygon& outline : claimed_px) {
    std::size_t held = 0;
    for (std::size_t i = 0; i < there.size(); ++i) {
      const Overlap o = overlap(there_px[i], outline);
      held += counts(i) && o.first > 0 && o.common > 0.6 * o.first;
    }
    merged += held >= 2;
  }

  // Lines, wherever they lie on the photograph.
  const auto written = lines_where(expected, false, kLineVisible);
  const auto all_written = lines_where(expected, false, 0);
  const auto read = lines_where(exported, false, 0);
  const auto pairs = pair_up(polygons_of(written), polygons_of(read), 0.5);
  const auto loosely = pair_up(polygons_of(all_written), polygons_of(read), 0.5);
  lines.truth += written.size();
  lines.found += pairs.size();
  lines.false_alarms += read.size() - std::max(pairs.size(), loosely.size());
  std::vector<bool> seen(written.size());
  for (const Pair& pair : pairs) {
    const json& t = *written[pair.truth];
    const json& f = *read[pair.found];
    seen[pair.truth] = true;
    kinds_right += words_of(t, "kind") == words_of(f, "kind");
    const Errors errors = character_errors(words_of(t, "text"), words_of(f, "text"));
    read_found[words_of(t, "kind")] += errors;
    read_all[words_of(t, "kind")] += errors;
  }
  for (std::size_t i = 0; i < written.size(); ++i)
    if (!seen[i]) read_all[words_of(*written[i], "kind")] += character_errors(words_of(*written[i], "text"), "");
  const auto print = lines_where(expected, true, kLineVisible);
  newsprint += print.size();
  newsprint_taken += pair_up(polygons_of(print), polygons_of(read), 0.5).size();

  // What the envelopes mean and how they are.
  for (const Pair& pair : pair_up(there_px, claimed_px, 0.5)) {
    const json& t = *there[pair.truth];
    const json& f = *claimed[pair.found];
    if (number_of(t, "visible_fraction", 1) < kLineVisible) continue;
    const std::string answer = f.contains("date") && f["date"].is_object() ? words_of(f["date"], "edtf") : "";
    if (t["date"].is_object() || !answer.empty()) {
      const Verdict verdict = judge_date(t["date"], answer);
      Answers& into = dates[t["date"].is_object() ? kind_of_date(t) : "no date"];
      into.add(verdict);
      into.open_on_paper += verdict == Verdict::open && !t["date"]["edtf"].is_string();
    }
    if (t["place"].is_object() && t["place"]["lat"].is_number()) {
      const json place = f.value("place", json());
      if (!place.is_object() || !place["lat"].is_number()) places.add(Verdict::open);
      else {
        // A province or a country that holds the place is right within its own radius, and says no more.
        const double away_km = distance_km(t["place"]["lat"], t["place"]["lon"], place["lat"], place["lon"]);
        places.add(away_km <= 20 ? Verdict::right : Verdict::wrong);
        wide_places += away_km > 20 && away_km <= number_of(place, "uncertainty_m", 0) / 1000;
      }
    }
    // What makes an envelope fragile stands in words, "glassine: ...".
    const std::string paper = words_of(t, "paper");
    const std::pair<std::string, bool> fragilities[] = {
        {"newsprint", paper == "newsprint"}, {"glassine", paper == "glassine"}, {"bulging", paper != "glassine" && number_of(t, "bulge_mm", 0) >= kBulging_mm}};
    const json words_said = f.value("fragility", json::array());
    for (const auto& [sign, is_so] : fragilities) {
      const bool said_so = std::any_of(words_said.begin(), words_said.end(), [&](const json& words) { return words.get<std::string>().starts_with(sign + ":"); });
      fragile[sign].truth += is_so;
      fragile[sign].found += is_so && said_so;
      fragile[sign].false_alarms += !is_so && said_so;
    }
    json claims = json::array();  // those that are counted and searched for; what says nothing of its confidence is meant
    for (const auto& said : f.value("findings", json::array()))
      if (number_of(said, "confidence", 1) >= kSureFinding) claims.push_back(said);
    const bool is_damaged = !t["findings"].empty();
    damaged.truth += is_damaged;
    damaged.found += is_damaged && !claims.empty();
    damaged.false_alarms += !is_damaged && !claims.empty();
    std::map<std::string, std::pair<std::vector<const json*>, std::vector<const json*>>> by_kind;
    for (const auto& d : t["findings"]) by_kind[words_of(d, "kind")].first.push_back(&d);
    for (const auto& d : claims) by_kind[words_of(d, "kind")].second.push_back(&d);
    for (const auto& [kind, both] : by_kind) {
      const auto hits = pair_up(polygons_of(both.first), polygons_of(both.second), 0.1);
      FindingScore& into = findings[kind];
      into.found.truth += both.first.size();
      into.found.found += hits.size();
      into.found.false_alarms += both.second.size() - hits.size();
      for (const Pair& hit : hits)
        into.severity_near += std::abs(number_of(*both.first[hit.truth], "severity", 0) - number_of(*both.second[hit.found], "severity", 0)) <= 1;
    }
  }
}

std::string Scores::table() const {
  std::string out = fmt::format("{} photographs, {} of them not in the export\n\n", photographs, missing);
  out += row("envelopes, IoU >= 0.75", envelopes75);
  out += row("envelopes, IoU >= 0.90", envelopes90);
  out += fmt::format("{:<28}{:>6}\n", "two envelopes in one outline", merged);
  out += row("lines of annotation", lines);
  out += fmt::format("{:<28}{:>6} of {:>6}  {}\n", "kind of line right", kinds_right, lines.found, percent(kinds_right, lines.found));
  out += fmt::format("{:<28}{:>6} of {:>6}  {}\n\n", "newsprint taken for writing", newsprint_taken, newsprint, percent(newsprint_taken, newsprint));
  out += "character error               lines found   all lines\n";
  for (const auto& [kind, errors] : read_all) {
    const auto found = read_found.find(kind);
    out += fmt::format("{:<28}{:>11.1f}%{:>11.1f}%   ({} characters)\n", kind, found == read_found.end() ? 100.0 : 100 * found->second.rate(), 100 * errors.rate(), errors.length);
  }
  out += "\ndates                          right    open   wrong   open on the paper itself\n";
  for (const auto& [kind, a] : dates) out += fmt::format("{:<28}{:>8}{:>8}{:>8}{:>8}\n", kind, a.right, a.open, a.wrong, a.open_on_paper);
  out += fmt::format("{:<28}{:>8}{:>8}{:>8}   of them within the stated uncertainty {}\n\n", "places, within 20 km", places.right, places.open,
                     places.wrong, wide_places);
  out += row("damaged envelopes", damaged);
  for (const auto& [kind, score] : findings) {
    std::string line = row("  " + kind, score.found);
    line.back() = ' ';
    out += line + fmt::format(" severity near {}\n", percent(score.severity_near, score.found.found));
  }
  out += "\n";
  for (const auto& [sign, found] : fragile) out += row("fragile: " + sign, found);
  return out;
}

}  // namespace papillote::evaluation
