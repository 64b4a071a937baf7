#include "pipeline/run/batch.h"

#include <fmt/format.h>

#include <algorithm>
#include <deque>
#include <mutex>
#include <new>
#include <thread>
#include <vector>

#include "pipeline/run/budget.h"
#include "pipeline/run/crash_note.h"
#include "pipeline/run/folder.h"
#include "pipeline/store/photographs.h"

namespace papillote::run {
namespace {

constexpr int kCrashesUntilPassedOver = 2;
// Left in hand this often without a crash that was noted, a photograph no longer goes first: whatever ends the program
// there must not keep the others from their turn.
constexpr int kLeftInHandUntilLast = 3;
constexpr const char* kCrashFile = "crashed-on.txt";

Failure crashed(const std::string& path) {
  return {"run", "crashed", fmt::format("{} ended the program {} times and is passed over.", path, kCrashesUntilPassedOver),
          "Please report it with the photograph; 'papillote process --retry-failed' tries it again."};
}

// One batch in the hands of its workers.
class Batch {
 public:
  Batch(const BatchOptions& options, const MakeLine& make_line, Progress& progress, const std::atomic<bool>& stop,
        Folder folder, store::Store& store)
      : options_(options),
        make_line_(make_line),
        progress_(progress),
        stop_(stop),
        folder_(std::move(folder)),
        store_(store),
        budget_(options.memory_megapixels) {}

  Result<BatchTotals> run() {
    std::vector<store::KnownPhotograph> known = take_up();
    totals_.photographs = static_cast<int>(known.size());
    // Left in hand by a batch that ended without a word: first, and alone, so that a second crash is known to be theirs.
    std::vector<store::KnownPhotograph> first;
    std::vector<store::KnownPhotograph> rest;
    std::vector<store::KnownPhotograph> last;
    for (store::KnownPhotograph& one : known) {
      if (one.left_in_hand >= kLeftInHandUntilLast)
        last.push_back(std::move(one));
      else if (one.left_in_hand > 0 || one.crashes > 0)
        first.push_back(std::move(one));
      else
        rest.push_back(std::move(one));
    }

    progress_.begin(totals_.photographs);
    for (const Failure& failure : folder_.unreadable) progress_.remark(failure.reason + " " + failure.remedy);
    {
      Writer writer(store_);
      const CrashNote crash_note(options_.collection / kCrashFile);
      const Watchdog watchdog{std::chrono::duration<double>(options_.patience_s)};
      work_through(std::move(first), 1, writer);
      work_through(std::move(rest), options_.jobs, writer);
      work_through(std::move(last), 1, writer);
      if (!trouble_) {
        try {
          writer.put([this](store::Store& store) { store::settle_missing(store, folder_.path.string(), folder_.photographs); });
          writer.settle();
        } catch (const store::Trouble& trouble) {
          trouble_ = trouble.failure;
        }
      }
    }
    progress_.end();
    if (trouble_) return *trouble_;
    totals_.stopped = stop_ && handled_ < totals_.photographs;
    return totals_;
  }

 private:
  std::vector<store::KnownPhotograph> take_up() {
    store::Transaction transaction(store_);
    const std::string folder = folder_.path.string();
    for (const std::string& path : CrashNote::take(options_.collection / kCrashFile)) store::count_crash(store_, folder, path);
    auto known = store::take_up(store_, folder, folder_.photographs);
    transaction.commit();
    return known;
  }

  void work_through(std::vector<store::KnownPhotograph> photographs, int jobs, Writer& writer) {
    waiting_.assign(std::make_move_iterator(photographs.begin()), std::make_move_iterator(photographs.end()));
    const int workers = std::min(jobs, static_cast<int>(waiting_.size()));
    std::vector<std::thread> threads;
    for (int i = 1; i < workers; ++i) threads.emplace_back([&] { work(writer); });
    if (workers > 0) work(writer);
    for (std::thread& thread : threads) thread.join();
  }

  std::optional<store::KnownPhotograph> next() {
    const std::lock_guard lock(mutex_);
    if (stop_ || trouble_ || waiting_.empty()) return std::nullopt;
    store::KnownPhotograph photograph = std::move(waiting_.front());
    waiting_.pop_front();
    return photograph;
  }

  void give_up(const Failure& failure) {
    const std::lock_guard lock(mutex_);
    if (!trouble_) trouble_ = failure;
  }

  void work(Writer& writer) {
    try {
      std::optional<Line> line;
      std::optional<store::Store> reader;
      while (auto known = next()) {
        if (!reader) {
          auto opened = store::Store::open(options_.collection, store::Access::read);
          if (!opened.ok()) return give_up(opened.failure());
          reader.emplace(std::move(opened).value());
          auto made = make_line_();
          if (!made.ok()) return give_up(made.failure());
          line.emplace(std::move(made).value());
        }
        one(*known, *line, *reader, writer);
      }
    } catch (const store::Trouble& trouble) {
      give_up(trouble.failure);
    } catch (const std::bad_alloc&) {
      give_up({"run", "out_of_memory", "There was not enough memory to go on.",
               "Use fewer --jobs or a smaller --memory-megapixels and run the same command again."});
    } catch (const std::exception& error) {
      give_up({"run", "internal", fmt::format("The batch stopped with an unexpected error: {}.", error.what()),
               "Please report it."});
    }
  }

