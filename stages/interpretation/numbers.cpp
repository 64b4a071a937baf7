#include "stages/interpretation/numbers.h"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <span>

#include "stages/interpretation/words.h"

namespace papillote::interpretation {
namespace {

bool is_one_of(std::string_view word, std::span<const std::string_view> words) {
  return std::ranges::find(words, word) != words.end();
}

constexpr std::array kNumberWords = std::to_array<std::string_view>({"no", "nr", "nro", "num", "numero", "number", "nos"});
constexpr std::array kAccessionWords =
    std::to_array<std::string_view>({"acc", "access", "accession", "accn", "reg", "inv", "cat", "register"});
constexpr std::array kCollectorWords = std::to_array<std::string_view>({"field", "coll", "collector", "collectors", "leg"});
constexpr std::array kUnits = std::to_array<std::string_view>(
    {"m", "km", "mi", "ft", "miles", "mile", "feet", "metres", "meters", "mm", "cm", "st", "nd", "rd", "th"});

class Scanner {
 public:
  explicit Scanner(std::string_view text) : text_(text), words_(cut_words(text)) {}

  NumberReading read() const {
    NumberReading best;
    for (std::size_t i = 0; i < words_.size(); ++i) {
      auto reading = announced(i);
      if (!reading.number) reading = code(i);
      if (reading.confidence > best.confidence) best = std::move(reading);
    }
    if (!best.number) best.reasons.push_back("No number was found.");
    return best;
  }

 private:
  bool is_sign(std::size_t i, std::string_view sign) const {
    return i < words_.size() && words_[i].kind == Word::Kind::sign && words_[i].folded == sign;
  }
  bool is_digits(std::size_t i) const { return i < words_.size() && words_[i].kind == Word::Kind::digits; }
  bool touches(std::size_t left, std::size_t right) const { return words_[left].end == words_[right].begin; }

  // One word without gaps: letters, digits, and '-', '/', '.' between them. Returns the word after it.
  std::size_t end_of_code(std::size_t i) const {
    std::size_t end = i + 1;
    while (end < words_.size() && touches(end - 1, end)) {
      const bool joint = is_sign(end, "-") || is_sign(end, "/") || is_sign(end, ".") || is_sign(end, "–");
      if (joint && !(end + 1 < words_.size() && touches(end, end + 1) && words_[end + 1].kind != Word::Kind::sign)) break;
      if (!joint && words_[end].kind == Word::Kind::sign) break;
      ++end;
    }
    return end;
  }

  void finish(std::size_t first, std::size_t from, std::size_t end, NumberReading& reading) const {
    reading.begin = words_[first].begin;
    reading.end = words_[end - 1].end;
    reading.verbatim = std::string(text_.substr(reading.begin, reading.end - reading.begin));
    reading.number = std::string(text_.substr(words_[from].begin, words_[end - 1].end - words_[from].begin));
  }

  // "No. 12", "#12", "№ 12", "Acc. 1911-23", "Field no. 7"
  NumberReading announced(std::size_t i) const {
    NumberReading reading;
    const auto& word = words_[i].folded;
    const bool sign = is_sign(i, "#") || is_sign(i, "№") || (word == "n" && (is_sign(i + 1, "°") || is_sign(i + 1, "º")));
    const bool accession = is_one_of(word, kAccessionWords);
    if (!sign && !accession && !is_one_of(word, kNumberWords)) return reading;
    std::size_t at = i + 1;
    while (is_sign(at, ".") || is_sign(at, ":") || is_sign(at, "°") || is_sign(at, "º") ||
           (accession && at < words_.size() && is_one_of(words_[at].folded, kNumberWords))) {
      ++at;
    }
    const bool letters_first = at + 1 < words_.size() && words_[at].kind == Word::Kind::letters &&
                               words_[at].folded.size() <= 3 &&
                               (is_digits(at + 1) || (is_sign(at + 1, "-") && is_digits(at + 2))) && touches(at, at + 1);
    if (at >= words_.size() || words_[at].begin - words_[at - 1].end > 2 || !(is_digits(at) || letters_first)) return reading;
    finish(i, at, end_of_code(at), reading);
    reading.kind = accession ? NumberReading::Kind::accession : NumberReading::Kind::unknown;
    if (i > 0 && is_one_of(words_[i - 1].folded, kAccessionWords)) reading.kind = NumberReading::Kind::accession;
    const std::size_t before = i > 1 && is_sign(i - 1, ".") ? i - 2 : i > 0 ? i - 1 : words_.size();
    if (before < words_.size() && is_one_of(words_[before].folded, kCollectorWords))
      reading.kind = NumberReading::Kind::collector;
    reading.confidence = 0.9;
    return reading;
  }

  // "B-14", "V94-13", "93-44": a code by its form.
  NumberReading code(std::size_t i) const {
    NumberReading reading;
    const bool starts = i == 0 || !touches(i - 1, i);
    if (!starts || words_[i].kind == Word::Kind::sign) return reading;
    const std::size_t end = end_of_code(i);
    std::size_t digits = 0, letters = 0, joints = 0;
    for (std::size_t k = i; k < end; ++k) {
      if (words_[k].kind == Word::Kind::digits)
        digits += words_[k].folded.size();
      else if (words_[k].kind == Word::Kind::letters)
        letters += words_[k].folded.size();
      else
        ++joints;
      if (words_[k].kind == Word::Kind::letters && is_one_of(words_[k].folded, kUnits)) return reading;
      if (is_sign(k, ".")) return reading;  // a date, or a sentence
    }
    constexpr std::size_t kMostLetters = 3, kMostDigits = 8;
    constexpr int kFirstYear = 1700, kLastYear = 2099;
    const bool year = digits == 4 && joints == 0 && std::atoi(words_[i].folded.c_str()) >= kFirstYear &&
                      std::atoi(words_[i].folded.c_str()) <= kLastYear;
    const bool alone = digits >= 3 && letters == 0 && joints == 0 && end - i == 1 && digits <= 6 && !year;
    const bool mixed = digits >= 2 && letters >= 1 && letters <= kMostLetters && digits <= kMostDigits;
    const bool paired = digits >= 3 && letters == 0 && joints == 1;
    if (!alone && !mixed && !paired) return reading;
    // A number with its unit one space on is a measure.
    if (end < words_.size() && (is_one_of(words_[end].folded, kUnits) || is_sign(end, "°") || is_sign(end, "'")))
      return reading;
    finish(i, i, end, reading);
    reading.confidence = mixed ? 0.6 : paired ? 0.5 : 0.4;
    reading.reasons.push_back("Known as a number of a specimen by its form alone.");
    return reading;
  }

  std::string_view text_;
  std::vector<Word> words_;
};

}  // namespace

NumberReading read_number(std::string_view text) { return Scanner(text).read(); }

}  // namespace papillote::interpretation
