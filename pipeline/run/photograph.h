// One photograph in the hands of one worker: its file, read at most once and only when a step must run.
#pragma once

#include <cstddef>
#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/record/digest.h"
#include "pipeline/record/result.h"
#include "pipeline/run/budget.h"
#include "pipeline/store/photographs.h"

namespace papillote::run {

// Stage of the failures below: they are of the moment, and no answer about the photograph.
inline constexpr std::string_view kFile = "file";

class Photograph {
 public:
  // Takes the digest of the file's bytes, or believes `known` where size and time stamp have not changed and `rehash`
  // is off. Failures: "unreadable".
  [[nodiscard]] static Result<Photograph> open(const std::filesystem::path& folder, const store::KnownPhotograph& known,
                                               bool rehash, Budget& budget);

  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] const Digest& sha256() const { return sha256_; }
  [[nodiscard]] const store::FileFacts& facts() const { return facts_; }
  [[nodiscard]] std::int64_t key() const { return key_; }

  // Failures: "unreadable", and "changed" when the bytes are no longer the ones whose digest was taken.
  [[nodiscard]] Result<std::span<const std::byte>> bytes();

  // As an input of a step.
  class File {
   public:
    explicit File(Photograph& photograph) : photograph_(&photograph) {}
    [[nodiscard]] std::string_view name() const { return "file"; }
    [[nodiscard]] const std::string& identity() const { return photograph_->sha256_.hex; }
    [[nodiscard]] Result<std::span<const std::byte>> get() const { return photograph_->bytes(); }

   private:
    Photograph* photograph_;
  };
  [[nodiscard]] File file() { return File(*this); }

  // Waits until the batch has memory for this many decoded megapixels; held until the photograph is done.
  void reserve_megapixels(double megapixels);

 private:
  Photograph(std::filesystem::path file, const store::KnownPhotograph& known, Budget& budget);

  std::filesystem::path file_;
  std::string path_;
  std::int64_t key_;
  Budget* budget_;
  Digest sha256_;
  store::FileFacts facts_;
  std::optional<std::vector<std::byte>> bytes_;
  Budget::Share share_;
};

}  // namespace papillote::run
