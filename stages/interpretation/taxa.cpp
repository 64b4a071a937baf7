#include "stages/interpretation/taxa.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <span>

#include "stages/interpretation/words.h"

namespace papillote::interpretation {
namespace {

bool is_one_of(std::string_view word, std::span<const std::string_view> words) {
  return std::ranges::find(words, word) != words.end();
}

template <class Reading>
void set_span(std::string_view text, std::size_t begin, std::size_t end, Reading& reading) {
  reading.begin = begin;
  reading.end = end;
  reading.verbatim = std::string(text.substr(begin, end - begin));
}

constexpr std::array kGenusEndings = std::to_array<std::string_view>(
    {"us", "a", "is", "es", "as", "e", "um", "on", "ops", "yx", "ax", "ix", "o", "er", "ys", "os", "ex", "ion", "or"});
constexpr std::array kEpithetEndings =
    std::to_array<std::string_view>({"us", "a",   "um",  "is", "e",  "es", "i",   "ae", "ii", "ensis", "oides", "or",
                                     "ix", "ans", "ens", "er", "as", "on", "ops", "o",  "ax", "os",    "ion"});
// Lower-case words of places, habitats and methods that end like epithets.
constexpr std::array kNoEpithet = std::to_array<std::string_view>(
    {"near",  "above",  "river",  "the",     "lake",  "from",  "road",   "village", "house", "forest", "one",
     "some",  "more",   "were",   "are",     "are",   "here",  "there",  "side",    "base",  "della",  "delle",
     "des",   "las",    "los",    "les",     "das",   "dos",   "una",    "une",     "eine",  "oder",   "unter",
     "vor",   "der",    "aus",    "bis",     "als",   "para",  "sobre",  "este",    "norte", "nova",   "type",
     "male",  "female", "males",  "females", "ex",    "alte",  "grande", "terra",   "villa", "valle",  "monte",
     "playa", "lago",   "rio",    "mares",   "entre", "pre",   "water",  "under",   "over",  "shore",  "ridge",
     "slope", "creek",  "garden", "gardens", "house", "inter", "trap",   "mine",    "mines", "place",  "islands",
     "hills", "falls",  "pass",   "miles",   "times", "same",  "ditto",  "bottle",  "tree",  "trees",  "leaves"});
constexpr std::array kRanks =
    std::to_array<std::string_view>({"ssp", "subsp", "var", "ab", "aberr", "forma", "race", "morpha"});

class TaxonScanner {
 public:
  explicit TaxonScanner(std::string_view text) : text_(text), words_(cut_words(text)) {}

  TaxonReading read() const {
    TaxonReading best;
    for (std::size_t i = 0; i + 1 < words_.size(); ++i) {
      auto reading = at(i);
      if (reading.confidence > best.confidence) best = std::move(reading);
    }
    if (!best.name) best.reasons.push_back("No scientific name was found.");
    return best;
  }

 private:
  std::string_view raw(std::size_t i) const { return text_.substr(words_[i].begin, words_[i].end - words_[i].begin); }
  bool is_sign(std::size_t i, std::string_view sign) const {
    return i < words_.size() && words_[i].kind == Word::Kind::sign && words_[i].folded == sign;
  }
  bool beside(std::size_t left, std::size_t right) const {
    return right < words_.size() && words_[right].begin - words_[left].end <= 2 &&
           text_.substr(words_[left].end, words_[right].begin - words_[left].end).find('\n') == std::string_view::npos;
  }
  bool ends_like(std::size_t i, std::span<const std::string_view> endings) const {
    return std::ranges::any_of(endings, [&](std::string_view ending) { return words_[i].folded.ends_with(ending); });
  }
  // A capital and small letters, all ASCII but for a diaeresis.
  bool capitalised(std::size_t i) const {
    if (i >= words_.size() || words_[i].kind != Word::Kind::letters) return false;
    const auto text = raw(i);
    return text.front() >= 'A' && text.front() <= 'Z' &&
           std::all_of(text.begin() + 1, text.end(), [](char c) { return c < 'A' || c > 'Z'; });
  }
  bool lower_case(std::size_t i) const {
    if (i >= words_.size() || words_[i].kind != Word::Kind::letters) return false;
    const auto text = raw(i);
    return std::all_of(text.begin(), text.end(), [](char c) { return c >= 'a' && c <= 'z'; });
  }
  bool epithet(std::size_t i) const {
    constexpr std::size_t kShortest = 4, kLongest = 30;
    return lower_case(i) && words_[i].folded.size() >= kShortest && words_[i].folded.size() <= kLongest &&
           ends_like(i, kEpithetEndings) && !is_one_of(words_[i].folded, kNoEpithet);
  }

