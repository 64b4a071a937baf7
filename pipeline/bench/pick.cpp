#include "pipeline/bench/pick.h"

#include <fmt/format.h>

#include <map>
#include <optional>
#include <utility>

#include "pipeline/bench/words.h"
#include "pipeline/store/index.h"

namespace papillote::bench {
namespace {

// Where every envelope of a photograph lies, by identity.
std::map<std::string, Position> places_on(store::Store& store, const std::string& photo) {
  std::map<std::string, Position> places;
  const auto indexed = store::find_photograph(store, photo);
  if (!indexed) return places;
  std::vector<Polygon> outlines;
  for (const IndexRecord& envelope : indexed->index.envelopes) outlines.push_back(envelope.outline.polygon_px);
  const std::vector<Position> positions = positions_of(outlines);
  for (std::size_t k = 0; k < positions.size(); ++k) places[indexed->index.envelopes[k].id] = positions[k];
  return places;
}

}  // namespace

std::vector<PickEntry> picked_from(store::Store& store, const std::vector<store::Hit>& hits, const PhotoSource& pixels) {
  std::vector<PickEntry> entries;
  std::map<std::string, std::map<std::string, Position>> places;
  // The picture shows the writing, which may be on the other side: one photograph is decoded for all its pictures.
  std::map<std::string, std::vector<std::pair<std::size_t, store::EnvelopeView>>> pictured;
  for (const store::Hit& hit : hits) {
    const std::vector<store::EnvelopeView> views = store::views_of(store, hit.id);
    if (views.empty()) continue;
    const store::EnvelopeView& seen = views.front();  // front side first
    auto [on_photo, fresh] = places.try_emplace(seen.photo.path);
    if (fresh) on_photo->second = places_on(store, seen.photo.path);
    entries.push_back(pick_entry(hit, seen, on_photo->second[hit.id]));
    const auto last = store::whereabouts(store, hit.id);
    if (!store::in_its_tin(last)) {
      entries.back().out = fmt::format("{} since {}", kind_words(last->kind), last->when.substr(0, 10));
      if (!last->where.empty()) entries.back().out += ", " + last->where;
      if (!last->who.empty()) entries.back().out += ", by " + last->who;
    }
    for (const store::EnvelopeView& view : views)
      if (view.photo.path == hit.photo || &view == &views.back()) {
        pictured[view.photo.path].push_back({entries.size() - 1, view});
        break;
      }
  }
  for (const auto& [path, wanted] : pictured)
    for (const auto& [entry, view] : wanted)
      if (const auto photo = pixels(view.photo); photo && view.record.outline.crop.width_px > 0)
        entries[entry].thumbnail = picture_of(image::rectify(*photo, view.record.outline.crop), kThumbnailPx);
  sort_for_picking(entries);
  return entries;
}

std::vector<store::Movement> movements_for(const std::vector<PickEntry>& entries, const std::string& who,
                                           const std::string& when, const std::string& note) {
  std::vector<store::Movement> movements;
  for (const PickEntry& entry : entries)
    if (entry.out.empty()) movements.push_back({entry.id, "picked", who, when, "", note});
  return movements;
}

}  // namespace papillote::bench
