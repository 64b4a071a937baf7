// The arrows of the house: which room may include which, read from every #include. CMake's links say the
// same, but one include root would let any file reach any other.
#include <filesystem>
#include <fstream>
#include <map>
#include <regex>
#include <set>
#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace {

namespace fs = std::filesystem;

const std::set<std::string> kStages{"registration", "calibration", "segmentation", "lines",   "reading",
                                    "interpretation", "condition", "triage",       "indexing"};

// What each room may include besides itself.
std::map<std::string, std::set<std::string>> arrows() {
  std::map<std::string, std::set<std::string>> may{
      {"pipeline/record", {}},
      {"pipeline/image", {"pipeline/record"}},
      {"models", {"pipeline/record", "pipeline/image"}},
      {"pipeline/store", {"pipeline/record"}},
      {"pipeline/run", {"pipeline/record", "pipeline/store"}},
      {"pipeline/exports", {"pipeline/record", "pipeline/store"}},
      {"pipeline/bench", {"pipeline/record", "pipeline/image", "pipeline/store"}},
      {"pipeline/review", {"pipeline/record", "pipeline/image", "pipeline/store"}},
  };
  std::set<std::string> everything{"models"};
  for (const auto& [room, uses] : may) everything.insert(room);
  for (const auto& stage : kStages) {
    may["stages/" + stage] = {"pipeline/record", "pipeline/image", "models"};
    everything.insert("stages/" + stage);
  }
  may["pipeline/app"] = everything;
  return may;
}

// "stages/lines/ink.h" -> "stages/lines"; "models/runtime.h" -> "models"
std::string room_of(const std::string& path) {
  const std::size_t first = path.find('/');
  if (first == std::string::npos) return path;
  if (path.compare(0, first, "models") == 0) return "models";
  const std::size_t second = path.find('/', first + 1);
  return path.substr(0, second);
}

struct Include {
  std::string file;
  std::string target;
};

std::vector<Include> own_includes() {
  const fs::path root = PAPILLOTE_SOURCE_DIR;
  const std::regex quoted(R"re(^\s*#\s*include\s+"([^"]+)")re");
  std::vector<Include> found;
  for (const char* top : {"pipeline", "stages", "models"}) {
    for (const auto& entry : fs::recursive_directory_iterator(root / top)) {
      const auto extension = entry.path().extension();
      if (extension != ".h" && extension != ".cpp") continue;
      std::ifstream in(entry.path());
      for (std::string line; std::getline(in, line);) {
        std::smatch match;
        if (std::regex_search(line, match, quoted)) found.push_back({fs::relative(entry.path(), root).string(), match[1]});
      }
    }
  }
  return found;
}

TEST(Rooms, EveryIncludeFollowsAnArrow) {
  const auto may = arrows();
  const auto includes = own_includes();
  ASSERT_GT(includes.size(), 20U) << "no sources under " << PAPILLOTE_SOURCE_DIR;
  for (const auto& [file, target] : includes) {
    const std::string from = room_of(file);
    const std::string to = room_of(target);
    const auto row = may.find(from);
    ASSERT_TRUE(row != may.end()) << file << " lies in no room that this test knows";
    ASSERT_TRUE(target.starts_with("pipeline/") || target.starts_with("stages/") || target.starts_with("models/"))
        << file << " includes \"" << target << "\": write own headers from the root of the source, others in <>";
    EXPECT_TRUE(from == to || row->second.contains(to)) << file << " includes " << target << ": " << from << " may not use " << to;
  }
}

TEST(Rooms, TheTestItselfSeesAWrongArrow) {
  const auto may = arrows();
  EXPECT_FALSE(may.at("stages/lines").contains("stages/reading"));
  EXPECT_FALSE(may.at("stages/lines").contains("pipeline/store"));
  EXPECT_FALSE(may.at("pipeline/store").contains("pipeline/app"));
  EXPECT_EQ(room_of("models/reader/card.h"), "models");
  EXPECT_EQ(room_of("pipeline/app/commands/search.cpp"), "pipeline/app");
}

// The runtime, SQL and HTTP are known to one room each.
TEST(Rooms, OutsideLibrariesStayInTheirRoom) {
  const fs::path root = PAPILLOTE_SOURCE_DIR;
  const std::vector<std::pair<std::string, std::string>> alone{
      {"SQLiteCpp/", "pipeline/store"}, {"sqlite3.h", "pipeline/store"},   {"tesseract/", "stages/reading"},
      {"httplib.h", "pipeline/review"}, {"turbojpeg.h", "pipeline/image"}, {"tiffio.h", "pipeline/image"},
      {"CLI/", "pipeline/app"},         {"cairo", "pipeline/bench"}, {"zip.h", "pipeline/exports"}, {"lcms2.h", "pipeline/image"}, {"libraw/", "pipeline/image"},       {"proj.h", "stages/interpretation"}};
  const std::regex angled(R"(^\s*#\s*include\s+<([^>]+)>)");
  for (const char* top : {"pipeline", "stages", "models"}) {
    for (const auto& entry : fs::recursive_directory_iterator(root / top)) {
      const auto extension = entry.path().extension();
      if (extension != ".h" && extension != ".cpp") continue;
      const std::string file = fs::relative(entry.path(), root).string();
      std::ifstream in(entry.path());
      for (std::string line; std::getline(in, line);) {
        std::smatch match;
        if (!std::regex_search(line, match, angled)) continue;
        for (const auto& [library, room] : alone) {
          if (!match[1].str().starts_with(library)) continue;
          EXPECT_EQ(room_of(file), room) << file << " includes <" << match[1] << ">";
        }
      }
    }
  }
}

}  // namespace