  TaxonReading at(std::size_t i) const {
    TaxonReading reading;
    if (!capitalised(i)) return reading;
    const bool initial = words_[i].end - words_[i].begin == 1 && is_sign(i + 1, ".");
    constexpr std::size_t kShortestGenus = 3;
    if (!initial && (words_[i].folded.size() < kShortestGenus || !ends_like(i, kGenusEndings))) return reading;
    std::size_t at = i + 1;
    if (initial) ++at;
    if (is_sign(at, "?")) {
      reading.qualifier = "?";
      ++at;
    }
    if (at >= words_.size() || !beside(at - 1, at)) return reading;
    static constexpr std::array kOpen = std::to_array<std::string_view>({"cf", "aff", "nr", "near", "prox", "conf"});
    if (lower_case(at) && is_one_of(words_[at].folded, kOpen)) {
      reading.qualifier = words_[at].folded == "near" ? "near" : words_[at].folded + ".";
      ++at;
      if (is_sign(at, ".")) ++at;
      if (at >= words_.size()) return reading;
    }
    const std::string genus = initial ? std::string(raw(i)) + "." : std::string(raw(i));
    if (lower_case(at) && (words_[at].folded == "sp" || words_[at].folded == "spec" || words_[at].folded == "spp") &&
        !initial) {
      reading.genus = genus;
      reading.qualifier = "sp.";
      reading.name = genus + " sp.";
      reading.confidence = 0.85;
      set_span(text_, words_[i].begin, is_sign(at + 1, ".") ? words_[at + 1].end : words_[at].end, reading);
      return reading;
    }
    if (!epithet(at)) return reading;
    reading.genus = genus;
    reading.epithet = words_[at].folded;
    std::size_t last = at++;
    double confidence = initial ? 0.35 : 0.5;
    const bool qualified = !reading.qualifier.empty();
    if (is_sign(at, "?")) {
      reading.qualifier = "?";
      last = at++;
    }
    if (at < words_.size() && lower_case(at) && is_one_of(words_[at].folded, kRanks)) {
      std::size_t next = at + 1;
      if (is_sign(next, ".")) ++next;
      if (next < words_.size() && lower_case(next)) {
        reading.infraspecific_epithet = words_[next].folded;
        last = next;
        at = next + 1;
        confidence += 0.3;
      }
    } else if (epithet(at) && beside(last, at)) {
      reading.infraspecific_epithet = words_[at].folded;
      last = at++;
      confidence += 0.15;
    }
    if (author(last, at, reading)) confidence += 0.25;
    if (qualified) confidence += 0.25;
    if (i == 0) confidence += 0.05;
    reading.confidence = std::min(confidence, 0.9);
    const std::string open = reading.qualifier.empty() ? "" : reading.qualifier + " ";
    reading.name = reading.qualifier == "?" ? fmt::format("{} {}?", genus, reading.epithet)
                                            : fmt::format("{} {}{}", genus, open, reading.epithet);
    if (!reading.infraspecific_epithet.empty()) *reading.name += " " + reading.infraspecific_epithet;
    reading.reasons.push_back("Known as a scientific name by its form alone.");
    set_span(text_, words_[i].begin, words_[last].end, reading);
    return reading;
  }

  // "L.", "Linnaeus", "(Fabricius, 1775)", "Felder & Felder"
  bool author(std::size_t& last, std::size_t at, TaxonReading& reading) const {
    const bool bracket = is_sign(at, "(");
    if (bracket) ++at;
    if (!capitalised(at) || !beside(bracket ? at - 1 : last, at)) return false;
    const std::size_t first = at;
    std::size_t end = at;
    while (capitalised(at) || (is_sign(at, "&") && capitalised(at + 1)) || (is_sign(at, ".") && at > first)) {
      end = at++;
      if (at >= words_.size() || !beside(end, at)) break;
      if (words_[end].kind == Word::Kind::letters && words_[end].folded.size() > 2 && !is_sign(at, ".") && !is_sign(at, "&"))
        break;
      if (is_sign(end, ".") && !(is_sign(at, "&"))) break;
    }
    // A whole word may be a place as well; the bracket or the full stop tells.
    const bool telling = bracket || is_sign(end, ".");
    if (!telling) return false;
    reading.author = std::string(text_.substr(words_[first].begin, words_[end].end - words_[first].begin));
    last = end;
    if (bracket) {
      for (std::size_t i = end + 1; i < std::min(end + 4, words_.size()); ++i) {
        if (is_sign(i, ")")) last = i;
      }
    }
    return true;
  }

