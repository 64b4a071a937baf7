#include "pipeline/run/step.h"

#include "pipeline/run/reasons.h"

namespace papillote::run {

Step::Step(Photograph& photograph, store::Store& reader, Writer& writer, bool retry_failed)
    : photograph_(photograph),
      reader_(reader),
      writer_(writer),
      retry_failed_(retry_failed),
      before_(store::standing_steps(reader, photograph.key())) {}

Digest Step::key_of(const Stage& stage, const store::Ingredients& ingredients) {
  nlohmann::json all = {{"stage", stage.name},
                        {"version", ingredients.version},
                        {"options", ingredients.options},
                        {"inputs", ingredients.inputs}};
  return digest_of(canonical(all));
}

const store::Standing* Step::before(std::string_view stage) const {
  for (const store::Standing& standing : before_)
    if (standing.stage == stage) return &standing;
  return nullptr;
}

std::optional<store::KeptAnswer> Step::recall(const Stage& stage, const Digest& key, const store::Ingredients& ingredients) {
  auto known = store::find_answer(reader_, key);
  if (!known) return std::nullopt;
  if (retry_failed_ && known->body.starts_with(R"({"failure")")) return std::nullopt;
  const store::Standing* last = before(stage.name);
  const bool same = last != nullptr && last->key == key;
  now_.push_back({std::string(stage.name), key, ingredients, same ? last->reason : "known from an earlier run"});
  return known;
}

void Step::begin() {
  if (begun_) return;
  begun_ = true;
  // With the bytes it is about: a crash counts against these alone.
  writer_.put(
      [photograph = photograph_.key(), facts = photograph_.facts(), sha256 = photograph_.sha256()](store::Store& store) {
        store::keep_facts(store, photograph, facts, sha256);
        store::begin_attempt(store, photograph);
      });
  writer_.settle();  // on record before anything can go wrong
}

void Step::keep(const Stage& stage, const Digest& key, const std::string& body, const Digest& digest,
                store::Ingredients ingredients) {
  const store::Standing* last = before(stage.name);
  std::string reason = "ran: " + why_it_runs(last ? std::optional(*last) : std::nullopt, ingredients);
  now_.push_back({std::string(stage.name), key, std::move(ingredients), std::move(reason)});
  writer_.put([key, body, digest, name = std::string(stage.name)](store::Store& store) {
    store::keep_answer(store, key, name, body, digest);
  });
}

bool Step::as_before() const {
  if (begun_ || before_.size() != now_.size()) return false;
  for (std::size_t i = 0; i < now_.size(); ++i)
    if (before_[i].key != now_[i].key) return false;
  return true;
}

Failure Step::internal(const Stage& stage, std::string_view what) const {
  return {std::string(stage.name), "internal",
          fmt::format("{}: {} gave up with an unexpected error: {}.", photograph_.path(), stage.name, what),
          "Please report it with the photograph; the batch goes on without it."};
}

}  // namespace papillote::run
