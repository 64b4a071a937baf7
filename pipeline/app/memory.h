// How the program keeps the memory it works with.
#pragma once

namespace papillote::app {

// Pictures and the nets' numbers come and go by the hundred megabytes. Left to itself, the C library hands each back to the
// kernel, which clears it anew for the next: up to a fifth of the work. To be called once, before anything is worked on.
void keep_freed_memory();

}  // namespace papillote::app
