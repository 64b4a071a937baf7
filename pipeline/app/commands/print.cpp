// papillote print: capture card, sheet labels, identifier slips, layout maps, tin reports and labels that stay with specimens, as PDF at
// true size.
#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <iostream>
#include <memory>
#include <set>
#include <type_traits>

#include "pipeline/app/clock.h"
#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/photo_pixels.h"
#include "pipeline/app/priorities.h"
#include "pipeline/app/question.h"
#include "pipeline/app/trouble.h"
#include "pipeline/bench/capture_card.h"
#include "pipeline/bench/found_map.h"
#include "pipeline/bench/layout_map.h"
#include "pipeline/bench/natural_order.h"
#include "pipeline/bench/numbers.h"
#include "pipeline/bench/save.h"
#include "pipeline/bench/scan.h"
#include "pipeline/bench/sheet_label.h"
#include "pipeline/bench/slips.h"
#include "pipeline/bench/specimen_labels.h"
#include "pipeline/bench/tin_report.h"
#include "pipeline/store/decisions.h"
#include "pipeline/store/index.h"

namespace papillote::app::commands {
namespace {

struct PrintAsked {
  std::string output;
  std::string collection;
  std::string tin;
  std::string sheets;
  std::string period;
  bool sides = false;
  std::string photo;
  std::vector<std::string> marked;
  std::string prefix = "PAP";
  int from = 1;
  int count = 100;
  int digits = 6;
  Asked filters;
  std::vector<std::string> codes;
  std::string drawer;
  std::string trays;
  std::string heading;
  CuratorsTables tables;
};

ExitCode keep(const std::string& output, const Result<std::string>& pdf) {
  if (!pdf.ok()) {
    (void)said(pdf.failure());
    return kWrongCommand;
  }
  if (const auto saved = bench::save(output, *pdf); !saved.ok()) return said(saved.failure());
  std::cout << output << '\n';
  return kAllDone;
}

ExitCode print_labels(const PrintAsked& asked) {
  const auto sheets = bench::numbers_in(asked.sheets);
  if (!sheets.ok()) return keep(asked.output, sheets.failure());
  std::vector<bench::SheetLabel> labels;
  for (const int sheet : *sheets) {
    labels.push_back({asked.tin, std::to_string(sheet), false, asked.period});
    if (asked.sides) labels.push_back({asked.tin, std::to_string(sheet), true, asked.period});
  }
  return keep(asked.output, bench::sheet_labels_pdf(labels, now_utc()));
}

ExitCode print_slips(const PrintAsked& asked) {
  const auto numbers = bench::catalogue_numbers(asked.prefix, asked.from, asked.count, asked.digits);
  if (!numbers.ok()) return keep(asked.output, numbers.failure());
  const ExitCode code = keep(asked.output, bench::slips_pdf(*numbers, now_utc()));
  if (code == kAllDone)
    std::cerr << fmt::format("{} to {}; go on with --from {}.\n", numbers->front(), numbers->back(), asked.from + asked.count);
  return code;
}

// What `draw` makes of the open collection, or a sentence that says why not.
template <class Draw>
ExitCode from_collection(const PrintAsked& asked, Draw draw) {
  return with_collection(asked.collection, store::Access::read,
                         [&](store::Store& store) { return keep(asked.output, draw(store)); });
}

Failure nothing_there(const std::string& what, const std::string& collection) {
  return {"app", "nothing_to_print", fmt::format("{} holds no photograph of {}.", collection, what),
          "See 'papillote status' for the tins that are there."};
}

// As people settled it.
PhotoIndex decided(store::Store& store, PhotoIndex index) {
  for (IndexRecord& record : index.envelopes) record = store::with_decisions(std::move(record), store::decisions_of(store, record.id));
  return index;
}

// The photographs asked for, in the order of tins, sheets and sides, each through `make`; a sentence when there is none.
template <class Make>
Result<std::vector<std::invoke_result_t<Make, const PhotoIndex&>>> each_asked(store::Store& store, const PrintAsked& asked, Make make) {
  using Made = std::invoke_result_t<Make, const PhotoIndex&>;
  std::vector<std::pair<Sheet, Made>> all;
  store::for_each_photograph(store, [&](const store::IndexedPhotograph& each) {
    const auto& sheet = each.index.calibration.sheet;
    if (!asked.photo.empty() && each.index.photo.path != asked.photo) return;
    if (!asked.tin.empty() && (!sheet || sheet->tin != asked.tin)) return;
    if (!asked.sheets.empty() && (!sheet || sheet->sheet != asked.sheets)) return;
    if (each.failure && each.index.envelopes.empty()) return;
    all.emplace_back(sheet.value_or(Sheet{}), make(decided(store, each.index)));
  });
  if (all.empty()) {
    std::string what = asked.photo.empty() ? "" : asked.photo;
    if (!asked.tin.empty()) what += (what.empty() ? "tin " : " in tin ") + asked.tin;
    if (!asked.sheets.empty()) what += (what.empty() ? "sheet " : ", sheet ") + asked.sheets;
    return nothing_there(what.empty() ? "anything" : what, asked.collection);
  }
  std::stable_sort(all.begin(), all.end(), [](const auto& a, const auto& b) {
    if (const int tins = bench::natural_compare(a.first.tin, b.first.tin); tins != 0) return tins < 0;
    if (const int sheets = bench::natural_compare(a.first.sheet, b.first.sheet); sheets != 0) return sheets < 0;
    return a.first.side > b.first.side;  // front before back
  });
  std::vector<Made> made;
  for (auto& [sheet, one] : all) made.push_back(std::move(one));
  return made;
}

ExitCode print_map(const PrintAsked& asked) {
  return from_collection(asked, [&](store::Store& store) -> Result<std::string> {
    const bench::PhotoSource pixels = photo_pixels(store);
    const std::set<std::string> marked(asked.marked.begin(), asked.marked.end());
    const auto maps = each_asked(store, asked, [&](const PhotoIndex& index) { return bench::sheet_map(index, marked, pixels); });
    if (!maps) return maps.failure();
    return bench::layout_maps_pdf(*maps, now_utc());
  });
}

ExitCode print_found(const PrintAsked& asked) {
  return from_collection(asked, [&](store::Store& store) -> Result<std::string> {
    const bench::PhotoSource pixels = photo_pixels(store);
    const auto maps = each_asked(store, asked, [&](const PhotoIndex& index) { return bench::found_map(index, pixels); });
    if (!maps) return maps.failure();
    return bench::found_maps_pdf(*maps, now_utc());
  });
}

ExitCode print_report(const PrintAsked& asked) {
  return from_collection(asked, [&](store::Store& store) -> Result<std::string> {
    const auto storage = storage_by_tin(asked.tables, asked.collection);
    if (!storage) return storage.failure();
    const auto kept = storage->find(asked.tin);
    std::vector<PhotoIndex> photos;
    store::for_each_photograph(store, [&](const store::IndexedPhotograph& each) {
      const auto& sheet = each.index.calibration.sheet;
      if (sheet ? sheet->tin == asked.tin : asked.tin.empty()) photos.push_back(decided(store, each.index));
    });
    if (photos.empty()) return nothing_there(asked.tin.empty() ? "no known tin" : "tin " + asked.tin, asked.collection);
    return bench::tin_report_pdf(bench::tin_report(asked.tin, photos, kept == storage->end() ? Storage{} : kept->second, photo_pixels(store)), now_utc());
  });
}

// Of what was asked for, in the order of the shelf, as people settled it.
Result<std::vector<bench::LabelText>> texts_asked(store::Store& store, const PrintAsked& asked) {
  std::vector<std::string> ids;
  for (const std::string& code : asked.codes) {
    const auto scanned = bench::scanned_envelope(store, code);
    if (!scanned.ok()) return scanned.failure();
    ids.push_back(scanned->id);
  }
  if (asked.codes.empty()) {
    auto question = question_of(asked.filters, asked.collection);
    if (!question.ok()) return question.failure();
    question->limit = 0;
    question->order = store::Order::shelf;
    for (const store::Hit& hit : store::search(store, *question).hits) ids.push_back(hit.id);
  }
  std::vector<bench::LabelText> texts;
  for (const std::string& id : ids) {
    const auto views = store::views_of(store, id);
    if (views.empty()) continue;
    texts.push_back(bench::label_text(store::with_decisions(views.front().record, store::decisions_of(store, id)),
                                      views.front().calibration.sheet.value_or(Sheet{})));
  }
  return texts;
}

template <class Make>
ExitCode print_specimens(const PrintAsked& asked, Make make) {
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) -> ExitCode {
    const auto texts = texts_asked(store, asked);
    if (!texts.ok()) return keep(asked.output, texts.failure());
    const auto sheets = make(*texts, now_utc());
    if (!sheets.ok()) return keep(asked.output, sheets.failure());
    if (!sheets->pdf.empty())
      if (const ExitCode code = keep(asked.output, sheets->pdf); code != kAllDone) return code;
    for (const auto& [id, why] : sheets->unfit) std::cerr << fmt::format("papillote: {} has no label: {}.\n", id, why);
    std::cerr << fmt::format("Labels for {} of {}. What no person has settled stands in [ ].\n", texts->size() - sheets->unfit.size(), texts->size());
    return sheets->unfit.empty() ? kAllDone : kSomeFailed;
  });
}

