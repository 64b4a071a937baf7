#include "pipeline/exports/bag.h"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <iterator>
#include <optional>

namespace papillote::exports {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kHex = 64;

std::string encoded(std::string_view path) {
  std::string out;
  for (const char c : path) {
    if (c == '\n')
      out += "%0A";
    else if (c == '\r')
      out += "%0D";
    else if (c == '%')
      out += "%25";
    else
      out += c;
  }
  return out;
}

std::string decoded(std::string_view path) {
  std::string out;
  for (std::size_t k = 0; k < path.size(); ++k) {
    const std::string_view three = path.substr(k, 3);
    const bool escape = three == "%0A" || three == "%0a" || three == "%0D" || three == "%0d" || three == "%25";
    if (!escape) {
      out += path[k];
      continue;
    }
    out += three == "%25" ? '%' : (three[2] == 'A' || three[2] == 'a') ? '\n' : '\r';
    k += 2;
  }
  return out;
}

bool stays_within(const std::string& path) {
  if (path.empty() || path.front() == '/' || path.front() == '~') return false;
  const fs::path parts(path);
  return std::none_of(parts.begin(), parts.end(), [](const fs::path& part) { return part == ".."; });
}

Result<std::string> text_of(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in)
    return Failure{"exports", "no_bag", fmt::format("{} is not there.", file.string()),
                   "Name the folder that 'papillote bag' wrote."};
  return std::string{std::istreambuf_iterator<char>(in), {}};
}

void check(const fs::path& bag, const BagManifest& manifest, std::vector<std::string>& faults) {
  std::error_code error;
  for (const auto& [path, digest] : manifest) {
    const auto now = digest_of_file(bag / path);
    if (now == digest) continue;
    faults.push_back(fmt::format("{} {}", (bag / path).string(),
                                 now                             ? "changed"
                                 : fs::exists(bag / path, error) ? "cannot be read"
                                                                 : "vanished"));
  }
}

// "Label: value", folded at 79 characters with a blank before what goes on (2.2.2).
std::string labelled(std::string_view label, std::string_view value) {
  if (value.empty()) return {};
  std::string line = fmt::format("{}:", label);
  std::string out;
  std::string word;
  for (const char c : std::string(value) + ' ') {
    if (c != ' ' && c != '\n' && c != '\r' && c != '\t') {
      word += c;
      continue;
    }
    if (word.empty()) continue;
    if (line.size() + 1 + word.size() > 79) {
      out += line + "\n";
      line = " ";
    }
    line += " " + word;
    word.clear();
  }
  return out + line + "\n";
}

}  // namespace

std::string manifest_text(const BagManifest& manifest) {
  std::string text;
  for (const auto& [path, digest] : manifest) text += fmt::format("{}  {}\n", digest.hex, encoded(path));
  return text;
}

Result<BagManifest> read_manifest(std::string_view text, const std::string& name) {
  BagManifest manifest;
  for (int number = 1; !text.empty(); ++number) {
    std::string_view line = text.substr(0, text.find_first_of("\r\n"));
    text.remove_prefix(std::min(line.size() + 1, text.size()));
    if (line.empty()) continue;
    const std::size_t path = line.size() > kHex ? line.find_first_not_of(" \t", kHex) : std::string_view::npos;
    std::string hex(line.substr(0, kHex));
    std::transform(hex.begin(), hex.end(), hex.begin(),
                   [](char c) { return c >= 'A' && c <= 'F' ? static_cast<char>(c - 'A' + 'a') : c; });
    const bool whole =
        path != std::string_view::npos && path > kHex && hex.find_first_not_of("0123456789abcdef") == std::string::npos;
    const std::string file = whole ? decoded(line.substr(path)) : "";
    if (!whole || !stays_within(file) || manifest.contains(file))
      return Failure{"exports", "damaged_list",
                     fmt::format("{}: line {} is no digest and file of the bag, or names it again.", name, number),
                     "Bring the bag back from another copy; without its manifests nobody can tell what changed."};
    manifest[file] = Digest{hex};
  }
  return manifest;
}

std::string bag_info(const Dataset& dataset, const std::string& day, std::uintmax_t octets, std::size_t files) {
  return labelled("Source-Organization", dataset.organisation) +
         labelled("Contact-Name", fmt::format("{} {}", dataset.contact_given_name, dataset.contact_surname)) +
         labelled("Contact-Email", dataset.contact_email) +
         labelled("External-Description", dataset.description.empty() ? dataset.title : dataset.description) +
         labelled("External-Identifier", dataset.institution_code.empty()
                                             ? ""
                                             : fmt::format("{} {}", dataset.institution_code, dataset.collection_code)) +
         labelled("Bagging-Date", day) + labelled("Bag-Software-Agent", "papillote") +
         labelled("Payload-Oxum", fmt::format("{}.{}", octets, files));
}

std::optional<Digest> digest_of_file(const fs::path& file) {
  std::error_code error;
  if (!fs::is_regular_file(file, error)) return std::nullopt;
  std::ifstream in(file, std::ios::binary);
  if (!in) return std::nullopt;
  const std::string bytes{std::istreambuf_iterator<char>(in), {}};
  if (in.bad()) return std::nullopt;
  return digest_of(bytes);
}

Result<std::vector<std::string>> faults_of_bag(const fs::path& bag) {
  const auto declaration = text_of(bag / "bagit.txt");
  if (!declaration.ok()) return declaration.failure();
  std::vector<std::string> faults;
  if (*declaration != kBagDeclaration) faults.push_back((bag / "bagit.txt").string() + " does not declare BagIt 1.0 in UTF-8");
  BagManifest payload;
  for (const char* name : {kPayloadManifest, kTagManifest}) {
    const auto text = text_of(bag / name);
    if (!text.ok()) return text.failure();
    auto manifest = read_manifest(*text, (bag / name).string());
    if (!manifest.ok()) return manifest.failure();
    check(bag, *manifest, faults);
    if (name == kPayloadManifest) payload = std::move(manifest).value();
  }
  std::error_code error;
  for (const auto& entry : fs::recursive_directory_iterator(bag / "data", error)) {
    const std::string path = entry.path().lexically_relative(bag).generic_string();
    if (entry.is_regular_file(error) && !payload.contains(path)) faults.push_back(entry.path().string() + " is in no manifest");
  }
  return faults;
}

}  // namespace papillote::exports
