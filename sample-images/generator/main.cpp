// papillote_samples: draws photographs of papered specimens with exact truth beside each.
#include <CLI/CLI.hpp>
#include <turbojpeg.h>

#include <filesystem>
#include <fstream>
#include <iostream>
#include <memory>

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
  std::ofstream(folder / (scene.wishes.name + ".expected.json")) << truth_of(scene, file);
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
  rows.back().wishes.envelopes = 15;
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

void draw_seed(const FontShelf& shelf, const fs::path& folder, std::uint64_t seed, int count, const std::string& kind) {
  Random random{seed};
  for (int i = 0; i < count; ++i) {
    Random own = random.branch();
    const Tin tin = invent_tin(1 + static_cast<int>(seed % 90), own);
    SceneWishes w;
    w.name = "seed" + std::to_string(seed) + "-" + (i < 9 ? "0" : "") + std::to_string(i + 1);
    w.table = own.pick({Table::grey_card, Table::baize, Table::white_paper, Table::wood, Table::velvet, Table::buff_card});
    w.open_tin = kind == "tin" || (kind == "mixed" && own.chance(0.15));
    w.card = own.chance(0.9);
    w.ruler = own.chance(0.15);
    w.touching = own.between(0, 0.4);
    w.like_table = own.chance(0.25) ? 0.3 : 0.0;
    w.envelopes = own.whole(8, 16);
    const double width = own.between(320, 380);
    w.width_mm = width;
    w.height_mm = width / 1.5;
    if (own.chance(0.2)) w.size_px = {4500, 3000};
    save(shelf, lay_out(shelf, w, tin, i + 1, own.branch()), folder);
  }
}

int run(int argc, char** argv) {
  CLI::App app{"papillote_samples: photographs of papered specimens with exact truth beside each.\n"
               "Example: papillote_samples --seed 7 --count 20 --out pictures"};
  fs::path out;
  std::string fonts = PAPILLOTE_FONTS;
  std::uint64_t seed = 0;
  int count = 1;
  bool demo = false;
  std::string kind = "sheet";
  app.add_option("--out", out, "Folder to write into; made when it is not there.")->required();
  app.add_option("--seed", seed, "The same seed gives the same photographs.");
  app.add_option("--count", count, "How many photographs.")->check(CLI::Range(1, 100000));
  app.add_option("--kind", kind, "sheet, tin or mixed.")->check(CLI::IsMember({"sheet", "tin", "mixed"}));
  app.add_option("--fonts", fonts, "Folder that scripts/fetch_fonts filled.");
  app.add_flag("--demo", demo, "Draw the committed set instead.");
  CLI11_PARSE(app, argc, argv);
  fs::create_directories(out);
  const FontShelf shelf{fonts};
  if (demo)
    draw_demo(shelf, out);
  else
    draw_seed(shelf, out, seed, count, kind);
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
