#include "stages/interpretation/date_atoms.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>

#include "stages/interpretation/months.h"
#include "stages/interpretation/words.h"

namespace papillote::interpretation {
namespace {

const std::map<std::string_view, Sense>& senses() {
  static const std::map<std::string_view, Sense> kSenses = [] {
    std::map<std::string_view, Sense> all;
    const auto add = [&](Sense sense, std::initializer_list<std::string_view> words) {
      for (const auto word : words) all.emplace(word, sense);
    };
    add(Sense::filler, {"de",       "del",   "di",     "d",    "den", "der",   "of",   "the",   "dem",  "do",   "da",
                        "du",       "le",    "el",     "il",   "st",  "nd",    "rd",   "th",    "er",   "te",   "am",
                        "im",       "in",    "on",     "anno", "ano", "annee", "jahr", "jahre", "year", "date", "datum",
                        "sometime", "years", "during", "time", "го",  "年",    "月",   "日",    "г",    "года"});
    add(Sense::to,
        {"to", "bis", "au", "al", "a", "tot", "til", "till", "through", "thru", "ad", "ate", "hasta", "usque", "fino"});
    add(Sense::both, {"and", "und", "et", "y", "e", "u", "og", "och"});
    add(Sense::either, {"or", "oder", "ou", "oppure"});
    add(Sense::circa,
        {"circa", "ca",  "c",       "approx", "approximately", "about",   "around",    "ungefahr", "etwa",  "gegen",
         "vers",  "env", "environ", "hacia",  "cerca",         "omkring", "omstreeks", "um",       "verso", "approximate"});
    add(Sense::uncertain, {"uncertain", "maybe", "perhaps", "possibly", "probably", "guess", "vermutlich", "wohl",
                           "wahrscheinlich", "peut", "probablement", "quizas", "forse"});
    add(Sense::before, {"before", "pre", "prior", "vor", "avant", "antes", "ante", "prima", "voor", "fore"});
    add(Sense::after, {"after", "post", "nach", "apres", "despues", "depois", "dopo", "efter", "etter"});
    add(Sense::until, {"until", "by"});
    add(Sense::since, {"since", "seit", "depuis", "desde", "sedan", "siden"});
    add(Sense::between, {"between", "zwischen", "entre", "tra", "fra", "tussen", "mellan", "mellem"});
    add(Sense::from, {"from", "vom", "von", "du", "from"});
    add(Sense::part_of,
        {"early",    "mid",   "late",   "beginning", "end",    "anfang", "mitte", "ende",  "debut",  "fin",  "principios",
         "mediados", "fines", "inicio", "meados",    "inizio", "meta",   "fine",  "begin", "midden", "eind", "medio"});
    add(Sense::decade_start, {"annees", "jaren", "anos", "anni"});
    add(Sense::century, {"century", "centuries", "cent", "jahrhundert", "jh", "siecle", "siglo", "secolo", "seculo", "eeuw"});
    add(Sense::unit, {"m",      "km",    "mi",   "mile",  "miles",   "mls", "ft",    "feet", "foot", "fuss", "metres", "meters",
                      "metre",  "meter", "mt",   "mts",   "mtrs",    "mm",  "cm",    "yd",   "yds",  "kms",  "msnm",   "masl",
                      "metros", "metri", "pies", "pieds", "leagues", "ha",  "acres", "kg",   "gr",   "hrs",  "pm",     "°"});
    add(Sense::number_sign,
        {"no", "nr", "nro", "num", "numb", "number", "cat", "fig", "vol", "prep", "slide", "box", "tray", "sheet", "lot"});
    add(Sense::other_event,
        {"det",       "determ",  "determined", "determinavit", "ident",     "identified", "bestimmt", "best",
         "rev",       "revid",   "revised",    "acc",          "accession", "accessed",   "acquired", "pres",
         "presented", "printed", "published",  "publ",         "purchased", "purch",      "recd",     "received",
         "cast",      "mus",     "cataloged",  "catalogued",   "print"});
    add(Sense::collecting, {"leg", "legit", "lgt", "coll", "collected", "col", "gesammelt", "capt", "captured", "fang", "gef"});
    add(Sense::earlier, {"earlier", "fruher"});
    add(Sense::later, {"later", "spater"});
    return all;
  }();
  return kSenses;
}

Sense sense_of(std::string_view folded) {
  const auto found = senses().find(folded);
  return found == senses().end() ? Sense::none : found->second;
}

// A repaired number: letters that a reader takes for digits. Nothing when nothing or too much would be repaired.
std::optional<std::string> repaired_number(std::string_view raw) {
  std::string digits;
  int letters = 0;
  for (std::size_t i = 0; i < raw.size(); ++i) {
    const char c = raw[i];
    if (c >= '0' && c <= '9') {
      digits += c;
      continue;
    }
    ++letters;
    if (c == 'O' || c == 'o')
      digits += '0';
    else if (c == 'l' || (c == 'I' && (i == 0 || raw.size() == 4)))
      digits += '1';
    else if (c == 'S' && ((raw.size() == 4 && i >= 2) || (raw.size() == 2 && i == 1)))
      digits += '5';
    else if (c == 'B' && ((raw.size() == 4 && i >= 1) || (raw.size() == 2 && i == 1)))
      digits += '8';
    else
      return std::nullopt;
  }
  if (letters == 0 || static_cast<std::size_t>(letters) == raw.size()) return std::nullopt;
  const bool year = digits.size() == 4 && (digits.starts_with("17") || digits.starts_with("18") || digits.starts_with("19") ||
                                           digits.starts_with("20"));
  const bool day = digits.size() == 2 && digits <= "31";
  if (!year && !day) return std::nullopt;
  return digits;
}

// "Vll", "V1", "lX", "vij": a roman numeral with misread strokes.
int repaired_roman(std::string_view raw) {
  std::string numeral;
  bool sure = false, repaired = false;
  for (const char c : raw) {
    switch (c) {
      case 'v':
      case 'V':
      case 'x':
      case 'X':
        sure = true;
        [[fallthrough]];
      case 'i':
      case 'I':
        numeral += static_cast<char>(c | 0x20);
        break;
      case 'l':
      case 'L':
      case '1':
      case 'j':
      case 'J':
      case 'y':
        numeral += 'i';
        repaired = true;
        break;
      default:
        return 0;
    }
  }
  if (!repaired || raw.size() > 5) return 0;
  if (!sure && numeral.size() < 3) return 0;
  const auto value = roman_numeral(numeral);
  return value && *value <= 12 ? *value : 0;
}

class Atoms {
 public:
  Atoms(std::string_view text, std::vector<Atom>& atoms) : text_(text), atoms_(atoms) {
    const auto words = cut_words(text);
    for (std::size_t i = 0; i < words.size();) {
      if (words[i].kind == Word::Kind::sign) {
        ++i;
        continue;
      }
      std::size_t end = i + 1;  // a run of letters and digits without a gap
      while (end < words.size() && words[end].kind != Word::Kind::sign && words[end].begin == words[end - 1].end) ++end;
      add_run(words, i, end);
      i = end;
    }
    mend_months();
    join_supplied_centuries();
    mend_years();
    settle_numbers();
  }

