// A locality, after tabs its country and state; the places of the test gazetteer.
#include <cstddef>
#include <cstdint>
#include <string>

#include "stages/interpretation/places.h"
#include "tests/stages/interpretation/small_gazetteer.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace papillote::interpretation;
  static const Folder folder;
  static const Gazetteer gazetteer = open_or_die(small_places(), folder / "places.bin");
  const std::string text(reinterpret_cast<const char*>(data), size);
  const std::size_t tab = text.find('\t'), second = tab == std::string::npos ? tab : text.find('\t', tab + 1);
  PlaceHint hint;
  if (tab != std::string::npos) hint.country = text.substr(tab + 1, second == std::string::npos ? second : second - tab - 1);
  if (second != std::string::npos) hint.state = text.substr(second + 1);
  const TextCandidate one{text.substr(0, tab), 1};
  (void)read_place(std::span(&one, 1), gazetteer, hint);
  return 0;
}
