// How quickly annotation is interpreted, and what opening the gazetteer takes: interpretation_benchmark [places.bin]
#include <benchmark/benchmark.h>
#include <sys/resource.h>

#include <array>
#include <filesystem>
#include <span>
#include <string>

#include "stages/interpretation/dates.h"
#include "stages/interpretation/elevations.h"
#include "stages/interpretation/places.h"

namespace {

using namespace papillote::interpretation;

std::filesystem::path gazetteer_file = "gazetteer/places.bin";

constexpr std::array<const char*, 6> kTexts{"Labuan 12.vii.09",
                                            "4000 ft. Mt. Kina Balu, Sept. 3-7 '87",
                                            "do. do. 14/8",
                                            "nr. Trichinopoly, Juin 1898, alt. 3-400 m",
                                            "17° 20' S 145° 35' E, 28.vi-3.vii.1932",
                                            "5 mi. N of Kuching, Sarawak, Borneo"};

template <class Read>
void each_text(benchmark::State& state, Read read) {
  std::size_t next = 0;
  for (auto _ : state) benchmark::DoNotOptimize(read(std::string(kTexts[next++ % kTexts.size()])));
  state.SetItemsProcessed(static_cast<std::int64_t>(state.iterations()));
}

void dates(benchmark::State& state) {
  each_text(state, [](const std::string& text) { return read_date(text, {}); });
}
BENCHMARK(dates);

void elevations(benchmark::State& state) {
  each_text(state, [](const std::string& text) { return read_elevation(text); });
}
BENCHMARK(elevations);

void open_gazetteer(benchmark::State& state) {
  for (auto _ : state)
    if (!Gazetteer::open(std::span(&gazetteer_file, 1)).ok()) state.SkipWithError("no gazetteer; give its file");
}
BENCHMARK(open_gazetteer)->Unit(benchmark::kMillisecond);

void places(benchmark::State& state) {
  const auto gazetteer = Gazetteer::open(std::span(&gazetteer_file, 1));
  if (!gazetteer.ok()) return state.SkipWithError("no gazetteer; give its file");
  each_text(state, [&](const std::string& text) {
    const TextCandidate one{text, 1};
    return read_place(std::span(&one, 1), *gazetteer);
  });
  rusage used{};
  getrusage(RUSAGE_SELF, &used);
  state.counters["MB"] = static_cast<double>(used.ru_maxrss) / 1024;
}
BENCHMARK(places);

}  // namespace

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  if (argc > 1) gazetteer_file = argv[1];
  benchmark::RunSpecifiedBenchmarks();
  return 0;
}
