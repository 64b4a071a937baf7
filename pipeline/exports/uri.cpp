#include "pipeline/exports/uri.h"

#include <fmt/format.h>

#include <string_view>

namespace papillote::exports {

std::string uri_of(const std::string& base, const std::string& path) {
  if (base.empty()) return "";
  std::string uri = base.ends_with('/') ? base : base + '/';
  for (const char c : path) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                       std::string_view("-._~/").find(c) != std::string_view::npos;
    uri += plain ? std::string(1, c) : fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  return uri;
}

}  // namespace papillote::exports
