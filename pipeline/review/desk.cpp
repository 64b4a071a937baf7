#include "pipeline/review/desk.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>
#include <mutex>
#include <nlohmann/json.hpp>
#include <set>
#include <shared_mutex>
#include <string_view>
#include <vector>

#include "pipeline/record/codec.h"
#include "pipeline/review/pictures.h"
#include "pipeline/review/refound.h"
#include "pipeline/review/shown.h"
#include "pipeline/store/decisions.h"
#include "pipeline/store/envelopes.h"
#include "pipeline/store/movements.h"
#include "pipeline/store/overview.h"
#include "pipeline/store/photographs.h"

namespace papillote::review {
namespace {

using nlohmann::json;

constexpr int kMostIds = 20'000;
constexpr int kMostTogether = 500;  // envelopes of one correction, or of one pick list
constexpr std::size_t kLongestName = 80;

// Ends the answering of a request.
struct Refused {
  int status;
  std::string sentence;
};

std::string text_of(const json& value) { return value.dump(-1, ' ', false, json::error_handler_t::replace); }

Reply said(const json& value) { return {200, "application/json", text_of(value)}; }

std::string asked(const Request& request, const std::string& name) {
  const auto at = request.asked.find(name);
  return at == request.asked.end() ? "" : at->second;
}

double number_asked(const Request& request, const std::string& name, double otherwise, double least, double most) {
  const std::string text = asked(request, name);
  if (text.empty()) return otherwise;
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value) || value < least || value > most)
    throw Refused{400, fmt::format("'{}' must be a number from {:g} to {:g}.", name, least, most)};
  return value;
}

int int_asked(const Request& request, const std::string& name, int otherwise, int least, int most) {
  return static_cast<int>(number_asked(request, name, otherwise, least, most));
}

int first_day_of(int year) {
  return static_cast<int>(std::chrono::sys_days(std::chrono::year(year) / 1 / 1).time_since_epoch().count());
}

