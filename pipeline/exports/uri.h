// Addresses of photographs outside.
#pragma once

#include <string>

namespace papillote::exports {

// `path` behind `base`, a '/' between them; every byte that may not stand in the path of a URI (RFC 3986) as %XX. Empty without a base.
[[nodiscard]] std::string uri_of(const std::string& base, const std::string& path);

}  // namespace papillote::exports
