// papillote_samples: draws photographs of papered specimens with exact truth beside each.
#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <turbojpeg.h>

#include <filesystem>
#include <fstream>
#include <iostream>
#include <memory>
#include <opencv2/core/utility.hpp>
#include <optional>
#include <span>

#include "pipeline/record/digest.h"
#include "truth.h"

namespace papillote::samples {
namespace {

namespace fs = std::filesystem;

void save(const FontShelf& shelf, const Scene& scene, const fs::path& folder) {
  const cv::Mat picture = take(shelf, scene);
  const std::unique_ptr<void, int (*)(tjhandle)> jpeg{tjInitCompress(), tjDestroy};
  unsigned char* bytes = nullptr;
  unsigned long size = 0;
  if (tjCompress2(jpeg.get(), picture.data, picture.cols, static_cast<int>(picture.step), picture.rows, TJPF_BGR, &bytes, &size, TJSAMP_420,
                  scene.camera.jpeg_quality, 0) != 0)
    throw std::runtime_error(tjGetErrorStr2(jpeg.get()));
  const std::unique_ptr<unsigned char, void (*)(unsigned char*)> owned{bytes, tjFree};
  const std::string file = scene.wishes.name + ".jpg";
  std::ofstream(folder / file, std::ios::binary).write(reinterpret_cast<const char*>(bytes), static_cast<std::streamsize>(size));
  std::ofstream(folder / (scene.wishes.name + ".expected.json")) << truth_of(scene, file, digest_of(std::as_bytes(std::span{bytes, size})).hex);
  std::cerr << file << ": " << scene.envelopes.size() << " envelopes\n";
}

// The committed set: one invented collection of three tins.
void draw_demo(const FontShelf& shelf, const fs::path& folder) {
  Random random{1909};
  Tin tin1 = invent_tin(1, random);
  Tin tin2 = invent_tin(2, random);
  Tin tin3 = invent_tin(3, random);
  struct Row {
    const Tin* tin;
    int sheet;
    SceneWishes wishes;
  };
  const auto wish = [](const std::string& name, Table table) {
    SceneWishes w;
    w.name = name;
    w.table = table;
    w.envelopes = 18;
    w.width_mm = 420;
    w.height_mm = 280;
    w.size_px = {4200, 2800};
    return w;
  };
  std::vector<Row> rows;
  rows.push_back({&tin1, 1, wish("tin01-sheet1-front", Table::grey_card)});
  rows.push_back({&tin1, 2, wish("tin01-sheet2", Table::grey_card)});
  rows.push_back({&tin1, 3, wish("tin01-sheet3", Table::baize)});
  rows.back().wishes.touching = 0.6;
  rows.push_back({&tin1, 4, wish("tin01-sheet4-blurred", Table::grey_card)});
  rows.back().wishes.blur_px = 6;
  rows.back().wishes.envelopes = 10;
  rows.push_back({&tin2, 1, wish("tin02-sheet1", Table::velvet)});
  rows.push_back({&tin2, 2, wish("tin02-sheet2", Table::wood)});
  rows.push_back({&tin2, 3, wish("tin02-sheet3", Table::white_paper)});
  rows.back().wishes.like_table = 0.5;
  rows.push_back({&tin2, 4, wish("tin02-sheet4-ruler", Table::grey_card)});
  rows.back().wishes.card = false;
  rows.back().wishes.ruler = true;
  rows.push_back({&tin2, 5, wish("tin02-open", Table::wood)});
  rows.back().wishes.open_tin = true;
  rows.back().wishes.envelopes = 24;
  rows.back().wishes.width_mm = 360;
  rows.back().wishes.height_mm = 240;
  rows.push_back({&tin3, 1, wish("tin03-sheet1", Table::buff_card)});
  rows.back().wishes.like_table = 0.4;
  rows.push_back({&tin3, 2, wish("tin03-sheet2", Table::velvet)});
  rows.push_back({&tin3, 3, wish("tin03-sheet3", Table::baize)});
  rows.push_back({&tin3, 4, wish("tin03-sheet4", Table::grey_card)});
  rows.back().wishes.paper = Paper::newsprint;
  for (const Row& row : rows) {
    const Scene scene = lay_out(shelf, row.wishes, *row.tin, row.sheet, random.branch());
    save(shelf, scene, folder);
    if (row.wishes.name == "tin01-sheet1-front") save(shelf, turned_over(shelf, scene, "tin01-sheet1-back", random.branch()), folder);
  }
}

// Photographs of a second session: of the envelopes on the sheets some come back, in another order, place, turn and light, among others
// that were not there. Their truth_id is that of the first session.
void draw_again(const FontShelf& shelf, const fs::path& folder, const std::vector<Scene>& before, double share, const std::string& stem, Random random) {
  std::vector<EnvelopePlan> waiting;
  for (const Scene& scene : before)
    for (const Lying& lying : scene.envelopes) {
      const bool back = random.chance(share);
      const std::string id = fmt::format("{}-other-{}", stem, waiting.size() + 1);
      waiting.push_back(back ? lying.plan : plan_envelope(shelf, scene.tin, id, {}, random.branch()));
    }
  for (std::size_t i = waiting.size(); i > 1; --i) std::swap(waiting[i - 1], waiting[static_cast<std::size_t>(random.whole(0, static_cast<int>(i) - 1))]);
  for (std::size_t i = 0; i < before.size(); ++i) {
    SceneWishes w = before[i].wishes;
    w.name = fmt::format("{}-{:02}", stem, i + 1);
    w.open_tin = false;
    w.table = random.pick({Table::grey_card, Table::baize, Table::white_paper, Table::wood, Table::velvet, Table::buff_card});
    w.card = random.chance(0.9);
    w.slips = 0;
    const int sheet = 101 + static_cast<int>(i);
    save(shelf, laid_again(w, before[i].tin, sheet, waiting, random.branch()), folder);
  }
}

void draw_seed(const FontShelf& shelf, const fs::path& folder, std::uint64_t seed, int first, int count, const std::string& kind,
               std::optional<double> again, bool broken_insects) {
  Random random{seed};
  std::vector<Scene> drawn;
  for (int i = 1; i < first + count; ++i) {
    Random own = random.branch();
    if (i < first) continue;
    const Tin tin = invent_tin(1 + static_cast<int>(seed % 90), own);
    SceneWishes w;
    w.name = fmt::format("{}{}-{:02}", kind == "mixed" ? "seed" : kind, seed, i);
    w.table = own.pick({Table::grey_card, Table::baize, Table::white_paper, Table::wood, Table::velvet, Table::buff_card});
    w.open_tin = kind == "tin" || (kind == "mixed" && own.chance(0.15));
    w.card = own.chance(0.9);
    w.ruler = own.chance(0.15);
    w.touching = own.between(0, 0.4);
    w.like_table = own.chance(0.25) ? 0.3 : 0.0;
    w.cut_by_frame = own.chance(0.1) ? 0.15 : 0.0;
    w.envelopes = w.open_tin ? own.whole(12, 30) : own.whole(8, 18);
    const double width = own.between(320, 400);
    w.width_mm = width;
    if (own.chance(0.2)) w.size_px = {4500, 3000};
    if (kind == "crowded") {
      w.envelopes = own.whole(60, 200);
      w.largest_mm = 62;
      w.width_mm = 640;
      w.size_px = {6000, 4000};
      w.touching = 0.5;
    }
    if (kind == "empty") w.envelopes = 0;
    w.broken_insects = broken_insects;
    w.height_mm = w.width_mm / 1.5;
    drawn.push_back(lay_out(shelf, w, tin, i, own.branch()));
    save(shelf, drawn.back(), folder);
    if (!again) drawn.pop_back();
  }
  if (again) draw_again(shelf, folder, drawn, *again, fmt::format("again{}", seed), random.branch());
}

int run(int argc, char** argv) {
  CLI::App app{"papillote_samples: photographs of papered specimens with exact truth beside each.\n"
               "Example: papillote_samples --seed 7 --count 20 --out pictures"};
  fs::path out;
  std::string fonts = PAPILLOTE_FONTS;
  std::uint64_t seed = 0;
  int first = 1;
  int count = 1;
  bool demo = false;
  bool broken_insects = false;
  std::string kind = "mixed";
  std::optional<double> again;
  app.add_option("--out", out, "Folder to write into; made when it is not there.")->required();
  app.add_option("--seed", seed, "The same seed gives the same photographs.");
  app.add_option("--count", count, "How many photographs.")->check(CLI::Range(1, 100000));
  app.add_option("--first", first, "Begin with this one of the seed's photographs.")->check(CLI::Range(1, 100000));
  app.add_option("--kind", kind,
                 "sheet: envelopes on a table; tin: rows in an open tin; mixed: both; crowded: many small ones; empty: none.")
      ->check(CLI::IsMember({"sheet", "tin", "mixed", "crowded", "empty"}));
  app.add_option("--again", again, "Then photograph this share of the envelopes again: other sheets, order, turn and light, among others.")
      ->check(CLI::Range(0.0, 1.0));
  app.add_option("--fonts", fonts, "Folder that scripts/fetch_fonts filled.");
  app.add_flag("--broken-insects", broken_insects, "Behind some glassine, break wings, leave out bodies and fold in small insects; nothing else changes.");
  app.add_flag("--demo", demo, "Draw the committed set instead.");
  CLI11_PARSE(app, argc, argv);
  fs::create_directories(out);
  cv::setNumThreads(1);  // several programs side by side use several cores
  const FontShelf shelf{fonts};
  if (demo)
    draw_demo(shelf, out);
  else
    draw_seed(shelf, out, seed, first, count, kind, again, broken_insects);
  return 0;
}

}  // namespace
}  // namespace papillote::samples

int main(int argc, char** argv) {
  try {
    return papillote::samples::run(argc, argv);
  } catch (const std::exception& error) {
    std::cerr << "papillote_samples: " << error.what() << "\n";
    return 1;
  }
}
