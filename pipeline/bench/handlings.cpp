#include "pipeline/bench/handlings.h"

#include <algorithm>
#include <set>
#include <utility>

#include "pipeline/bench/natural_order.h"

namespace papillote::bench {
namespace {

using store::Movement;

bool is_handling(const Movement& movement) {
  return movement.kind != "drying" && movement.kind != "missing" && movement.kind != "found";
}

// One person, one day.
using Opening = std::pair<std::string, std::string>;
Opening opening_of(const Movement& pick) { return {pick.when.substr(0, 10), pick.who}; }

struct Kept {
  std::vector<Movement> held;
  [[nodiscard]] bool in_tin_before(const std::string& when) const {
    std::optional<Movement> last;
    for (const Movement& movement : held)
      if (movement.when < when) last = movement;
    return store::in_its_tin(last);
  }
  [[nodiscard]] bool picked_at(const Opening& opening) const {
    return std::any_of(held.begin(), held.end(),
                       [&](const Movement& m) { return m.kind == "picked" && opening_of(m) == opening; });
  }
};

void count_openings(const std::vector<Kept>& envelopes, TinAccount& account) {
  std::map<Opening, std::string> first;  // pick of each
  for (const Kept& envelope : envelopes)
    for (std::size_t k = 0; k < envelope.held.size(); ++k) {
      const Movement& movement = envelope.held[k];
      if (movement.kind != "picked" || !store::in_its_tin(k == 0 ? std::nullopt : std::optional(envelope.held[k - 1])))
        continue;
      const auto [known, fresh] = first.try_emplace(opening_of(movement), movement.when);
      if (!fresh) known->second = std::min(known->second, movement.when);
    }
  account.openings = static_cast<int>(first.size());
  for (const auto& [opening, when] : first)
    for (const Kept& envelope : envelopes)
      if (envelope.in_tin_before(when) && !envelope.picked_at(opening)) ++account.avoided;
}

}  // namespace

int handlings_of(const store::Followed& envelope) {
  const std::vector<Movement> held = store::holding(envelope.history);
  int count = 0;
  bool laid_out = false;
  for (std::size_t k = 0; k < held.size(); ++k) {
    laid_out = laid_out || held[k].kind == "captured";
    const bool says_again = held[k].corrects && (k == 0 ? held[k].kind == "returned" : held[k - 1].kind == held[k].kind);
    if (is_handling(held[k]) && !says_again) ++count;
  }
  return count + (envelope.indexed && !laid_out ? 1 : 0);
}

std::vector<TinAccount> account_of(store::Store& store) {
  std::map<std::string, TinAccount> tins;
  std::map<std::string, std::vector<Kept>> kept;
  store::for_each_followed(store, [&](const store::Followed& envelope) {
    TinAccount& account = tins[envelope.tin];
    account.tin = envelope.tin;
    const std::optional<Movement> last = envelope.history.empty() ? std::nullopt : std::optional(envelope.history.back());
    if (store::in_its_tin(last))
      ++account.in;
    else if (last->kind == "housed")
      ++account.housed;
    else if (last->kind == "missing")
      ++account.missing;
    else
      ++account.elsewhere;
    account.handlings += handlings_of(envelope);
    kept[envelope.tin].push_back({store::holding(envelope.history)});
  });
  std::vector<TinAccount> accounts;
  for (auto& [tin, account] : tins) {
    if (!tin.empty()) count_openings(kept[tin], account);
    accounts.push_back(account);
  }
  std::sort(accounts.begin(), accounts.end(),
            [](const TinAccount& a, const TinAccount& b) { return natural_compare(a.tin, b.tin) < 0; });
  return accounts;
}

}  // namespace papillote::bench
