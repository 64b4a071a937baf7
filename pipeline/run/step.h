// The remembering call of a stage.
//
//   auto scale = step(calibration::stage, options.calibration, calibration::calibrate, photo, pixels);
//   auto lines = step(lines::stage, NoOptions{}, lines::find_lines, each_of(found), scale, pixels);
//
// 1. An input failed: the answer is "not run, because calibration failed"; nothing is recorded.
// 2. The key is the SHA-256 of the stage's name and version, its described options, and the identity of each input.
// 3. The key is known: the stored answer, failures included.
// 4. Otherwise the function runs inside a fence (an exception becomes Failure "internal"), and the answer goes to the writer.
// When the file itself cannot be read, nothing is recorded either.
// A fresh answer is read back from its canonical text, so that both ways give equal values. A redone step with an
// equal answer leaves the keys after it as they were: the wave stops there.
//
// An input is anything with `name()`, `identity()` (text that stands for its value) and `get()` (a value or a Result):
// an Answer, `each_of` an answer, `given` from outside, the photograph's `file()`, lazily decoded pixels.
// The function is called with the inputs' values in order, and with the options last if it takes them.
// With `each_of` it is called once per element, and the answer is an Each.
#pragma once

#include <fmt/format.h>

#include <cstddef>
#include <exception>
#include <functional>
#include <new>
#include <optional>
#include <string>
#include <string_view>
#include <tuple>
#include <type_traits>
#include <utility>
#include <vector>

#include "pipeline/record/codec.h"
#include "pipeline/record/digest.h"
#include "pipeline/record/photo.h"
#include "pipeline/record/stage.h"
#include "pipeline/run/photograph.h"
#include "pipeline/run/writer.h"
#include "pipeline/store/results.h"
#include "pipeline/store/store.h"

namespace papillote::run {

// What a step answered. Decoded from its text when first looked at: a photograph whose answers are all known costs little.
template <class T>
class Answer {
 public:
  using value_type = T;

  Answer(std::string_view stage, std::string body, Digest digest, bool ran)
      : stage_(stage), body_(std::move(body)), digest_(std::move(digest)), ran_(ran) {}
  // Not run, because of `root`.
  Answer(std::string_view stage, const Failure& root)
      : stage_(stage),
        root_(root),
        result_(Failure{std::string(stage), "not_run", fmt::format("Not run, because {} failed.", root.stage), root.remedy}) {}

  [[nodiscard]] const Result<T>& get() const {
    if (!result_) result_.emplace(nlohmann::json::parse(body_).get<Result<T>>());
    return *result_;
  }
  [[nodiscard]] bool ok() const { return get().ok(); }
  [[nodiscard]] const T& operator*() const { return get().value(); }
  [[nodiscard]] const T* operator->() const { return &get().value(); }

  // The failure that began it, whichever stage it was; nothing when the answer is a value.
  [[nodiscard]] const Failure* root_failure() const {
    if (root_) return &*root_;
    return body_.starts_with(R"({"failure")") ? &get().failure() : nullptr;
  }

  [[nodiscard]] std::string_view name() const { return stage_; }
  [[nodiscard]] const std::string& identity() const { return digest_.hex; }
  [[nodiscard]] bool ran() const { return ran_; }  // now, rather than remembered

 private:
  std::string_view stage_;
  std::string body_;
  Digest digest_;
  bool ran_ = false;
  std::optional<Failure> root_;
  mutable std::optional<Result<T>> result_;
};

// A value from outside the line: a setting, a correction, an engine. `identity` stands for it in the key.
template <class T>
class Given {
 public:
  Given(std::string_view name, T& value, std::string identity) : name_(name), value_(&value), identity_(std::move(identity)) {}
  [[nodiscard]] std::string_view name() const { return name_; }
  [[nodiscard]] const std::string& identity() const { return identity_; }
  [[nodiscard]] T& get() const { return *value_; }

 private:
  std::string_view name_;
  T* value_;
  std::string identity_;
};

// The value must outlive the step.
template <class T>
[[nodiscard]] Given<T> given(std::string_view name, T& value, std::string identity) {
  return {name, value, std::move(identity)};
}
template <class T>
[[nodiscard]] Given<const T> given(std::string_view name, const T& value) {
  return {name, value, canonical(nlohmann::json(value))};
}

// Marks an answer whose elements are handed over one by one: a vector of values or an Each.
template <class T>
struct EachOf {
  const Answer<T>& answer;