 private:
  std::string_view raw(const Word& first, const Word& last) const { return text_.substr(first.begin, last.end - first.begin); }

  void add_run(const std::vector<Word>& words, std::size_t begin, std::size_t end) {
    const std::string_view run = raw(words[begin], words[end - 1]);
    Atom atom{.begin = words[begin].begin, .end = words[end - 1].end};
    constexpr std::size_t kLongestRepair = 5;
    if (run.size() <= kLongestRepair) {
      if (run == "ll" || run == "Il" || run == "lI" || run == "1I" || run == "I1" || run == "l1" || run == "1l") {
        atom.number = 11;
        atom.digits = 2;
        atom.noisy = atom.two_or_eleven = true;
        atoms_.push_back(atom);
        return;
      }
      if (run == "l") {  // "5.l.1905": arabic or roman one, the same month
        atom.roman = 1;
        atom.number = 1;
        atom.digits = 1;
        atom.noisy = true;
        atom.folded = "l";
        atoms_.push_back(atom);
        return;
      }
      if (const auto digits = end - begin > 1 ? repaired_number(run) : std::nullopt) {
        atom.number = std::stoi(*digits);
        atom.digits = static_cast<int>(digits->size());
        atom.noisy = true;
        atoms_.push_back(atom);
        return;
      }
      if (const int roman = repaired_roman(run); roman > 0 && !month_named(fold(run))) {
        atom.roman = roman;
        atom.noisy = true;
        atom.folded = fold(run);
        atoms_.push_back(atom);
        return;
      }
    }
    // "7bre" to "10bre": September to December, counted from March as the Romans did.
    if (end - begin >= 2 && words[begin].kind == Word::Kind::digits) {
      const auto& tail = words[begin + 1].folded;
      const auto& count = words[begin].folded;
      const bool old_month =
          tail == "bre" || tail == "ber" || tail == "br" || tail == "bris" || tail == "embre" || tail == "bres";
      if (old_month && (count == "7" || count == "8" || count == "9" || count == "10")) {
        atom.end = words[begin + 1].end;
        atom.month = std::stoi(count) + 2;
        atom.folded = count + tail;
        atoms_.push_back(atom);
        begin += 2;
      }
    }
    // "Oct0ber", "Ju1y": a digit among the letters of a month.
    constexpr std::size_t kLongestMonth = 12;
    if (end - begin == 3 && words[begin].kind == Word::Kind::letters && words[end - 1].kind == Word::Kind::letters &&
        run.size() <= kLongestMonth) {
      std::string letters = fold(run);
      std::ranges::replace(letters, '0', 'o');
      std::ranges::replace(letters, '1', 'l');
      if (is_whole_month_name(letters)) {
        atom.month = *month_named(letters);
        atom.folded = letters;
        atom.noisy = true;
        atoms_.push_back(std::move(atom));
        return;
      }
    }
    for (std::size_t i = begin; i < end; ++i) add_word(words[i]);
  }

