// What a collection says of itself to the outside, for exports and archive files.
#pragma once

#include <string>

#include "pipeline/exports/exporter.h"

namespace CLI {
class App;
}

namespace papillote::app {

void add_about(CLI::App&, std::string& about);

// From the file asked for, or from about.json in the collection's folder when there is one. Published today where it does not say when.
[[nodiscard]] Result<exports::Dataset> dataset_of(const std::string& about, const std::string& collection);

}  // namespace papillote::app
