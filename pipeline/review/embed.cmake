# Writes the files of FOLDER (FILES, by name) into OUT as C++: called by the build, -DFOLDER= -DFILES= -DOUT=.
string(REPLACE "|" ";" FILES "${FILES}")
set(arrays "")
set(rows "")
set(n 0)
foreach(file ${FILES})
  file(READ ${FOLDER}/${file} hex HEX)
  string(REGEX REPLACE "([0-9a-f][0-9a-f])" "0x\\1," bytes "${hex}")
  string(APPEND arrays "constexpr unsigned char kFile${n}[] = {${bytes}0};\n")
  string(APPEND rows "      {\"${file}\", {reinterpret_cast<const char*>(kFile${n}), sizeof kFile${n} - 1}},\n")
  math(EXPR n "${n} + 1")
endforeach()
file(WRITE ${OUT}
"// Written by the build from ${FOLDER}.
#include \"pipeline/review/page_files.h\"

namespace papillote::review {
namespace {
${arrays}}  // namespace

const std::vector<PageFile>& page_files() {
  static const std::vector<PageFile> files{
${rows}  };
  return files;
}
}  // namespace papillote::review
")