  void add_word(const Word& word) {
    Atom atom{.begin = word.begin, .end = word.end};
    if (word.kind == Word::Kind::digits) {
      constexpr std::size_t kMostDigits = 8;
      atom.digits = static_cast<int>(std::min<std::size_t>(word.folded.size(), kMostDigits + 1));
      atom.number = word.folded.size() <= kMostDigits ? std::stoi(word.folded) : -1;
      atom.measured = word.folded.size() > kMostDigits;
      atoms_.push_back(std::move(atom));
      return;
    }
    constexpr std::size_t kLongestWord = 48;
    if (word.folded.size() <= kLongestWord) {
      atom.month = month_named(word.folded).value_or(0);
      atom.roman = roman_numeral(word.folded).value_or(0);
      atom.season = season_named(word.folded).value_or(0);
      atom.sense = sense_of(word.folded);
      atom.folded = word.folded;
    }
    atoms_.push_back(std::move(atom));
  }

  // "12 Angust 1909": a word one letter away from a month, where only a month can stand.
  void mend_months() {
    for (std::size_t i = 0; i + 1 < atoms_.size(); ++i) {
      Atom& atom = atoms_[i];
      constexpr std::size_t kShortest = 3, kShortestWithoutDay = 6, kLongest = 12;
      const auto is_day = [&](std::size_t at) {
        return atoms_[at].digits > 0 && atoms_[at].digits <= 2 && atoms_[at].number >= 1 && atoms_[at].number <= 31;
      };
      const auto is_year = [&](std::size_t at) {
        constexpr int kFirst = 1700, kLast = 2099;
        return at < atoms_.size() && atoms_[at].digits == 4 && atoms_[at].number >= kFirst && atoms_[at].number <= kLast;
      };
      // "20 en. 1927": Spanish for January, and a common word anywhere else.
      if (atom.folded == "en" && i > 0 && is_day(i - 1) && is_year(i + 1) && text_[atom.end] == '.') {
        atom.month = 1;
        atom.sense = Sense::none;
        continue;
      }
      if (atom.is_number() || atom.month > 0 || atom.roman > 0 || atom.sense != Sense::none || atom.folded.size() < kShortest ||
          atom.folded.size() > kLongest) {
        continue;
      }
      if (atom.season == 0 && is_year(i + 1) && text_.substr(atom.end, atoms_[i + 1].begin - atom.end) == " ") {
        if (const auto season = season_like(atom.folded)) {
          atom.season = *season;
          atom.noisy = true;
          continue;
        }
      }
      const bool day = (i > 0 && is_day(i - 1) && is_year(i + 1)) || (is_day(i + 1) && is_year(i + 2)) ||
                       (i > 0 && is_year(i - 1) && is_day(i + 1));
      if (!day && !(is_year(i + 1) && atom.folded.size() >= kShortestWithoutDay)) continue;
      const auto gap = gap_between(text_, atom.end, atoms_[i + 1].begin);
      if (!gap.usable || gap.comma) continue;
      if (const auto month = month_like(atom.folded)) {
        atom.month = *month;
        atom.noisy = true;
      }
    }
  }

