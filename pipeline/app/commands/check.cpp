// papillote check: whether a photograph is good enough, while the tin is still open on the table.
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <sstream>
#include <thread>

#include "models/library.h"
#include "pipeline/app/clock.h"
#include "pipeline/app/command.h"
#include "pipeline/app/trouble.h"
#include "pipeline/bench/save.h"
#include "pipeline/bench/session_report.h"
#include "pipeline/image/image.h"
#include "pipeline/run/folder.h"
#include "pipeline/run/stop.h"
#include "stages/calibration/calibration.h"
#include "stages/calibration/capture_check.h"
#include "stages/registration/registration.h"
#include "stages/segmentation/segmentation.h"

namespace papillote::app::commands {
namespace {

namespace fs = std::filesystem;

struct Asked {
  std::vector<std::string> photographs;
  std::string watch;
  std::string report;
  std::string patches;
  int count = -1;
  bool envelopes = false;
  double px_per_mm = 0;
};

// Twelve lines "L,a,b" under D50, in the order of the card's patches.
Result<std::vector<calibration::Lab>> read_patches(const std::string& name) {
  std::vector<calibration::Lab> patches;
  if (name.empty()) return patches;
  std::ifstream in(name);
  const Failure wrong{"app", "wrong_patches", fmt::format("{}: these are not twelve lines of L*, a* and b*.", name),
                      "Write one patch a line, such as 96.2,-0.3,1.1, in the order of the card, measured under D50."};
  for (std::string line; std::getline(in, line);) {
    if (line.empty() || line.find_first_not_of(" \r") == std::string::npos) continue;
    calibration::Lab lab;
    char comma = 0;
    std::istringstream words(line);
    if (!(words >> lab.lightness >> comma >> lab.a >> comma >> lab.b)) return wrong;
    patches.push_back(lab);
  }
  if (patches.size() != 12) return wrong;
  return patches;
}

struct Shot {
  bench::SessionShot shown;
  std::optional<Sheet> sheet;
  std::vector<calibration::Aim> aims;
};

void retake(Shot& shot, std::string why) {
  shot.shown.verdict = "retake";
  shot.shown.reasons.push_back(std::move(why));
}

std::string words_of(const Sheet& sheet) {
  return fmt::format("tin {}, sheet {}, {}", sheet.tin.empty() ? "?" : sheet.tin, sheet.sheet.empty() ? "?" : sheet.sheet, sheet.side.empty() ? "front" : sheet.side);
}

bool inside(const Polygon& polygon, const Point& p) {
  bool in = false;
  for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++)
    if ((polygon[i].y > p.y) != (polygon[j].y > p.y) && p.x < (polygon[j].x - polygon[i].x) * (p.y - polygon[i].y) / (polygon[j].y - polygon[i].y) + polygon[i].x) in = !in;
  return in;
}

void judge_envelopes(Shot& shot, const Photo& photo, const Calibration& calibration, const image::Image& image, const calibration::CaptureMeasures& measures,
                     const segmentation::Finder& finder, int counted_by_hand) {
  const auto number_cut = [](const std::vector<EnvelopeOutline>& envelopes) {
    return std::count_if(envelopes.begin(), envelopes.end(), [](const EnvelopeOutline& e) { return e.cut_off; });
  };
  // A glance tells that all is well; where it is in doubt, and before something is said against the photograph, it is looked at closely.
  constexpr double kSure = 0.8;
  auto found = segmentation::glance(photo, calibration, image, finder, {});
  if (!found.ok() || number_cut(*found) > 0 || (counted_by_hand >= 0 && static_cast<int>(found->size()) != counted_by_hand) ||
      std::any_of(found->begin(), found->end(), [](const EnvelopeOutline& e) { return e.confidence < kSure; }))
    found = segmentation::find_envelopes(photo, calibration, image, finder, {});
  shot.shown.envelopes = found.ok() ? static_cast<int>(found->size()) : 0;
  if (!found.ok()) {
    retake(shot, "no envelope is seen");
    return;
  }
  const auto cut = number_cut(*found);
  if (cut > 0) retake(shot, fmt::format("envelopes cut by the frame: {}; lay them further in", cut));
  if (counted_by_hand >= 0 && shot.shown.envelopes != counted_by_hand)
    retake(shot, fmt::format("{} envelopes are seen, {} were counted: look whether one hides another", shot.shown.envelopes, counted_by_hand));
  int on_paper = 0;
  for (const calibration::Glare& glare : measures.glare)
    on_paper += std::any_of(found->begin(), found->end(), [&](const EnvelopeOutline& e) { return inside(e.polygon_px, centroid_of(glare.box_px)); });
  if (on_paper > 0) retake(shot, fmt::format("glints on envelopes: {}; turn the lamps or the glassine", on_paper));
}

// Without a finder envelopes are not looked for.
Shot check(const std::string& name, const std::string& bytes, const Asked& asked, const std::vector<calibration::Lab>& patches,
           const segmentation::Finder* finder) {
  Shot shot;
  shot.shown.file = fs::path(name).filename().string();
  shot.shown.verdict = "ok";
  const auto photo = registration::register_photo(shot.shown.file, std::as_bytes(std::span(bytes)));
  const auto image = photo.ok() ? image::decode(std::as_bytes(std::span(bytes)), shot.shown.file) : Result<image::Image>(photo.failure());
  if (!image.ok()) {
    retake(shot, image.failure().reason);
    return shot;
  }
  const auto calibration = calibration::calibrate(*photo, *image, {asked.px_per_mm});
  if (!calibration.ok()) {
    retake(shot, calibration.failure().reason);
    return shot;
  }
  shot.shown.verdict = calibration->quality.verdict;
  shot.shown.reasons = calibration->quality.reasons;
  shot.sheet = calibration->sheet;
  if (shot.sheet) shot.shown.sheet = words_of(*shot.sheet);
  const calibration::CaptureMeasures measures = calibration::measure_capture(*calibration, *image, patches);
  if (measures.response) shot.shown.modulation = measures.response->modulation;
  shot.aims = calibration::beside_aims(measures);
  if (!calibration->card_px) shot.shown.reasons.emplace_back("no capture card is seen: there is no scale");
  if (!shot.sheet) shot.shown.reasons.emplace_back("no sheet label is read");
  if (const std::string where = calibration::soft_field(measures); !where.empty())
    shot.shown.reasons.push_back(fmt::format("the picture is much softer at the {}: is the camera level, is paper lifted there?", where));
  if (finder != nullptr)
    judge_envelopes(shot, *photo, *calibration, *image, measures, *finder, asked.count);
  else if (!measures.glare.empty())
    shot.shown.reasons.push_back(fmt::format("glints: {}; see whether one lies on writing", measures.glare.size()));
  return shot;
}

void say(const Shot& shot, double seconds) {
  std::cout << fmt::format("{:<7} {}{}  ({:.2f} s)\n", shot.shown.verdict, shot.shown.file, shot.shown.sheet.empty() ? "" : "  " + shot.shown.sheet, seconds);
  for (const std::string& reason : shot.shown.reasons) std::cout << "        " << reason << '\n';
  for (const calibration::Aim& aim : shot.aims)
    if (!aim.met) std::cout << fmt::format("        {}: {}, aim {} ({})\n", aim.metric, aim.measured, aim.aim, aim.source);
  std::cout.flush();
}

// What only the whole session shows.
std::vector<std::string> questions_of(const std::vector<Shot>& shots) {
  std::vector<std::string> questions;
  std::map<std::string, std::vector<std::string>> files;               // by sheet and side, good ones
  std::map<std::string, std::map<std::string, std::set<std::string>>> sides;  // by tin and sheet
  for (const Shot& shot : shots) {
    if (!shot.sheet || shot.shown.verdict == "retake") continue;
    files[words_of(*shot.sheet)].push_back(shot.shown.file);
    sides[shot.sheet->tin][shot.sheet->sheet].insert(shot.sheet->side.empty() ? "front" : shot.sheet->side);
  }
  for (const auto& [sheet, taken] : files)
    if (taken.size() > 1) questions.push_back(fmt::format("{} was taken {} times ({})", sheet, taken.size(), fmt::join(taken, ", ")));
  for (const auto& [tin, sheets] : sides) {
    const bool backs = std::any_of(sheets.begin(), sheets.end(), [](const auto& s) { return s.second.contains("back"); });
    std::set<int> numbers;
    for (const auto& [sheet, seen] : sheets) {
      if (!seen.contains("front")) questions.push_back(fmt::format("tin {}, sheet {}: the front is missing", tin, sheet));
      if (backs && !seen.contains("back")) questions.push_back(fmt::format("tin {}, sheet {}: the back is missing, others have one", tin, sheet));
      if (!sheet.empty() && sheet.size() < 6 && sheet.find_first_not_of("0123456789") == std::string::npos) numbers.insert(std::stoi(sheet));
    }
    if (numbers.empty()) continue;
    for (int number = 1; number < *numbers.rbegin(); ++number)
      if (!numbers.contains(number)) questions.push_back(fmt::format("tin {}: sheet {} has no good photograph", tin, number));
  }
  return questions;
}

// Of every metric the measure that is not met, else the first.
std::vector<bench::SessionAim> aims_of(const std::vector<Shot>& shots) {
  std::vector<bench::SessionAim> all;
  for (const Shot& shot : shots)
    for (const calibration::Aim& aim : shot.aims) {
      const auto known = std::find_if(all.begin(), all.end(), [&](const bench::SessionAim& a) { return a.metric == aim.metric; });
      if (known == all.end())
        all.push_back({aim.metric, aim.measured, aim.aim, aim.source, aim.met});
      else if (known->met && !aim.met)
        *known = {aim.metric, aim.measured, aim.aim, aim.source, aim.met};
    }
  return all;
}

class Table {
 public:
  Table(const Asked& asked, std::vector<calibration::Lab> patches, std::optional<segmentation::Finder> finder)
      : asked_(asked), patches_(std::move(patches)), finder_(std::move(finder)) {}

