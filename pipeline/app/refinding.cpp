#include "pipeline/app/refinding.h"

#include <algorithm>
#include <map>
#include <set>

#include "pipeline/store/envelopes.h"
#include "pipeline/store/index.h"
#include "pipeline/store/sameness.h"

namespace papillote::app {
namespace {

class Gathered {
 public:
  explicit Gathered(store::Store& store) {
    store::for_each_view(store, [&](const store::EnvelopeView& view) {
      const std::size_t envelope = number_.try_emplace(view.record.id, number_.size()).first->second;
      places_.push_back({view.photo, view.calibration.sheet.value_or(Sheet{}), view.record});
      photographs_.resize(number_.size());
      photographs_[envelope].insert(view.photo.path);
      const EnvelopeOutline& outline = view.record.outline;
      registration::Seen seen{envelope, view.record.annotation.text, outline.size_mm, view.record.portrait};
      if (outline.cut_off || !outline.whole_px.empty()) seen.size_mm.reset();
      seen_.push_back(std::move(seen));
    });
    for (const store::Sameness& settled : store::standing_sameness(store)) {
      const auto newer = number_.find(store::current_id(store, settled.newer_id).value_or(""));
      const auto earlier = number_.find(store::current_id(store, settled.earlier_id).value_or(""));
      if (settled.verdict == store::kOther && newer != number_.end() && earlier != number_.end())
        different_.insert(std::minmax(newer->second, earlier->second));
    }
  }

  [[nodiscard]] const std::vector<registration::Seen>& seen() const { return seen_; }
  [[nodiscard]] const SeenAt& at(std::size_t i) const { return places_[i]; }

  [[nodiscard]] bool thinkable(std::size_t a, std::size_t b) const {
    const SeenAt &one = places_[a], &other = places_[b];
    const std::size_t i = seen_[a].envelope, j = seen_[b].envelope;
    if (!one.record.catalogue_number.empty() && !other.record.catalogue_number.empty()) return false;
    if (different_.contains(std::minmax(i, j)) || on_one_photograph(i, j)) return false;
    const Sheet &s = one.sheet, &t = other.sheet;
    if (s.tin.empty() || s.tin != t.tin || s.sheet.empty() || t.sheet.empty()) return true;
    const bool one_day = !one.photo.taken.empty() && one.photo.taken.substr(0, 10) == other.photo.taken.substr(0, 10);
    return s.sheet == t.sheet ? (s.side == "back") == (t.side == "back") : !one_day;
  }

 private:
  [[nodiscard]] bool on_one_photograph(std::size_t i, std::size_t j) const {
    return std::any_of(photographs_[i].begin(), photographs_[i].end(),
                       [&](const std::string& path) { return photographs_[j].contains(path); });
  }

  std::map<std::string, std::size_t> number_;  // of an id
  std::vector<SeenAt> places_;
  std::vector<registration::Seen> seen_;
  std::vector<std::set<std::string>> photographs_;  // that show the envelope
  std::set<std::pair<std::size_t, std::size_t>> different_;
};

}  // namespace

std::vector<Proposal> propose(store::Store& store, double least, bool every) {
  const Gathered all(store);
  auto pairs = registration::compared(all.seen(), [&](std::size_t a, std::size_t b) { return all.thinkable(a, b); });
  if (!every) pairs = registration::one_to_one(all.seen(), pairs);
  std::vector<Proposal> proposals;
  for (const registration::Refound& pair : pairs) {
    if (pair.confidence < least) break;
    proposals.push_back({all.at(pair.earlier), all.at(pair.newer), pair.confidence, pair.likeness});
  }
  return proposals;
}

}  // namespace papillote::app
