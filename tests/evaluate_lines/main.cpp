// papillote_evaluate_lines DIR: pairs NAME.jpg + NAME.txt -> character and word error for each prefix (what stands before the
// first '_' of a name), of the project's reader without and with its language model and of Tesseract, all on the same lines
// in the same run, with the time each took. Where interpretation finds a settled date in what a line says, the date that it finds
// in what was read is judged by it.
#include <chrono>
#include <filesystem>
#include <fstream>
#include <functional>
#include <iostream>
#include <map>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>
#include <opencv2/core/utility.hpp>

#include "models/library.h"
#include "pipeline/image/image.h"
#include "stages/interpretation/interpretation.h"
#include "stages/reading/print_reader.h"
#include "stages/reading/reading.h"
#include "stages/reading/strip.h"
#include "tests/evaluate/scores.h"
#include "tests/evaluate_lines/error_rate.h"

namespace papillote::evaluation {
namespace {

namespace fs = std::filesystem;

struct Pair {
  std::string name;
  std::string truth;
  cv::Mat picture;
  nlohmann::json date;  // as scores.h takes it; null where no single date is settled by what stands there
};

struct Score {
  Errors characters, words;
  std::size_t lines = 0, exact = 0;

  void add(const std::string& truth, const std::string& read) {
    const Errors these = character_errors(truth, read);
    characters += these;
    words += word_errors(truth, read);
    ++lines;
    exact += these.edits == 0;
  }
};

struct Reader {
  std::string name;
  std::function<Reading(const cv::Mat&)> read;
  std::map<std::string, Score> by_prefix;
  Score all;
  double seconds = 0;
  // Reliability: lines by tenth of claimed confidence.
  std::vector<std::size_t> claimed = std::vector<std::size_t>(10), held = std::vector<std::size_t>(10);
  std::vector<double> claims = std::vector<double>(10);
  std::map<std::string, Answers> dates;
};

std::string bytes_of(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

struct DateRead {
  std::string value;        // empty = left open
  std::string guess;        // also where it was left open
  double confidence = 0;    // of the guess
};

DateRead date_in(const Reading& reading) {
  Annotation annotation;
  annotation.lines = {reading};
  annotation.text = reading.text;
  const auto meant = interpretation::interpret(annotation, {}, nullptr, {});
  if (!meant.ok() || !meant->date) return {};
  const Claim<std::string>& claim = *meant->date;
  if (claim.value) return {*claim.value, *claim.value, claim.confidence};
  if (claim.alternatives.empty()) return {};
  return {"", claim.alternatives.front().first, claim.alternatives.front().second};
}

nlohmann::json settled_date(const std::string& truth) {
  Reading reading;
  reading.text = truth;
  reading.confidence = 1;
  const std::string date = date_in(reading).value;
  if (date.empty() || date.find_first_of("[X?") != std::string::npos) return nullptr;
  return {{"edtf", date}, {"open_edtf", date}, {"true_edtf", date}};
}

std::string prefix_of(const std::string& name) { return name.substr(0, name.find('_')); }

void report(const Reader& reader) {
  std::cout << fmt::format("\n{}: {:.1f} ms a line\n{:<24}{:>7}{:>9}{:>9}{:>9}\n", reader.name,
                           1000 * reader.seconds / static_cast<double>(std::max<std::size_t>(1, reader.all.lines)), "prefix", "lines",
                           "CER %", "WER %", "exact %");
  const auto row = [](const std::string& name, const Score& s) {
    std::cout << fmt::format("{:<24}{:>7}{:>9.2f}{:>9.2f}{:>9.1f}\n", name, s.lines, 100 * s.characters.rate(), 100 * s.words.rate(),
                             100.0 * static_cast<double>(s.exact) / static_cast<double>(std::max<std::size_t>(1, s.lines)));
  };
  for (const auto& [prefix, score] : reader.by_prefix) row(prefix, score);
  row("all", reader.all);
  double error = 0;
  std::cout << "claimed confidence -> share of lines without error:";
  for (std::size_t i = 0; i < 10; ++i) {
    if (reader.claimed[i] == 0) continue;
    const auto n = static_cast<double>(reader.claimed[i]);
    const double claim = reader.claims[i] / n, truth = static_cast<double>(reader.held[i]) / n;
    error += std::abs(claim - truth) * n / static_cast<double>(reader.all.lines);
    std::cout << fmt::format(" {:.2f}->{:.2f}({})", claim, truth, reader.claimed[i]);
  }
  std::cout << fmt::format("\nexpected calibration error {:.3f}\n", error);
  for (const auto& [prefix, a] : reader.dates)
    std::cout << fmt::format("dates of {}: {} right, {} open, {} wrong\n", prefix, a.right, a.open, a.wrong);
}

int run(const std::string& folder, const std::string& languages, const std::string& dump) {
  std::vector<Pair> pairs;
  if (!fs::is_directory(folder)) {
    std::cerr << folder << " is not a folder. Give one that holds pairs NAME.jpg and NAME.txt.\n";
    return 2;
  }
  for (const auto& entry : fs::directory_iterator(folder)) {
    fs::path text = entry.path();
    if (text.extension() != ".txt") continue;
    for (const char* ending : {".jpg", ".png"}) {
      const fs::path file = fs::path(text).replace_extension(ending);
      if (!fs::exists(file)) continue;
      const std::string bytes = bytes_of(file);
      auto picture = image::decode(std::as_bytes(std::span(bytes)), file.string());
      if (!picture) {
        std::cerr << picture.failure().reason << "\n";
        continue;
      }
      std::string truth = bytes_of(text);
      truth.erase(truth.find_last_not_of(" \r\n") + 1);
      pairs.push_back({text.stem().string(), truth, picture->bgr, settled_date(truth)});
    }
  }
  std::sort(pairs.begin(), pairs.end(), [](const Pair& a, const Pair& b) { return a.name < b.name; });

  reading::Options options;
  options.languages = languages;
  auto readers = reading::Readers::open(models::models_folder(), options);
  if (!readers) {
    std::cerr << readers.failure().reason << " " << readers.failure().remedy << "\n";
    return 1;
  }
  const auto print = reading::PrintReader::open(languages);
  if (!print) {
    std::cerr << print.failure().reason << " " << print.failure().remedy << "\n";
    return 1;
  }
  const auto whole = [&](bool language_model) {
    return [&readers, language_model](const cv::Mat& picture) {
      auto line = reading::read_line(picture, *readers, language_model);
      return line.ok() ? std::move(line).value() : Reading{};
    };
  };
  std::vector<Reader> all(3);
  all[0].name = "papillote without language model";
  all[0].read = whole(false);
  all[1].name = "papillote with language model";
  all[1].read = whole(true);
  all[2].name = "Tesseract " + languages;
  all[2].read = [&](const cv::Mat& picture) {
    auto candidate = print->read(reading::grey_line(picture));
    Reading line;
    line.text = std::move(candidate.text);
    line.confidence = candidate.confidence;
    line.alternatives = std::move(candidate.alternatives);
    line.character_confidence = std::move(candidate.character_confidence);
    return line;
  };

  std::ofstream rows;
  if (!dump.empty()) rows.open(dump);
  for (const Pair& pair : pairs)
    for (Reader& reader : all) {
      const auto start = std::chrono::steady_clock::now();
      const Reading line = reader.read(pair.picture);
      reader.seconds += std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
      reader.by_prefix[prefix_of(pair.name)].add(pair.truth, line.text);
      reader.all.add(pair.truth, line.text);
      const auto tenth = std::min<std::size_t>(9, static_cast<std::size_t>(line.confidence * 10));
      ++reader.claimed[tenth];
      reader.claims[tenth] += line.confidence;
      reader.held[tenth] += character_errors(pair.truth, line.text).edits == 0;
      const DateRead date = pair.date.is_object() ? date_in(line) : DateRead{};
      if (pair.date.is_object()) reader.dates[prefix_of(pair.name)].add(judge_date(pair.date, date.value));
      if (rows.is_open())
        rows << fmt::format("{}\t{}\t{:.4f}\t{}\t{}\t{}\t{}\t{}\t{:.3f}\n", pair.name, reader.name, line.confidence, pair.truth, line.text,
                            pair.date.is_object() ? pair.date["edtf"].get<std::string>() : "", date.value, date.guess, date.confidence);
    }
  for (const Reader& reader : all) report(reader);
  if (all[2].seconds > 0)
    std::cout << fmt::format("\ntime, papillote with language model : Tesseract = {:.2f}\n", all[1].seconds / all[2].seconds);
  return 0;
}

}  // namespace
}  // namespace papillote::evaluation

int main(int argc, char** argv) {
  if (argc < 2 || argc > 4) {
    std::cerr << "usage: papillote_evaluate_lines DIR [LANGUAGES [ROWS.tsv]]\n";
    return 2;
  }
  if (std::getenv("OMP_THREAD_LIMIT") == nullptr)
    std::cerr << "note: set OMP_THREAD_LIMIT=1 for fair times of Tesseract\n";
  cv::setNumThreads(1);
  return papillote::evaluation::run(argv[1], argc > 2 ? argv[2] : "eng+fra+deu", argc > 3 ? argv[3] : "");
}
