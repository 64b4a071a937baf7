// Model cards: what a model is, and the check that its file is the one described.
//
// A model is a folder models/<name> with a card.md whose first table has the rows `file`, `sha256`, `input` and `output`; the
// shapes stand in brackets, a number for a fixed axis and a word for a free one: "float32 [n, 1, 64, w]".
#pragma once

#include <map>
#include <string>
#include <string_view>

#include "models/runtime.h"
#include "pipeline/record/result.h"

namespace papillote::models {

// Where the models are: $PAPILLOTE_MODELS, else models/ beside the program, else where the build found them.
[[nodiscard]] std::string models_folder();

struct Card {
  std::string path;                         // of the card
  std::map<std::string, std::string> rows;  // key -> value of its first table

  [[nodiscard]] std::string row(std::string_view key) const;  // empty when the card does not have it
};

// Failure "model_missing": no card, or a card without a table.
[[nodiscard]] Result<Card> read_card(const std::string& models_dir, const std::string& name);

// Opens the model after checking digest and shapes against its card. Failures: those of Model::open, and "model_altered" when the
// network's shapes are not the card's.
[[nodiscard]] Result<Model> open_model(const std::string& models_dir, const std::string& name);

// A file that belongs to the model: row `key` names it, row `<key> sha256` its digest.
// Failures "model_missing", "model_altered".
[[nodiscard]] Result<std::string> read_part(const std::string& models_dir, const std::string& name, std::string_view key);

}  // namespace papillote::models
