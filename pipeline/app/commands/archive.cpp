// papillote archive: an upright picture of every view of every envelope as TIFF, for the long term.
#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <memory>

#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/dataset.h"
#include "pipeline/app/photo_pixels.h"
#include "pipeline/app/trouble.h"
#include "pipeline/bench/save.h"
#include "pipeline/exports/archive_view.h"
#include "pipeline/image/archive_tiff.h"
#include "pipeline/image/image.h"
#include "pipeline/run/stop.h"
#include "pipeline/store/index.h"

namespace papillote::app::commands {
namespace {

namespace fs = std::filesystem;

struct Asked {
  std::string collection;
  std::string output;
  std::string about;
};

// Pixels per millimetre along both sides of the cut-out; nothing without a scale.
std::optional<Point> scale_of(const IndexRecord& record, const Calibration& calibration) {
  const Crop& crop = record.outline.crop;
  if (record.outline.size_mm && record.outline.size_mm->x > 0 && record.outline.size_mm->y > 0)
    return Point{crop.width_px / record.outline.size_mm->x, crop.height_px / record.outline.size_mm->y};
  if (!calibration.px_per_mm) return std::nullopt;
  const auto side = [&](int a, int b) {
    return std::hypot(crop.quad_px[static_cast<std::size_t>(b)].x - crop.quad_px[static_cast<std::size_t>(a)].x,
                      crop.quad_px[static_cast<std::size_t>(b)].y - crop.quad_px[static_cast<std::size_t>(a)].y);
  };
  const double width = side(0, 1);
  const double height = side(0, 3);
  if (width <= 0 || height <= 0) return std::nullopt;
  return Point{crop.width_px / width * *calibration.px_per_mm, crop.height_px / height * *calibration.px_per_mm};
}

Result<image::Original> original_of(store::Store& store, const Photo& photo) {
  const auto bytes = processed_bytes(store, photo);
  if (!bytes) return bytes.failure();
  return image::decode_original(std::as_bytes(std::span(*bytes)), photo.path);
}

struct Totals {
  int written = 0;
  int unchanged = 0;
  int failed = 0;
};

Result<Done> keep_photograph(const store::IndexedPhotograph& photograph, const image::Original& original, const exports::Dataset& dataset,
                             const fs::path& folder, exports::DigestList& digests, Totals& totals) {
  for (const IndexRecord& record : photograph.index.envelopes) {
    const Crop& crop = record.outline.crop;
    if (crop.width_px <= 0 || crop.height_px <= 0) continue;
    const exports::ArchiveView view =
        exports::archive_view(dataset, {photograph.index.photo, photograph.index.calibration.sheet.value_or(Sheet{}), record});
    const image::ArchiveTags tags{exports::occurrence_id(dataset, record.id), view.description, photograph.index.photo.taken, photograph.index.photo.camera,
                                  dataset.licence,                            view.xmp,         scale_of(record, photograph.index.calibration),
                                  original.icc};
    const auto tiff = image::archive_tiff(image::rectify(original.pixels, crop.quad_px, {crop.width_px, crop.height_px}), tags);
    if (!tiff.ok()) return tiff.failure();
    const Digest digest = digest_of(*tiff);
    std::error_code error;
    if (digests[view.file] == digest && fs::exists(folder / view.file, error)) {
      ++totals.unchanged;
      continue;
    }
    fs::create_directories((folder / view.file).parent_path(), error);
    if (const auto saved = bench::save(folder / view.file, *tiff); !saved.ok()) return saved.failure();
    digests[view.file] = digest;
    ++totals.written;
  }
  return bench::save(folder / exports::kDigestFile, exports::digest_lines(digests));
}

Result<exports::DigestList> known_digests(const fs::path& folder) {
  const fs::path list = folder / exports::kDigestFile;
  std::error_code error;
  if (!fs::exists(list, error)) return exports::DigestList{};
  std::ifstream in(list, std::ios::binary);
  if (!in) return Failure{"app", "unreadable", fmt::format("{} cannot be read.", list.string()), "See that you may read it."};
  return exports::read_digest_lines(std::string{std::istreambuf_iterator<char>(in), {}}, list.string());
}

ExitCode run(const Asked& asked) {
  const run::StopSignal stop;
  const auto dataset = dataset_of(asked.about, asked.collection);
  if (!dataset.ok()) return said(dataset.failure());
  const fs::path folder = asked.output;
  std::error_code error;
  fs::create_directories(folder, error);
  if (error) return said({"app", "unwritable", fmt::format("{} cannot be made a folder: {}.", asked.output, error.message()), "Name a folder that you may write to."});
  auto digests = known_digests(folder);
  if (!digests.ok()) return said(digests.failure());
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) -> ExitCode {
    Totals totals;
    std::optional<Failure> trouble;
    store::for_each_photograph(store, [&](const store::IndexedPhotograph& photograph) {
      if (trouble || stop.asked() || photograph.index.envelopes.empty()) return;
      const auto original = original_of(store, photograph.index.photo);
      if (!original.ok()) {
        ++totals.failed;
        std::cerr << fmt::format("papillote: {} {}\n", original.failure().reason, original.failure().remedy);
        return;
      }
      const auto kept = keep_photograph(photograph, *original, *dataset, folder, *digests, totals);
      if (!kept.ok()) trouble = kept.failure();
    });
    if (trouble) return said(*trouble);
    if (!stop.asked()) bench::sweep(folder);
    std::cerr << fmt::format("{} archive files written, {} were there already.\n", totals.written, totals.unchanged);
    if (stop.asked()) return kInterrupted;
    return totals.failed > 0 ? kSomeFailed : kAllDone;
  });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<Asked>();
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("-o,--output", asked->output, "Folder of the archive; made when it is not there.")->required();
  add_about(command, asked->about);
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command archive{"archive", "Hand on", "Write an upright TIFF of every view of every envelope.",
                             "Depth and colour profile are those of the photograph, the resolution is the measured one; where it was cut from stands in its tags.\n"
                             "'papillote verify' checks the files against digests.sha256 later, and so does sha256sum -c.\n"
                             "Example: papillote archive --collection tins --output tins-archive",
                             setup};

}  // namespace papillote::app::commands
