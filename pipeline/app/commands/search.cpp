// papillote search: which envelopes, and where they lie.
#include "pipeline/store/search.h"

#include <fmt/format.h>
#include <unicode/uchar.h>
#include <unicode/unistr.h>

#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "pipeline/app/collection.h"
#include "pipeline/app/command.h"
#include "pipeline/app/question.h"
#include "pipeline/record/csv.h"

namespace papillote::app::commands {
namespace {

struct SearchAsked {
  Asked filters;
  std::string collection;
  std::string order = "best";
  int limit = 50;
  int page = 1;
  bool json = false;
  bool csv = false;
  bool count = false;
};

// One line of at most `width` columns; what does not fit ends in an ellipsis, wide characters count double.
std::string fitted(const std::string& text, int width) {
  const auto characters = icu::UnicodeString::fromUTF8(text);
  icu::UnicodeString out;
  int used = 0;
  const auto columns = [](UChar32 c) {
    const int kind = u_getIntPropertyValue(c, UCHAR_EAST_ASIAN_WIDTH);
    return kind == U_EA_FULLWIDTH || kind == U_EA_WIDE ? 2 : (u_getCombiningClass(c) != 0 ? 0 : 1);
  };
  int whole = 0;
  for (int32_t i = 0; i < characters.length(); i = characters.moveIndex32(i, 1)) whole += columns(characters.char32At(i));
  for (int32_t i = 0; i < characters.length(); i = characters.moveIndex32(i, 1)) {
    UChar32 c = characters.char32At(i);
    if (c == '\n' || c == '\r' || c == '\t') c = '/';
    if (u_iscntrl(c)) c = '?';
    const int wide = columns(c);
    if (whole > width && used + wide > width - 1) {
      out.append(static_cast<UChar32>(0x2026));
      ++used;
      break;
    }
    out.append(c);
    used += wide;
  }
  std::string line;
  out.toUTF8String(line);
  return line + std::string(static_cast<std::size_t>(std::max(0, width - used)), ' ');
}

std::string where(const store::Hit& hit) {
  const std::string tin = hit.tin.empty() ? "no tin" : "tin " + hit.tin;
  return fmt::format("{} / {} / {}{}", tin, hit.sheet.empty() ? "-" : hit.sheet, hit.position,
                     hit.side == "back" ? " back" : "");
}

nlohmann::ordered_json json_of(const store::Hit& hit) {
  const auto or_null = [](const std::string& text) {
    return text.empty() ? nlohmann::ordered_json(nullptr) : nlohmann::ordered_json(text);
  };
  return {{"id", hit.id},
          {"catalogue_number", or_null(hit.catalogue_number)},
          {"tin", or_null(hit.tin)},
          {"sheet", or_null(hit.sheet)},
          {"side", or_null(hit.side)},
          {"position", hit.position},
          {"photograph", hit.photo},
          {"text", or_null(hit.text)},
          {"date", or_null(hit.date)},
          {"place", or_null(hit.place)},
          {"country", or_null(hit.country)},
          {"lat", hit.lat_deg ? nlohmann::ordered_json(*hit.lat_deg) : nlohmann::ordered_json(nullptr)},
          {"lon", hit.lon_deg ? nlohmann::ordered_json(*hit.lon_deg) : nlohmann::ordered_json(nullptr)},
          {"collector", or_null(hit.collector)},
          {"taxon", or_null(hit.taxon)},
          {"priority", hit.level},
          {"score", hit.score},
          {"findings", hit.findings},
          {"exact", hit.exact},
          {"settled", hit.settled}};
}

void print_table(const store::Answer& answer) {
  if (answer.hits.empty()) {
    std::cout << "Nothing found.\n";
    return;
  }
  std::cout << fitted("envelope", 13) << fitted("tin / sheet / position", 24) << fitted("priority", 11) << fitted("date", 14)
            << fitted("place", 24) << "text\n";
  for (const store::Hit& hit : answer.hits) {
    std::cout << fitted(hit.catalogue_number.empty() ? hit.id : hit.catalogue_number, 12) << ' ' << fitted(where(hit), 23)
              << ' ' << fitted(hit.level, 10) << ' ' << fitted(hit.date, 13) << ' ' << fitted(hit.place, 23) << ' '
              << fitted(hit.text, 60) << (hit.exact ? "" : " (near)") << '\n';
  }
  if (answer.more) std::cout << "More: add --page or --limit.\n";
}

void print_csv(const store::Answer& answer) {
  std::cout << "id,catalogue_number,tin,sheet,side,position,photograph,text,date,place,country,latitude,longitude,collector,"
               "taxon,priority\r\n";
  for (const store::Hit& hit : answer.hits) {
    std::cout << csv_row({hit.id, hit.catalogue_number, hit.tin, hit.sheet, hit.side, std::to_string(hit.position), hit.photo,
                          hit.text, hit.date, hit.place, hit.country, hit.lat_deg ? fmt::format("{:.6g}", *hit.lat_deg) : "",
                          hit.lon_deg ? fmt::format("{:.6g}", *hit.lon_deg) : "", hit.collector, hit.taxon, hit.level});
  }
}

ExitCode run(const SearchAsked& asked) {
  auto question = question_of(asked.filters, asked.collection);
  if (!question.ok()) {
    std::cerr << "papillote: " << question.failure().reason << ' ' << question.failure().remedy << '\n';
    return question.failure().kind == "wrong_period" ? kWrongCommand : kCannotGoOn;
  }
  question->limit = asked.limit;
  question->skip = (asked.page - 1) * asked.limit;
  question->order = asked.order == "shelf"      ? store::Order::shelf
                    : asked.order == "priority" ? store::Order::priority
                    : asked.order == "date"     ? store::Order::date
                                                : store::Order::best;
  return with_collection(asked.collection, store::Access::read, [&](store::Store& store) {
    if (asked.count) {
      std::cout << store::count(store, *question) << '\n';
      return kAllDone;
    }
    const store::Answer answer = store::search(store, *question);
    if (asked.json) {
      auto all = nlohmann::ordered_json::array();
      for (const store::Hit& hit : answer.hits) all.push_back(json_of(hit));
      std::cout << nlohmann::ordered_json{{"hits", all}, {"more", answer.more}}.dump(
                       1, ' ', false, nlohmann::ordered_json::error_handler_t::replace)
                << '\n';
    } else if (asked.csv) {
      print_csv(answer);
    } else {
      print_table(answer);
    }
    return kAllDone;
  });
}

std::function<ExitCode()> setup(CLI::App& command) {
  auto asked = std::make_shared<SearchAsked>();
  add_filters(command, asked->filters);
  command.add_option("--collection", asked->collection, "Folder that holds the index.")->required();
  command.add_option("--order", asked->order, "best, shelf, priority or date.")
      ->check(CLI::IsMember({"best", "shelf", "priority", "date"}))
      ->capture_default_str();
  command.add_option("--limit", asked->limit, "Rows on a page.")->check(CLI::Range(1, 1'000'000))->capture_default_str();
  command.add_option("--page", asked->page, "Which page.")->check(CLI::Range(1, 1'000'000));
  command.add_flag("--json", asked->json, "As JSON.");
  command.add_flag("--csv", asked->csv, "As CSV.");
  command.add_flag("--count", asked->count, "Only how many.");
  return [asked] { return run(*asked); };
}

}  // namespace

extern const Command search{
    "search", "Find", "Find envelopes by words, place, period, taxon, damage or priority.",
    "The answer says which tin, which sheet and which position. A word that was misread by a letter or two is still found, "
    "after the\n"
    "exact hits.\n"
    "Examples: papillote search labuan --collection tins\n"
    "          papillote search --near 46.1,7.6 --km 30 --period 1895/1904 --order date --collection tins",
    setup};

}  // namespace papillote::app::commands
