#include "pipeline/review/gate.h"

#include <fmt/format.h>

#include <random>

namespace papillote::review {
namespace {

// Takes the same time wherever the two differ.
bool same(std::string_view a, std::string_view b) {
  if (a.size() != b.size()) return false;
  unsigned difference = 0;
  for (std::size_t i = 0; i < a.size(); ++i) difference |= static_cast<unsigned>(a[i] ^ b[i]);
  return difference == 0;
}

std::string random_word() {
  std::random_device device;
  std::string word;
  for (int i = 0; i < 4; ++i) word += fmt::format("{:08x}", device());
  return word;
}

// This machine by its own names, at any port: a tunnel may give it another.
bool is_this_machine(std::string_view host) {
  const std::size_t port = host.rfind(':');
  if (port != std::string_view::npos && host.find_first_not_of("0123456789", port + 1) == std::string_view::npos) host = host.substr(0, port);
  return host == "127.0.0.1" || host == "localhost" || host == "[::1]";
}

std::string cookie_in(std::string_view cookies, std::string_view name) {
  while (!cookies.empty()) {
    const std::size_t end = std::min(cookies.find(';'), cookies.size());
    std::string_view one = cookies.substr(0, end);
    while (!one.empty() && one.front() == ' ') one.remove_prefix(1);
    if (one.size() > name.size() && one.starts_with(name) && one[name.size()] == '=') return std::string(one.substr(name.size() + 1));
    cookies.remove_prefix(std::min(end + 1, cookies.size()));
  }
  return "";
}

}  // namespace

Keys random_keys() { return {random_word(), random_word()}; }

std::string cookie_name(int port) { return fmt::format("papillote_{}", port); }

std::optional<Reply> turned_away(const std::string& method, const std::string& path, const Header& header, const Keys& keys, int port) {
  const std::string host = header("Host");
  if (!is_this_machine(host)) return refusal(421, "This page answers only under the address that 'papillote desk' printed.");
  if (method != "GET" && method != "POST") return refusal(405, "Only reading and deciding are possible here.");
  const std::string origin = header("Origin");
  const std::string site = header("Sec-Fetch-Site");
  const bool own = (origin.empty() || origin == "http://" + host) && (site.empty() || site == "same-origin" || (site == "none" && method == "GET"));
  if (path.starts_with("/api/") || path.starts_with("/picture/")) {
    if (!own) return refusal(403, "The request comes from another page; nothing was changed.");
  }
  if (method == "POST") {
    if (origin.empty()) return refusal(403, "The request does not say which page it comes from; nothing was changed.");
    if (!header("Content-Type").starts_with("application/json")) return refusal(415, "The request is not JSON; nothing was changed.");
  }
  if (path.starts_with("/api/") && !same(header("X-Papillote-Token"), keys.token))
    return refusal(401, "Open the address that 'papillote desk' printed: it ends with this day's key.");
  if (path.starts_with("/picture/") && !same(cookie_in(header("Cookie"), cookie_name(port)), keys.picture))
    return refusal(401, "Open the address that 'papillote desk' printed: it ends with this day's key.");
  return std::nullopt;
}

}  // namespace papillote::review
