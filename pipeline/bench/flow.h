// Blocks set one below the other; one that does not fit the rest of a page starts the next.
#pragma once

#include <functional>
#include <utility>

#include "pipeline/bench/look.h"

namespace papillote::bench {

class Flow {
 public:
  // `head` draws what stands at the top of every page but the first, and answers where the text goes on.
  Flow(Book& book, std::function<double(Page&)> head) : book_(book), head_(std::move(head)) { book_.turn(); }

  // The page on which a block of `height` goes at `y`.
  Page& room_for(double height) {
    constexpr double kFooter = 14;
    if (y + height > book_.page().height() - kFooter) {
      book_.turn();
      y = head_(book_.page());
    }
    return book_.page();
  }

  double y = kMarginMm;

 private:
  Book& book_;
  std::function<double(Page&)> head_;
};

}  // namespace papillote::bench