  void take(const std::string& name) {
    const auto begun = std::chrono::steady_clock::now();
    std::ifstream in(name, std::ios::binary);
    const std::string bytes{std::istreambuf_iterator<char>(in), {}};
    Shot shot;
    if (in) {
      shot = check(name, bytes, asked_, patches_, finder_ ? &*finder_ : nullptr);
    } else {
      shot.shown.file = fs::path(name).filename().string();
      retake(shot, "the file cannot be read");
    }
    say(shot, std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count());
    shots_.push_back(std::move(shot));
  }

  // What was said of this photograph no longer counts: its file is another one now.
  void forget(const std::string& name) {
    std::erase_if(shots_, [file = fs::path(name).filename().string()](const Shot& shot) { return shot.shown.file == file; });
  }

  [[nodiscard]] ExitCode close() const {
    const auto questions = questions_of(shots_);
    for (const std::string& question : questions) std::cout << "session: " << question << '\n';
    if (!asked_.report.empty()) {
      bench::Session session;
      for (const Shot& shot : shots_) session.shots.push_back(shot.shown);
      session.aims = aims_of(shots_);
      session.questions = questions;
      if (const auto saved = bench::save(asked_.report, bench::session_pdf(session, now_utc())); !saved.ok()) return said(saved.failure());
    }
    return std::any_of(shots_.begin(), shots_.end(), [](const Shot& s) { return s.shown.verdict == "retake"; }) ? kSomeFailed : kAllDone;
  }