  // "10.9.[19]12": a century that somebody has supplied.
  void join_supplied_centuries() {
    for (std::size_t i = 0; i + 1 < atoms_.size(); ++i) {
      Atom& left = atoms_[i];
      const Atom& right = atoms_[i + 1];
      const bool supplied = left.begin > 0 && text_[left.begin - 1] == '[' && right.begin - left.end == 1 && text_[left.end] == ']';
      constexpr int kFirst = 17, kLast = 20;
      if (!supplied || left.digits != 2 || right.digits != 2 || left.number < kFirst || left.number > kLast) continue;
      left.end = right.end;
      left.number = left.number * 100 + right.number;
      left.digits = 4;
      atoms_.erase(atoms_.begin() + static_cast<std::ptrdiff_t>(i) + 1);
    }
  }

  // "1 935 Aug", "12 July 190 9": one year that a gap has split, beside its month.
  void mend_years() {
    for (std::size_t i = 0; i + 1 < atoms_.size(); ++i) {
      Atom& left = atoms_[i];
      const Atom& right = atoms_[i + 1];
      const bool split = (left.digits == 1 && right.digits == 3) || (left.digits == 3 && right.digits == 1);
      if (!split || right.begin - left.end != 1 || text_[left.end] != ' ') continue;
      constexpr int kFirst = 1700, kLast = 2029;
      const int year = left.number * (right.digits == 3 ? 1000 : 10) + right.number;
      const auto is_month = [&](std::size_t at) {
        return at < atoms_.size() && (atoms_[at].month > 0 || atoms_[at].roman > 0);
      };
      // "191 5 Mar" may be the fifth of March.
      const bool beside = (i > 0 && is_month(i - 1)) || (left.digits == 1 && is_month(i + 2));
      if (year < kFirst || year > kLast || !beside) continue;
      left.end = right.end;
      left.number = year;
      left.digits = 4;
      left.noisy = true;
      atoms_.erase(atoms_.begin() + static_cast<std::ptrdiff_t>(i) + 1);
    }
  }

