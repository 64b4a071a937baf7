// papillote whereabouts: where envelopes are, where they have been, and how often they were taken in hand.
#include <fmt/format.h>

#include <iostream>
#include <memory>

#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/trouble.h"
#include "pipeline/bench/handlings.h"
#include "pipeline/bench/page.h"
#include "pipeline/bench/scan.h"
#include "pipeline/bench/words.h"
#include "pipeline/record/csv.h"
#include "pipeline/store/index.h"

namespace papillote::app::commands {
namespace {

struct WhereAsked {
  std::vector<std::string> codes;
  std::string collection;
  std::optional<std::string> tin;
  bool out = false;
  bool csv = false;
};

std::string where_words(const store::Followed& envelope) {
  if (envelope.history.empty() || store::in_its_tin(envelope.history.back()))
    return envelope.tin.empty() ? "in its tin" : fmt::format("in tin {}", bench::harmless(envelope.tin));
  const store::Movement& last = envelope.history.back();
  return fmt::format("{}{}{}", bench::kind_words(last.kind), last.where.empty() ? "" : ", ", bench::harmless(last.where));
}

std::string name_of(const store::Followed& envelope) {
  return envelope.catalogue_number.empty() ? envelope.id
                                           : fmt::format("{} ({})", bench::harmless(envelope.catalogue_number), envelope.id);
}

void print_history(const store::Followed& envelope) {
  std::cout << fmt::format("{}: {}; taken in hand {} times\n", name_of(envelope), where_words(envelope),
                           bench::handlings_of(envelope));
  if (!envelope.tin.empty())
    std::cout << fmt::format("  home       tin {}, sheet {}\n", bench::harmless(envelope.tin), bench::harmless(envelope.sheet));
  for (const store::Movement& m : envelope.history) {
    std::cout << fmt::format("  {:<10} {}", bench::kind_words(m.kind), m.when);
    for (const std::string& more : {m.where, m.who, m.note})
      if (!more.empty()) std::cout << "  " << bench::harmless(more);
    std::cout << '\n';
  }
}

ExitCode of_codes(store::Store& store, const WhereAsked& asked) {
  ExitCode code = kAllDone;
  for (const std::string& text : asked.codes) {
    const auto scanned = bench::scanned_envelope(store, text);
    if (!scanned.ok()) {
      (void)said(scanned.failure());
      code = kSomeFailed;
      continue;
    }
    store::Followed envelope{scanned->id, scanned->catalogue_number, "", "", false, store::movements_of(store, scanned->id)};
    for (const store::EnvelopeView& view : store::views_of(store, scanned->id)) {
      envelope.indexed = true;
      if (const auto& sheet = view.calibration.sheet; sheet && envelope.tin.empty()) {
        envelope.tin = sheet->tin;
        envelope.sheet = sheet->sheet;
      }
    }
    print_history(envelope);
  }
  return code;
}

void list(store::Store& store, const WhereAsked& asked) {
  if (asked.csv)
    std::cout << csv_row({"id", "catalogue_number", "tin", "sheet", "now", "where", "since", "who", "note", "handlings"});
  store::for_each_followed(store, [&](const store::Followed& envelope) {
    const bool in = envelope.history.empty() || store::in_its_tin(envelope.history.back());
    if ((asked.out && in) || (asked.tin && envelope.tin != *asked.tin)) return;
    const store::Movement last = envelope.history.empty() ? store::Movement{} : envelope.history.back();
    if (asked.csv)
      std::cout << csv_row({envelope.id, envelope.catalogue_number, envelope.tin, envelope.sheet, in ? "in its tin" : last.kind,
                            last.where, last.when, last.who, last.note, std::to_string(bench::handlings_of(envelope))});
    else
      std::cout << fmt::format("{:<28} {:<36} {}{}{}\n", name_of(envelope), where_words(envelope), last.when.substr(0, 10),
                               last.who.empty() ? "" : "  ", bench::harmless(last.who));
  });
}

void account(store::Store& store) {
  const std::vector<bench::TinAccount> tins = bench::account_of(store);
  std::cout << fmt::format("{:<16}{:>8}{:>8}{:>10}{:>9}{:>11}{:>10}\n", "tin", "in", "housed", "elsewhere", "missing",
                           "handlings", "avoided");
  bench::TinAccount all{};
  all.tin = "all";
  for (const bench::TinAccount& tin : tins) {
    all.in += tin.in;
    all.housed += tin.housed;
    all.elsewhere += tin.elsewhere;
    all.missing += tin.missing;
    all.handlings += tin.handlings;
    all.openings += tin.openings;
    all.avoided += tin.avoided;
  }
  const auto row = [](const bench::TinAccount& tin) {
    std::cout << fmt::format("{:<16}{:>8}{:>8}{:>10}{:>9}{:>11}{:>10}\n",
                             tin.tin.empty() ? "not known" : bench::harmless(tin.tin), tin.in, tin.housed, tin.elsewhere,
                             tin.missing, tin.handlings, tin.avoided);
  };
  for (const bench::TinAccount& tin : tins) row(tin);
  if (tins.size() > 1) row(all);
  std::cout << fmt::format(
      "Tins were opened {} times to pick from them; {} envelopes or more were left alone that used to be leafed through.\n",
      all.openings, all.avoided);
}

ExitCode run(const WhereAsked& asked) {
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) {
    if (!asked.codes.empty()) return of_codes(store, asked);
    if (asked.out || asked.tin || asked.csv)
      list(store, asked);
    else
      account(store);
    return kAllDone;
  });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<WhereAsked>();
  command.add_option("codes", asked->codes,
                     "Catalogue numbers or identities: where each is and has been (default: an account of all tins).");
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("--tin", asked->tin, "List the envelopes of this tin.");
  command.add_flag("--out", asked->out, "List only what is not in its tin.");
  command.add_flag("--csv", asked->csv, "The list as a table.");
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command whereabouts;
const Command whereabouts{"whereabouts", "Follow",
                          "Say where envelopes are, where they have been, what is out, and how often they were handled.",
                          "A handling is a movement for which somebody takes hold of the envelope; drying, missing and found "
                          "are none. Avoided are, at\n"
                          "least, the envelopes left alone whenever a tin was opened to pick from it (one person, one day).\n"
                          "Example: papillote whereabouts --out --collection tins",
                          setup};

}  // namespace papillote::app::commands
