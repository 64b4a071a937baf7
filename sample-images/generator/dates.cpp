#include "dates.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <vector>

namespace papillote::samples {
namespace {

using Names = std::array<const char*, 12>;

const Names& month_names(Language language) {
  static const Names english{"January", "February", "March",     "April",   "May",      "June",
                             "July",    "August",   "September", "October", "November", "December"};
  static const Names french{"janvier", "février", "mars",      "avril",   "mai",      "juin",
                            "juillet", "août",    "septembre", "octobre", "novembre", "décembre"};
  static const Names german{"Januar", "Februar", "März",      "April",   "Mai",      "Juni",
                            "Juli",   "August",  "September", "Oktober", "November", "Dezember"};
  static const Names spanish{"enero", "febrero", "marzo",      "abril",   "mayo",      "junio",
                             "julio", "agosto",  "septiembre", "octubre", "noviembre", "diciembre"};
  static const Names portuguese{"janeiro", "fevereiro", "março",    "abril",   "maio",     "junho",
                                "julho",   "agosto",    "setembro", "outubro", "novembro", "dezembro"};
  static const Names dutch{"januari", "februari", "maart",     "april",   "mei",      "juni",
                           "juli",    "augustus", "september", "oktober", "november", "december"};
  static const Names italian{"gennaio", "febbraio", "marzo",     "aprile",  "maggio",   "giugno",
                             "luglio",  "agosto",   "settembre", "ottobre", "novembre", "dicembre"};
  switch (language) {
    case Language::english: return english;
    case Language::french: return french;
    case Language::german: return german;
    case Language::spanish: return spanish;
    case Language::portuguese: return portuguese;
    case Language::dutch: return dutch;
    case Language::italian: return italian;
  }
  return english;
}

const Names& short_month_names(Language language) {
  static const Names english{"Jan.", "Feb.", "Mar.", "Apr.", "May", "June", "July", "Aug.", "Sept.", "Oct.", "Nov.", "Dec."};
  static const Names french{"janv.", "févr.", "mars", "avr.", "mai", "juin", "juil.", "août", "sept.", "oct.", "nov.", "déc."};
  static const Names german{"Jan.", "Febr.", "März", "Apr.", "Mai", "Juni", "Juli", "Aug.", "Sept.", "Okt.", "Nov.", "Dez."};
  static const Names spanish{"en.", "febr.", "mzo.", "abr.", "mayo", "jun.", "jul.", "ag.", "sept.", "oct.", "nov.", "dic."};
  static const Names portuguese{"jan.", "fev.", "mar.", "abr.", "maio", "jun.", "jul.", "ago.", "set.", "out.", "nov.", "dez."};
  static const Names dutch{"jan.", "febr.", "mrt.", "apr.", "mei", "juni", "juli", "aug.", "sept.", "okt.", "nov.", "dec."};
  static const Names italian{"genn.", "febbr.", "mar.", "apr.", "magg.", "giu.", "lugl.", "ag.", "sett.", "ott.", "nov.", "dic."};
  switch (language) {
    case Language::english: return english;
    case Language::french: return french;
    case Language::german: return german;
    case Language::spanish: return spanish;
    case Language::portuguese: return portuguese;
    case Language::dutch: return dutch;
    case Language::italian: return italian;
  }
  return english;
}

const char* roman(int month) {
  static const Names numerals{"i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x", "xi", "xii"};
  return numerals[static_cast<std::size_t>(month - 1)];
}

std::string upper(std::string text) {
  for (char& c : text)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 32);
  return text;
}

std::string day_edtf(CalendarDay d) { return fmt::format("{:04}-{:02}-{:02}", d.year, d.month, d.day); }
std::string month_edtf(CalendarDay d) { return fmt::format("{:04}-{:02}", d.year, d.month); }

WrittenDate settled(std::string verbatim, std::string edtf) { return {std::move(verbatim), edtf, edtf, edtf}; }

// A year of two digits leaves the century open.
WrittenDate century_open(std::string verbatim, const std::string& edtf) {
  return {std::move(verbatim), std::nullopt, "XX" + edtf.substr(2), edtf};
}

WrittenDate numeric(CalendarDay d, char separator, bool month_first, bool short_year) {
  const int first = month_first ? d.month : d.day;
  const int second = month_first ? d.day : d.month;
  const std::string year = short_year ? fmt::format("{:02}", d.year % 100) : std::to_string(d.year);
  const std::string text = fmt::format("{}{}{}{}{}", first, separator, second, separator, year);
  const std::string meant = day_edtf(d);
  const bool order_open = d.day <= 12 && d.day != d.month;
  if (!order_open) return short_year ? century_open(text, meant) : settled(text, meant);
  const std::string one = day_edtf({d.year, std::min(d.month, d.day), std::max(d.month, d.day)});
  const std::string other = day_edtf({d.year, std::max(d.month, d.day), std::min(d.month, d.day)});
  const std::string open =
      short_year ? fmt::format("[XX{},XX{}]", one.substr(2), other.substr(2)) : fmt::format("[{},{}]", one, other);
  return {text, std::nullopt, open, meant};
}

WrittenDate roman_day(CalendarDay d, Random& random) {
  const std::string month = random.chance(0.35) ? upper(roman(d.month)) : roman(d.month);
  const std::string separator = random.weighted<std::string>({{".", 7}, {"-", 2}, {" ", 1}, {". ", 1}, {"/", 1}});
  return settled(fmt::format("{}{}{}{}{}", d.day, separator, month, separator, d.year), day_edtf(d));
}

WrittenDate roman_short_year(CalendarDay d, Random& random) {
  const std::string month = random.chance(0.3) ? upper(roman(d.month)) : roman(d.month);
  return century_open(fmt::format("{}.{}.{}{:02}", d.day, month, random.chance(0.3) ? "'" : "", d.year % 100), day_edtf(d));
}

WrittenDate roman_month(CalendarDay d, Random& random) {
  const std::string month = random.chance(0.4) ? upper(roman(d.month)) : roman(d.month);
  return settled(fmt::format("{}.{}", month, d.year), month_edtf(d));
}

WrittenDate word_day(CalendarDay d, Language language, Random& random) {
  const char* month = month_names(language)[static_cast<std::size_t>(d.month - 1)];
  const std::string edtf = day_edtf(d);
  switch (language) {
    case Language::english: {
      const char* ordinal = d.day % 10 == 1 && d.day != 11   ? "st"
                            : d.day % 10 == 2 && d.day != 12 ? "nd"
                            : d.day % 10 == 3 && d.day != 13 ? "rd"
                                                             : "th";
      switch (random.whole(0, 3)) {
        case 0: return settled(fmt::format("{} {} {}", d.day, month, d.year), edtf);
        case 1: return settled(fmt::format("{} {}, {}", month, d.day, d.year), edtf);
        case 2: return settled(fmt::format("{}{} {} {}", d.day, ordinal, month, d.year), edtf);
        default: return settled(fmt::format("{} {}{} {}", month, d.day, ordinal, d.year), edtf);
      }
    }
    case Language::french:
      return settled(fmt::format("{} {} {}", d.day == 1 ? "1er" : std::to_string(d.day), month, d.year), edtf);
    case Language::german: return settled(fmt::format("{}. {} {}", d.day, month, d.year), edtf);
    case Language::spanish:
    case Language::portuguese: return settled(fmt::format("{} de {} de {}", d.day, month, d.year), edtf);
    default: return settled(fmt::format("{} {} {}", d.day, month, d.year), edtf);
  }
}

WrittenDate short_word_day(CalendarDay d, Language language, Random& random) {
  const char* month = short_month_names(language)[static_cast<std::size_t>(d.month - 1)];
  if (random.chance(0.25))
    return century_open(fmt::format("{} {} {:02}", d.day, month, d.year % 100), day_edtf(d));
  if (language == Language::english && random.chance(0.3))
    return settled(fmt::format("{} {} {}", month, d.day, d.year), day_edtf(d));
  return settled(fmt::format("{}{} {} {}", d.day, language == Language::german ? "." : "", month, d.year), day_edtf(d));
}

WrittenDate word_month(CalendarDay d, Language language, Random& random) {
  const std::size_t m = static_cast<std::size_t>(d.month - 1);
  std::string month = random.chance(0.5) ? month_names(language)[m] : short_month_names(language)[m];
  if (month[0] >= 'a' && month[0] <= 'z' && random.chance(0.5)) month[0] = static_cast<char>(month[0] - 32);
  if (random.chance(0.3)) return century_open(fmt::format("{} {:02}", month, d.year % 100), month_edtf(d));
  return settled(fmt::format("{} {}", month, d.year), month_edtf(d));
}

WrittenDate day_range(CalendarDay d, Language language, Random& random) {
  const int last = std::min(days_in_month(d.year, d.month), d.day + random.whole(2, 6));
  if (last == d.day) return roman_day(d, random);
  const CalendarDay end{d.year, d.month, last};
  const std::string edtf = day_edtf(d) + "/" + day_edtf(end);
  if (random.chance(0.5)) return settled(fmt::format("{}-{}.{}.{}", d.day, last, roman(d.month), d.year), edtf);
  const char* month = short_month_names(language)[static_cast<std::size_t>(d.month - 1)];
  if (language == Language::english) return settled(fmt::format("{} {}-{} {}", month, d.day, last, d.year), edtf);
  return settled(fmt::format("{}-{} {} {}", d.day, last, month, d.year), edtf);
}

WrittenDate month_crossing(CalendarDay d, Random& random) {
  if (d.month == 12) return roman_month(d, random);
  const CalendarDay start{d.year, d.month, random.whole(24, 28)};
  const CalendarDay end{d.year, d.month + 1, random.whole(1, 9)};
  return settled(fmt::format("{}.{}-{}.{}.{}", start.day, roman(start.month), end.day, roman(end.month), d.year),
                 day_edtf(start) + "/" + day_edtf(end));
}

WrittenDate month_range(CalendarDay d, Random& random) {
  if (d.month == 12) return roman_month(d, random);
  return settled(fmt::format("{}-{}.{}", roman(d.month), roman(d.month + 1), d.year),
                 fmt::format("{:04}-{:02}/{:04}-{:02}", d.year, d.month, d.year, d.month + 1));
}

WrittenDate bare_year(CalendarDay d, Random& random) {
  switch (random.whole(0, 3)) {
    case 0: return settled(fmt::format("ca. {}", d.year), fmt::format("{}~", d.year));
    case 1: return settled(fmt::format("{}?", d.year), fmt::format("{}?", d.year));
    default: return settled(std::to_string(d.year), std::to_string(d.year));
  }
}

WrittenDate season(CalendarDay d, Language language) {
  static const std::array<std::array<const char*, 4>, 7> words{{{"Spring", "Summer", "Autumn", "Winter"},
                                                                {"Printemps", "Été", "Automne", "Hiver"},
                                                                {"Frühjahr", "Sommer", "Herbst", "Winter"},
                                                                {"Primavera", "Verano", "Otoño", "Invierno"},
                                                                {"Primavera", "Verão", "Outono", "Inverno"},
                                                                {"Voorjaar", "Zomer", "Herfst", "Winter"},
                                                                {"Primavera", "Estate", "Autunno", "Inverno"}}};
  const int which = (d.month / 3 + 3) % 4;  // March to May is spring, and so on round the year
  return settled(fmt::format("{} {}", words[static_cast<std::size_t>(language)][static_cast<std::size_t>(which)], d.year),
                 fmt::format("{}-{}", d.year, 21 + which));
}

WrittenDate latin_month(CalendarDay d, Random& random) {
  static const std::array<const char*, 4> words{"7bre", "8bre", "9bre", "Xbre"};
  if (d.month < 9) return roman_day(d, random);
  return settled(fmt::format("{} {} {}", d.day, words[static_cast<std::size_t>(d.month - 9)], d.year), day_edtf(d));
}

}  // namespace

