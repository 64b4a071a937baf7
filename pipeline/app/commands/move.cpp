// papillote move: where envelopes go, by scanning their codes.
#include <fmt/format.h>

#include <cstdlib>
#include <fstream>
#include <iostream>
#include <iterator>
#include <map>
#include <memory>
#include <opencv2/imgproc.hpp>

#include "pipeline/app/clock.h"
#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/trouble.h"
#include "pipeline/bench/page.h"
#include "pipeline/bench/scan.h"
#include "pipeline/bench/words.h"
#include "pipeline/image/image.h"
#include "pipeline/store/movements.h"
#include "stages/calibration/codes.h"

namespace papillote::app::commands {
namespace {

struct MoveAsked {
  std::string kind;
  std::string collection;
  std::string where;
  std::string who;
  std::string note;
  std::vector<std::string> codes;
  std::vector<std::string> photographs;
  bool correct = false;
  bool dry_run = false;
};

class Scanning {
 public:
  Scanning(store::Store& store, const MoveAsked& asked) : store_(store), asked_(asked), where_(asked.where) {}

  // `origin` says which line or photograph the text comes from.
  void take(const std::string& text, const std::string& origin) {
    if (text.find_first_not_of(" \t\r\n") == std::string::npos) return;
    if (const auto place = bench::scanned_place(text)) return move_on_to(*place, origin);
    const auto envelope = bench::scanned_envelope(store_, text);
    if (!envelope.ok()) return refuse(envelope.failure(), origin);
    const store::Movement movement{envelope->id, asked_.kind, asked_.who, now_utc(), where_, asked_.note, asked_.correct};
    if (const auto recorded = record(movement); !recorded.ok()) return refuse(recorded.failure(), origin);
    ++taken_;
    std::cout << fmt::format("{}  {}  {}{}{}\n", envelope->id,
                             envelope->catalogue_number.empty() ? "-" : bench::harmless(envelope->catalogue_number),
                             bench::kind_words(movement.kind), where_.empty() ? "" : "  ", where_)
              << std::flush;
  }

  [[nodiscard]] ExitCode ended() const {
    std::cerr << fmt::format("{} {}, {} refused.\n", taken_, asked_.dry_run ? "would be recorded" : "recorded", refused_);
    return refused_ > 0 ? kSomeFailed : kAllDone;
  }

 private:
  void refuse(const Failure& failure, const std::string& origin) {
    ++refused_;
    std::cerr << fmt::format("{}: {} {}\n", origin, bench::harmless(failure.reason), failure.remedy);
  }

  void move_on_to(const std::string& place, const std::string& origin) {
    if (const auto plain = bench::plain_words(place, "place"); !plain.ok()) return refuse(plain.failure(), origin);
    where_ = place;
    std::cerr << fmt::format("What follows goes to {}.\n", place);
  }

  // A rehearsal remembers what it would have recorded, so that the second of two scans is judged as it will be.
  Result<Done> record(const store::Movement& movement) {
    if (!asked_.dry_run) return store::record_movements(store_, {movement});
    const auto [at, fresh] = rehearsed_.try_emplace(movement.envelope_id);
    if (fresh) at->second = store::movements_of(store_, movement.envelope_id);
    if (const auto no = store::objection(at->second, movement)) return *no;
    at->second.push_back(movement);
    return Done{};
  }

