// Search in an invented index: p50 and p99 of each kind of question, by the clock and (p99_worked_ms) by what the processor worked.
//
//   search_benchmark ENVELOPES [COLLECTION] [Google Benchmark's options]
//
// Writes the index into COLLECTION through the store, as a batch does, unless it is there already; without COLLECTION
// into a temporary folder. Places are drawn as in collections: few often, most seldom. One word in eight is misread by a
// letter.
#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <stdlib.h>
#include <time.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <iostream>
#include <random>
#include <string>
#include <vector>

#include "pipeline/store/photographs.h"
#include "pipeline/store/search.h"

namespace papillote::store {
namespace {

constexpr int kOnASheet = 16;
constexpr int kSheetsInATin = 10;
constexpr int kPlaces = 20'000;
constexpr int kCollectors = 400;
constexpr int kTaxa = 3'000;

using Random = std::mt19937;

std::size_t pick(Random& random, std::size_t n) { return std::uniform_int_distribution<std::size_t>(0, n - 1)(random); }

// Few often, most seldom.
std::size_t pick_skewed(Random& random, std::size_t n) {
  const double u = std::uniform_real_distribution<double>(0, 1)(random);
  return std::min(n - 1, static_cast<std::size_t>(std::pow(static_cast<double>(n), u)) - 1);
}

std::string invented_word(Random& random, int syllables) {
  static constexpr std::array kBegin{"b", "d", "k", "l", "m", "n", "p", "r", "s", "t", "tr", "kl", "sh", "v", "g", "h"};
  static constexpr std::array kMiddle{"a", "e", "i", "o", "u", "ai", "ou"};
  static constexpr std::array kEnd{"", "", "n", "r", "l", "ng", "s"};
  std::string word;
  for (int i = 0; i < syllables; ++i) {
    word += kBegin[pick(random, kBegin.size())];
    word += kMiddle[pick(random, kMiddle.size())];
    word += kEnd[pick(random, kEnd.size())];
  }
  return word;
}

struct InventedPlace {
  std::string name;
  double lat_deg, lon_deg;
};

struct World {
  std::vector<InventedPlace> places;
  std::vector<std::string> collectors;
  std::vector<std::string> taxa;
};

World invented_world() {
  Random random(1);
  World world;
  // Places lie in clusters, as collectors' journeys do.
  std::vector<std::pair<double, double>> centres;
  std::uniform_real_distribution<double> lat(-40, 60);
  std::uniform_real_distribution<double> lon(-180, 180);
  for (int i = 0; i < 60; ++i) centres.emplace_back(lat(random), lon(random));
  std::normal_distribution<double> spread(0, 2);
  for (int i = 0; i < kPlaces; ++i) {
    const auto& [y, x] = centres[pick_skewed(random, centres.size())];
    world.places.push_back(
        {invented_word(random, 2 + static_cast<int>(pick(random, 2))), y + spread(random), x + spread(random)});
  }
  for (int i = 0; i < kCollectors; ++i) world.collectors.push_back(invented_word(random, 2));
  for (int i = 0; i < kTaxa; ++i) world.taxa.push_back(invented_word(random, 3) + " " + invented_word(random, 3));
  return world;
}

std::string misread(Random& random, std::string word) {
  if (pick(random, 8) != 0) return word;
  const std::size_t at = pick(random, word.size());
  const char letter = static_cast<char>('a' + pick(random, 26));
  switch (pick(random, 3)) {
    case 0:
      word[at] = letter;
      break;
    case 1:
      word.erase(at, 1);
      break;
    default:
      word.insert(at, 1, letter);
  }
  return word;
}

constexpr int kFirstDay = -43'830;  // 1850
constexpr int kDays = 36'525;

IndexRecord invented_envelope(Random& random, const World& world, int number, std::optional<DayRange>& days) {
  IndexRecord record;
  record.outline.number = number;
  const double left = number % 4 * 1400;
  const double top = number / 4 * 950;
  record.outline.polygon_px = {{left, top}, {left + 1200, top}, {left + 1200, top + 800}, {left, top + 800}};
  const InventedPlace& place = world.places[pick_skewed(random, world.places.size())];
  const std::string& collector = world.collectors[pick_skewed(random, world.collectors.size())];
  const std::string& taxon = world.taxa[pick_skewed(random, world.taxa.size())];
  const int day = kFirstDay + static_cast<int>(pick(random, kDays));
  const int year = 1970 + static_cast<int>(std::floor(day / 365.25));
  record.annotation.text = fmt::format("{}, {} ft\n{}.{}.{}\nleg. {}", misread(random, place.name), 500 * pick(random, 20),
                                       pick(random, 28) + 1, pick(random, 12) + 1, year, misread(random, collector));
  Reading line;
  line.text = record.annotation.text;
  line.confidence = 0.5 + 0.05 * static_cast<double>(pick(random, 10));
  record.annotation.lines = {line};
  const std::size_t span = pick(random, 4);
  days = span == 0 ? std::nullopt : std::optional(DayRange{day, day + std::array{0, 0, 30, 364}[span]});
  record.interpretation.date.emplace();
  record.interpretation.date->value = std::to_string(year);
  if (pick(random, 6) != 0) {
    record.interpretation.place.emplace();
    record.interpretation.place->verbatim = place.name;
    record.interpretation.place->value = Place{place.name, "", "XX", place.lat_deg, place.lon_deg, 5000};
  }
  record.interpretation.collector.emplace();
  record.interpretation.collector->value = collector;
  if (pick(random, 2) == 0) {
    record.interpretation.taxon.emplace();
    record.interpretation.taxon->value = taxon;
  }
  const double score = std::uniform_real_distribution<double>(0, 1)(random);
  record.triage = {score > 0.98 ? "isolate" : score > 0.9 ? "stabilise" : score > 0.8 ? "valuable" : "routine", score, {}};
  if (score > 0.7)
    record.condition.findings.push_back(
        {score > 0.95 ? "mould" : "tear", 1 + static_cast<int>(pick(random, 4)), 0.9, {}, {}, ""});
  return record;
}

// Seconds it took; 0 when it was there already.
double write_index(const std::filesystem::path& collection, int envelopes, const World& world) {
  if (std::filesystem::exists(collection / "papillote.sqlite")) return 0;
  const auto begun = std::chrono::steady_clock::now();
  Store store = std::move(Store::open(collection, Access::batch)).value();
  Random random(2);
  constexpr int kTogether = 64;  // photographs in one transaction, as the writer groups them
  const int photographs = envelopes / kOnASheet;
  for (int from = 0; from < photographs; from += kTogether) {
    Transaction transaction(store);
    for (int p = from; p < std::min(photographs, from + kTogether); ++p) {
      Outcome outcome;
      const std::string path = fmt::format("tin {:05}/{:02}.jpg", p / kSheetsInATin, p % kSheetsInATin);
      outcome.index.photo.sha256 = digest_of(path);
      outcome.index.calibration.sheet =
          Sheet{std::to_string(p / kSheetsInATin), std::to_string(p % kSheetsInATin + 1), "front", {}};
      for (int i = 0; i < kOnASheet; ++i)
        outcome.index.envelopes.push_back(invented_envelope(random, world, i, outcome.days.emplace_back()));
      replace_index(store, take_up(store, "/photographs", {path})[0].key, path, outcome);
    }
    transaction.commit();
  }
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
}

using Ask = Question (*)(Random&, const World&);

Question word(Random& random, const World& world) {
  Question q;
  q.words = world.places[pick_skewed(random, world.places.size())].name;
  q.near_misses = false;
  return q;
}
// As asked on the command line: a word and what may be meant by it.
Question word_or_near_miss(Random& random, const World& world) {
  Question q = word(random, world);
  q.near_misses = true;
  return q;
}
// Spelled by the curator as nobody has it: only near misses answer.
Question misread_word(Random& random, const World& world) {
  Question q = word_or_near_miss(random, world);
  q.words[pick(random, q.words.size())] = 'x';
  return q;
}
Question two_words(Random& random, const World& world) {
  Question q = word_or_near_miss(random, world);
  q.words += " " + world.collectors[pick_skewed(random, world.collectors.size())];
  return q;
}
Question beginning(Random& random, const World& world) {
  Question q = word(random, world);
  q.words = q.words.substr(0, 3) + "*";
  return q;
}
Question distance(Random& random, const World& world) {
  const InventedPlace& place = world.places[pick_skewed(random, world.places.size())];
  Question q;
  q.near = Near{place.lat_deg, place.lon_deg, 5.0 + static_cast<double>(pick(random, 200))};
  return q;
}
Question period(Random& random, const World&) {
  Question q;
  const int first = kFirstDay + static_cast<int>(pick(random, kDays));
  q.period = DayRange{first, first + static_cast<int>(pick(random, 2000))};
  return q;
}
Question taxon_and_tin(Random& random, const World& world) {
  Question q;
  q.taxon = world.taxa[pick_skewed(random, world.taxa.size())];
  q.tin = std::to_string(pick(random, 50));
  return q;
}
Question damage(Random& random, const World&) {
  Question q;
  q.finding = pick(random, 2) == 0 ? "mould" : "tear";
  q.least_severity = 1 + static_cast<int>(pick(random, 4));
  return q;
}
Question most_urgent(Random&, const World&) {
  Question q;
  q.order = Order::priority;
  return q;
}
Question all_together(Random& random, const World& world) {
  const InventedPlace& place = world.places[pick_skewed(random, world.places.size())];
  Question q = period(random, world);
  q.words = place.name;
  q.near = Near{place.lat_deg, place.lon_deg, 50};
  q.level = pick(random, 2) == 0 ? "routine" : "stabilise";
  return q;
}

// What the processor worked for this thread: other work on the machine does not count.
double worked_ms() {
  timespec now{};
  ::clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return 1e3 * static_cast<double>(now.tv_sec) + 1e-6 * static_cast<double>(now.tv_nsec);
}

void ask(benchmark::State& state, Store& store, const World& world, Ask question) {
  Random random(3);
  std::vector<double> ms;
  std::vector<double> worked;
  double hits = 0;
  for (auto _ : state) {
    const Question q = question(random, world);
    const auto begun = std::chrono::steady_clock::now();
    const double worked_before = worked_ms();
    const Answer answer = search(store, q);
    worked.push_back(worked_ms() - worked_before);
    ms.push_back(std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - begun).count());
    hits += static_cast<double>(answer.hits.size());
  }
  const auto at = [](std::vector<double>& all, double share) {
    std::sort(all.begin(), all.end());
    return all[static_cast<std::size_t>(share * static_cast<double>(all.size() - 1))];
  };
  state.counters["p50_ms"] = at(ms, 0.5);
  state.counters["p99_ms"] = at(ms, 0.99);
  state.counters["p99_worked_ms"] = at(worked, 0.99);
  state.counters["most_ms"] = ms.back();
  state.counters["hits"] = hits / static_cast<double>(ms.size());
}

}  // namespace
}  // namespace papillote::store