int days_in_month(int year, int month) {
  static const std::array<int, 12> days{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
  return month == 2 && leap ? 29 : days[static_cast<std::size_t>(month - 1)];
}

WrittenDate write_date(CalendarDay d, Language language, Random& random) {
  switch (random.weighted<int>({{0, 22}, {1, 7}, {2, 6}, {3, 6}, {4, 5}, {5, 4}, {6, 14}, {7, 12}, {8, 9}, {9, 4},
                                {10, 2}, {11, 2}, {12, 3}, {13, 2}, {14, 2}, {15, 1}})) {
    case 0: return roman_day(d, random);
    case 1: return roman_short_year(d, random);
    case 2: return roman_month(d, random);
    case 3: return numeric(d, '.', false, false);
    case 4: return numeric(d, random.pick({'/', '.'}), false, true);
    case 5: return numeric(d, random.pick({'/', '-'}), d.day > 12 && language == Language::english, false);
    case 6: return word_day(d, language, random);
    case 7: return short_word_day(d, language, random);
    case 8: return word_month(d, language, random);
    case 9: return day_range(d, language, random);
    case 10: return month_crossing(d, random);
    case 11: return month_range(d, random);
    case 12: return bare_year(d, random);
    case 13: return season(d, language);
    case 14: return settled(fmt::format("{}{}{}", d.day, upper(roman(d.month)), d.year), day_edtf(d));
    default: return language == Language::french ? latin_month(d, random) : roman_day(d, random);
  }
}

WrittenDate write_plain_date(CalendarDay d, Language language, Random& random) {
  switch (random.weighted<int>({{0, 40}, {1, 20}, {2, 16}, {3, 8}, {4, 8}, {5, 8}})) {
    case 0: return roman_day(d, random);
    case 1: return word_day(d, language, random);
    case 2: return short_word_day(d, language, random);
    case 3: return roman_month(d, random);
    case 4: return numeric(d, '.', false, false);
    default: return day_range(d, language, random);
  }
}

}  // namespace papillote::samples