  store::Store& store_;
  const MoveAsked& asked_;
  std::string where_;
  std::map<std::string, std::vector<store::Movement>> rehearsed_;
  int taken_ = 0;
  int refused_ = 0;
};

// Codes on one photograph, sheet labels left out.
Result<std::vector<std::string>> codes_on(const std::string& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) return Failure{"app", "unreadable", file + " cannot be read.", "Name a photograph that is there."};
  const std::string bytes{std::istreambuf_iterator<char>(in), {}};
  const auto image = image::decode(std::as_bytes(std::span(bytes)), file);
  if (!image.ok()) return image.failure();
  cv::Mat grey;
  cv::cvtColor(image->bgr, grey, cv::COLOR_BGR2GRAY);
  std::vector<std::string> texts;
  for (const SeenCode& code : calibration::find_codes(grey, 0))
    if (!calibration::parse_sheet_label(code.text)) texts.push_back(code.text);
  if (texts.empty())
    return Failure{"app", "no_code", file + " shows no code that can be read.", "Photograph it nearer, flat and sharp."};
  return texts;
}

ExitCode scan_into(store::Store& store, const MoveAsked& asked) {
  Scanning scanning(store, asked);
  if (!asked.codes.empty()) {
    for (const std::string& code : asked.codes) scanning.take(code, code);
    return scanning.ended();
  }
  if (!asked.photographs.empty()) {
    std::vector<std::pair<std::string, std::string>> seen;  // all read before anything is recorded
    for (const std::string& file : asked.photographs) {
      const auto codes = codes_on(file);
      if (!codes.ok()) return said(codes.failure());
      for (const std::string& code : *codes)
        if (!bench::scanned_place(code)) seen.emplace_back(code, file);
    }
    for (const auto& [code, file] : seen) scanning.take(code, file);
    return scanning.ended();
  }
  int number = 0;
  for (std::string line; std::getline(std::cin, line);) scanning.take(line, fmt::format("line {}", ++number));
  return scanning.ended();
}

ExitCode run(MoveAsked asked) {
  for (char& c : asked.kind)
    if (c == '-' || c == ' ') c = '_';
  for (const auto& [words, what] : {std::pair(&asked.where, "place"), {&asked.who, "name"}, {&asked.note, "note"}})
    if (const auto plain = bench::plain_words(*words, what); !plain.ok()) {
      (void)said(plain.failure());
      return kWrongCommand;
    }
  if (asked.who.empty()) {
    std::cerr << "papillote: say with --who who moves them.\n";
    return kWrongCommand;
  }
  return with_collection(asked.collection, asked.dry_run ? store::Access::read : store::Access::desk,
                         [&](store::Store& store) { return scan_into(store, asked); });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<MoveAsked>();
  if (const char* user = std::getenv("USER")) asked->who = user;
  std::vector<std::string> kinds;
  for (const std::string_view kind : store::kMovementKinds) {
    kinds.emplace_back(kind);
    if (kind == "on_board") kinds.emplace_back("on-board");
  }
  command.add_option("kind", asked->kind, fmt::format("What happens to them: {}.", fmt::join(store::kMovementKinds, ", ")))
      ->required()
      ->check(CLI::IsMember(kinds).description(""));
  command.add_option("codes", asked->codes,
                     "Catalogue numbers or identities (default: a line each from stdin, as a hand scanner types them).");
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("--where", asked->where,
                     "Where they go: drawer and tray, board, chamber; the scanned code of a place changes it.");
  command.add_option("--who", asked->who, "Who moves them.")->capture_default_str();
  command.add_option("--note", asked->note, "Kept with every movement.");
  command.add_option("--photo", asked->photographs, "Take the codes from these photographs instead.");
  command.add_flag("--correct", asked->correct,
                   "The movement before was recorded by mistake: this is right instead; both stay in the history.");
  command.add_flag("--dry-run", asked->dry_run, "Say what would be recorded and refused, and record nothing.");
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command move;
const Command move{
    "move", "Follow", "Record where envelopes go, by scanning their codes.",
    "Every accepted scan is answered by a line on stdout once it is on the disk; what cannot be is refused with a sentence "
    "and\n"
    "changes nothing. A wrong scan is set right with --correct, never erased. Exit code 3 when a scan was refused.\n"
    "Example: papillote move housed --where \"drawer 12, tray 3\" --who \"A. Curator\" --collection tins",
    setup};

}  // namespace papillote::app::commands
