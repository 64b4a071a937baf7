#include "pipeline/app/memory.h"

#include <malloc.h>

namespace papillote::app {

void keep_freed_memory() {
  constexpr int kGiB = 1 << 30;
  mallopt(M_MMAP_MAX, 0);
  mallopt(M_TRIM_THRESHOLD, kGiB);
  mallopt(M_ARENA_MAX, 1);  // the others' heaps are too small for a picture
}

}  // namespace papillote::app