 private:
  const Asked& asked_;
  std::vector<calibration::Lab> patches_;
  std::optional<segmentation::Finder> finder_;
  std::vector<Shot> shots_;
};

// Takes each photograph as soon as its file has stopped growing, and again when it is written anew or goes on after a pause. Asks the
// folder ten times a second: notices of the kernel do not come through network drives.
void watch(const fs::path& folder, Table& table, const std::atomic<bool>& stop) {
  using State = std::pair<std::uintmax_t, fs::file_time_type>;
  std::map<std::string, State> growing;
  std::map<std::string, State> taken;
  while (!stop) {
    if (const auto found = run::list_photographs(folder, {}); found.ok())
      for (const std::string& name : found->photographs) {
        std::error_code error;
        const State now{fs::file_size(found->path / name, error), fs::last_write_time(found->path / name, error)};
        const auto known = taken.find(name);
        if (error || (known != taken.end() && known->second == now)) continue;
        if (const auto before = growing.find(name); before != growing.end() && before->second == now && now.first > 0) {
          const std::string file = (found->path / name).string();
          if (known != taken.end()) table.forget(file);
          taken[name] = now;
          table.take(file);
        } else {
          growing[name] = now;
        }
      }
    std::this_thread::sleep_for(std::chrono::milliseconds(100));
  }
}

ExitCode run(const Asked& asked) {
  auto patches = read_patches(asked.patches);
  if (!patches.ok()) return said(patches.failure());
  std::optional<segmentation::Finder> finder;
  if (asked.envelopes || asked.count >= 0) {
    auto opened = segmentation::Finder::open(models::models_folder());
    if (!opened.ok()) return said(opened.failure());
    finder.emplace(std::move(opened).value());
  }
  Table table(asked, std::move(patches).value(), std::move(finder));
  for (const std::string& name : asked.photographs) table.take(name);
  if (!asked.watch.empty()) {
    std::error_code error;
    if (!fs::is_directory(asked.watch, error))
      return said({"app", "no_folder", fmt::format("There is no folder {}.", asked.watch), "Name the folder that the camera fills."});
    const run::StopSignal stop;
    std::cerr << "Watching; Ctrl-C ends the session.\n";
    watch(asked.watch, table, stop.asked());
  }
  return table.close();
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<Asked>();
  CLI::Option* photographs = command.add_option("photographs", asked->photographs, "Photographs to check.");
  CLI::Option* watched = command.add_option("--watch", asked->watch, "Check every photograph that comes into this folder, until Ctrl-C.");
  command.add_option("--report", asked->report, "Write one page about the session to this PDF file.");
  command.add_option("--count", asked->count, "Envelopes counted by hand on each sheet.")->check(CLI::Range(0, 10000));
  command.add_flag("--envelopes", asked->envelopes, "Look for envelopes too: cut by the frame, under a glint.");
  command.add_option("--patches", asked->patches, "Measured L*a*b* (D50) of the card's twelve patches, one line each; without it no colour error is told.");
  command.add_option("--px-per-mm", asked->px_per_mm, "Scale of photographs without a capture card; 0 = not known.")->check(CLI::Range(0.0, 200.0));
  command.final_callback([photographs, watched] {
    if (photographs->count() + watched->count() == 0) throw CLI::RequiredError("photographs or --watch");
  });
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command check;
const Command check{"check", "Batch", "Tell at once whether photographs are good enough, before the envelopes go back.",
                    "'retake' means that reading would be hopeless or an envelope is not whole; all else is reported beside published aims.\n"
                    "Example: papillote check --watch /media/camera --count 12 --report session.pdf",
                    setup};

}  // namespace papillote::app::commands
