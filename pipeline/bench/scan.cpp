#include "pipeline/bench/scan.h"

#include <fmt/format.h>

#include "pipeline/bench/page.h"
#include "pipeline/record/check_character.h"
#include "pipeline/store/envelopes.h"

namespace papillote::bench {
namespace {

constexpr std::string_view kPlace = "place=";
constexpr std::size_t kLongestCode = 64;
constexpr std::size_t kLongestWords = 200;

std::string_view trimmed(std::string_view text) {
  constexpr std::string_view kBlanks = " \t\r\n";
  const auto first = text.find_first_not_of(kBlanks);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(kBlanks) - first + 1);
}

Failure refused(std::string kind, std::string reason, std::string remedy) {
  return {"bench", std::move(kind), std::move(reason), std::move(remedy)};
}

}  // namespace

Result<ScannedEnvelope> scanned_envelope(store::Store& store, std::string_view text) {
  text = trimmed(text);
  const std::string shown = harmless(text.substr(0, kLongestCode));
  if (text.empty() || text.size() > kLongestCode || !check_character(text))
    return refused("no_code", fmt::format("\"{}\" is no catalogue number and no identity.", shown),
                   "Scan the slip's code again, or type the number.");
  if (const auto by_number = store::id_of_catalogue_number(store, std::string(text)))
    return ScannedEnvelope{*by_number, store::catalogue_number_of(store, *by_number)};
  if (const auto typed = store::read_id(text))
    if (const auto now = store::current_id(store, *typed))
      return ScannedEnvelope{*now, store::catalogue_number_of(store, *now)};
  if (!is_checked(text))
    return refused("misread", fmt::format("\"{}\" is misread: its check character disagrees.", shown),
                   "Scan it again, or type it with care.");
  return refused("unknown_envelope", fmt::format("\"{}\" is no envelope of this collection.", shown),
                 "See that its sheet was photographed with the slip beside it and worked on by 'process'.");
}

std::string place_code(std::string_view place) { return std::string(kPlace) + std::string(place); }

std::optional<std::string> scanned_place(std::string_view text) {
  text = trimmed(text);
  if (!text.starts_with(kPlace)) return std::nullopt;
  return std::string(trimmed(text.substr(kPlace.size())));
}

Result<Done> plain_words(std::string_view words, std::string_view what) {
  if (words.size() > kLongestWords)
    return refused("unclear_words", fmt::format("The {} is longer than {} bytes.", what, kLongestWords),
                   "Say it in fewer words.");
  if (words.find_first_of("\n\t") != std::string_view::npos || harmless(words) != words)
    return refused("unclear_words", fmt::format("The {} \"{}\" holds characters that cannot be seen.", what, harmless(words)),
                   "Type it anew.");
  return Done{};
}

}  // namespace papillote::bench
