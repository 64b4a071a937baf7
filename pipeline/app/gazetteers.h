// Which gazetteer files a command reads: the one of the set-up, and what the curator added to the collection.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "pipeline/record/result.h"
#include "stages/interpretation/gazetteer.h"

namespace papillote::app {

struct OpenGazetteers {
  std::optional<interpretation::Gazetteer> gazetteer;  // nothing: none is installed
  std::string identity;                                // stands for the files' content in keys

  [[nodiscard]] const interpretation::Gazetteer* get() const { return gazetteer ? &*gazetteer : nullptr; }
};

// `asked` is the file given on the command line, which must be there; empty = gazetteer/places.bin beside the program, if it is.
// `collection` may be empty. Failures: those of Gazetteer::open.
[[nodiscard]] Result<OpenGazetteers> open_gazetteers(const std::string& asked, const std::string& collection);

// Where additions of a collection lie.
[[nodiscard]] std::filesystem::path additions_folder(const std::filesystem::path& collection);

}  // namespace papillote::app