  [[nodiscard]] std::string_view name() const { return answer.name(); }
  [[nodiscard]] const std::string& identity() const { return answer.identity(); }
  [[nodiscard]] const Failure* root_failure() const { return answer.root_failure(); }
  [[nodiscard]] std::size_t size() const { return answer->size(); }
  [[nodiscard]] const auto& at(std::size_t i) const { return answer->at(i); }
};

template <class T>
[[nodiscard]] EachOf<T> each_of(const Answer<T>& answer) {
  return {answer};
}

namespace inside {

template <class T>
struct IsEachOf : std::false_type {};
template <class T>
struct IsEachOf<EachOf<T>> : std::true_type {};

template <class T>
struct Answered {
  using type = T;
};
template <class T>
struct Answered<Result<T>> {
  using type = T;
};

template <class T>
[[nodiscard]] const Failure* failure_in(const Result<T>& result) {
  return result.ok() ? nullptr : &result.failure();
}
template <class T>
[[nodiscard]] const Failure* failure_in(const T&) {
  return nullptr;
}

template <class T>
[[nodiscard]] const T& value_in(const Result<T>& result) {
  return result.value();
}
template <class T>
[[nodiscard]] T& value_in(Result<T>& result) {
  return result.value();
}
template <class T>
[[nodiscard]] T& value_in(T& value) {
  return value;
}

// An input's value for element `i`.
template <class Input>
[[nodiscard]] decltype(auto) part(const Input& input, std::size_t i) {
  if constexpr (IsEachOf<Input>::value)
    return input.at(i);
  else
    return input.get();
}

template <class Input>
[[nodiscard]] const Failure* root_failure(const Input& input) {
  if constexpr (requires { input.root_failure(); })
    return input.root_failure();
  else
    return nullptr;
}

// The file cannot be read at this moment, which says nothing about what it shows.
template <class Input>
[[nodiscard]] std::optional<Failure> out_of_reach(const Input& input) {
  if constexpr (!IsEachOf<Input>::value) {
    const auto& got = input.get();
    if (const Failure* failure = failure_in(got); failure != nullptr && failure->stage == kFile) return *failure;
  }
  return std::nullopt;
}

template <class Function, class Options, class... Values>
decltype(auto) call(const Function& function, const Options& options, Values&... values) {
  if constexpr (std::is_invocable_v<const Function&, Values&..., const Options&>)
    return std::invoke(function, values..., options);
  else
    return std::invoke(function, values...);
}

// A photograph's path is no part of what it shows: a renamed file keeps its answers.
template <class T>
[[nodiscard]] Digest identity_of(const T&, const std::string& body) {
  return digest_of(body);
}
[[nodiscard]] inline Digest identity_of(const Result<Photo>& result, const std::string& body) {
  if (!result.ok()) return digest_of(body);
  Photo photo = *result;
  photo.path.clear();
  return digest_of(canonical(nlohmann::json(photo)));
}

}  // namespace inside

class Step {
 public:
  // `reader` sees what earlier batches kept.
  Step(Photograph& photograph, store::Store& reader, Writer& writer, bool retry_failed);

  template <class Options, class Function, class... Inputs>
  [[nodiscard]] auto operator()(const Stage& stage, const Options& options, const Function& function, const Inputs&... inputs) {
    constexpr bool kEach = (inside::IsEachOf<Inputs>::value || ...);
    const auto run_one = [&](std::size_t i) {
      return std::apply([&](auto&&... got) { return fenced(stage, function, options, got...); },
                        std::tuple<decltype(inside::part(inputs, i))...>(inside::part(inputs, i)...));
    };
    using One = decltype(run_one(0));  // a Result
    using T = std::conditional_t<kEach, std::vector<One>, typename One::value_type>;

    for (const Failure* root : {inside::root_failure(inputs)...})
      if (root != nullptr) return Answer<T>(stage.name, *root);

    store::Ingredients ingredients{
        stage.version, canonical(described(options)), {{std::string(inputs.name()), std::string(inputs.identity())}...}};
    const Digest key = key_of(stage, ingredients);
    if (auto known = recall(stage, key, ingredients))
      return Answer<T>(stage.name, std::move(known->body), known->digest, false);

    begin();
    for (const std::optional<Failure>& file : {inside::out_of_reach(inputs)...})
      if (file) return Answer<T>(stage.name, *file);
    const Result<T> fresh = [&]() -> Result<T> {
      if constexpr (kEach) {
        std::size_t size = 0;
        const auto measure = [&](const auto& input) {
          if constexpr (inside::IsEachOf<std::remove_cvref_t<decltype(input)>>::value) size = input.size();
        };
        (measure(inputs), ...);
        T all;
        all.reserve(size);
        for (std::size_t i = 0; i < size; ++i) all.push_back(run_one(i));
        return all;
      } else {
        return run_one(0);
      }
    }();
    std::string body = canonical(nlohmann::json(fresh));
    const Digest digest = inside::identity_of(fresh, body);
    keep(stage, key, body, digest, std::move(ingredients));
    return Answer<T>(stage.name, std::move(body), digest, true);
  }

  // Steps asked so far, in order: how the photograph stands when its line is through.
  [[nodiscard]] const std::vector<store::Standing>& standing() const { return now_; }
  // Nothing ran and nothing differs from how the photograph stood.
  [[nodiscard]] bool as_before() const;

 private:
  [[nodiscard]] static Digest key_of(const Stage&, const store::Ingredients&);
  [[nodiscard]] std::optional<store::KeptAnswer> recall(const Stage&, const Digest& key, const store::Ingredients&);
  void begin();  // the first time something must run: leaves an attempt
  void keep(const Stage&, const Digest& key, const std::string& body, const Digest&, store::Ingredients);
  [[nodiscard]] const store::Standing* before(std::string_view stage) const;

  // Everything a function may do wrong ends here.
  template <class Function, class Options, class... Got>
  auto fenced(const Stage& stage, const Function& function, const Options& options, Got&&... got) {
    using Returned = std::remove_cvref_t<decltype(inside::call(function, options, inside::value_in(got)...))>;
    using One = Result<typename inside::Answered<Returned>::type>;
    for (const Failure* failure : {inside::failure_in(got)...}) {
      if (failure != nullptr) return One(*failure);
    }
    try {
      return One(inside::call(function, options, inside::value_in(got)...));
    } catch (const store::Trouble&) {
      throw;
    } catch (const std::bad_alloc&) {
      throw;  // the machine's fault, not the photograph's
    } catch (const std::exception& error) {
      return One(internal(stage, error.what()));
    } catch (...) {
      return One(internal(stage, "unknown exception"));
    }
  }
  [[nodiscard]] Failure internal(const Stage&, std::string_view what) const;

  Photograph& photograph_;
  store::Store& reader_;
  Writer& writer_;
  bool retry_failed_;
  bool begun_ = false;
  std::vector<store::Standing> before_;
  std::vector<store::Standing> now_;
};

}  // namespace papillote::run