  // Numbers that measure, count or name something are no part of a date; years may lack their last digits.
  void settle_numbers() {
    for (std::size_t i = 0; i < atoms_.size(); ++i) {
      Atom& atom = atoms_[i];
      if (!atom.is_number()) continue;
      const std::string_view after = text_.substr(atom.end, kLongestGap);
      const bool has_next = i + 1 < atoms_.size();
      const std::size_t to_next = has_next ? atoms_[i + 1].begin - atom.end : std::string_view::npos;
      if (after.starts_with("°") || after.starts_with("″") || after.starts_with('"') || after.starts_with('%') ||
          after.starts_with("′") || (after.starts_with('\'') && !after.starts_with("'s")) || after.starts_with("’N") ||
          after.starts_with("’W") || after.starts_with("’E") || after.starts_with("’S")) {
        // "1° maggio" is the first of May; "17° S" is a latitude.
        const bool ordinal = atom.number == 1 && has_next && atoms_[i + 1].month > 0 && atoms_[i + 1].folded.size() > 2;
        atom.measured |= !ordinal;
      }
      if (has_next && to_next <= 1 && atoms_[i + 1].sense == Sense::unit && (to_next == 0 || text_[atom.end] == ' ')) {
        const auto& unit = atoms_[i + 1].folded;
        const bool year_like =
            atom.digits == 4 && to_next == 1 && unit != "m" && unit != "ft" && unit != "feet" && unit != "km";
        if (!year_like) atom.measured = true;
      }
      // "8d 30m", "N 45", "B14", "V94-13": a letter glued before a number names it.
      if (i > 0 && atoms_[i - 1].end == atom.begin && !atoms_[i - 1].is_number()) {
        const Atom& before = atoms_[i - 1];
        const bool date_word = before.month > 0 || before.roman > 0 || before.season > 0 || before.sense == Sense::circa ||
                               before.sense == Sense::filler;
        if (!date_word) atom.measured = true;
      }
      const auto sign_at = atom.begin;
      if (sign_at > 0 && (text_[sign_at - 1] == '#' || text_.substr(0, sign_at).ends_with("№"))) atom.measured = true;
      if (i > 0 && atoms_[i - 1].sense == Sense::number_sign && atom.begin - atoms_[i - 1].end <= 2) {
        (atom.digits == 4 ? atom.numbered : atom.measured) = true;
      }
      atom.apostrophe = atom.begin > 0 && atom.digits == 2 && apostrophe_before(atom.begin);
      year_pattern(i);
    }
    // A number tied by a point to a measured one is its whole part: "9.5km".
    for (std::size_t i = atoms_.size(); i-- > 1;) {
      Atom& left = atoms_[i - 1];
      const Atom& right = atoms_[i];
      if (!right.measured || !left.is_number() || !right.is_number() || right.begin - left.end != 1) continue;
      const char between = text_[left.end];
      const bool decimals = (between == '.' || between == ',') && left.digits <= 2;
      if (decimals || between == '\'') left.measured = true;
    }
  }

  bool apostrophe_before(std::size_t at) const {
    const std::string_view before = text_.substr(0, at);
    const bool mark = before.ends_with('\'') || before.ends_with("’") || before.ends_with("‘") || before.ends_with('`');
    if (!mark) return false;
    const std::size_t width = before.ends_with('\'') || before.ends_with('`') ? 1 : 3;
    return at == width || !(before[at - width - 1] >= '0' && before[at - width - 1] <= '9');
  }

