#include "pipeline/store/fold.h"

#include <stdexcept>

#include <unicode/translit.h>
#include <unicode/uchar.h>
#include <unicode/unistr.h>

namespace papillote::store {

struct Folder::Rules {
  std::unique_ptr<icu::Transliterator> fold;
};

Folder::Folder() : rules_(std::make_unique<Rules>()) {
  UErrorCode status = U_ZERO_ERROR;
  rules_->fold.reset(icu::Transliterator::createInstance("NFKD; [:Mark:] Remove; Latin-ASCII; Lower", UTRANS_FORWARD, status));
  if (U_FAILURE(status)) throw std::runtime_error("ICU has no rules for folding Latin letters");
}
Folder::Folder(Folder&&) noexcept = default;
Folder& Folder::operator=(Folder&&) noexcept = default;
Folder::~Folder() = default;

std::vector<std::string> Folder::words(std::string_view text) const {
  icu::UnicodeString folded = icu::UnicodeString::fromUTF8(icu::StringPiece(text.data(), static_cast<int32_t>(text.size())));
  rules_->fold->transliterate(folded);
  std::vector<std::string> words;
  icu::UnicodeString word;
  const auto finish = [&] {
    if (!word.isEmpty()) word.toUTF8String(words.emplace_back());
    word.remove();
  };
  for (int32_t i = 0; i < folded.length();) {
    const UChar32 c = folded.char32At(i);
    i += U16_LENGTH(c);
    if (u_isalnum(c) && c != 0xFFFD)
      word.append(c);
    else
      finish();
  }
  finish();
  return words;
}

std::string Folder::joined(std::string_view text) const {
  std::string all;
  for (const std::string& word : words(text)) all += (all.empty() ? "" : " ") + word;
  return all;
}

}  // namespace papillote::store
