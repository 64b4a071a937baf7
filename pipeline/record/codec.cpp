#include "pipeline/record/codec.h"

#include <cmath>

namespace papillote {
namespace {

void round_numbers(nlohmann::json& value) {
  if (value.is_number_float()) {
    const double rounded = std::round(value.get<double>() * 1e6) / 1e6;
    value = rounded == 0 ? 0.0 : rounded;  // no "-0.0"
  } else if (value.is_structured()) {
    for (auto& part : value) round_numbers(part);
  }
}

}  // namespace

std::string canonical(const nlohmann::json& value) {
  nlohmann::json rounded = value;
  round_numbers(rounded);
  return rounded.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

}  // namespace papillote