store::Look look_of(const Request& request) {
  store::Look look;
  store::Question& q = look.question;
  q.words = asked(request, "words").substr(0, 400);
  q.place = asked(request, "place").substr(0, 200);
  if (!asked(request, "lat").empty())
    q.near = store::Near{number_asked(request, "lat", 0, -90, 90), number_asked(request, "lon", 0, -180, 180),
                         number_asked(request, "km", 50, 0, 20'100)};
  if (!asked(request, "from").empty() || !asked(request, "to").empty()) {
    const int from = int_asked(request, "from", 1, 1, 9998);
    const int to = int_asked(request, "to", 9998, 1, 9998);
    q.period = store::DayRange{first_day_of(from), first_day_of(to + 1) - 1};
  }
  if (request.asked.contains("tin")) q.tin = asked(request, "tin");
  q.taxon = asked(request, "taxon").substr(0, 200);
  q.level = asked(request, "level");
  q.finding = asked(request, "finding");
  q.least_severity = int_asked(request, "severity", 1, 1, 4);
  q.place_open = asked(request, "place_open") == "1";
  const std::string progress = asked(request, "progress");
  look.progress = progress == "open"        ? store::Progress::open
                  : progress == "confirmed" ? store::Progress::confirmed
                                            : store::Progress::any;
  const std::string order = asked(request, "order");
  look.sight = order == "doubt"      ? store::Sight::doubt
               : order == "priority" ? store::Sight::priority
               : order == "date"     ? store::Sight::date
                                     : store::Sight::shelf;
  look.limit = int_asked(request, "limit", 60, 0, 500);
  look.skip = int_asked(request, "skip", 0, 0, 10'000'000);
  look.spot_deg = number_asked(request, "spot", 2, 0.05, 30);
  return look;
}

// One, two or three letters more may follow the last word while it is being typed.
bool begin_last_word(std::string& words) {
  if (words.empty() || words.back() == ' ' || words.back() == '*') return false;
  words += '*';
  return true;
}

json pairs(const auto& counted) {
  json all = json::array();
  for (const auto& [name, count] : counted) all.push_back({name, count});
  return all;
}

json shown_counts(const store::Counts& counts) {
  json spots = json::array();
  for (const store::Spot& spot : counts.spots)
    spots.push_back({std::round(spot.lat_deg * 100) / 100, std::round(spot.lon_deg * 100) / 100, spot.count});
  json years = json::array();
  for (const auto& [year, count] : counts.years) years.push_back({year, std::round(count * 10) / 10});
  return {{"found", counts.found},
          {"confirmed", counts.confirmed},
          {"tins", pairs(counts.tins)},
          {"levels", pairs(counts.levels)},
          {"findings", pairs(counts.findings)},
          {"taxa", pairs(counts.taxa)},
          {"years", years},
          {"undated", counts.undated},
          {"placeless", counts.placeless},
          {"spots", spots}};
}

json shown(const store::Movement& m) {
  return {{"kind", m.kind}, {"who", m.who}, {"when", m.when}, {"where", m.where}, {"note", m.note}};
}

// Who confirmed the envelope as it stands, and who else agreed: nobody, once something was decided after.
struct Standing {
  std::string confirmed_by, confirmed_at, checked_by, checked_at;
};
Standing standing_of(const std::vector<store::Decision>& history) {
  Standing standing;
  for (const store::Decision& decision : history) {
    if (decision.term == store::kConfirmed) {
      standing = {};
      if (!decision.value.empty()) standing = {decision.who, decision.when, "", ""};
    } else if (decision.term == store::kChecked) {
      standing.checked_by = decision.value.empty() ? "" : decision.who;
      standing.checked_at = decision.value.empty() ? "" : decision.when;
    } else if (!decision.term.starts_with(store::kFindingTerm) && decision.term != store::kPriorityTerm) {
      standing.checked_by = standing.checked_at = "";
    }
  }
  return standing;
}

// The view with the most writing speaks for the envelope, as in the search.
std::size_t speaking_view(const std::vector<store::EnvelopeView>& views) {
  std::size_t speaks = 0;
  for (std::size_t i = 1; i < views.size(); ++i)
    if (views[i].record.annotation.text.size() > 2 * views[speaks].record.annotation.text.size()) speaks = i;
  return speaks;
}

json known_by(const std::string& who, const std::string& when) {
  return who.empty() ? json() : json{{"who", who}, {"when", when}};
}

std::string trimmed(std::string words) {
  const auto is_blank = [](char c) { return c == ' ' || c == '\t' || c == '\n'; };
  while (!words.empty() && is_blank(words.back())) words.pop_back();
  while (!words.empty() && is_blank(words.front())) words.erase(words.begin());
  return words;
}

std::string named(const json& body) {
  if (!body.contains("who") || !body.at("who").is_string()) throw Refused{400, "Say who you are: every decision keeps a name."};
  const std::string who = trimmed(body.at("who").get<std::string>());
  if (who.empty() || who.size() > kLongestName)
    throw Refused{400, "Say who you are: every decision keeps a name of at most 80 bytes."};
  return who;
}

json body_of(const Request& request) {
  json body = json::parse(request.body, nullptr, false);
  if (body.is_discarded() || !body.is_object()) throw Refused{400, "The request is no JSON object; nothing was changed."};
  return body;
}

// To be called before a record is put together: GCC 12 frees the beginning of a braced record twice when a later part throws.
template <class T>
T member(const json& object, const char* name) {
  try {
    return object.at(name).get<T>();
  } catch (const json::exception&) {
    throw Refused{400, fmt::format("The request lacks '{}' or it is of the wrong kind; nothing was changed.", name)};
  }
}

}  // namespace

Reply refusal(int status, const std::string& sentence) { return {status, "application/json", text_of({{"error", sentence}})}; }

struct Desk::Inside {
  Inside(std::filesystem::path folder, Craft with, store::Store first)
      : collection(std::move(folder)), craft(std::move(with)), writer(std::move(first)), pictures(craft), refound(craft) {}

  std::filesystem::path collection;
  Craft craft;
  std::mutex writing;
  store::Store writer;
  std::mutex lending;
  std::vector<store::Store> readers;
  std::shared_mutex seeing;
  store::Overview overview;
  std::string state;  // of the index when the overview was loaded or renewed
  std::chrono::steady_clock::time_point looked_at{};
  Pictures pictures;
  RefoundPairs refound;

  // A store for one request; goes back by itself.
  class Lent {
   public:
    Lent(Inside& desk, store::Store store) : desk_(desk), store_(std::move(store)) {}
    ~Lent() {
      const std::lock_guard lock(desk_.lending);
      desk_.readers.push_back(std::move(store_));
    }
    Lent(const Lent&) = delete;
    Lent& operator=(const Lent&) = delete;
    store::Store& operator*() { return store_; }

   private:
    Inside& desk_;
    store::Store store_;
  };
  Lent reader() {
    {
      const std::lock_guard lock(lending);
      if (!readers.empty()) {
        store::Store store = std::move(readers.back());
        readers.pop_back();
        return {*this, std::move(store)};
      }
    }
    auto store = store::Store::open(collection, store::Access::read);
    if (!store.ok()) throw store::Trouble(store.failure());
    return {*this, std::move(store).value()};
  }

  // What a batch or another person wrote since is taken up within some seconds.
  void keep_up(store::Store& store) {
    constexpr std::chrono::seconds kPatience(4);
    const auto now = std::chrono::steady_clock::now();
    {
      const std::shared_lock lock(seeing);
      if (now - looked_at < kPatience) return;
    }
    const std::unique_lock lock(seeing);
    if (now - looked_at < kPatience) return;
    const std::string present = store::state_of_index(store).hex;
    if (present != state) overview.load(store);
    state = present;
    looked_at = std::chrono::steady_clock::now();
  }

  std::string known_id(store::Store& store, const std::string& id) {
    const auto now = store::current_id(store, id);
    if (!now) throw Refused{404, "No envelope has this identity: " + id.substr(0, 40) + "."};
    return *now;
  }

  store::EnvelopeView view_asked(store::Store& store, const Request& request) {
    const std::string id = known_id(store, asked(request, "id"));
    std::vector<store::EnvelopeView> views = store::views_of(store, id);
    const int n = int_asked(request, "view", 0, 0, 99);
    if (static_cast<std::size_t>(n) >= views.size()) throw Refused{404, "No photograph shows this side of the envelope."};
    return std::move(views[static_cast<std::size_t>(n)]);
  }

  json envelope(store::Store& store, const std::string& id) {
    const std::vector<store::Decision> history = store::history_of(store, id);
    const std::vector<store::Decision> decisions = store::decisions_of(store, id);
    json views = json::array();
    std::string number;
    const std::vector<store::EnvelopeView> all = store::views_of(store, id);
    for (const store::EnvelopeView& view : all) {
      if (!view.record.catalogue_number.empty()) number = view.record.catalogue_number;
      views.push_back(review::shown(view, decisions));
    }
    json past = json::array();
    for (const store::Decision& decision : history) past.push_back(review::shown(decision));
    json moves = json::array();
    for (const store::Movement& movement : store::movements_of(store, id)) moves.push_back(shown(movement));
    const Standing standing = standing_of(history);
    return {{"id", id},
            {"number", number},
            {"seen", history.size()},
            {"views", views},
            {"view", speaking_view(all)},
            {"history", past},
            {"movements", moves},
            {"confirmed", known_by(standing.confirmed_by, standing.confirmed_at)},
            {"checked", known_by(standing.checked_by, standing.checked_at)}};
  }

  Reply start(store::Store& store) {
    const store::Totals totals = store::totals(store);
    return said({{"photographs", totals.photographs},
                 {"envelopes", totals.envelopes},
                 {"failed", totals.failed},
                 {"terms", terms()},
                 {"tins", pairs(totals.tins)},
                 {"levels", pairs(totals.levels)},
                 {"orphans", totals.orphaned_decisions}});
  }

  Reply find(store::Store& store, const Request& request) {
    store::Look look = look_of(request);
    keep_up(store);
    const std::shared_lock lock(seeing);
    const std::string typed = look.question.words;
    const bool begun = begin_last_word(look.question.words);
    store::Seen seen = overview.look(store, look);
    if (begun && seen.counts.found == 0) {  // no word begins so: then words that are nearly it
      look.question.words = typed;
      seen = overview.look(store, look);
    }
    json hits = json::array();
    for (const store::Hit& hit : seen.hits) hits.push_back(review::shown(hit));
    return said({{"hits", hits}, {"counts", shown_counts(seen.counts)}, {"of", overview.size()}});
  }

  Reply ids(store::Store& store, const Request& request) {
    const store::Look look = look_of(request);
    keep_up(store);
    const std::shared_lock lock(seeing);
    return said({{"ids", overview.ids(store, look, kMostIds)}});
  }

  Reply sheet(store::Store& store, const Request& request) {
    const store::EnvelopeView view = view_asked(store, request);
    const auto photograph = store::find_photograph(store, view.photo.path);
    json outlines = json::array();
    if (photograph)
      for (const IndexRecord& record : photograph->index.envelopes)
        outlines.push_back(
            {{"id", record.id}, {"position", record.outline.number + 1}, {"polygon", record.outline.polygon_px}});
    return said(
        {{"outlines", outlines}, {"photo_px", {view.photo.width_px, view.photo.height_px}}, {"photograph", view.photo.path}});
  }

  // The other envelopes of its tin that say the same or nearly the same.
  Reply alike(store::Store& store, const Request& request) {
    const std::string id = known_id(store, asked(request, "id"));
    const std::string term = asked(request, "term");
    if (term != "text" && fault_of(term, nullptr) != "") throw Refused{400, fault_of(term, nullptr)};
    const store::EnvelopeView own = view_asked(store, request);
    struct Other {
      std::string id, sheet, side;
      IndexRecord record;
    };
    std::vector<Other> others;
    std::vector<std::string> texts;
    const std::string tin = own.calibration.sheet.value_or(Sheet{}).tin;
    for (store::TinSheet& each : store::sheets_of_tin(store, tin)) {
      const Sheet label = each.photograph.index.calibration.sheet.value_or(Sheet{});
      for (IndexRecord& record : each.photograph.index.envelopes) {
        texts.push_back(record.annotation.text);
        others.push_back({record.id, label.sheet, label.side, std::move(record)});
      }
    }
    json members = json::array();
    std::set<std::string> listed{id};
    for (const auto& group : craft.alike(texts)) {
      if (std::none_of(group.begin(), group.end(), [&](std::size_t i) { return others[i].id == id; })) continue;
      for (const std::size_t i : group) {
        const Other& other = others[i];
        if (!listed.insert(other.id).second || members.size() >= kMostTogether) continue;
        const auto history = store::history_of(store, other.id);
        const auto decisions = store::decisions_of(store, other.id);
        const IndexRecord record = store::with_decisions(other.record, decisions);
        const json value = value_of(record, term);
        members.push_back(
            {{"id", other.id},
             {"sheet", other.sheet},
             {"side", other.side},
             {"position", record.outline.number + 1},
             {"text", record.annotation.text},
             {"value", value},
             {"shown", words_of_value(term, value)},
             {"settled", std::any_of(decisions.begin(), decisions.end(), [&](const auto& d) { return d.term == term; })},
             {"seen", history.size()}});
      }
    }
    return said({{"members", members}, {"tin", tin}});
  }

  Reply try_out(store::Store& store, const Request& request) {
    const std::string term = asked(request, "term");
    if (const std::string fault = fault_of(term, nullptr); !fault.empty() && term != "text") throw Refused{400, fault};
    const store::EnvelopeView view = view_asked(store, request);
    const auto understood = craft.understand(term, asked(request, "typed").substr(0, 400), view.calibration);
    if (!understood.ok())
      return said({{"value", nullptr}, {"fault", understood.failure().reason + " " + understood.failure().remedy}});
    const json value = json::parse(understood->value);
    json others = json::array();
    for (const std::string& other : understood->others) {
      const json parsed = json::parse(other);
      others.push_back({{"value", parsed}, {"shown", words_of_value(term, parsed)}});
    }
    return said(
        {{"value", value}, {"shown", words_of_value(term, value)}, {"reasons", understood->reasons}, {"others", others}});
  }

  Reply places(const Request& request) {
    json all = json::array();
    for (const Place& place : craft.places(asked(request, "name").substr(0, 200)))
      all.push_back({{"name", place.name}, {"country", place.country}, {"lat", place.lat_deg}, {"lon", place.lon_deg}});
    return said({{"places", all}});
  }

  // Joined by '.', which no identity holds and no address must write otherwise.
  std::vector<std::string> ids_asked(const Request& request) {
    std::vector<std::string> ids;
    const std::string all = asked(request, "ids");
    for (std::size_t from = 0; from < all.size();) {
      const std::size_t end = std::min(all.find('.', from), all.size());
      ids.push_back(all.substr(from, end - from));
      from = end + 1;
    }
    if (ids.size() > kMostTogether) throw Refused{400, fmt::format("A pick list holds at most {} envelopes.", kMostTogether)};
    return ids;
  }

  Reply picks(store::Store& store, const Request& request) {
    json entries = json::array();
    for (const store::Hit& hit : store::hits_of(store, ids_asked(request))) {
      const auto last = store::whereabouts(store, hit.id);
      json entry = review::shown(hit);
      entry["inside"] = store::in_its_tin(last);
      entry["where"] = last ? shown(*last) : json();
      entries.push_back(std::move(entry));
    }
    return said({{"entries", entries}});
  }

  Reply pick_list(store::Store& store, const Request& request) {
    const std::vector<store::Hit> hits = store::hits_of(store, ids_asked(request));
    if (hits.empty()) throw Refused{404, "The pick list is empty."};
    return {200, "application/pdf", craft.pick_list(store, hits, asked(request, "who").substr(0, kLongestName))};
  }

  Reply tins(store::Store& store) {
    keep_up(store);
    const std::shared_lock lock(seeing);
    store::Look all;
    all.limit = 0;
    store::Look confirmed = all;
    confirmed.progress = store::Progress::confirmed;
    store::Look urgent = all;
    urgent.question.level = "isolate";
    return said({{"tins", pairs(overview.look(store, all).counts.tins)},
                 {"confirmed", pairs(overview.look(store, confirmed).counts.tins)},
                 {"isolate", pairs(overview.look(store, urgent).counts.tins)}});
  }

  Reply tin(store::Store& store, const Request& request) {
    const std::string name = asked(request, "name");
    const std::vector<store::TinSheet> all = store::sheets_of_tin(store, name);
    if (all.empty()) throw Refused{404, "No photograph belongs to a tin of this name."};
    json sheets = json::array();
    for (const store::TinSheet& each : all) {
      const Sheet label = each.photograph.index.calibration.sheet.value_or(Sheet{});
      json envelopes = json::array();
      for (const IndexRecord& raw : each.photograph.index.envelopes) {
        const auto history = store::history_of(store, raw.id);
        const IndexRecord record = store::with_decisions(raw, store::decisions_of(store, raw.id));
        const auto last = store::whereabouts(store, raw.id);
        const Standing standing = standing_of(history);
        envelopes.push_back({{"id", raw.id},
                             {"number", raw.catalogue_number},
                             {"position", raw.outline.number + 1},
                             {"polygon", raw.outline.polygon_px},
                             {"text", record.annotation.text},
                             {"level", record.triage.level},
                             {"inside", store::in_its_tin(last)},
                             {"where", last ? shown(*last) : json()},
                             {"confirmed", !standing.confirmed_by.empty()}});
      }
      // An envelope may show on several photographs: which of its views is this one.
      std::ptrdiff_t view = 0;
      if (!each.photograph.index.envelopes.empty()) {
        const auto views = store::views_of(store, each.photograph.index.envelopes.front().id);
        const auto here = std::find_if(views.begin(), views.end(),
                                       [&](const auto& v) { return v.photo.path == each.photograph.index.photo.path; });
        if (here != views.end()) view = here - views.begin();
      }
      sheets.push_back({{"photograph", each.photograph.index.photo.path},
                        {"view", view},
                        {"photo_px", {each.photograph.index.photo.width_px, each.photograph.index.photo.height_px}},
                        {"sheet", label.sheet},
                        {"side", label.side},
                        {"retake", each.photograph.index.calibration.quality.verdict == "retake"},
                        {"remarks", each.photograph.index.calibration.quality.reasons},
                        {"envelopes", envelopes}});
    }
    return said({{"tin", name}, {"sheets", sheets}});
  }

  Reply picture(store::Store& store, const Request& request) {
    const store::EnvelopeView view = view_asked(store, request);
    const int px = int_asked(request, "px", 1600, 40, 8000);
    std::vector<IndexRecord> beside;
    if (request.path == "/picture/crop" && px <= 400)
      if (auto photograph = store::find_photograph(store, view.photo.path)) beside = std::move(photograph->index.envelopes);
    const auto jpeg = request.path == "/picture/crop" ? pictures.crop(store, view.photo, view.record.outline.crop, px, beside)
                                                      : pictures.photograph(store, view.photo, px);
    if (!jpeg.ok()) throw Refused{404, jpeg.failure().reason + " " + jpeg.failure().remedy};
    return {200, "image/jpeg", std::string(reinterpret_cast<const char*>((*jpeg)->data()), (*jpeg)->size())};
  }

  // --- writes: the caller holds `writing` ---

  struct Change {
    store::Decision decision;
    std::size_t seen = 0;
  };

  Reply write(const std::vector<Change>& changes) {
    std::map<std::string, std::size_t> seen;
    std::vector<store::Decision> decisions;
    for (const Change& change : changes) {
      seen.emplace(change.decision.envelope_id, change.seen);
      decisions.push_back(change.decision);
    }
    json conflicts = json::array();
    json before = json::array();
    bool current = false;  // the overview shows all that was written before
    const auto done = store::decide_together(writer, decisions, [&]() -> std::optional<Failure> {
      {
        const std::shared_lock lock(seeing);
        current = state == store::state_of_index(writer).hex;
      }
      for (const auto& [id, known] : seen) {
        const auto history = store::history_of(writer, id);
        if (history.size() == known) continue;
        json since = json::array();
        for (std::size_t i = std::min(known, history.size()); i < history.size(); ++i)
          since.push_back(review::shown(history[i]));
        conflicts.push_back({{"id", id}, {"seen", history.size()}, {"since", since}});
      }
      if (!conflicts.empty()) return Failure{"review", "conflict", "", ""};
      for (const store::Decision& decision : decisions) {
        std::string value;
        for (const store::Decision& standing : store::decisions_of(writer, decision.envelope_id))
          if (standing.term == decision.term) value = standing.value;
        before.push_back({{"id", decision.envelope_id}, {"term", decision.term}, {"raw", value}});
      }
      return std::nullopt;
    });
    if (!done.ok()) {
      if (done.failure().kind != "conflict") return refusal(409, done.failure().reason + " " + done.failure().remedy);
      json answer{{"error", "Somebody decided on this meanwhile; nothing was changed."}, {"conflicts", conflicts}};
      return {409, "application/json", text_of(answer)};
    }
    std::vector<std::string> ids;
    json now = json::object();
    for (const auto& [id, known] : seen) {
      ids.push_back(id);
      now[id] = store::history_of(writer, id).size();
    }
    {
      const std::unique_lock lock(seeing);
      overview.renew(writer, ids);
      if (current) state = store::state_of_index(writer).hex;
    }
    return said({{"seen", now}, {"before", before}});
  }

  Reply decide(const Request& request) {
    const json body = body_of(request);
    const std::string who = named(body);
    const std::string when = craft.now();
    const std::string note = body.contains("note") ? member<std::string>(body, "note").substr(0, 400) : "";
    const json& asked_changes = body.contains("changes") && body.at("changes").is_array() ? body.at("changes") : json::array();
    if (asked_changes.empty() || asked_changes.size() > kMostTogether)
      throw Refused{400, fmt::format("A request must hold 1 to {} changes; nothing was changed.", kMostTogether)};
    std::vector<Change> changes;
    for (const json& one : asked_changes) {
      if (!one.is_object()) throw Refused{400, "A change is no object; nothing was changed."};
      const std::string id = known_id(writer, member<std::string>(one, "id"));
      const std::string term = member<std::string>(one, "term");
      const auto seen = member<std::size_t>(one, "seen");
      Change change{{id, term, "", who, when, note, std::nullopt}, seen};
      // "take_back": as if it had never been decided; "raw": what stood before, to be restored; "value": new.
      if (one.contains("take_back")) {
        if (term != store::kConfirmed && term != store::kChecked && !is_term(term)) throw Refused{400, "There is no such term."};
      } else if (term == store::kConfirmed || term == store::kChecked) {
        throw Refused{400, "Confirm and check have their own requests."};
      } else {
        const json value =
            one.contains("value") ? one.at("value") : throw Refused{400, "A change has no value; nothing was changed."};
        if (const std::string fault = fault_of(term, value); !fault.empty())
          throw Refused{400, fault + " Nothing was changed."};
        change.decision.value = text_of(value);
        if (term == "date" && !value.is_null()) {
          const auto days = craft.days(value.get<std::string>());
          if (!days.ok()) throw Refused{400, days.failure().reason + " " + days.failure().remedy};
          change.decision.days = *days;
        }
      }
      changes.push_back(std::move(change));
    }
    return write(changes);
  }

  Reply confirm(const Request& request) {
    const json body = body_of(request);
    const std::string who = named(body);
    const std::string id = known_id(writer, member<std::string>(body, "id"));
    const auto seen = member<std::size_t>(body, "seen");
    const auto views = store::views_of(writer, id);
    if (views.empty()) throw Refused{404, "No photograph shows this envelope any more."};
    const auto decisions = store::decisions_of(writer, id);
    const IndexRecord record = store::with_decisions(views[speaking_view(views)].record, decisions);
    json value = json::object();
    std::optional<store::DayRange> days;
    for (const std::string& term : terms())
      if (const json standing = value_of(record, term); !standing.is_null()) value[term] = standing;
    if (views.size() == 1) value["text"] = record.annotation.text;  // of several views each has its own text
    if (value.contains("date"))
      if (const auto of_date = craft.days(value.at("date").get<std::string>()); of_date.ok()) days = *of_date;
    return write({Change{{id, std::string(store::kConfirmed), text_of(value), who, craft.now(), "", days}, seen}});
  }

  Reply check(const Request& request) {
    const json body = body_of(request);
    const std::string who = named(body);
    const std::string id = known_id(writer, member<std::string>(body, "id"));
    const auto seen = member<std::size_t>(body, "seen");
    const Standing standing = standing_of(store::history_of(writer, id));
    if (standing.confirmed_by.empty())
      throw Refused{422, "Nobody has confirmed this envelope yet: confirm it first, then a second person checks."};
    if (standing.confirmed_by == who) throw Refused{422, "A second person checks: you confirmed this yourself."};
    return write({Change{{id, std::string(store::kChecked), "true", who, craft.now(), "", std::nullopt}, seen}});
  }

  // Words of a movement: what cannot be seen, or turns the text around it, stays out of the history.
  std::string plain(const std::string& words, const char* what) {
    const std::string kept = trimmed(words);
    if (const auto done = craft.plain(kept, what); !done.ok())
      throw Refused{422, done.failure().reason + " " + done.failure().remedy};
    return kept;
  }

  void recorded(const Result<Done>& done) {
    if (!done.ok()) throw Refused{409, done.failure().reason + " " + done.failure().remedy};
  }

  // All or none: a list half of which somebody else holds is made anew.
  Reply pick(const Request& request) {
    const json body = body_of(request);
    const std::string who = plain(named(body), "name");
    const auto ids = member<std::vector<std::string>>(body, "ids");
    if (ids.empty() || ids.size() > kMostTogether)
      throw Refused{400, fmt::format("A pick list holds 1 to {} envelopes; nothing was recorded.", kMostTogether)};
    const std::string when = craft.now();
    std::vector<store::Movement> movements;
    for (const std::string& id : ids)
      movements.push_back({known_id(writer, id), "picked", who, when, "", "chosen at the desk"});
    recorded(store::record_movements(writer, movements));
    return said({{"picked", movements.size()}});
  }

  // One scan. The code of a place is answered with the place, and nothing is recorded.
  Reply move(const Request& request) {
    const json body = body_of(request);
    const std::string who = plain(named(body), "name");
    const auto scanned = craft.scanned(writer, member<std::string>(body, "code").substr(0, 400));
    if (!scanned.ok()) throw Refused{422, scanned.failure().reason + " " + scanned.failure().remedy};
    if (!scanned->place.empty()) return said({{"place", scanned->place}});
    const std::string where = plain(member<std::string>(body, "where"), "place");
    if (!where.empty() && craft.scanned(writer, where).ok())
      throw Refused{
          422,
          fmt::format("The place \"{}\" is a code that was scanned into the wrong field. Clear it and scan again.", where)};
    const auto kind = member<std::string>(body, "kind");
    store::Movement movement{scanned->id, kind, who, craft.now(), where, ""};
    recorded(store::record_movements(writer, {movement}));
    return moved(scanned->id, scanned->catalogue_number);
  }

  // The last movement was recorded by mistake: the envelope is where it was before. Both stay in the history.
  Reply take_back(const Request& request) {
    const json body = body_of(request);
    const std::string who = plain(named(body), "name");
    const std::string id = known_id(writer, member<std::string>(body, "id"));
    const auto seen = member<std::size_t>(body, "seen");
    const std::vector<store::Movement> history = store::movements_of(writer, id);
    std::vector<store::Movement> held = store::holding(history);
    if (!held.empty()) held.pop_back();
    store::Movement before{id, "returned", who, craft.now(), "", "", true};
    if (!held.empty()) {
      before.kind = held.back().kind;
      before.where = held.back().where;
    }
    recorded(store::record_movements(writer, {before}, [&]() -> std::optional<Failure> {
      if (history.size() == seen && store::movements_of(writer, id).size() == seen) return std::nullopt;
      return Failure{"review", "conflict", "Somebody moved " + id + " meanwhile; nothing was changed.",
                     "Look under Tins where it is now."};
    }));
    return moved(id, store::catalogue_number_of(writer, id));
  }

  Reply moved(const std::string& id, const std::string& number) {
    const std::vector<store::Movement> history = store::movements_of(writer, id);
    return said({{"id", id}, {"number", number}, {"seen", history.size()}, {"movement", shown(history.back())}});
  }

  std::string minted_id(store::Store& store, const std::string& id) {
    known_id(store, id);
    return id;
  }

  Reply pair(store::Store& store, const Request& request) {
    return said(refound.pair(store, minted_id(store, asked(request, "newer")), minted_id(store, asked(request, "earlier"))));
  }

  // Whether two are one envelope photographed twice. `id` names the newer.
  Reply settle(const Request& request) {
    const json body = body_of(request);
    store::Sameness sameness;
    sameness.who = plain(named(body), "name");
    sameness.newer_id = minted_id(writer, member<std::string>(body, "id"));
    sameness.earlier_id = minted_id(writer, member<std::string>(body, "earlier"));
    sameness.verdict = member<std::string>(body, "verdict");
    sameness.when = craft.now();
    if (sameness.verdict != store::kSame && sameness.verdict != store::kOther && sameness.verdict != store::kTakenBack)
      throw Refused{400, "A verdict is one of: same, other, taken back. Nothing was changed."};
    const auto seen = member<std::size_t>(body, "seen");
    const auto done = refound.settle(writer, sameness, seen);
    if (!done.ok() && done.failure().kind == "conflict") {
      json since = refound.since(writer, sameness.newer_id, sameness.earlier_id, seen);
      since["id"] = sameness.newer_id;
      return {409, "application/json",
              text_of({{"error", "Somebody settled something about these two meanwhile; nothing was changed."},
                       {"conflicts", json::array({since})}})};
    }
    if (!done.ok()) throw Refused{409, done.failure().reason + " " + done.failure().remedy};
    const std::unique_lock lock(seeing);
    looked_at = {};  // Find counts it once from now on
    return said(*done);
  }

  Reply answer(const Request& request) {
    const std::string& path = request.path;
    if (request.method == "POST") {
      const std::lock_guard lock(writing);
      if (path == "/api/decide") return decide(request);
      if (path == "/api/confirm") return confirm(request);
      if (path == "/api/check") return check(request);
      if (path == "/api/pick") return pick(request);
      if (path == "/api/move") return move(request);
      if (path == "/api/take_back") return take_back(request);
      if (path == "/api/settle") return settle(request);
      throw Refused{404, "There is nothing here."};
    }
    Lent lent = reader();
    store::Store& store = *lent;
    if (path == "/api/start") return start(store);
    if (path == "/api/find") return find(store, request);
    if (path == "/api/ids") return ids(store, request);
    if (path == "/api/envelope") return said(envelope(store, known_id(store, asked(request, "id"))));
    if (path == "/api/sheet") return sheet(store, request);
    if (path == "/api/alike") return alike(store, request);
    if (path == "/api/again") return said(refound.all(store, asked(request, "anew") == "1"));
    if (path == "/api/pair") return pair(store, request);
    if (path == "/api/try") return try_out(store, request);
    if (path == "/api/places") return places(request);
    if (path == "/api/picks") return picks(store, request);
    if (path == "/api/tins") return tins(store);
    if (path == "/api/tin") return tin(store, request);
    if (path == "/picture/pick-list.pdf") return pick_list(store, request);
    if (path == "/picture/crop" || path == "/picture/photograph") return picture(store, request);
    throw Refused{404, "There is nothing here."};
  }
};

Result<Desk> Desk::open(const std::filesystem::path& collection, Craft craft) {
  auto store = store::Store::open(collection, store::Access::desk);
  if (!store.ok()) return store.failure();
  auto inside = std::make_unique<Inside>(collection, std::move(craft), std::move(store).value());
  inside->keep_up(inside->writer);
  return Desk(std::move(inside));
}

Desk::Desk(std::unique_ptr<Inside> inside) : inside_(std::move(inside)) {}
Desk::Desk(Desk&&) noexcept = default;
Desk::~Desk() = default;

Reply Desk::answer(const Request& request) {
  try {
    return inside_->answer(request);
  } catch (const Refused& refused) {
    return refusal(refused.status, refused.sentence);
  } catch (const store::Trouble& trouble) {
    return refusal(503, trouble.failure.reason + " " + trouble.failure.remedy);
  }
}

}  // namespace papillote::review
