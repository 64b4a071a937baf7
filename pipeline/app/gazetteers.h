// Where the gazetteer lies: the base beside the program, a curator's additions in her collection.
#pragma once

#include <filesystem>
#include <string>

#include "pipeline/record/result.h"
#include "stages/interpretation/gazetteer.h"

namespace papillote::app {

// The folder "gazetteer" beside the program.
std::filesystem::path gazetteer_folder();

// `base` empty: places.bin in gazetteer_folder(). `collection` empty: no additions; otherwise every .bin file of
// its folder "gazetteer", in order of name.
// Failures: those of Gazetteer::open.
Result<interpretation::Gazetteer> open_gazetteer(std::filesystem::path base, const std::filesystem::path& collection);

// Stands for the content of those files: they are replaced whole, so name, size and time will do. Empty when the base is not
// there.
std::string gazetteer_identity(const std::filesystem::path& base, const std::filesystem::path& collection);

}  // namespace papillote::app
