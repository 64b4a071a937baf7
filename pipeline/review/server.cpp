#include "pipeline/review/server.h"

#include <fmt/format.h>
#include <httplib.h>

#include <algorithm>

#include "pipeline/review/gate.h"
#include "pipeline/review/page_files.h"

namespace papillote::review {
namespace {

constexpr std::size_t kMostBytes = 256 * 1024;  // of a request's body
// A browser holds up to six connections open, and each takes a thread while it does.
constexpr std::size_t kThreads = 24;
constexpr int kPatienceSeconds = 5;

constexpr const char* kPolicy =
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'";

const char* type_of(std::string_view name) {
  if (name.ends_with(".html")) return "text/html; charset=utf-8";
  if (name.ends_with(".css")) return "text/css; charset=utf-8";
  if (name.ends_with(".js")) return "text/javascript; charset=utf-8";
  if (name.ends_with(".json")) return "application/json";
  if (name.ends_with(".svg")) return "image/svg+xml";
  return "text/plain; charset=utf-8";
}

void put(httplib::Response& response, const Reply& reply) {
  response.status = reply.status;
  response.set_content(reply.body, reply.type.c_str());
}

Request request_of(const httplib::Request& from) {
  Request request{from.method, from.path, {}, from.body};
  for (const auto& [name, value] : from.params) request.asked[name] = value;
  return request;
}

}  // namespace

struct Server::Inside {
  explicit Inside(Desk answers) : desk(std::move(answers)) {}

  Desk desk;
  Keys keys = random_keys();
  int port = 0;
  httplib::Server http;

  void set_up() {
    http.new_task_queue = [] { return new httplib::ThreadPool(kThreads); };
    http.set_payload_max_length(kMostBytes);
    http.set_read_timeout(kPatienceSeconds);
    http.set_write_timeout(kPatienceSeconds);
    http.set_keep_alive_timeout(kPatienceSeconds);
    http.set_keep_alive_max_count(1000);
    http.set_tcp_nodelay(true);
    // The library's own choice lets another program listen on the same port.
    http.set_socket_options([](socket_t socket) {
      const int yes = 1;
      setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    });
    http.set_default_headers({{"Content-Security-Policy", kPolicy},
                              {"X-Content-Type-Options", "nosniff"},
                              {"Referrer-Policy", "no-referrer"},
                              {"Cross-Origin-Resource-Policy", "same-origin"},
                              {"Cross-Origin-Opener-Policy", "same-origin"}});
    http.set_pre_routing_handler([this](const httplib::Request& request, httplib::Response& response) {
      const auto no = turned_away(request.method, request.path, [&](const char* name) { return request.get_header_value(name); }, keys, port);
      if (!no) return httplib::Server::HandlerResponse::Unhandled;
      put(response, *no);
      return httplib::Server::HandlerResponse::Handled;
    });
    http.set_exception_handler([](const httplib::Request&, httplib::Response& response, std::exception_ptr) {
      put(response, refusal(500, "Something went wrong inside papillote; nothing was changed. Please report it."));
    });
    http.set_error_handler([](const httplib::Request&, httplib::Response& response) {
      if (!response.body.empty()) return;
      put(response, response.status == 413 ? refusal(413, "The request is too large; nothing was changed.")
                                           : refusal(response.status, "The request cannot be answered; nothing was changed."));
    });
    http.Get("/", [this](const httplib::Request&, httplib::Response& response) { page("index.html", response); });
    http.Get(R"(/page/(.*))", [this](const httplib::Request& request, httplib::Response& response) { page(request.matches[1].str(), response); });
    http.Post("/api/enter", [this](const httplib::Request&, httplib::Response& response) {
      response.set_header("Set-Cookie", fmt::format("{}={}; Path=/picture/; HttpOnly; SameSite=Strict", cookie_name(port), keys.picture));
      put(response, {200, "application/json", "{}"});
    });
    const auto answer = [this](const httplib::Request& request, httplib::Response& response) {
      const Reply reply = desk.answer(request_of(request));
      const bool picture = reply.status == 200 && reply.type == "image/jpeg";
      response.set_header("Cache-Control", picture ? "private, max-age=600" : "no-store");
      put(response, reply);
    };
    http.Get(R"(/(api|picture)/.*)", answer);
    http.Post(R"(/api/.*)", answer);
  }

  static void page(const std::string& name, httplib::Response& response) {
    const auto& files = page_files();
    const auto file = std::find_if(files.begin(), files.end(), [&](const PageFile& one) { return one.name == name; });
    if (file == files.end()) return put(response, refusal(404, "There is nothing here."));
    response.set_header("Cache-Control", "no-cache");
    response.set_content(file->content.data(), file->content.size(), type_of(name));
  }
};

Result<Server> Server::bind(Desk desk, int port) {
  auto inside = std::make_unique<Inside>(std::move(desk));
  inside->set_up();
  if (port == 0)
    inside->port = inside->http.bind_to_any_port("127.0.0.1");
  else if (inside->http.bind_to_port("127.0.0.1", port))
    inside->port = port;
  if (inside->port <= 0)
    return Failure{"review", "no_port", fmt::format("Port {} of this machine is taken.", port), "Give another with --port, or none for any free one."};
  return Server(std::move(inside));
}

Server::Server(std::unique_ptr<Inside> inside) : inside_(std::move(inside)) {}
Server::Server(Server&&) noexcept = default;
Server::~Server() = default;

int Server::port() const { return inside_->port; }
std::string Server::address() const { return fmt::format("http://127.0.0.1:{}/#{}", inside_->port, inside_->keys.token); }
void Server::serve() { inside_->http.listen_after_bind(); }
void Server::stop() { inside_->http.stop(); }

}  // namespace papillote::review
