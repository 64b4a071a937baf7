#include "pipeline/record/check_character.h"

namespace papillote {
namespace {

constexpr std::string_view kAlphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
constexpr std::string_view kSkipped = " -./_";

// The letters and digits as capitals; nothing if there is anything else.
std::optional<std::string> significant(std::string_view number) {
  std::string kept;
  for (const char c : number) {
    if (kSkipped.find(c) != std::string_view::npos) continue;
    const char capital = c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
    if (kAlphabet.find(capital) == std::string_view::npos) return std::nullopt;
    kept += capital;
  }
  return kept;
}

// Hybrid system: P starts at 36; P = (P + value) mod 36, 0 counts as 36; P = 2P mod 37; check = (1 - P) mod 36.
char check_of(std::string_view capitals) {
  std::size_t p = 36;
  for (const char c : capitals) {
    p = (p + kAlphabet.find(c)) % 36;
    if (p == 0) p = 36;
    p = 2 * p % 37;
  }
  return kAlphabet[(37 - p) % 36];
}

}  // namespace

std::optional<char> check_character(std::string_view number) {
  const auto capitals = significant(number);
  if (!capitals || capitals->empty()) return std::nullopt;
  return check_of(*capitals);
}

bool is_checked(std::string_view number) {
  const auto capitals = significant(number);
  if (!capitals || capitals->size() < 2) return false;
  return check_of(std::string_view(*capitals).substr(0, capitals->size() - 1)) == capitals->back();
}

}  // namespace papillote