ExitCode print_trays(const PrintAsked& asked) {
  const auto trays = bench::numbers_in(asked.trays);
  if (!trays.ok()) return keep(asked.output, trays.failure());
  std::vector<bench::TrayLabel> labels;
  for (const int tray : *trays) labels.push_back({fmt::format("drawer {}, tray {}", asked.drawer, tray), asked.heading});
  return keep(asked.output, bench::tray_labels_pdf(labels, now_utc()));
}

using Print = ExitCode (*)(const PrintAsked&);

CLI::App* add_print(CLI::App& command, PrintAsked& asked, const std::shared_ptr<Print>& chosen, Print print, const char* name,
                    const char* brief) {
  CLI::App* print_command = command.add_subcommand(name, brief);
  print_command->add_option("-o,--output", asked.output, "PDF to write.")->required();
  print_command->callback([chosen, print] { *chosen = print; });
  return print_command;
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<PrintAsked>();
  auto chosen = std::make_shared<Print>(nullptr);
  command.require_subcommand(1);
  add_print(
      command, *asked, chosen, [](const PrintAsked& a) { return keep(a.output, bench::capture_card_pdf(now_utc())); }, "card",
      "The capture card for the copy stand: scale, greys, perspective.");

  CLI::App* labels =
      add_print(command, *asked, chosen, print_labels, "labels", "Labels that say tin and sheet in words and as a QR code.");
  labels->add_option("--tin", asked->tin, "Name of the tin.")->required();
  labels->add_option("--sheets", asked->sheets, "Numbers of the sheets, as in 1-12,14.")->required();
  labels->add_option("--period", asked->period, "Period of the tin in words, such as 1895–1904.");
  labels->add_flag("--sides", asked->sides, "A label for the back of each sheet too.");

  CLI::App* slips = add_print(command, *asked, chosen, print_slips, "slips",
                              "Slips with catalogue numbers and Data Matrix codes, for envelopes.");
  slips->add_option("--prefix", asked->prefix, "What every number begins with.")->capture_default_str();
  slips->add_option("--from", asked->from, "First number.")->check(CLI::NonNegativeNumber)->capture_default_str();
  slips->add_option("--count", asked->count, "How many.")->check(CLI::Range(1, 10000))->capture_default_str();
  slips->add_option("--digits", asked->digits, "Digits of a number, filled with noughts.")
      ->check(CLI::Range(1, 9))
      ->capture_default_str();

  CLI::App* map = add_print(command, *asked, chosen, print_map, "map",
                            "Photographs of sheets with numbered outlines and the list of what lies where.");
  CLI::App* found = add_print(command, *asked, chosen, print_found, "found",
                              "Photographs with all that was found: outlines, lines with kind and reading order, findings.");
  for (CLI::App* sheets : {map, found}) {
    sheets->add_option("--collection", asked->collection, "Folder that holds the index.")->required();
    sheets->add_option("--tin", asked->tin, "Only sheets of this tin.");
    sheets->add_option("--sheet", asked->sheets, "Only this sheet.");
    sheets->add_option("--photo", asked->photo, "Only this photograph, by its path in the index.");
  }
  map->add_option("--mark", asked->marked, "Identities to mark on the map.");

  CLI::App* report =
      add_print(command, *asked, chosen, print_report, "report", "One page about a tin: counts, worst cases, cautions.");
  report->add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  report->add_option("--tin", asked->tin, "Name of the tin; an empty text means photographs without a sheet label.")
      ->required();
  add_containers(*report, asked->tables);

  CLI::App* pins = add_print(
      command, *asked, chosen, [](const PrintAsked& a) { return print_specimens(a, bench::pin_labels); }, "pin-labels",
      "Labels for pins, 22 x 8 mm: data in 4 to 5 pt, and number with code.");
  CLI::App* envelopes = add_print(
      command, *asked, chosen, [](const PrintAsked& a) { return print_specimens(a, bench::envelope_labels); }, "envelope-labels",
      "Labels for new envelopes, 62 x 30 mm: data, the old annotation, number and code.");
  for (CLI::App* specimens : {pins, envelopes}) {
    add_filters(*specimens, asked->filters);
    specimens->add_option("--code", asked->codes, "Only these, by catalogue number or identity, instead of a search.");
    specimens->add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  }
  CLI::App* trays = add_print(command, *asked, chosen, print_trays, "tray-labels", "Labels for unit trays, with a code that 'move' takes as the place.");
  trays->add_option("--drawer", asked->drawer, "Name of the drawer.")->required();
  trays->add_option("--trays", asked->trays, "Numbers of the trays, as in 1-8.")->required();
  trays->add_option("--heading", asked->heading, "What stands in them, such as a genus.");
  return [asked, chosen] { return (*chosen)(*asked); };
}

}  // namespace

extern const Command print;
const Command print{"print", "Bench", "Print cards, labels, slips, maps and reports as PDF, true to size.",
                    "Print at 100 %, never \"fit to page\", and measure the card's bar once with a steel rule.\n"
                    "Example: papillote print labels --tin 07 --sheets 1-12 --sides -o labels.pdf",
                    setup};

}  // namespace papillote::app::commands
