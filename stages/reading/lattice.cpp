#include "stages/reading/lattice.h"

#include <algorithm>
#include <cmath>

namespace papillote::reading {

std::string utf8_of(std::u32string_view text) {
  std::string out;
  const auto byte = [&](char32_t value) { out += static_cast<char>(static_cast<unsigned char>(value)); };
  for (const char32_t c : text) {
    if (c < 0x80) {
      byte(c);
    } else if (c < 0x800) {
      byte(0xC0 | (c >> 6));
      byte(0x80 | (c & 0x3F));
    } else if (c < 0x10000) {
      byte(0xE0 | (c >> 12));
      byte(0x80 | ((c >> 6) & 0x3F));
      byte(0x80 | (c & 0x3F));
    } else {
      byte(0xF0 | (c >> 18));
      byte(0x80 | ((c >> 12) & 0x3F));
      byte(0x80 | ((c >> 6) & 0x3F));
      byte(0x80 | (c & 0x3F));
    }
  }
  return out;
}

std::u32string utf32_of(std::string_view text) {
  std::u32string out;
  for (std::size_t i = 0; i < text.size();) {
    const auto lead = static_cast<unsigned char>(text[i]);
    const int more = lead < 0x80 ? 0 : (lead >> 5) == 0x6 ? 1 : (lead >> 4) == 0xE ? 2 : (lead >> 3) == 0x1E ? 3 : -1;
    char32_t c = more < 1 ? lead : lead & (0x3FU >> more);
    bool whole = more >= 0 && i + static_cast<std::size_t>(more) < text.size();
    for (int k = 1; whole && k <= more; ++k) {
      const auto next = static_cast<unsigned char>(text[i + static_cast<std::size_t>(k)]);
      whole = (next >> 6) == 0x2;
      c = (c << 6) | (next & 0x3FU);
    }
    out += whole ? c : U'\uFFFD';
    i += whole ? static_cast<std::size_t>(more) + 1 : 1;
  }
  return out;
}

Candidate best_path(const Lattice& lattice) {
  Candidate candidate;
  std::u32string text;
  int last = 0;
  double path = 0;
  for (int t = 0; t < lattice.frames; ++t) {
    int best = 0;
    for (int k = 1; k < lattice.classes; ++k)
      if (lattice.at(t, k) > lattice.at(t, best)) best = k;
    const double p = std::exp(static_cast<double>(lattice.at(t, best)));
    path += lattice.at(t, best);
    if (best != 0 && best != last) {
      text += lattice.character(best);
      candidate.character_confidence.push_back(p);
    } else if (best != 0) {
      candidate.character_confidence.back() = std::max(candidate.character_confidence.back(), p);
    }
    last = best;
  }
  for (const double p : candidate.character_confidence) candidate.certainty += p;
  if (!text.empty()) candidate.certainty /= static_cast<double>(text.size());
  candidate.confidence = text.empty() ? 0 : std::exp(path);
  candidate.text = utf8_of(text);
  return candidate;
}

}  // namespace papillote::reading
