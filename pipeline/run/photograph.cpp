#include "pipeline/run/photograph.h"

#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <fstream>

namespace papillote::run {
namespace {

Failure unreadable(const std::string& path, const std::string& why) {
  return {std::string(kFile), "unreadable", fmt::format("{} cannot be read: {}.", path, why),
          "See that the file is there and that you may read it."};
}

Result<store::FileFacts> facts_of(const std::filesystem::path& file, const std::string& path) {
  struct stat info {};
  if (::stat(file.c_str(), &info) != 0) return unreadable(path, std::strerror(errno));
  return store::FileFacts{info.st_size, info.st_mtim.tv_sec * 1'000'000'000LL + info.st_mtim.tv_nsec};
}

Result<std::vector<std::byte>> read(const std::filesystem::path& file, const std::string& path) {
  std::ifstream in(file, std::ios::binary);
  if (!in) return unreadable(path, std::strerror(errno));
  in.seekg(0, std::ios::end);
  const auto size = in.tellg();
  in.seekg(0);
  std::vector<std::byte> bytes(static_cast<std::size_t>(std::max<std::streamoff>(0, size)));
  in.read(reinterpret_cast<char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
  if (!in && !bytes.empty()) return unreadable(path, "the file ended while it was read");
  return bytes;
}

}  // namespace

Photograph::Photograph(std::filesystem::path file, const store::KnownPhotograph& known, Budget& budget)
    : file_(std::move(file)), path_(known.path), key_(known.key), budget_(&budget) {}

Result<Photograph> Photograph::open(const std::filesystem::path& folder, const store::KnownPhotograph& known, bool rehash,
                                    Budget& budget) {
  Photograph photograph(folder / known.path, known, budget);
  const auto facts = facts_of(photograph.file_, known.path);
  if (!facts.ok()) return facts.failure();
  photograph.facts_ = *facts;
  if (!rehash && known.facts && *known.facts == *facts && !known.sha256.hex.empty()) {
    photograph.sha256_ = known.sha256;
    return photograph;
  }
  auto bytes = read(photograph.file_, known.path);
  if (!bytes.ok()) return bytes.failure();
  photograph.sha256_ = digest_of(*bytes);
  photograph.bytes_ = std::move(bytes).value();
  return photograph;
}

Result<std::span<const std::byte>> Photograph::bytes() {
  if (!bytes_) {
    auto bytes = read(file_, path_);
    if (!bytes.ok()) return bytes.failure();
    if (digest_of(*bytes) != sha256_)
      return Failure{std::string(kFile), "changed", fmt::format("{} is not the file that was read before.", path_),
                     "When nothing copies to it any more, run the same command again with --rehash."};
    bytes_ = std::move(bytes).value();
  }
  return std::span<const std::byte>(*bytes_);
}

void Photograph::reserve_megapixels(double megapixels) { share_ = budget_->take(megapixels); }

}  // namespace papillote::run
