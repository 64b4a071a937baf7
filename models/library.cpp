#include "models/library.h"

#include <charconv>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <optional>
#include <sstream>

#include <fmt/format.h>

namespace papillote::models {
namespace {

constexpr const char* kRemedy = "Restore the folder of models as it was delivered, for instance with git, and run the command again.";

Failure missing(std::string reason) { return {"models", "model_missing", std::move(reason), kRemedy}; }
Failure altered(std::string reason) { return {"models", "model_altered", std::move(reason), kRemedy}; }

std::string trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t\r");
  if (first == std::string_view::npos) return {};
  return std::string(text.substr(first, text.find_last_not_of(" \t\r") - first + 1));
}

std::string path_in(const std::string& models_dir, const std::string& name, const std::string& file) {
  return (std::filesystem::path(models_dir) / name / file).string();
}

// "float32 [n, 1, 64, w], ..." -> {-1, 1, 64, -1}; nothing without brackets.
std::optional<std::vector<std::int64_t>> shape_in(std::string_view words) {
  const auto open = words.find('['), close = words.find(']');
  if (open == std::string_view::npos || close == std::string_view::npos || close < open) return std::nullopt;
  std::vector<std::int64_t> shape;
  std::istringstream axes{std::string(words.substr(open + 1, close - open - 1))};
  for (std::string axis; std::getline(axes, axis, ',');) {
    axis = trimmed(axis);
    std::int64_t length = -1;
    const auto [end, error] = std::from_chars(axis.data(), axis.data() + axis.size(), length);
    shape.push_back(error == std::errc{} && end == axis.data() + axis.size() ? length : -1);
  }
  return shape;
}

// A free axis of the card must be free in the network; a fixed one may be left free by the network.
bool fits(const std::vector<std::int64_t>& network, const std::vector<std::int64_t>& card) {
  if (network.size() != card.size()) return false;
  for (std::size_t i = 0; i < card.size(); ++i)
    if (network[i] != -1 && network[i] != card[i]) return false;
  return true;
}

}  // namespace

std::string models_folder() {
  if (const char* named = std::getenv("PAPILLOTE_MODELS"); named != nullptr && *named != '\0') return named;
  std::error_code error;
  const auto program = std::filesystem::read_symlink("/proc/self/exe", error);
  const auto beside = program.parent_path() / "models";
  if (!error && std::filesystem::is_directory(beside, error)) return beside.string();
  return PAPILLOTE_MODELS_FOLDER;
}

std::string Card::row(std::string_view key) const {
  const auto found = rows.find(std::string(key));
  return found == rows.end() ? std::string() : found->second;
}

Result<Card> read_card(const std::string& models_dir, const std::string& name) {
  Card card{path_in(models_dir, name, "card.md"), {}};
  std::ifstream file(card.path);
  if (!file) return missing(fmt::format("{}: the model's card is missing or cannot be read.", card.path));
  for (std::string line; std::getline(file, line);) {
    line = trimmed(line);
    if (line.starts_with('|')) {
      const auto second = line.find('|', 1), third = line.rfind('|');
      if (second == std::string::npos || third <= second) continue;
      card.rows.emplace(trimmed(std::string_view(line).substr(1, second - 1)),
                        trimmed(std::string_view(line).substr(second + 1, third - second - 1)));
    } else if (!card.rows.empty()) {
      break;
    }
  }
  if (card.rows.empty()) return missing(fmt::format("{}: the card has no table of keys.", card.path));
  return card;
}

Result<Model> open_model(const std::string& models_dir, const std::string& name) {
  const auto card = read_card(models_dir, name);
  if (!card) return card.failure();
  const std::string path = path_in(models_dir, name, card->row("file"));
  auto model = Model::open(path, Digest{card->row("sha256")});
  if (!model) return model;
  const auto input = shape_in(card->row("input")), output = shape_in(card->row("output"));
  if (!input || !output) return altered(fmt::format("{}: the card does not say the shapes of input and output.", card->path));
  if (!fits(model->input_shape(), *input) || !fits(model->output_shape(), *output))
    return altered(fmt::format("{}: the network's shapes are not those of its card.", path));
  return model;
}

Result<std::string> read_part(const std::string& models_dir, const std::string& name, std::string_view key) {
  const auto card = read_card(models_dir, name);
  if (!card) return card.failure();
  const std::string path = path_in(models_dir, name, card->row(key));
  std::ifstream file(path, std::ios::binary);
  if (card->row(key).empty() || !file) return missing(fmt::format("{}: this part of the model is missing.", path));
  std::string bytes{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  if (digest_of(bytes).hex != card->row(fmt::format("{} sha256", key)))
    return altered(fmt::format("{}: this part of the model is not the one its card describes (SHA-256 differs, the file was altered or cut short).", path));
  return bytes;
}

}  // namespace papillote::models
