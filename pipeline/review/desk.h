// What the page asks and says, answered from the store as JSON. Knows nothing of HTTP.
//
// Every write names who does it and, for each envelope, how many decisions she had seen of it: where somebody else decided since,
// nothing is written and the answer (409) shows what stands now. An answer of 200 to a write means that it is on the disk.
#pragma once

#include <filesystem>
#include <map>
#include <memory>
#include <string>

#include "pipeline/record/result.h"
#include "pipeline/review/craft.h"

namespace papillote::review {

struct Request {
  std::string method;  // "GET", "POST"
  std::string path;    // "/api/find"
  std::map<std::string, std::string> asked;  // after '?'
  std::string body;    // JSON of a POST
};

struct Reply {
  int status = 200;
  std::string type = "application/json";
  std::string body;
};

class Desk {
 public:
  // Failures: those of opening a store.
  [[nodiscard]] static Result<Desk> open(const std::filesystem::path& collection, Craft craft);
  Desk(Desk&&) noexcept;
  ~Desk();

  // From several threads at once. Whatever is wrong is said in the reply: {"error": sentence}.
  [[nodiscard]] Reply answer(const Request&);

 private:
  struct Inside;
  explicit Desk(std::unique_ptr<Inside>);
  std::unique_ptr<Inside> inside_;
};

[[nodiscard]] Reply refusal(int status, const std::string& sentence);

}  // namespace papillote::review
