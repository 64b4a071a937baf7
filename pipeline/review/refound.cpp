#include "pipeline/review/refound.h"

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "pipeline/record/codec.h"
#include "pipeline/store/envelopes.h"
#include "pipeline/store/index.h"

namespace papillote::review {
namespace {

using nlohmann::json;
using store::Sameness;

std::string current(store::Store& store, const std::string& id) { return store::current_id(store, id).value_or(id); }

struct Settled {
  Sameness sameness;
  std::size_t place = 0;  // in the history of the collection, from 1
};

// What was settled about either of the two, or about what they now count as: all that may change what a person says of them.
std::vector<Settled> touching(store::Store& store, const std::string& newer, const std::string& earlier) {
  const std::set<std::string> named{newer, earlier, current(store, newer), current(store, earlier)};
  std::vector<Settled> all;
  std::size_t place = 0;
  for (Sameness& each : store::sameness_history(store)) {
    ++place;
    if (named.contains(each.newer_id) || named.contains(each.earlier_id)) all.push_back({std::move(each), place});
  }
  return all;
}

std::size_t seen_of(const std::vector<Settled>& all) { return all.empty() ? 0 : all.back().place; }

// The last word about just these two; nothing when it was taken back.
const Sameness* standing(const std::vector<Settled>& all, const std::string& newer, const std::string& earlier) {
  const auto last = std::find_if(all.rbegin(), all.rend(), [&](const Settled& s) {
    return s.sameness.newer_id == newer && s.sameness.earlier_id == earlier;
  });
  return last == all.rend() || last->sameness.verdict == store::kTakenBack ? nullptr : &last->sameness;
}

json shown(const Sameness& s) {
  return {{"newer", s.newer_id}, {"earlier", s.earlier_id}, {"verdict", s.verdict},
          {"who", s.who},        {"when", s.when},          {"note", s.note}};
}

json shown(const RefoundAt& at) {
  return {{"tin", at.sheet.tin}, {"sheet", at.sheet.sheet}, {"side", at.sheet.side}, {"position", at.position}};
}

// The envelope as `photo` shows it, else as the photographs do that were its own before it was joined.
json side_of(store::Store& store, const std::string& id, const std::string& photo) {
  const std::string now = current(store, id);
  const std::vector<store::EnvelopeView> views = store::views_of(store, now);
  if (views.empty()) return nullptr;
  auto view = std::find_if(views.begin(), views.end(), [&](const auto& v) { return v.photo.path == photo; });
  if (view == views.end()) {
    const std::vector<std::string> own = store::photographs_under(store, id);
    view = std::find_if(views.begin(), views.end(),
                        [&](const auto& v) { return std::find(own.begin(), own.end(), v.photo.path) != own.end(); });
  }
  if (view == views.end()) view = views.begin();
  const Sheet sheet = view->calibration.sheet.value_or(Sheet{});
  const EnvelopeOutline& outline = view->record.outline;
  return {{"id", now},
          {"number", store::catalogue_number_of(store, now)},
          {"view", view - views.begin()},
          {"photograph", view->photo.path},
          {"taken", view->photo.taken},
          {"tin", sheet.tin},
          {"sheet", sheet.sheet},
          {"side", sheet.side},
          {"position", outline.number + 1},
          {"text", view->record.annotation.text},
          {"size_mm", outline.size_mm},
          {"crop_px", {outline.crop.width_px, outline.crop.height_px}}};
}

}  // namespace

RefoundPairs::Compared RefoundPairs::last() {
  const std::lock_guard lock(keeping_);
  return last_;
}

RefoundPairs::Compared RefoundPairs::compared(store::Store& store, bool anew) {
  const std::lock_guard one_at_a_time(comparing_);
  const std::string present = store::state_of_photographs(store).hex;
  if (!anew && present == state_) return last();
  const auto fresh = std::make_shared<const std::vector<Refound>>(craft_.refound(store));
  const std::lock_guard lock(keeping_);
  state_ = present;
  last_ = fresh;
  return fresh;
}

json RefoundPairs::all(store::Store& store, bool anew) {
  const Compared likely = compared(store, anew);
  std::vector<Sameness> settled = store::standing_sameness(store);
  std::map<std::pair<std::string, std::string>, const Sameness*> by_name;
  std::set<std::pair<std::string, std::string>> different;  // as they count now
  for (const Sameness& s : settled) {
    by_name[{s.newer_id, s.earlier_id}] = &s;
    if (s.verdict == store::kOther) different.insert(std::minmax(current(store, s.newer_id), current(store, s.earlier_id)));
  }
  json open = json::array(), closed = json::array();
  const auto row = [](const std::string& newer, const std::string& earlier, const Sameness* said) {
    return json{{"newer", newer},
                {"earlier", earlier},
                {"verdict", said ? said->verdict : ""},
                {"who", said ? said->who : ""},
                {"when", said ? said->when : ""}};
  };
  std::map<std::pair<std::string, std::string>, const Refound*> compared_pairs;
  for (const Refound& pair : *likely) {
    compared_pairs[{pair.newer.id, pair.earlier.id}] = &pair;
    if (by_name.contains({pair.newer.id, pair.earlier.id})) continue;
    // Settled since under other names.
    const std::pair<std::string, std::string> now = std::minmax(current(store, pair.newer.id), current(store, pair.earlier.id));
    if (now.first == now.second || different.contains(now)) continue;
    open.push_back(row(pair.newer.id, pair.earlier.id, nullptr));
  }
  std::stable_sort(settled.begin(), settled.end(), [](const Sameness& a, const Sameness& b) { return a.when > b.when; });
  for (const Sameness& s : settled) closed.push_back(row(s.newer_id, s.earlier_id, &s));
  for (json& each : closed) open.push_back(std::move(each));
  for (json& each : open) {
    const auto known = compared_pairs.find({each.at("newer"), each.at("earlier")});
    const Refound* pair = known == compared_pairs.end() ? nullptr : known->second;
    each["confidence"] = pair ? json(pair->confidence) : json();
    each["reasons"] = pair ? pair->reasons : std::vector<std::string>();
    each["newer_at"] = pair ? shown(pair->newer) : json();
    each["earlier_at"] = pair ? shown(pair->earlier) : json();
  }
  return {{"pairs", open}};
}

json RefoundPairs::pair(store::Store& store, const std::string& newer, const std::string& earlier) {
  const Compared likely = last();
  const auto known = std::find_if(likely->begin(), likely->end(),
                                  [&](const Refound& p) { return p.newer.id == newer && p.earlier.id == earlier; });
  const std::vector<Settled> settled = touching(store, newer, earlier);
  const Sameness* said = standing(settled, newer, earlier);
  json history = json::array();
  for (const Settled& each : settled) history.push_back(shown(each.sameness));
  return {{"newer", side_of(store, newer, known == likely->end() ? "" : known->newer.photo)},
          {"earlier", side_of(store, earlier, known == likely->end() ? "" : known->earlier.photo)},
          {"verdict", said ? said->verdict : ""},
          {"who", said ? said->who : ""},
          {"when", said ? said->when : ""},
          {"history", history},
          {"seen", seen_of(settled)}};
}

Result<json> RefoundPairs::settle(store::Store& store, const Sameness& asked, std::size_t seen) {
  const std::vector<Settled> known = touching(store, asked.newer_id, asked.earlier_id);
  const Sameness* stood = standing(known, asked.newer_id, asked.earlier_id);
  std::vector<Sameness> steps{asked};
  if (stood && stood->verdict == store::kSame && asked.verdict == store::kOther) {
    steps.insert(steps.begin(), asked);
    steps.front().verdict = store::kTakenBack;
  }
  const auto done = store::settle_sameness(store, steps, false, [&]() -> std::optional<Failure> {
    if (seen_of(known) == seen && seen_of(touching(store, asked.newer_id, asked.earlier_id)) == seen) return std::nullopt;
    return Failure{"review", "conflict", "", ""};
  });
  if (!done.ok()) return done.failure();
  const Settled kept = touching(store, asked.newer_id, asked.earlier_id).back();
  return json{{"newer", kept.sameness.newer_id},
              {"earlier", kept.sameness.earlier_id},
              {"before", stood ? stood->verdict : std::string(store::kTakenBack)},
              {"seen", kept.place}};
}

json RefoundPairs::since(store::Store& store, const std::string& newer, const std::string& earlier, std::size_t seen) {
  const std::vector<Settled> settled = touching(store, newer, earlier);
  json all = json::array();
  for (const Settled& each : settled)
    if (each.place > seen) all.push_back(shown(each.sameness));
  return {{"since", all}, {"seen", seen_of(settled)}};
}

}  // namespace papillote::review