  // "19__", "189-", "192?", "1920s", "1920er", "18..": a year with unknown digits.
  void year_pattern(std::size_t i) {
    Atom& atom = atoms_[i];
    const bool has_next = i + 1 < atoms_.size();
    const auto ends_decade = [](std::string_view word) {
      return word == "s" || word == "er" || word == "ern" || word == "talet" || word == "tallet";
    };
    if (atom.digits == 4 && i > 0 && atoms_[i - 1].sense == Sense::decade_start && atom.number % 10 == 0) {
      atom.year_pattern = fmt::format("{:03}X", atom.number / 10);
      return;
    }
    if (atom.digits == 4 && has_next && ends_decade(atoms_[i + 1].folded)) {
      const std::string_view between = text_.substr(atom.end, atoms_[i + 1].begin - atom.end);
      if (between.empty() || between == "'" || between == "’" || between == "-") {
        if (atom.number % 100 == 0)
          atom.year_pattern = fmt::format("{:02}XX", atom.number / 100);
        else if (atom.number % 10 == 0)
          atom.year_pattern = fmt::format("{:03}X", atom.number / 10);
        if (!atom.year_pattern.empty()) atom.end = atoms_[i + 1].end;
      }
      return;
    }
    if (atom.measured || atom.digits < 2 || atom.digits > 3) return;
    std::size_t width = 0;
    int marks = 0;
    const std::string_view after = text_.substr(atom.end, kLongestGap);
    while (width < after.size()) {
      const auto rest = after.substr(width);
      if (rest.front() == '_' || rest.front() == '-' || rest.front() == '.' || rest.front() == '?')
        width += 1;
      else if (rest.starts_with("…") || rest.starts_with("—") || rest.starts_with("–"))
        width += 3, ++marks;
      else
        break;
      ++marks;
    }
    const bool followed = atom.end + width < text_.size() && text_[atom.end + width] != ' ' &&
                          text_[atom.end + width] != '\n' && text_[atom.end + width] != ')' && text_[atom.end + width] != ',';
    const bool century = atom.digits == 2 && atom.number >= 17 && atom.number <= 20;
    const bool decade = atom.digits == 3 && atom.number >= 170 && atom.number <= 202;
    if (followed || (century && marks < 2) || (decade && (marks < 1 || after.front() == '.'))) return;
    if (century) atom.year_pattern = fmt::format("{:02}XX", atom.number);
    if (decade) atom.year_pattern = fmt::format("{:03}X", atom.number);
    if (!atom.year_pattern.empty()) atom.end += width;
  }

  std::string_view text_;
  std::vector<Atom>& atoms_;
};

}  // namespace

Gap gap_between(std::string_view text, std::size_t begin, std::size_t end) {
  Gap gap;
  if (end - begin > kLongestGap) return {.usable = false};
  std::string_view rest = text.substr(begin, end - begin);
  const auto eat = [&](std::string_view prefix) {
    if (!rest.starts_with(prefix)) return false;
    rest.remove_prefix(prefix.size());
    return true;
  };
  while (!rest.empty()) {
    switch (rest.front()) {
      case ' ':
      case '\t':
      case '\n':
      case '\r':
        gap.space = true;
        break;
      case '.':
        gap.dot = true;
        break;
      case ',':
        gap.comma = true;
        break;
      case '-':
        gap.dash = true;
        break;
      case '/':
      case '\\':
        gap.slash = true;
        break;
      case '?':
        gap.query = true;
        break;
      case '_':
        gap.blank = true;
        break;
      case '\'':
      case '`':
        gap.apostrophe = true;
        break;
      case '&':
      case '+':
        gap.ampersand = true;
        break;
      case '~':
        gap.tilde = true;
        break;
      case ':':
      case '=':
        gap.colon = true;
        break;
      case '(':
      case ')':
      case '[':
      case ']':
        break;
      default:
        if (eat("–") || eat("—") || eat("‐") || eat("‑") || eat("−") || eat("―")) {
          gap.dash = true;
          continue;
        }
        if (eat("’") || eat("‘") || eat("′")) {
          gap.apostrophe = true;
          continue;
        }
        if (eat("\u00a0") || eat("\u2009") || eat("\u202f") || eat("\u2003")) {
          gap.space = true;
          continue;
        }
        if (eat("º") || eat("ª") || eat("°")) {
          gap.ring = true;
          continue;
        }
        if (eat("·") || eat("•")) {
          gap.dot = true;
          continue;
        }
        if (eat("±")) {
          gap.tilde = true;
          continue;
        }
        return {.usable = false};
    }
    rest.remove_prefix(1);
  }
  return gap;
}

std::vector<Atom> cut_atoms(std::string_view text) {
  std::vector<Atom> atoms;
  Atoms(text, atoms);
  return atoms;
}

}  // namespace papillote::interpretation
