#include "tests/evaluate_lines/error_rate.h"

#include <algorithm>
#include <string>
#include <vector>

#include <unicode/normalizer2.h>
#include <unicode/unistr.h>

namespace papillote::evaluation {
namespace {

std::vector<std::u32string> words_of(const std::u32string& text) {
  std::vector<std::u32string> words;
  std::u32string word;
  for (const char32_t c : text + U' ') {
    if (c != U' ' && c != U'\t' && c != U'\n') {
      word += c;
    } else if (!word.empty()) {
      words.push_back(std::move(word));
      word.clear();
    }
  }
  return words;
}

std::u32string code_points(std::string_view utf8) {
  UErrorCode error = U_ZERO_ERROR;
  const icu::Normalizer2* nfc = icu::Normalizer2::getNFCInstance(error);
  icu::UnicodeString text = icu::UnicodeString::fromUTF8(icu::StringPiece(utf8.data(), static_cast<int32_t>(utf8.size())));
  if (U_SUCCESS(error)) text = nfc->normalize(text, error);
  std::u32string out(static_cast<std::size_t>(text.countChar32()), U'\0');
  error = U_ZERO_ERROR;
  text.toUTF32(reinterpret_cast<UChar32*>(out.data()), static_cast<int32_t>(out.size()), error);
  return out;
}

template <class Sequence>
Errors edits_between(const Sequence& reference, const Sequence& read) {
  std::vector<std::size_t> row(read.size() + 1);
  for (std::size_t j = 0; j < row.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= reference.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= read.size(); ++j) {
      const std::size_t above = row[j];
      row[j] = std::min({above + 1, row[j - 1] + 1, diagonal + (reference[i - 1] == read[j - 1] ? 0U : 1U)});
      diagonal = above;
    }
  }
  return {row.back(), reference.size()};
}

}  // namespace

Errors character_errors(std::string_view reference, std::string_view read) {
  return edits_between(code_points(reference), code_points(read));
}

Errors word_errors(std::string_view reference, std::string_view read) {
  return edits_between(words_of(code_points(reference)), words_of(code_points(read)));
}

}  // namespace papillote::evaluation
