#include "pipeline/record/climate.h"

#include <algorithm>
#include <cctype>
#include <chrono>
#include <cmath>
#include <optional>

#include "pipeline/record/csv.h"
#include "pipeline/record/rank.h"

namespace papillote {
namespace {

constexpr double kLongWait = 3;                 // usual intervals ...
constexpr std::int64_t kLongWait_s = 6 * 3600;  // ... and at least so long: a gap
constexpr int kMostRemarks = 4;                 // of one kind

Failure refused(std::string kind, std::string reason, std::string remedy) {
  return {"storage", std::move(kind), std::move(reason), std::move(remedy)};
}

std::string lowered(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

bool has_any(const std::string& text, std::initializer_list<std::string_view> parts) {
  return std::any_of(parts.begin(), parts.end(), [&](std::string_view part) { return text.find(part) != std::string::npos; });
}

// Whole words of letters.
bool has_word(const std::string& text, std::initializer_list<std::string_view> words) {
  std::string word;
  for (std::size_t i = 0; i <= text.size(); ++i) {
    if (i < text.size() && std::isalpha(static_cast<unsigned char>(text[i])) != 0) {
      word += text[i];
      continue;
    }
    if (std::find(words.begin(), words.end(), word) != words.end()) return true;
    word.clear();
  }
  return false;
}

struct Columns {
  std::optional<std::size_t> date, time, temperature, humidity;
  bool fahrenheit = false;
  bool percent = false;  // said by the head

  [[nodiscard]] bool complete() const { return (date || time) && temperature && humidity; }
};

// Words of heads as loggers write them in English, German, French and Spanish (common practice).
Columns columns_in(const CsvRow& row) {
  Columns columns;
  const auto keep = [](std::optional<std::size_t>& column, std::size_t k) {
    if (!column) column = k;
  };
  for (std::size_t k = 0; k < row.cells.size(); ++k) {
    const std::string head = lowered(row.cells[k]);
    if (number_in(head)) return {};
    if (has_any(head, {"dew", "taupunkt", "ros\xC3\xA9", "absolut", "wet"})) continue;
    if (has_any(head, {"humid", "feucht", "humed"}) || has_word(head, {"rh", "hr", "rf", "hum"})) {
      if (!columns.humidity) columns.percent = has_any(head, {"%"});
      keep(columns.humidity, k);
    } else if (has_any(head, {"temp", "celsius", "fahrenheit",
                              "\xC2\xB0"
                              "c",
                              "\xC2\xB0"
                              "f"})) {
      if (!columns.temperature)
        columns.fahrenheit = has_any(head, {"fahrenheit",
                                            "\xC2\xB0"
                                            "f"}) ||
                             has_word(head, {"f"});
      keep(columns.temperature, k);
    } else if (has_any(head, {"date", "datum", "fecha", "timestamp"})) {
      keep(columns.date, k);
    } else if (has_any(head, {"time", "zeit", "heure", "hora"})) {
      keep(columns.time, k);
    }
  }
  return columns;
}

// A moment as written; `first` and `second` are day and month in an order that only the whole column tells.
struct Written {
  int first = 0, second = 0, year = 0;
  bool unsure = false;
  bool twelve_hours = false;
  std::int64_t second_of_day = 0;
};

std::optional<Written> written_in(const std::string& text) {
  std::size_t at = 0;
  const auto digits = [&]() -> std::optional<int> {
    const std::size_t begin = at;
    int value = 0;
    while (at < text.size() && at - begin < 4 && std::isdigit(static_cast<unsigned char>(text[at])) != 0)
      value = 10 * value + (text[at++] - '0');
    if (at == begin) return std::nullopt;
    return value;
  };
  const auto take = [&](std::string_view any) {
    return at < text.size() && any.find(text[at]) != std::string_view::npos ? text[at++] : '\0';
  };
  const auto a = digits();
  const std::size_t wide = at;
  const char between = take("-/.");
  const auto b = digits();
  if (!a || between == '\0' || !b || take("-/.") != between) return std::nullopt;
  const auto c = digits();
  if (!c) return std::nullopt;
  Written w;
  if (wide == 4) {
    w = {*c, *b, *a, false, false, 0};
  } else {
    w = {*a, *b, *c < 100 ? 2000 + *c : *c, between != '.', false, 0};
  }
  while (take(" T,") != '\0') {
  }
  auto hour = digits();
  if (!hour || take(":.") == '\0') return std::nullopt;
  const auto minute = digits();
  if (!minute) return std::nullopt;
  int second = 0;
  if (take(":.") != '\0') second = digits().value_or(0);
  const std::string rest = lowered(text.substr(at));
  if (has_any(rest, {"am", "pm", "a.m", "p.m"})) {
    if (*hour < 1 || *hour > 12) return std::nullopt;
    w.twelve_hours = true;
    hour = *hour % 12 + (has_any(rest, {"pm", "p.m"}) ? 12 : 0);
  }
  if (*hour > 24 || *minute > 59 || second > 60) return std::nullopt;
  w.second_of_day = *hour * 3600 + *minute * 60 + second;
  return w;
}

std::optional<std::int64_t> second_of(const Written& w, bool month_first) {
  const int day = month_first && w.unsure ? w.second : w.first;
  const int month = month_first && w.unsure ? w.first : w.second;
  const std::chrono::year_month_day date{std::chrono::year{w.year}, std::chrono::month{static_cast<unsigned>(month)},
                                         std::chrono::day{static_cast<unsigned>(day)}};
  if (!date.ok()) return std::nullopt;
  return std::int64_t{86400} * std::chrono::sys_days{date}.time_since_epoch().count() + w.second_of_day;
}

struct Reading {
  int line = 0;
  Written when;
  double temperature_c = 0, rh = 0;
};

std::optional<std::vector<std::int64_t>> seconds_of(const std::vector<Reading>& readings, bool month_first) {
  std::vector<std::int64_t> all;
  for (const Reading& reading : readings) {
    const auto second = second_of(reading.when, month_first);
    if (!second) return std::nullopt;
    all.push_back(*second);
  }
  return all;
}

std::int64_t usual_interval(const std::vector<std::int64_t>& seconds) {
  std::vector<std::int64_t> steps;
  for (std::size_t i = 1; i < seconds.size(); ++i)
    if (seconds[i] > seconds[i - 1]) steps.push_back(seconds[i] - seconds[i - 1]);
  if (steps.empty()) return 0;
  return median(std::move(steps));
}

std::size_t irregular_steps(const std::vector<std::int64_t>& seconds) {
  const std::int64_t usual = usual_interval(seconds);
  std::size_t count = 0;
  for (std::size_t i = 1; i < seconds.size(); ++i) count += std::abs(seconds[i] - seconds[i - 1] - usual) > usual / 2 ? 1 : 0;
  return count;
}

// Day before month or month before day: whichever is possible for every row; if both are, whichever makes the time run evenly.
Result<std::vector<std::int64_t>> moments_of(const std::vector<Reading>& readings, const std::string& name) {
  const auto day_first = seconds_of(readings, false);
  const auto month_first = seconds_of(readings, true);
  if (day_first && month_first && *day_first != *month_first) {
    const std::size_t day_steps = irregular_steps(*day_first), month_steps = irregular_steps(*month_first);
    if (day_steps != month_steps) return day_steps < month_steps ? *day_first : *month_first;
    // Where both run evenly: who writes am and pm writes the month first (common practice).
    if (readings.front().when.twelve_hours) return *month_first;
  } else if (day_first || month_first) {
    return day_first ? *day_first : *month_first;
  }
  return refused("unclear_dates", name + " does not tell day from month in its dates.", "Write the dates as 2026-11-25 14:00.");
}

std::string day_words(std::int64_t second) {
  const std::chrono::year_month_day day{
      std::chrono::sys_days{std::chrono::days{static_cast<int>(std::floor(static_cast<double>(second) / 86400))}}};
  const auto two = [](unsigned n) { return (n < 10 ? "0" : "") + std::to_string(n); };
  return std::to_string(static_cast<int>(day.year())) + "-" + two(static_cast<unsigned>(day.month())) + "-" +
         two(static_cast<unsigned>(day.day()));
}

std::string hours_words(std::int64_t seconds) {
  const auto hours = static_cast<long>(std::lround(static_cast<double>(seconds) / 3600));
  return hours >= 72 ? std::to_string(hours / 24) + " days" : std::to_string(hours) + " h";
}

}  // namespace

Result<Climate> climate_from_table(std::string_view table, const std::string& name) {
  const std::vector<CsvRow> rows = csv_rows(table, separator_of(table));
  Columns columns;
  std::size_t head = 0;
  while (head < rows.size() && !(columns = columns_in(rows[head])).complete()) ++head;
  if (head == rows.size())
    return refused("no_columns", name + " has no line that names columns for time, temperature and relative humidity.",
                   "Export it from the logger with its head, such as: time,temperature °C,humidity %.");

  Climate climate;
  std::vector<Reading> readings;
  std::size_t strange = 0;
  for (std::size_t k = head + 1; k < rows.size(); ++k) {
    const auto cell = [&](std::size_t column) { return column < rows[k].cells.size() ? rows[k].cells[column] : std::string(); };
    std::string when = columns.date ? cell(*columns.date) : "";
    if (columns.time) when += " " + cell(*columns.time);
    if (const std::size_t begin = when.find_first_not_of(' '); begin != std::string::npos) when.erase(0, begin);
    const auto written = written_in(when);
    auto temperature = number_in(cell(*columns.temperature));
    const auto rh = number_in(cell(*columns.humidity));
    if (temperature && columns.fahrenheit) temperature = (*temperature - 32) / 1.8;
    if (!written || !temperature || !rh || *temperature < -60 || *temperature > 80 || *rh < 0 || *rh > 105)
      ++strange;
    else
      readings.push_back({rows[k].line, *written, *temperature, std::min(*rh, 100.0)});
  }
  if (readings.size() < 2)
    return refused("no_readings", name + " holds no two readings that can be understood.",
                   "Each line needs date and time, a temperature of -60 to 80 °C and a humidity of 0 to 100 %.");
  if (strange > 0)
    climate.remarks.push_back(std::to_string(strange) + " lines of " + name +
                              " hold no reading that can be understood and were left out");
  const bool shares =
      !columns.percent && std::all_of(readings.begin(), readings.end(), [](const Reading& r) { return r.rh <= 1; });
  if (shares) {
    for (Reading& reading : readings) reading.rh *= 100;
    climate.remarks.push_back("no humidity in " + name + " is above 1: taken for shares of 1, not for percent");
  }

  auto moments = moments_of(readings, name);
  if (!moments) return moments.failure();
  const std::vector<std::int64_t>& seconds = *moments;
  const std::int64_t usual = usual_interval(seconds);
  if (usual == 0)
    return refused("no_readings", "The clock of " + name + " never goes forward.", "Export it again from the logger.");
  std::int64_t missed = 0;
  int gaps = 0, set_back = 0;
  std::vector<std::string> moves;
  for (std::size_t i = 0; i + 1 < readings.size(); ++i) {
    std::int64_t step = seconds[i + 1] - seconds[i];
    if (step <= 0) {
      if (++set_back <= kMostRemarks)
        moves.push_back("the clock was set back by " + hours_words(-step) + " at line " + std::to_string(readings[i + 1].line) +
                        " of " + name);
      step = usual;
    } else if (step > kLongWait_s && static_cast<double>(step) > kLongWait * static_cast<double>(usual)) {
      missed += step;
      if (++gaps <= kMostRemarks)
        moves.push_back("nothing was logged for " + hours_words(step) + " from " + day_words(seconds[i]));
      continue;
    }
    climate.spells.push_back({seconds[i], static_cast<double>(step) / 3600, readings[i].temperature_c, readings[i].rh});
  }
  if (climate.spells.empty())
    return refused("no_readings", name + " holds no two readings that follow each other.", "Export it again from the logger.");
  if (gaps > kMostRemarks) moves.push_back("in all " + std::to_string(gaps) + " gaps of together " + hours_words(missed));
  if (set_back > kMostRemarks) moves.push_back("in all the clock was set back " + std::to_string(set_back) + " times");
  for (std::string& remark : moves) climate.remarks.push_back(std::move(remark));
  return climate;
}

}  // namespace papillote