int main(int argc, char** argv) {
  using namespace papillote::store;
  const int envelopes = argc > 1 ? std::atoi(argv[1]) : 0;
  if (envelopes <= 0) {
    std::cerr << "usage: search_benchmark ENVELOPES [COLLECTION] [--benchmark_...]\n";
    return 2;
  }
  const bool named = argc > 2 && argv[2][0] != '-';
  std::string folder = (std::filesystem::temp_directory_path() / "papillote-benchmark-XXXXXX").string();
  if (named)
    folder = argv[2];
  else if (::mkdtemp(folder.data()) == nullptr)
    return 1;
  const World world = invented_world();
  const double seconds = write_index(folder, envelopes, world);
  if (seconds > 0)
    std::cerr << fmt::format("{} envelopes written in {:.1f} s, {:.2f} ms each, {} MB\n", envelopes, seconds,
                             1000 * seconds / envelopes,
                             std::filesystem::file_size(std::filesystem::path(folder) / "papillote.sqlite") / 1'000'000);
  {
    Store store = std::move(Store::open(folder, Access::read)).value();
    const std::vector<std::pair<const char*, Ask>> kinds{{"word", word},
                                                         {"word_or_near_miss", word_or_near_miss},
                                                         {"misread_word", misread_word},
                                                         {"two_words", two_words},
                                                         {"beginning", beginning},
                                                         {"distance", distance},
                                                         {"period", period},
                                                         {"taxon_and_tin", taxon_and_tin},
                                                         {"damage", damage},
                                                         {"most_urgent", most_urgent},
                                                         {"all_together", all_together}};
    for (const auto& [name, question] : kinds)
      benchmark::RegisterBenchmark(
          fmt::format("{}/{}", name, envelopes).c_str(),
          [&store, &world, asked = question](benchmark::State& state) { ask(state, store, world, asked); })
          ->Unit(benchmark::kMillisecond)
          ->Iterations(1000);
    argc -= named ? 2 : 1;
    argv[named ? 2 : 1] = argv[0];
    argv += named ? 2 : 1;
    benchmark::Initialize(&argc, argv);
    benchmark::RunSpecifiedBenchmarks();
  }
  if (!named) std::filesystem::remove_all(folder);
}
