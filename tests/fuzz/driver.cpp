// Runs a fuzz target without libFuzzer: every file of the corpus as it is, then seeded mutations of them for a bounded number
// of runs and a bounded time. Finds less than libFuzzer, but runs wherever the tests run.
#include <algorithm>
#include <chrono>
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <random>
#include <string>
#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace {

using Input = std::vector<std::uint8_t>;

class Mutator {
 public:
  Mutator(const std::vector<Input>& corpus, std::uint32_t seed) : corpus_(corpus), random_(seed) {}

  Input next() {
    Input input = corpus_[below(corpus_.size())];
    for (std::size_t changes = 1 + below(4); changes > 0; --changes) change(input);
    constexpr std::size_t kMostBytes = 1 << 20;
    input.resize(std::min(input.size(), kMostBytes));
    return input;
  }

 private:
  std::size_t below(std::size_t n) { return n == 0 ? 0 : random_() % n; }
  std::uint8_t byte() {
    constexpr std::uint8_t kTelling[]{0, 1, 0x7f, 0x80, 0xff, '/', '-', '?', ' '};
    return below(2) == 0 ? kTelling[below(std::size(kTelling))] : static_cast<std::uint8_t>(random_());
  }
  void change(Input& input) {
    const std::size_t at = below(input.size());
    const auto place = input.begin() + static_cast<std::ptrdiff_t>(at);
    switch (below(6)) {
      case 0:
        if (!input.empty()) input[at] = byte();
        break;
      case 1:
        if (!input.empty()) input[at] = static_cast<std::uint8_t>(input[at] ^ (1U << below(8)));
        break;
      case 2:
        input.insert(place, 1 + below(4), byte());
        break;
      case 3:
        input.erase(place, place + static_cast<std::ptrdiff_t>(std::min(input.size() - at, 1 + below(8))));
        break;
      case 4:
        input.resize(at);
        break;
      default: {
        const Input& other = corpus_[below(corpus_.size())];
        const std::size_t from = below(other.size());
        input.insert(place, other.begin() + static_cast<std::ptrdiff_t>(from), other.begin() + static_cast<std::ptrdiff_t>(from + below(other.size() - from)));
      }
    }
  }

  const std::vector<Input>& corpus_;
  std::mt19937 random_;
};

}  // namespace

int main(int argc, char** argv) {
  if (argc != 4) {
    std::cerr << "usage: " << argv[0] << " CORPUS RUNS SECONDS\n";
    return 2;
  }
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(argv[1])) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  std::vector<Input> corpus{{}};
  for (const auto& file : files) {
    std::ifstream in(file, std::ios::binary);
    corpus.emplace_back(std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>());
  }
  if (corpus.size() < 2) {
    std::cerr << argv[1] << ": no corpus\n";
    return 2;
  }
  for (const Input& input : corpus) LLVMFuzzerTestOneInput(input.data(), input.size());
  constexpr std::uint32_t kSeed = 20260101;
  Mutator mutator(corpus, kSeed);
  const auto end = std::chrono::steady_clock::now() + std::chrono::seconds(std::atol(argv[3]));
  const std::string program = argv[0];
  const std::string last_input = std::filesystem::path(program).filename().string() + ".last";
  long runs = 0;
  while (runs < std::atol(argv[2]) && std::chrono::steady_clock::now() < end) {
    const Input input = mutator.next();
    {
      // What a crash leaves behind: the input that did it.
      std::ofstream last(last_input, std::ios::binary);
      last.write(reinterpret_cast<const char*>(input.data()), static_cast<std::streamsize>(input.size()));
    }
    LLVMFuzzerTestOneInput(input.data(), input.size());
    ++runs;
  }
  std::cout << corpus.size() << " inputs, " << runs << " mutations\n";
  return 0;
}
