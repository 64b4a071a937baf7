// Who may come in: what every request must prove before the desk hears of it.
//
// The page's files hold nothing of the collection and are given to anybody on this machine. Everything else needs the token of the
// printed address, which the page sends in a header; pictures, which a page cannot ask for with a header, need a key of their own in
// a cookie. Cookies are shared between ports of a host, so that key opens pictures alone. A foreign name in "Host" is a foreign page
// that had its name pointed at this machine; a foreign "Origin" is a foreign page that sends a form.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>

#include "pipeline/review/desk.h"

namespace papillote::review {

struct Keys {
  std::string token;    // in the printed address, behind '#'
  std::string picture;  // in the cookie
};
[[nodiscard]] Keys random_keys();  // 128 bits each, from the system

// The name of the cookie, one for each port.
[[nodiscard]] std::string cookie_name(int port);

using Header = std::function<std::string(const char* name)>;  // "" = not there

// Nothing when the request may pass.
[[nodiscard]] std::optional<Reply> turned_away(const std::string& method, const std::string& path, const Header&, const Keys&, int port);

}  // namespace papillote::review
