#include "pipeline/bench/natural_order.h"

namespace papillote::bench {
namespace {

bool is_digit(char c) { return c >= '0' && c <= '9'; }

// Takes the leading run of digits off `text`, without its leading noughts.
std::string_view take_number(std::string_view& text) {
  std::size_t length = 0;
  while (length < text.size() && is_digit(text[length])) ++length;
  std::string_view number = text.substr(0, length);
  text.remove_prefix(length);
  while (number.size() > 1 && number.front() == '0') number.remove_prefix(1);
  return number;
}

}  // namespace

int natural_compare(std::string_view left, std::string_view right) {
  std::string_view l = left;
  std::string_view r = right;
  while (!l.empty() && !r.empty()) {
    if (is_digit(l.front()) && is_digit(r.front())) {
      const std::string_view left_number = take_number(l);
      const std::string_view right_number = take_number(r);
      if (left_number.size() != right_number.size()) return left_number.size() < right_number.size() ? -1 : 1;
      if (const int order = left_number.compare(right_number); order != 0) return order;
    } else {
      if (l.front() != r.front()) return static_cast<unsigned char>(l.front()) < static_cast<unsigned char>(r.front()) ? -1 : 1;
      l.remove_prefix(1);
      r.remove_prefix(1);
    }
  }
  if (l.empty() != r.empty()) return l.empty() ? -1 : 1;
  if (left.size() != right.size()) return left.size() < right.size() ? -1 : 1;
  return left.compare(right);
}

}  // namespace papillote::bench
