#include "pipeline/record/containers.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <cstdio>
#include <optional>

#include "pipeline/record/csv.h"

namespace papillote {
namespace {

constexpr std::string_view kBands = "temperature_c rh_percent";

std::string listed(const std::vector<std::string_view>& words) {
  std::string text;
  for (const std::string_view word : words) text += (text.empty() ? "" : ", ") + std::string(word);
  return text;
}

std::string shown(double value) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%g", value);
  return text.data();
}
std::string shown(const Band& band) { return shown(band.least) + "–" + shown(band.most); }

// "17-19", "17–19", "17 to 19"; a minus before the first number belongs to it.
std::optional<Band> band_in(std::string text) {
  for (const std::string_view dash : {"–", " to "})
    if (const std::size_t at = text.find(dash); at != std::string::npos) text.replace(at, dash.size(), "-");
  const std::size_t dash = text.find('-', 1);
  if (dash == std::string::npos) return std::nullopt;
  const auto bare = [](std::string part) {
    std::erase(part, ' ');
    return part;
  };
  const auto least = number_in(bare(text.substr(0, dash))), most = number_in(bare(text.substr(dash + 1)));
  if (!least || !most || *least >= *most) return std::nullopt;
  return Band{*least, *most};
}

}  // namespace

std::span<const ContainerColumn> container_columns() {
  static const std::array<ContainerColumn, 7> columns{
      {{"material", &Container::material, {"tinplate", "cardboard", "cigar_box", "wood", "glass", "plastic"}},
       {"seal", &Container::seal, {"none", "loose", "tight"}},
       {"lining", &Container::lining, {"none", "paper", "cotton", "foam", "cork"}},
       {"wood", &Container::wood, {"none", "oak", "other"}},
       {"stands", &Container::stands, {"cabinet", "shelf", "floor", "outside_wall", "attic", "cellar"}},
       {"light", &Container::light, {"dark", "lamp", "daylight"}},
       {"chemicals",
        &Container::chemicals,
        {"none", "crystals", "naphthalene", "paradichlorobenzene", "camphor", "not_known"}}}};
  return columns;
}

std::string containers_csv(const std::vector<Container>& containers) {
  std::string table = "# One line a tin. Leave empty what you do not know. Words that may stand in each column:\r\n";
  std::vector<std::string> head{"tin"};
  for (const ContainerColumn& column : container_columns()) {
    table += "# " + std::string(column.name) + ": " + listed(column.words) + "\r\n";
    head.emplace_back(column.name);
  }
  table +=
      "# temperature_c and rh_percent: the band you aim at; climate: file of the tin's climate logger beside this table\r\n"
      "# heading: what stands on the tin for all its envelopes, as written, such as Sarawak 1909-11\r\n";
  head.insert(head.end(), {"temperature_c", "rh_percent", "climate", "heading"});
  table += csv_row(head);
  for (const Container& container : containers) {
    std::vector<std::string> row{container.tin};
    for (const ContainerColumn& column : container_columns()) row.push_back(container.*column.member);
    row.insert(row.end(), {shown(container.temperature_c), shown(container.rh_percent), container.climate, container.heading});
    table += csv_row(row);
  }
  return table;
}

Result<std::vector<Container>> containers_from_csv(std::string_view csv, const std::string& name) {
  const auto refused = [&](int line, const std::string& why, const std::string& remedy) {
    return Failure{"storage", "wrong_container", name + ", line " + std::to_string(line) + ": " + why, remedy};
  };
  const std::vector<CsvRow> rows = kept_rows(csv);
  if (rows.empty()) return std::vector<Container>{};

  const std::vector<std::string>& head = rows.front().cells;
  for (const std::string& cell : head) {
    const auto columns = container_columns();
    const bool known =
        cell.empty() || cell == "tin" || cell == "climate" || cell == "heading" || kBands.find(cell) != std::string_view::npos ||
        std::any_of(columns.begin(), columns.end(), [&](const ContainerColumn& column) { return column.name == cell; });
    if (!known)
      return refused(rows.front().line, "\"" + cell + "\" is no column of the table of containers.",
                     "See 'papillote template containers'.");
  }
  if (std::find(head.begin(), head.end(), "tin") == head.end())
    return refused(rows.front().line, "there is no column \"tin\".", "See 'papillote template containers'.");

  std::vector<Container> containers;
  for (std::size_t k = 1; k < rows.size(); ++k) {
    const CsvRow& row = rows[k];
    if (row.cells.size() > head.size())
      return refused(row.line, "more cells than the head has columns.", "Put a cell that holds the separator between quotes.");
    Container container;
    for (std::size_t c = 0; c < row.cells.size(); ++c) {
      const std::string& cell = row.cells[c];
      if (cell.empty()) continue;
      if (head[c] == "tin") container.tin = cell;
      if (head[c] == "climate") container.climate = cell;
      if (head[c] == "heading") container.heading = cell;
      for (const ContainerColumn& column : container_columns()) {
        if (column.name != head[c]) continue;
        if (std::find(column.words.begin(), column.words.end(), cell) == column.words.end())
          return refused(row.line, head[c] + " \"" + cell + "\" is not known.",
                         "Write one of: " + listed(column.words) + "; or leave it empty.");
        container.*column.member = cell;
      }
      if (head[c] == "temperature_c" || head[c] == "rh_percent") {
        const auto band = band_in(cell);
        if (!band)
          return refused(row.line, head[c] + " \"" + cell + "\" is no band.", "Write the least and the most, such as 17-19.");
        (head[c] == "rh_percent" ? container.rh_percent : container.temperature_c) = *band;
      }
    }
    if (container.tin.empty()) return refused(row.line, "the tin has no name.", "Write what its sheet labels say.");
    if (std::any_of(containers.begin(), containers.end(), [&](const Container& other) { return other.tin == container.tin; }))
      return refused(row.line, "tin " + container.tin + " stands there a second time.", "Leave one line for each tin.");
    containers.push_back(std::move(container));
  }
  return containers;
}

}  // namespace papillote
