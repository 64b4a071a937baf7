// Failures as data: what a function answers when it may be unable to answer.
//
// A Failure is shown to a curator, so each part is written for her: `kind` is a short stable word that
// scripts may test, `reason` says what is wrong and names the file, `remedy` says what to do about it.
#pragma once

#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace papillote {

struct Failure {
  std::string stage;   // the stage or room that gave up: "registration", "store"
  std::string kind;    // stable word: "unreadable", "no_envelope", "crashed", "internal"
  std::string reason;  // one sentence, names the file where there is one
  std::string remedy;  // one sentence: what to do

  bool operator==(const Failure&) const = default;
};

// Either a value or a Failure. Reading the value of a failed Result throws std::bad_variant_access:
// test `ok()` first.
template <class T>
class [[nodiscard]] Result {
 public:
  using value_type = T;

  Result(T value) : held_(std::in_place_index<0>, std::move(value)) {}
  Result(Failure failure) : held_(std::in_place_index<1>, std::move(failure)) {}

  [[nodiscard]] bool ok() const { return held_.index() == 0; }
  explicit operator bool() const { return ok(); }

  [[nodiscard]] const T& value() const& { return std::get<0>(held_); }
  [[nodiscard]] T& value() & { return std::get<0>(held_); }
  [[nodiscard]] T&& value() && { return std::get<0>(std::move(held_)); }
  [[nodiscard]] const Failure& failure() const { return std::get<1>(held_); }

  const T& operator*() const& { return value(); }
  T& operator*() & { return value(); }
  T&& operator*() && { return std::move(*this).value(); }
  const T* operator->() const { return &value(); }
  T* operator->() { return &value(); }

 private:
  std::variant<T, Failure> held_;
};

// For functions that only succeed or fail.
struct Done {
  bool operator==(const Done&) const = default;
};

// One answer per envelope: one bad envelope does not fail its photograph.
template <class T>
using Each = std::vector<Result<T>>;

}  // namespace papillote
