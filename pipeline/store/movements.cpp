#include "pipeline/store/movements.h"

#include <fmt/format.h>

#include <algorithm>
#include <span>

#include "pipeline/store/sqlite.h"

namespace papillote::store {
namespace {

// How the note of a movement that sets the one before it right begins.
constexpr std::string_view kCorrects = "corrects ";

constexpr std::string_view kInTin = "in its tin";

// What cannot follow what, and what to do about it.
struct Bar {
  std::vector<std::string_view> after;
  std::vector<std::string_view> next;
  const char* remedy;
};

const std::vector<Bar>& bars() {
  static const std::vector<Bar> all{
      {{kInTin, "housed"}, {"drying"}, "Record first how it came onto a board."},
      {{kInTin}, {"returned"}, "If it was taken without being recorded, record that first."},
      // Damp wings tear and pins rust: what is relaxed or set is not laid on a sheet, frozen or put back among papers.
      {{"relaxing", "on_board", "drying"},
       {"captured", "frozen", "returned"},
       "Record it as picked when it has been taken out, or correct the record before."},
      {{"on_board", "drying"}, {"relaxing", "repapered"}, "Record it as picked when it comes off its board."},
      {{"drying"}, {"on_board"}, "Record it as picked when it comes off its board."},
      {{kInTin, "frozen", "repapered", "housed"},
       {"on_board"},
       "A dry specimen breaks on a board: relax it and record that first."},
      {{"housed"}, {"captured", "returned"}, "Record it as picked when it is taken out of there."},
  };
  return all;
}

bool is_in(std::string_view word, std::span<const std::string_view> words) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

std::string in_words(std::string kind) {
  std::replace(kind.begin(), kind.end(), '_', ' ');
  return kind;
}

std::string stands(const Movement& last) {
  std::string words = "is recorded as " + in_words(last.kind);
  if (!last.where.empty()) words += fmt::format(" ({})", last.where);
  if (!last.when.empty()) words += " since " + last.when.substr(0, 10);
  if (!last.who.empty()) words += ", by " + last.who;
  return words;
}

Failure refused(std::string kind, std::string reason, std::string remedy) {
  return {"store", std::move(kind), std::move(reason), std::move(remedy)};
}

Movement movement_in(const Query& row, int first) {
  Movement m{row.text(first),
             row.text(first + 1),
             row.text(first + 2),
             row.text(first + 3),
             row.text(first + 4),
             row.text(first + 5),
             false};
  m.corrects = m.note.starts_with(kCorrects);
  return m;
}

std::string note_of(const Movement& next, const std::vector<Movement>& history) {
  if (!next.corrects) return next.note;
  const Movement wrong = holding(history).back();
  return fmt::format("{}{} of {}{}{}", kCorrects, in_words(wrong.kind), wrong.when, next.note.empty() ? "" : ": ", next.note);
}

}  // namespace

std::vector<Movement> holding(const std::vector<Movement>& history) {
  std::vector<Movement> held;
  for (const Movement& m : history) {
    if (m.corrects && !held.empty()) held.pop_back();
    held.push_back(m);
  }
  return held;
}

bool in_its_tin(const std::optional<Movement>& last) { return !last || last->kind == "captured" || last->kind == "returned"; }

std::optional<Failure> objection(const std::vector<Movement>& history, const Movement& next) {
  std::vector<Movement> held = holding(history);
  if (next.kind == "housed" && next.where.empty())
    return refused("no_place", fmt::format("{} cannot be housed nowhere.", next.envelope_id), "Say the drawer and the tray.");
  if (next.corrects) {
    if (held.empty())
      return refused("nothing_to_correct", fmt::format("{} has not been moved yet.", next.envelope_id),
                     "Record the movement itself.");
    if (held.back().kind == next.kind && held.back().where == next.where)
      return refused("already", fmt::format("{} {} already.", next.envelope_id, stands(held.back())),
                     "Say what is right instead.");
    held.pop_back();
  }
  const std::optional<Movement> last = held.empty() ? std::nullopt : std::optional(held.back());
  // Nothing happened at all: it is where it was before.
  if (next.corrects && (last ? last->kind == next.kind : next.kind == "returned")) return std::nullopt;
  const auto impossible = [&](const std::string& remedy) {
    const std::string now = last ? stands(*last) : "lies in its tin by all that is recorded";
    return refused("impossible", fmt::format("{} {}: it cannot be {} now.", next.envelope_id, now, in_words(next.kind)),
                   remedy);
  };
  if (last && last->kind == "missing" && next.kind != "missing" && next.kind != "found")
    return impossible("Record it as found first, with its place.");
  if (next.kind == "found" && (!last || last->kind != "missing")) return impossible("Only what is missing can be found.");
  if (last && last->kind == next.kind && next.kind != "captured") {
    if (last->where == next.where && (next.kind != "picked" || last->who == next.who))
      return refused("already", fmt::format("{} {} already.", next.envelope_id, stands(*last)), "Nothing needs to be done.");
    return impossible(next.kind == "picked" ? "It cannot be taken twice: ask who has it."
                                            : "Record it as picked when it is taken from there, or correct the record before.");
  }
  if (last && last->kind == "found") return std::nullopt;
  for (const Bar& bar : bars()) {
    const bool after =
        last ? is_in(last->kind, bar.after) || (in_its_tin(last) && is_in(kInTin, bar.after)) : is_in(kInTin, bar.after);
    if (after && is_in(next.kind, bar.next)) return impossible(bar.remedy);
  }
  return std::nullopt;
}

Result<Done> record_movements(Store& store, const std::vector<Movement>& movements,
                              const std::function<std::optional<Failure>()>& also) {
  Transaction transaction(store, Durability::full);
  if (also)
    if (const auto no = also()) return *no;
  for (const Movement& m : movements) {
    if (!is_in(m.kind, kMovementKinds))
      return refused("unknown_movement", fmt::format("'{}' is no movement of an envelope.", m.kind),
                     fmt::format("Say one of: {}.", fmt::join(kMovementKinds, ", ")));
    if (!m.corrects && m.note.starts_with(kCorrects))
      return refused(
          "unclear_note",
          fmt::format("A note that begins with \"{}\" says that the movement before was recorded by mistake.", kCorrects),
          "Word it otherwise, or record a correction.");
    std::int64_t key = 0;
    {
      Query envelope(store, "SELECT key FROM envelope WHERE id = ?", m.envelope_id);
      if (!envelope.next())
        return refused("unknown_envelope", fmt::format("{}: no envelope has this id.", m.envelope_id),
                       "Check the id and try again; nothing was recorded.");
      key = envelope.integer(0);
    }
    const std::vector<Movement> history = movements_of(store, m.envelope_id);
    if (const auto no = objection(history, m)) return *no;
    Query(store, "INSERT INTO movement(envelope, kind, who, at, place, note) VALUES(?, ?, ?, ?, ?, ?)", key, m.kind, m.who,
          m.when, m.where, note_of(m, history))
        .run();
  }
  transaction.commit();
  return Done{};
}

std::vector<Movement> movements_of(Store& store, const std::string& envelope_id) {
  std::vector<Movement> all;
  Query row(store,
            "SELECT e.id, m.kind, m.who, m.at, m.place, m.note "
            "FROM envelope asked JOIN envelope e ON coalesce(e.joined_to, e.key) = coalesce(asked.joined_to, asked.key) "
            "JOIN movement m ON m.envelope = e.key WHERE asked.id = ? ORDER BY m.key",
            envelope_id);
  while (row.next()) all.push_back(movement_in(row, 0));
  return all;
}

std::optional<Movement> whereabouts(Store& store, const std::string& envelope_id) {
  std::vector<Movement> all = movements_of(store, envelope_id);
  if (all.empty()) return std::nullopt;
  return std::move(all.back());
}

void for_each_followed(Store& store, const std::function<void(const Followed&)>& take) {
  std::map<std::int64_t, std::vector<Movement>> moved;  // by the envelope that they stand for now
  {
    Query row(store,
              "SELECT coalesce(e.joined_to, e.key), e.id, m.kind, m.who, m.at, m.place, m.note FROM movement m JOIN envelope e "
              "ON e.key = m.envelope "
              "ORDER BY m.key");
    while (row.next()) moved[row.integer(0)].push_back(movement_in(row, 1));
  }
  Query row(store, "SELECT envelope, id, catalogue_number, tin, sheet FROM search_row ORDER BY shelf");
  while (row.next()) {
    Followed one{row.text(1), row.text(2), row.text(3), row.text(4), true, {}};
    if (const auto known = moved.find(row.integer(0)); known != moved.end()) {
      one.history = std::move(known->second);
      moved.erase(known);
    }
    take(one);
  }
  for (auto& [key, history] : moved) {
    Query envelope(store, "SELECT id, coalesce(catalogue_number, '') FROM envelope WHERE key = ?", key);
    if (envelope.next()) take({envelope.text(0), envelope.text(1), "", "", false, std::move(history)});
  }
}

}  // namespace papillote::store
