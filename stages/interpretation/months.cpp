#include "stages/interpretation/months.h"

#include <unicode/dtfmtsym.h>
#include <unicode/locid.h>

#include <algorithm>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "stages/interpretation/words.h"

namespace papillote::interpretation {
namespace {

// Languages of old collections first: where a word means another month in a later language, these win.
constexpr const char* kFirstLanguages[] = {"en", "fr", "de", "de_AT", "es", "pt", "it", "nl", "sv", "da", "nb"};
constexpr const char* kFurtherLanguages[] = {"ru", "pl", "cs", "sk", "hu", "fi", "ro", "ca", "uk", "be", "bg", "hr", "sr",
                                             "sl", "et", "lv", "lt", "is", "tr", "el", "nn", "bn", "af", "eu", "gl", "id"};

// Latin as in the literature; nominative and genitive (common practice).
constexpr std::pair<std::string_view, int> kLatin[] = {
    {"ianuarius", 1},  {"ianuarii", 1}, {"januarius", 1}, {"januarii", 1},  {"februarius", 2}, {"februarii", 2},
    {"martius", 3},    {"martii", 3},   {"aprilis", 4},   {"maius", 5},     {"maii", 5},       {"majus", 5},
    {"maji", 5},       {"iunius", 6},   {"iunii", 6},     {"junius", 6},    {"junii", 6},      {"iulius", 7},
    {"iulii", 7},      {"julius", 7},   {"julii", 7},     {"augustus", 8},  {"augusti", 8},    {"september", 9},
    {"septembris", 9}, {"october", 10}, {"octobris", 10}, {"november", 11}, {"novembris", 11}, {"december", 12},
    {"decembris", 12},
};

// Short forms of older hands that are no beginning of a name (common practice; "7bre" to "xbre" count from March).
constexpr std::pair<std::string_view, int> kOldForms[] = {
    {"jany", 1},    {"jan", 1},     {"janr", 1},   {"jann", 1},    {"feby", 2},     {"febry", 2},   {"febr", 2},
    {"mch", 3},     {"mrch", 3},    {"mrz", 3},    {"mz", 3},      {"mzo", 3},      {"maerz", 3},   {"marz", 3},
    {"aprl", 4},    {"apl", 4},     {"jne", 6},    {"jly", 7},     {"augt", 8},     {"agt", 8},     {"ag", 8},
    {"agto", 8},    {"sepr", 9},    {"septr", 9},  {"septbr", 9},  {"septbre", 9},  {"septb", 9},   {"sepbre", 9},
    {"setbre", 9},  {"octr", 10},   {"octbr", 10}, {"octbre", 10}, {"octb", 10},    {"oktbr", 10},  {"oktb", 10},
    {"ottbre", 10}, {"otbre", 10},  {"octre", 10}, {"novr", 11},   {"novbr", 11},   {"novbre", 11}, {"novb", 11},
    {"nobre", 11},  {"nbre", 11},   {"decr", 12},  {"decbr", 12},  {"decbre", 12},  {"decb", 12},   {"dezbr", 12},
    {"dezb", 12},   {"dicbre", 12}, {"debre", 12}, {"viibre", 9},  {"viiibre", 10}, {"ixbre", 11},  {"xbre", 12},
    {"viibris", 9}, {"ixbris", 11}, {"xbris", 12}, {"xber", 12},   {"xbr", 12},     {"ixbr", 11},   {"viibr", 9},
    {"viiber", 9},
};

constexpr std::pair<std::string_view, int> kSeasons[] = {
    {"spring", 21},   {"summer", 22},     {"autumn", 23},    {"fall", 23},     {"winter", 24},   {"printemps", 21},
    {"ete", 22},      {"automne", 23},    {"hiver", 24},     {"fruhling", 21}, {"fruhjahr", 21}, {"sommer", 22},
    {"herbst", 23},   {"spatherbst", 23}, {"primavera", 21}, {"verano", 22},   {"otono", 23},    {"invierno", 24},
    {"verao", 22},    {"outono", 23},     {"inverno", 24},   {"estate", 22},   {"autunno", 23},  {"voorjaar", 21},
    {"lente", 21},    {"zomer", 22},      {"najaar", 23},    {"herfst", 23},   {"varen", 21},    {"sommar", 22},
    {"sommaren", 22}, {"hosten", 23},     {"host", 23},      {"vinter", 24},   {"forar", 21},    {"efterar", 23},
    {"var", 21},      {"vere", 21},       {"aestate", 22},   {"hieme", 24},    {"vernal", 21},
};

struct Names {
  std::vector<std::pair<std::string, int>> sorted;  // every name and abbreviation, for beginnings
  std::map<std::string, int, std::less<>> known;    // exact words
  std::map<std::string, int, std::less<>> whole;
};

void add_language(const char* language, Names& names, std::map<std::string, int, std::less<>>* refused) {
  UErrorCode error = U_ZERO_ERROR;
  const icu::DateFormatSymbols symbols(icu::Locale(language), error);
  if (U_FAILURE(error)) return;
  using Symbols = icu::DateFormatSymbols;
  for (const auto context : {Symbols::FORMAT, Symbols::STANDALONE}) {
    for (const auto width : {Symbols::WIDE, Symbols::ABBREVIATED}) {
      int32_t count = 0;
      const icu::UnicodeString* months = symbols.getMonths(count, context, width);
      for (int32_t i = 0; i < std::min<int32_t>(count, 12); ++i) {
        std::string name;
        months[i].toUTF8String(name);
        // "de març", "abr.": the last word of letters is the name.
        std::string folded;
        for (const auto& word : cut_words(name)) {
          if (word.kind == Word::Kind::letters) folded = word.folded;
        }
        const bool latin = !folded.empty() && folded.front() >= 'a' && folded.front() <= 'z';
        // Outside the first languages short Latin forms would catch ordinary words.
        if (folded.empty() || (refused && latin && folded.size() < 4)) continue;
        const int month = i + 1;
        if (const auto other = names.known.find(folded); other != names.known.end() && other->second != month) {
          if (refused) (*refused)[folded] = month;
          continue;
        }
        names.known[folded] = month;
        if (width == Symbols::WIDE) names.whole[folded] = month;
      }
    }
  }
}

Names build() {
  Names first;
  for (const char* language : kFirstLanguages) add_language(language, first, nullptr);
  for (const auto& [name, month] : kLatin) {
    first.known.emplace(name, month);
    first.whole.emplace(name, month);
  }
  for (const auto& [name, month] : kOldForms) first.known.emplace(name, month);
  const auto own = first.known;
  Names all = first;
  std::map<std::string, int, std::less<>> refused;
  for (const char* language : kFurtherLanguages) add_language(language, all, &refused);
  for (const auto& [name, month] : refused) {
    if (!own.contains(name)) {
      all.known.erase(name);
      all.whole.erase(name);
    }
  }
  for (const auto& entry : first.known) {
    const bool old_form = std::ranges::any_of(kOldForms, [&](const auto& form) { return form.first == entry.first; });
    if (!old_form) all.sorted.push_back(entry);
  }
  for (const auto& entry : all.known) {
    const bool latin = entry.first.front() >= 'a' && entry.first.front() <= 'z';
    if (!latin) all.sorted.push_back(entry);
  }
  std::ranges::sort(all.sorted);
  return all;
}

const Names& names() {
  static const Names kNames = build();
  return kNames;
}

// One letter of difference: the rest agrees from both ends.
bool one_away(std::string_view a, std::string_view b) {
  if (a.size() > b.size()) std::swap(a, b);
  if (b.size() - a.size() > 1) return false;
  std::size_t front = 0;
  while (front < a.size() && a[front] == b[front]) ++front;
  return a.substr(a.size() == b.size() ? std::min(front + 1, a.size()) : front) == b.substr(std::min(front + 1, b.size()));
}

}  // namespace

std::optional<int> month_named(std::string_view folded) {
  constexpr std::size_t kLongestName = 40, kShortestBeginning = 3;
  if (folded.size() < 2 || folded.size() > kLongestName) return std::nullopt;
  const Names& table = names();
  if (const auto exact = table.known.find(folded); exact != table.known.end()) return exact->second;
  if (folded.size() < kShortestBeginning) return std::nullopt;
  auto name =
      std::ranges::lower_bound(table.sorted, folded, {}, [](const auto& entry) { return std::string_view(entry.first); });
  std::optional<int> month;
  for (; name != table.sorted.end() && name->first.starts_with(folded); ++name) {
    if (month && *month != name->second) return std::nullopt;
    month = name->second;
  }
  return month;
}

bool is_whole_month_name(std::string_view folded) { return names().whole.contains(folded); }

std::optional<int> month_like(std::string_view folded) {
  std::optional<int> month;
  constexpr std::size_t kShortForm = 4;
  if (folded.size() <= kShortForm) {
    // Abbreviations are too short for any letter to change; only the readers' own confusions are tried.
    constexpr std::pair<char, char> kAlike[] = {{'n', 'u'}, {'u', 'n'}, {'c', 'e'}, {'e', 'c'}, {'i', 'l'},
                                                {'l', 'i'}, {'h', 'b'}, {'b', 'h'}, {'q', 'g'}};
    std::string word(folded);
    for (char& letter : word) {
      const char as_read = letter;
      for (const auto& [from, to] : kAlike) {
        if (as_read != from) continue;
        letter = to;
        const auto known = names().known.find(word);
        if (known != names().known.end()) {
          if (month && *month != known->second) return std::nullopt;
          month = known->second;
        }
      }
      letter = as_read;
    }
    if (month || folded.size() < kShortForm) return month;
  }
  for (const auto& [name, its_month] : names().whole) {
    const bool latin = name.front() >= 'a' && name.front() <= 'z';
    if (!latin || !one_away(folded, name)) continue;
    if (month && *month != its_month) return std::nullopt;
    month = its_month;
  }
  return month;
}

std::optional<int> season_named(std::string_view folded) {
  for (const auto& [name, season] : kSeasons) {
    if (name == folded) return season;
  }
  return std::nullopt;
}

std::optional<int> season_like(std::string_view folded) {
  constexpr std::size_t kShortest = 5;
  if (folded.size() < kShortest) return std::nullopt;
  std::optional<int> season;
  for (const auto& [name, number] : kSeasons) {
    if (name.size() < kShortest || !one_away(folded, name)) continue;
    if (season && *season != number) return std::nullopt;
    season = number;
  }
  return season;
}

std::optional<int> roman_numeral(std::string_view folded) {
  constexpr std::string_view kRoman[] = {"i",  "ii",  "iii",  "iv",  "v",  "vi",  "vii",  "viii",  "ix",  "x",
                                         "xi", "xii", "xiii", "xiv", "xv", "xvi", "xvii", "xviii", "xix", "xx"};
  for (std::size_t i = 0; i < std::size(kRoman); ++i) {
    if (kRoman[i] == folded) return static_cast<int>(i) + 1;
  }
  // Additive forms of old hands.
  if (folded == "iiii") return 4;
  if (folded == "viiii") return 9;
  return std::nullopt;
}

}  // namespace papillote::interpretation
