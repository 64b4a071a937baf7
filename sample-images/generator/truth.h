// What is true of a photograph, in the form of the program's JSON export, with more fields of its own.
#pragma once
#include <string>

#include "scene.h"

namespace papillote::samples {

// `file` is the photograph's name, sha256 the digest of its bytes.
std::string truth_of(const Scene& scene, const std::string& file, const std::string& sha256);

}  // namespace papillote::samples
