// Words without regard to case, accents and punctuation, as search compares them.
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace papillote::store {

class Folder {
 public:
  Folder();
  Folder(Folder&&) noexcept;
  Folder& operator=(Folder&&) noexcept;
  ~Folder();

  // "Köln, Ærø" -> "koln", "aero". Any bytes; invalid UTF-8 is dropped.
  [[nodiscard]] std::vector<std::string> words(std::string_view text) const;
  [[nodiscard]] std::string joined(std::string_view text) const;

 private:
  struct Rules;
  std::unique_ptr<Rules> rules_;
};

}  // namespace papillote::store
