// papillote pick: from a question to a printed list that opens each tin once.
#include <cstdlib>
#include <filesystem>
#include <iostream>
#include <map>
#include <memory>

#include <fmt/format.h>

#include "pipeline/app/clock.h"
#include "pipeline/app/command.h"
#include "pipeline/app/photo_pixels.h"
#include "pipeline/app/question.h"
#include "pipeline/app/trouble.h"
#include "pipeline/bench/pick_list.h"
#include "pipeline/bench/save.h"
#include "pipeline/store/movements.h"

namespace papillote::app::commands {
namespace {

struct PickAsked {
  Asked filters;
  std::string collection;
  std::string output;
  std::string who;
  int limit = 0;
  bool dry_run = false;
};

// Where every envelope of a photograph lies, by identity.
std::map<std::string, bench::Position> places_on(store::Store& store, const std::string& photo) {
  std::map<std::string, bench::Position> places;
  const auto indexed = store::find_photograph(store, photo);
  if (!indexed) return places;
  std::vector<Polygon> outlines;
  for (const IndexRecord& envelope : indexed->index.envelopes) outlines.push_back(envelope.outline.polygon_px);
  const std::vector<bench::Position> positions = bench::positions_of(outlines);
  for (std::size_t k = 0; k < positions.size(); ++k) places[indexed->index.envelopes[k].id] = positions[k];
  return places;
}

bool in_its_tin(const std::optional<store::Movement>& last) {
  return !last || last->kind == "captured" || last->kind == "returned";
}

std::vector<bench::PickEntry> entries_of(store::Store& store, const std::vector<store::Hit>& hits) {
  std::vector<bench::PickEntry> entries;
  std::map<std::string, std::map<std::string, bench::Position>> places;
  // The picture shows the writing, which may be on the other side: one photograph is decoded for all its pictures.
  std::map<std::string, std::vector<std::pair<std::size_t, store::EnvelopeView>>> pictured;
  for (const store::Hit& hit : hits) {
    const std::vector<store::EnvelopeView> views = store::views_of(store, hit.id);
    if (views.empty()) continue;
    const store::EnvelopeView& seen = views.front();  // front side first
    auto [on_photo, fresh] = places.try_emplace(seen.photo.path);
    if (fresh) on_photo->second = places_on(store, seen.photo.path);
    entries.push_back(bench::pick_entry(hit, seen, on_photo->second[hit.id]));
    const auto last = store::whereabouts(store, hit.id);
    if (!in_its_tin(last)) {
      entries.back().out = fmt::format("{} since {}", last->kind, last->when.substr(0, 10));
      if (!last->where.empty()) entries.back().out += ", " + last->where;
      if (!last->who.empty()) entries.back().out += ", by " + last->who;
    }
    for (const store::EnvelopeView& view : views)
      if (view.photo.path == hit.photo || &view == &views.back()) {
        pictured[view.photo.path].push_back({entries.size() - 1, view});
        break;
      }
  }
  const bench::PhotoSource pixels = photo_pixels(store);
  for (const auto& [path, wanted] : pictured)
    for (const auto& [entry, view] : wanted)
      if (const auto photo = pixels(view.photo); photo && view.record.outline.crop.width_px > 0)
        entries[entry].thumbnail = bench::picture_of(image::rectify(*photo, view.record.outline.crop), bench::kThumbnailPx);
  bench::sort_for_picking(entries);
  return entries;
}

ExitCode pick_from(store::Store& store, const PickAsked& asked) {
  auto question = question_of(asked.filters, asked.collection);
  if (!question.ok()) {
    (void)said(question.failure());
    return kWrongCommand;
  }
  question->limit = asked.limit;
  question->order = asked.limit > 0 ? store::Order::priority : store::Order::shelf;
  const std::vector<bench::PickEntry> entries = entries_of(store, store::search(store, *question).hits);

  const std::string made = now_utc();
  const bench::PickHead head{words_of(asked.filters), asked.who, made};
  std::filesystem::path table = asked.output;
  table.replace_extension(".csv");
  if (const auto saved = bench::save(asked.output, bench::pick_list_pdf(entries, head)); !saved.ok()) return said(saved.failure());
  if (const auto saved = bench::save(table, bench::pick_list_csv(entries)); !saved.ok()) return said(saved.failure());

  std::vector<store::Movement> movements;
  std::size_t out = 0;
  for (const bench::PickEntry& entry : entries) {
    if (entry.out.empty())
      movements.push_back({entry.id, "picked", asked.who, made, "", head.asked});
    else
      ++out;
  }
  if (!asked.dry_run && !movements.empty())
    if (const auto recorded = store::record_movements(store, movements); !recorded.ok()) return said(recorded.failure());

  std::cout << fmt::format("{}\n{}\n", asked.output, table.string());
  std::cerr << fmt::format("{} envelopes on the list, {} recorded as picked{}.\n", entries.size(), asked.dry_run ? 0 : movements.size(),
                           out > 0 ? fmt::format(", {} not in their tins", out) : "");
  return kAllDone;
}

ExitCode run(const PickAsked& asked) {
  if (std::filesystem::path(asked.output).extension() == ".csv") {
    std::cerr << "papillote: -o names the PDF; the table is written beside it. Give a name that ends in .pdf.\n";
    return kWrongCommand;
  }
  auto store = store::Store::open(asked.collection, asked.dry_run ? store::Access::read : store::Access::desk);
  if (!store.ok()) return said(store.failure());
  try {
    return pick_from(*store, asked);
  } catch (const store::Trouble& trouble) {
    return said(trouble.failure);
  }
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<PickAsked>();
  if (const char* user = std::getenv("USER")) asked->who = user;
  add_filters(command, asked->filters);
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("-o,--output", asked->output, "PDF to write; the table goes beside it as .csv.")->required();
  command.add_option("--limit", asked->limit, "The most urgent so many (default: all).")->check(CLI::Range(1, 100000));
  command.add_option("--who", asked->who, "Who takes them out.")->capture_default_str();
  command.add_flag("--dry-run", asked->dry_run, "Write the list but record nothing.");
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command pick;
const Command pick{"pick", "Bench", "Print a pick list that opens each tin once, and record what is taken.",
                   "Every envelope on the list is recorded as picked unless it is out already or --dry-run is given.\n"
                   "Example: papillote pick --priority stabilise --collection tins -o pick.pdf --who \"A. Curator\"",
                   setup};

}  // namespace papillote::app::commands
