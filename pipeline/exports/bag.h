// A bag: originals and index packed for keeping longer than any program lives.
//
// Source: RFC 8493 (The BagIt File Packaging Format, version 1.0). bagit.txt, a payload under data/, manifest-sha256.txt over
// every file of the payload (2.1.3), bag-info.txt (2.2.2) and tagmanifest-sha256.txt over all others (2.2.1).
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "pipeline/exports/exporter.h"
#include "pipeline/record/digest.h"

namespace papillote::exports {

using BagManifest = std::map<std::string, Digest>;  // by path within the bag, '/' between parts

inline constexpr const char* kBagDeclaration = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
inline constexpr const char* kPayloadManifest = "manifest-sha256.txt";
inline constexpr const char* kTagManifest = "tagmanifest-sha256.txt";

// One line a file, LF, CR and % of its path as %0A, %0D and %25 (2.1.3).
[[nodiscard]] std::string manifest_text(const BagManifest&);
// Failure "damaged_list" names `name` and the line: no digest, a path that is absolute, leaves the bag or comes twice.
[[nodiscard]] Result<BagManifest> read_manifest(std::string_view text, const std::string& name);

// Labels of 2.2.2, long values folded to stay readable; empty ones are left out. `day` is "2026-11-25".
[[nodiscard]] std::string bag_info(const Dataset&, const std::string& day, std::uintmax_t octets, std::size_t files);

// The digest of a file; nothing when it cannot be read to its end.
[[nodiscard]] std::optional<Digest> digest_of_file(const std::filesystem::path& file);

// One sentence for every fault of a bag, none = complete and valid (3): declaration, each file of both manifests, files of the
// payload that no manifest lists. Failure "no_bag" when there is none.
[[nodiscard]] Result<std::vector<std::string>> faults_of_bag(const std::filesystem::path& bag);

}  // namespace papillote::exports