  void one(const store::KnownPhotograph& known, const Line& line, store::Store& reader, Writer& writer) {
    auto opened = Photograph::open(folder_.path, known, options_.rehash, budget_);
    if (!opened.ok()) return out_of_reach(known, opened.failure(), writer);
    Photograph photograph = std::move(opened).value();
    const bool new_content = !known.sha256.hex.empty() && known.sha256 != photograph.sha256();
    if (known.crashes > 0 && (new_content || options_.retry_failed))
      writer.put([key = known.key](store::Store& store) { store::forget_crashes(store, key); });
    else if (known.crashes >= kCrashesUntilPassedOver)
      return pass_over(known, photograph, writer);
    const InHand in_hand(known.path);
    Step step(photograph, reader, writer, options_.retry_failed);
    store::Outcome outcome = fenced(line, photograph, step);
    outcome.index.photo.sha256 = photograph.sha256();
    if (outcome.failure && outcome.failure->stage == kFile) return out_of_reach(known, *outcome.failure, writer);
    const bool failed = outcome.failure.has_value();
    const Failure failure = outcome.failure.value_or(Failure{});
    const bool as_before = step.as_before() && known.settled && known.facts == photograph.facts() && !new_content &&
                           !known.missing && known.left_in_hand == 0;
    if (as_before) return said(known, failed ? Ending::failed : Ending::known, failed ? &failure : nullptr, false);
    writer.put([key = known.key, facts = photograph.facts(), sha256 = photograph.sha256(), path = known.path,
                standing = step.standing(), outcome = std::move(outcome)](store::Store& store) {
      store::keep_facts(store, key, facts, sha256);
      store::keep_standing(store, key, standing);
      store::replace_index(store, key, path, outcome);
    });
    said(known, failed ? Ending::failed : Ending::done, failed ? &failure : nullptr, true);
  }

  // It may be readable again tomorrow: what is in the index stays.
  void out_of_reach(const store::KnownPhotograph& known, const Failure& failure, Writer& writer) {
    writer.put([key = known.key, failure](store::Store& store) { store::keep_unreadable(store, key, failure); });
    said(known, Ending::failed, &failure, true);
  }

  // What the line itself gets wrong; a stage's mistakes end in its step.
  [[nodiscard]] static store::Outcome fenced(const Line& line, Photograph& photograph, Step& step) {
    store::Outcome outcome;
    try {
      return line(photograph, step);
    } catch (const store::Trouble&) {
      throw;
    } catch (const std::bad_alloc&) {
      outcome.failure =
          Failure{"run", "out_of_memory", fmt::format("{}: there was not enough memory for it.", photograph.path()),
                  "Use fewer --jobs or a smaller --memory-megapixels and run the same command again."};
    } catch (const std::exception& error) {
      outcome.failure =
          Failure{"run", "internal", fmt::format("{}: gave up with an unexpected error: {}.", photograph.path(), error.what()),
                  "Please report it with the photograph; the batch goes on without it."};
    }
    return outcome;
  }

  void pass_over(const store::KnownPhotograph& known, const Photograph& photograph, Writer& writer) {
    store::Outcome outcome;
    outcome.index.photo.sha256 = photograph.sha256();
    outcome.failure = crashed(known.path);
    if (known.failure != outcome.failure)
      writer.put([key = known.key, path = known.path, outcome](store::Store& store) {
        store::replace_index(store, key, path, outcome);
      });
    said(known, Ending::failed, &*outcome.failure, false);
  }

  void said(const store::KnownPhotograph& known, Ending ending, const Failure* failure, bool worked_on) {
    const std::lock_guard lock(mutex_);
    ++handled_;
    if (ending == Ending::failed) ++totals_.failed;
    if (worked_on) ++totals_.done;
    if (!worked_on) ++totals_.known;
    progress_.photograph(known.path, ending, failure);
  }

  const BatchOptions& options_;
  const MakeLine& make_line_;
  Progress& progress_;
  const std::atomic<bool>& stop_;
  Folder folder_;
  store::Store& store_;
  Budget budget_;
  std::mutex mutex_;
  std::deque<store::KnownPhotograph> waiting_;
  std::optional<Failure> trouble_;
  BatchTotals totals_;
  int handled_ = 0;
};

}  // namespace

Result<BatchTotals> run_batch(const BatchOptions& options, const MakeLine& make_line, Progress& progress,
                              const std::atomic<bool>& stop) {
  auto folder = list_photographs(options.photographs, options.collection);
  if (!folder.ok()) return folder.failure();
  auto store = store::Store::open(options.collection, store::Access::batch);
  if (!store.ok()) return store.failure();
  try {
    return Batch(options, make_line, progress, stop, std::move(folder).value(), *store).run();
  } catch (const store::Trouble& trouble) {
    return trouble.failure;
  }
}

}  // namespace papillote::run
