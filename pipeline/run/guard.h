// A crash inside a library ends the program; the guard begins it again, so that the batch goes on without a person.
#pragma once

#include <functional>

namespace papillote::run {

// Runs `work` in a process of its own and answers its exit code. When that process ends by a fatal signal (a crash, or a
// photograph that never came to an end), `again` is told and the work begins anew: what was done is remembered, and what
// crashed it twice is passed over. SIGTERM is handed on to it; killed, the guard takes it along. To be called before any
// thread is started.
[[nodiscard]] int guarded(const std::function<int()>& work, const std::function<void()>& again);

}  // namespace papillote::run