  std::string_view text_;
  std::vector<Word> words_;
};

constexpr std::array kMale =
    std::to_array<std::string_view>({"♂", "male", "males", "mannchen", "mannl", "macho", "machos", "maschio", "maschi", "mas"});
constexpr std::array kFemale =
    std::to_array<std::string_view>({"♀", "female", "females", "weibchen", "weibl", "femelle", "femelles", "hembra", "hembras",
                                     "femina", "femmina", "femea", "fem"});
constexpr std::array kWorker = std::to_array<std::string_view>({"☿", "worker", "workers"});

}  // namespace

TaxonReading read_taxon(std::string_view text) { return TaxonScanner(text).read(); }

SexReading read_sex(std::string_view text) {
  SexReading reading;
  const auto words = cut_words(text);
  std::size_t begin = std::string_view::npos, end = 0;
  bool sign_seen = false, guessed = false;
  for (std::size_t i = 0; i < words.size(); ++i) {
    const std::string& word = words[i].folded;
    const bool french_male = word == "male" || word == "males";
    int* sex = is_one_of(word, kMale) || french_male ? &reading.males
               : is_one_of(word, kFemale)            ? &reading.females
               : is_one_of(word, kWorker)            ? &reading.workers
                                                     : nullptr;
    if (!sex) continue;
    // A few letters need a full stop to be an abbreviation: "mas", "fem".
    const bool short_word = word == "mas" || word == "fem";
    if (short_word && !(i + 1 < words.size() && words[i + 1].folded == ".")) continue;
    const bool sign = words[i].kind == Word::Kind::sign;
    sign_seen |= sign;
    int count = 1;
    std::size_t from = words[i].begin;
    if (i > 0 && words[i - 1].kind == Word::Kind::digits && words[i].begin - words[i - 1].end <= 1 &&
        words[i - 1].folded.size() <= 3) {
      // "1909 ♂" is no count.
      count = std::max(1, std::atoi(words[i - 1].folded.c_str()));
      const bool tied = i > 1 && words[i - 2].end == words[i - 1].begin;
      if (tied)
        count = 1;
      else
        from = words[i - 1].begin;
    } else if (!sign && word.ends_with('s') && !short_word) {
      count = 2;
      guessed = true;
    }
    std::size_t last = i;
    while (sign && last + 1 < words.size() && words[last + 1].folded == word) {
      ++last;
      if (count < 2) {
        count = 2;
        guessed = true;
      }
    }
    *sex += count;
    begin = std::min(begin, from);
    end = words[last].end;
    i = last;
  }
  if (end == 0) {
    reading.reasons.push_back("No sex was found.");
    return reading;
  }
  set_span(text, begin, end, reading);
  const bool alone = (reading.males > 0) + (reading.females > 0) + (reading.workers > 0) == 1;
  std::string sexes;
  const auto add = [&](int count, std::string_view one) {
    if (count == 0) return;
    if (!sexes.empty()) sexes += ", ";
    sexes += count == 1 && alone ? std::string(one) : fmt::format("{} {}{}", count, one, count == 1 ? "" : "s");
  };
  add(reading.males, "male");
  add(reading.females, "female");
  add(reading.workers, "worker");
  reading.sexes = sexes;
  reading.confidence = sign_seen ? 0.95 : 0.9;
  if (guessed) {
    reading.confidence = 0.8;
    reading.reasons.push_back("A doubled sign or a plural without a number is counted as two; there may be more.");
  }
  return reading;
}

TypeReading read_type_status(std::string_view text) {
  // Status words of the literature; the name-bearing ones and their series come first in priority.
  static constexpr std::array kStems =
      std::to_array<std::string_view>({"paralectotyp", "holotyp", "lectotyp", "neotyp", "syntyp", "cotyp", "allotyp", "paratyp",
                                       "topotyp", "metatyp", "homotyp", "plesiotyp", "hypotyp", "paratypoid", "typoid"});
  static constexpr std::array kEndings =
      std::to_array<std::string_view>({"e", "us", "en", "i", "es", "o", "os", "is", "", "ns", "us"});
  TypeReading reading;
  const auto words = cut_words(text);
  for (std::size_t i = 0; i < words.size(); ++i) {
    std::string word = words[i].folded;
    std::size_t begin = words[i].begin, last = i;
    // "Co-Type", "Para-Typus"
    if (i + 2 < words.size() && words[i + 1].folded == "-" && words[i + 2].folded.starts_with("typ") &&
        words[i].kind == Word::Kind::letters) {
      word += words[i + 2].folded;
      last = i + 2;
    }
    for (const auto stem : kStems) {
      if (!word.starts_with(stem) || !is_one_of(std::string_view(word).substr(stem.size()), kEndings)) continue;
      reading.status = stem.ends_with("oid") ? std::string(stem) : std::string(stem) + "e";
      reading.confidence = 0.97;
      set_span(text, begin, words[last].end, reading);
      reading.reasons.push_back("A type bears or supports a scientific name.");
      return reading;
    }
    const bool plain = word == "type" || word == "typus" || word == "typen" || word == "types";
    if (!plain || reading.status) continue;
    // "type locality" is a place, "blood type" no type.
    const bool locality = i + 1 < words.size() && (words[i + 1].folded.starts_with("loc") || words[i + 1].folded == "of");
    const char first = text[words[i].begin];
    if (locality || (first >= 'a' && first <= 'z' && words.size() > 3)) continue;
    reading.status = "type";
    reading.confidence = 0.8;
    set_span(text, words[i].begin, words[i].end, reading);
  }
  if (!reading.status) reading.reasons.push_back("No type status was found.");
  return reading;
}

}  // namespace papillote::interpretation
