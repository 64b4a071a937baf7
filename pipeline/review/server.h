// The desk over HTTP, on this machine alone.
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "pipeline/review/desk.h"

namespace papillote::review {

class Server {
 public:
  // Binds 127.0.0.1; port 0 = any free one. Failure "no_port" when it is taken.
  [[nodiscard]] static Result<Server> bind(Desk, int port);
  Server(Server&&) noexcept;
  ~Server();

  [[nodiscard]] int port() const;
  // "http://127.0.0.1:8123/#key": the key never reaches a log or another page.
  [[nodiscard]] std::string address() const;

  void serve();  // until `stop`, from another thread
  void stop();

 private:
  struct Inside;
  explicit Server(std::unique_ptr<Inside>);
  std::unique_ptr<Inside> inside_;
};

}  // namespace papillote::review
