// papillote again: envelopes that seem to have been photographed before; a person confirms or refutes each.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <iterator>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>

#include "pipeline/app/clock.h"
#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/photo_pixels.h"
#include "pipeline/app/refinding.h"
#include "pipeline/app/trouble.h"
#include "pipeline/bench/refound_sheet.h"
#include "pipeline/bench/save.h"
#include "pipeline/bench/scan.h"
#include "pipeline/record/codec.h"
#include "pipeline/record/csv.h"
#include "pipeline/store/envelopes.h"
#include "pipeline/store/sameness.h"

namespace papillote::app::commands {
namespace {

struct AgainAsked {
  std::string collection;
  std::string tin;
  double least = kWorthALook;
  bool every = false;
  bool json = false;
  bool csv = false;
  std::string print;
  bool settled = false;
  std::vector<std::string> confirm, refute, take_back;
  std::string answers;
  bool dry_run = false;
  std::string who;
  std::string note;
};

std::string where_of(const SeenAt& seen) {
  const std::string place = seen.sheet.tin.empty() ? "" : fmt::format("tin {} sheet {} ", seen.sheet.tin, seen.sheet.sheet);
  return fmt::format("{}position {} ({})", place, seen.record.outline.number + 1, seen.photo.path);
}

nlohmann::ordered_json json_of(const SeenAt& seen) {
  return {{"id", seen.record.id},
          {"tin", seen.sheet.tin},
          {"sheet", seen.sheet.sheet},
          {"position", seen.record.outline.number + 1},
          {"photo", seen.photo.path},
          {"text", seen.record.annotation.text},
          {"polygon_px", nlohmann::ordered_json(nlohmann::json(seen.record.outline.polygon_px))}};
}

nlohmann::ordered_json json_of(const std::optional<double>& measure) {
  return measure ? nlohmann::ordered_json(std::round(*measure * 10000) / 10000) : nlohmann::ordered_json();
}

nlohmann::ordered_json json_of(const Proposal& proposal) {
  const registration::Likeness& like = proposal.likeness;
  return {{"newer", json_of(proposal.newer)},
          {"earlier", json_of(proposal.earlier)},
          {"confidence", std::round(proposal.confidence * 1000) / 1000},
          {"likeness",
           {{"text", json_of(like.text)},
            {"marks", json_of(like.marks)},
            {"size", json_of(like.size)},
            {"paper", json_of(like.paper)}}},
          {"reasons", registration::words_of(like)}};
}

ExitCode print_pairs(store::Store& store, const std::vector<Proposal>& proposals, const std::string& output) {
  // Two sources, so that neither side makes the other's photograph be decoded again for each pair.
  const bench::PhotoSource earlier = photo_pixels(store), newer = photo_pixels(store);
  const auto side_of = [](const SeenAt& seen, const bench::PhotoSource& pixels) {
    return bench::refound_side(seen.photo, seen.record, where_of(seen), pixels);
  };
  std::vector<bench::RefoundPair> pairs;
  for (const Proposal& p : proposals)
    pairs.push_back({side_of(p.earlier, earlier), side_of(p.newer, newer), p.confidence, registration::words_of(p.likeness)});
  if (const auto saved = bench::save(output, bench::refound_pdf(pairs, now_utc())); !saved.ok()) return said(saved.failure());
  std::cout << output << '\n';
  return kAllDone;
}

void list(const std::vector<Proposal>& proposals) {
  for (const Proposal& p : proposals)
    std::cout << fmt::format("{}={}  {:.2f}  {}\n  newer:   {}\n  earlier: {}\n", p.newer.record.id, p.earlier.record.id,
                             p.confidence, fmt::join(registration::words_of(p.likeness), ", "), where_of(p.newer),
                             where_of(p.earlier));
  if (proposals.empty()) std::cout << "No envelope seems to have been photographed before.\n";
}

void write_table(const std::vector<Proposal>& proposals) {
  std::cout << csv_row({"newer", "earlier", "confidence", "verdict", "note", "why", "newer_where", "earlier_where"});
  for (const Proposal& p : proposals)
    std::cout << csv_row({p.newer.record.id, p.earlier.record.id, fmt::format("{:.3f}", p.confidence), "", "",
                          fmt::format("{}", fmt::join(registration::words_of(p.likeness), ", ")), where_of(p.newer),
                          where_of(p.earlier)});
}

ExitCode show(const AgainAsked& asked) {
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) {
    if (asked.settled) {
      for (const store::Sameness& s : store::sameness_history(store))
        std::cout << fmt::format("{}={}  {}  {}, {}{}{}\n", s.newer_id, s.earlier_id, s.verdict, s.who, s.when,
                                 s.note.empty() ? "" : ": ", s.note);
      return kAllDone;
    }
    std::vector<Proposal> proposals = propose(store, asked.least, asked.every);
    if (!asked.tin.empty())
      std::erase_if(proposals,
                    [&](const Proposal& p) { return p.newer.sheet.tin != asked.tin && p.earlier.sheet.tin != asked.tin; });
    if (!asked.print.empty()) return print_pairs(store, proposals, asked.print);
    if (asked.json) {
      auto all = nlohmann::ordered_json::array();
      for (const Proposal& p : proposals) all.push_back(json_of(p));
      std::cout << all.dump(1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
    } else if (asked.csv) {
      write_table(proposals);
    } else {
      list(proposals);
    }
    return kAllDone;
  });
}

// "NEWER=EARLIER", each as scanned or typed.
Result<store::Sameness> pair_in(store::Store& store, const std::string& words, std::string_view verdict,
                                const AgainAsked& asked, const std::string& when) {
  const auto sign = words.find('=');
  if (sign == std::string::npos)
    return Failure{"app", "no_pair", fmt::format("\"{}\" is no pair.", bench::harmless(words)),
                   "Write NEWER=EARLIER, as the list does."};
  store::Sameness sameness{"", "", std::string(verdict), asked.who, when, asked.note};
  for (const auto& [typed, id] :
       {std::pair{words.substr(0, sign), &sameness.newer_id}, {words.substr(sign + 1), &sameness.earlier_id}}) {
    // What was joined is named by the id that it had.
    if (const auto read = store::read_id(typed)) {
      *id = *read;
      continue;
    }
    const auto scanned = bench::scanned_envelope(store, typed);
    if (!scanned.ok()) return scanned.failure();
    *id = scanned->id;
  }
  return sameness;
}

// The table that --csv wrote, with verdicts.
Result<std::vector<store::Sameness>> answers_in(store::Store& store, const AgainAsked& asked, const std::string& when) {
  std::ifstream in(asked.answers, std::ios::binary);
  if (!in) return Failure{"app", "unreadable", asked.answers + " cannot be read.", "Name a table that is there."};
  const std::vector<CsvRow> rows = kept_rows(std::string{std::istreambuf_iterator<char>(in), {}});
  std::vector<store::Sameness> all;
  if (rows.empty()) return all;
  const std::vector<std::string>& head = rows.front().cells;
  const auto column = [&](std::string_view name) {
    return static_cast<std::size_t>(std::find(head.begin(), head.end(), name) - head.begin());
  };
  const std::size_t newer = column("newer"), earlier = column("earlier"), verdict = column("verdict"), note = column("note");
  if (std::max({newer, earlier, verdict}) >= head.size())
    return Failure{"app", "no_columns", asked.answers + " lacks one of the columns newer, earlier, verdict.",
                   "Take the table that --csv writes."};
  for (auto row = rows.begin() + 1; row != rows.end(); ++row) {
    const auto cell = [&](std::size_t k) { return k < row->cells.size() ? row->cells[k] : std::string(); };
    const std::string said = cell(verdict);
    if (said.empty()) continue;
    if (said != store::kSame && said != store::kOther && said != store::kTakenBack)
      return Failure{"app", "unknown_verdict",
                     fmt::format("{}, line {}: \"{}\" is no verdict.", asked.answers, row->line, bench::harmless(said)),
                     "Write same, other, taken back, or nothing."};
    auto pair = pair_in(store, cell(newer) + "=" + cell(earlier), said, asked, when);
    if (!pair.ok()) {
      Failure failure = pair.failure();
      failure.reason = fmt::format("{}, line {}: {}", asked.answers, row->line, failure.reason);
      return failure;
    }
    if (!cell(note).empty()) pair->note = cell(note);
    all.push_back(std::move(*pair));
  }
  return all;
}

ExitCode settle(const AgainAsked& asked) {
  if (asked.who.empty()) return said({"app", "nobody", "It must be said who settles this.", "Add --who NAME."});
  return with_collection(asked.collection, store::Access::desk, [&](store::Store& store) {
    const std::string when = now_utc();
    std::vector<store::Sameness> all;
    for (const auto& [pairs, verdict] :
         {std::pair{&asked.confirm, store::kSame}, {&asked.refute, store::kOther}, {&asked.take_back, store::kTakenBack}})
      for (const std::string& words : *pairs) {
        auto pair = pair_in(store, words, verdict, asked, when);
        if (!pair.ok()) return said(pair.failure());
        all.push_back(std::move(*pair));
      }
    if (!asked.answers.empty()) {
      auto answers = answers_in(store, asked, when);
      if (!answers.ok()) return said(answers.failure());
      all.insert(all.end(), answers->begin(), answers->end());
    }
    for (const store::Sameness& s : all)
      for (const std::string* words : {&s.who, &s.note})
        if (const auto plain = bench::plain_words(*words, words == &s.who ? "name" : "note"); !plain.ok())
          return said(plain.failure());
    if (const auto done = store::settle_sameness(store, all, asked.dry_run); !done.ok()) {
      std::cerr << "Nothing was recorded.\n";
      return said(done.failure());
    }
    for (const store::Sameness& s : all) std::cout << fmt::format("{}={}  {}\n", s.newer_id, s.earlier_id, s.verdict);
    std::cerr << fmt::format("{} {}.\n", all.size(), asked.dry_run ? "would be recorded" : "recorded");
    return kAllDone;
  });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<AgainAsked>();
  if (const char* user = std::getenv("USER")) asked->who = user;
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("--tin", asked->tin, "Only pairs with an envelope of this tin.");
  command.add_option("--least", asked->least, "Least confidence of a pair that is listed.")
      ->check(CLI::Range(0.0, 1.0))
      ->capture_default_str();
  command.add_flag("--every", asked->every, "Every pair that was compared, not only the likeliest of each envelope.");
  auto* json = command.add_flag("--json", asked->json, "As JSON: an array of pairs with all measures.");
  command.add_flag("--csv", asked->csv, "As a table; its empty column 'verdict' is for --answers.")->excludes(json);
  command.add_option("--print", asked->print, "PDF with both pictures of each pair side by side.");
  command.add_flag("--settled", asked->settled, "List what was settled: who, when, and what was taken back.");
  command.add_option("--confirm", asked->confirm,
                     "NEWER=EARLIER are one envelope: one record from now on, under the earlier's number and id.");
  command.add_option("--refute", asked->refute, "NEWER=EARLIER are two envelopes: not asked again.");
  command.add_option("--take-back", asked->take_back,
                     "What was settled about NEWER=EARLIER holds no more: each is again what it was.");
  command.add_option("--answers", asked->answers,
                     "The table of --csv, with same, other or taken back in the column 'verdict'; all rows or none.");
  command.add_option("--who", asked->who, "Who settles it.")->capture_default_str();
  command.add_option("--note", asked->note, "Why, in a few words.");
  command.add_flag("--dry-run", asked->dry_run, "Say what would be recorded, and record nothing.");
  return [asked] {
    const bool settles =
        !asked->confirm.empty() || !asked->refute.empty() || !asked->take_back.empty() || !asked->answers.empty();
    return settles ? settle(*asked) : show(*asked);
  };
}

}  // namespace

extern const Command again;
const Command again{"again", "Find", "List envelopes that seem to have been photographed before, and settle which are one.",
                    "Listing changes nothing, and nothing is ever joined that no person confirmed. They are known again by "
                    "what is written on them, their "
                    "size, what is\n"
                    "seen on the paper and its colour. On confirmation the newer photographs become views of the earlier "
                    "record; --take-back parts both again.\n"
                    "The desk's view Again asks the same with both pictures.\n"
                    "Example: papillote again --collection tins --print again.pdf\n"
                    "         papillote again --collection tins --confirm 7K2M9QW4XB0=3F8T1ZC6RN5 --who 'A. Curator'",
                    setup};

}  // namespace papillote::app::commands
