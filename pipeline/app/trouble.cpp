#include "pipeline/app/trouble.h"

#include <iostream>

namespace papillote::app {

ExitCode said(const Failure& failure) {
  std::cerr << "papillote: " << failure.reason;
  if (!failure.remedy.empty()) std::cerr << ' ' << failure.remedy;
  std::cerr << '\n';
  return failure.kind == "busy" ? kStoreBusy : kCannotGoOn;
}

}  // namespace papillote::app
