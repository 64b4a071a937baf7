// What an archive file says of the view that it holds.
#pragma once

#include <filesystem>
#include <map>
#include <string>

#include "pipeline/exports/darwin_core.h"
#include "pipeline/record/result.h"

namespace papillote::exports {

struct ArchiveView {
  std::string file;         // relative: "tin 07/3K9...-front-0a1b2c3d.tif"
  std::string description;  // one sentence
  std::string xmp;          // identifier, source and crop geometry (XMP specification, part 1: RDF in an x:xmpmeta packet)
};
[[nodiscard]] ArchiveView archive_view(const Dataset&, const View&);

// The list of digests beside archive files, "<sha256>  <file>" a line, which sha256sum(1) checks too.
using DigestList = std::map<std::string, Digest>;
inline constexpr const char* kDigestFile = "digests.sha256";
[[nodiscard]] std::string digest_lines(const DigestList&);
// Failure "damaged_list" names `name` and the line.
[[nodiscard]] Result<DigestList> read_digest_lines(std::string_view text, const std::string& name);

}  // namespace papillote::exports
