#include "stages/interpretation/words.h"

#include <unicode/normalizer2.h>
#include <unicode/uchar.h>
#include <unicode/unistr.h>
#include <unicode/utf8.h>

namespace papillote::interpretation {
namespace {

void append_folded(UChar32 c, std::string& folded) {
  if (c < 0x80) {
    folded += static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
    return;
  }
  static const icu::Normalizer2* const kNfkd = [] {
    UErrorCode error = U_ZERO_ERROR;
    return icu::Normalizer2::getNFKDInstance(error);
  }();
  switch (c) {
    case 0xDF:
      folded += "ss";
      return;
    case 0xD8:
    case 0xF8:
      folded += 'o';
      return;
    case 0xC6:
    case 0xE6:
      folded += "ae";
      return;
    case 0x152:
    case 0x153:
      folded += "oe";
      return;
    case 0x17F:
      folded += 's';
      return;
    case 0x131:
      folded += 'i';
      return;
    default:
      break;
  }
  icu::UnicodeString parts;
  if (!kNfkd || !kNfkd->getDecomposition(u_tolower(c), parts)) parts = icu::UnicodeString(u_tolower(c));
  for (int32_t i = 0; i < parts.length(); i = parts.moveIndex32(i, 1)) {
    const UChar32 part = parts.char32At(i);
    if (u_charType(part) == U_NON_SPACING_MARK) continue;
    icu::UnicodeString(u_tolower(part)).toUTF8String(folded);
  }
}

bool is_space(UChar32 c) { return c == ' ' || (c >= 9 && c <= 13) || (c >= 0x80 && u_isUWhiteSpace(c)); }

Word::Kind kind_of(UChar32 c) {
  if (c >= '0' && c <= '9') return Word::Kind::digits;
  if (c < 0x80) return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ? Word::Kind::letters : Word::Kind::sign;
  // The ordinal signs are letters to Unicode; to an annotation they are signs.
  if (c == 0xAA || c == 0xBA) return Word::Kind::sign;
  const auto type = u_charType(c);
  const bool mark = type == U_NON_SPACING_MARK || type == U_COMBINING_SPACING_MARK;
  return u_isalpha(c) || mark ? Word::Kind::letters : Word::Kind::sign;
}

}  // namespace

std::string fold(std::string_view text) {
  std::string folded;
  folded.reserve(text.size());
  for (std::size_t i = 0; i < text.size();) {
    const auto begin = i;
    UChar32 c;
    U8_NEXT(reinterpret_cast<const uint8_t*>(text.data()), i, text.size(), c);
    if (c < 0) {
      folded.append(text.substr(begin, i - begin));
    } else {
      append_folded(c, folded);
    }
  }
  return folded;
}

std::vector<Word> cut_words(std::string_view text) {
  std::vector<Word> words;
  bool open = false;  // the last word may still grow
  for (std::size_t i = 0; i < text.size();) {
    const auto begin = i;
    UChar32 c;
    U8_NEXT(reinterpret_cast<const uint8_t*>(text.data()), i, text.size(), c);
    if (c < 0) i = begin + 1;
    if (c >= 0 && is_space(c)) {
      open = false;
      continue;
    }
    const auto kind = c < 0 ? Word::Kind::sign : kind_of(c);
    if (!open || words.back().kind != kind || kind == Word::Kind::sign) {
      words.push_back({kind, begin, i, {}});
    }
    Word& word = words.back();
    word.end = i;
    if (kind == Word::Kind::letters) {
      append_folded(c, word.folded);
    } else {
      word.folded.append(text.substr(begin, i - begin));
    }
    open = true;
  }
  // Accents without a letter below them.
  for (Word& word : words) {
    if (!word.folded.empty()) continue;
    word.kind = Word::Kind::sign;
    word.folded = text.substr(word.begin, word.end - word.begin);
  }
  return words;
}

}  // namespace papillote::interpretation
