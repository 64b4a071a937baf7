// A curator's table of places, and the same bytes taken for a finished gazetteer.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <fstream>

#include "tests/stages/interpretation/small_gazetteer.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace papillote::interpretation;
  static const Folder folder;
  static const Gazetteer base = open_or_die(small_places(), folder / "base.bin");
  const auto table = folder / "table.tsv", made = folder / "made.bin";
  std::ofstream(table, std::ios::binary | std::ios::trunc)
      .write(reinterpret_cast<const char*>(data), static_cast<std::streamsize>(size));
  if (build_added_gazetteer(table, &base, made).ok()) {
    const auto opened = Gazetteer::open(std::span(&made, 1));
    if (!opened.ok()) std::abort();  // what it wrote itself it must take
    for (const auto& match : opened->named("kuching")) (void)opened->place(match.place);
  }
  if (const auto damaged = Gazetteer::open(std::span(&table, 1)); damaged.ok())
    for (const auto& match : damaged->named("kuching")) (void)damaged->place(match.place);
  return 0;
}
