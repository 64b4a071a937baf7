#include "pipeline/exports/utf8.h"

#include <nlohmann/json.hpp>

namespace papillote::exports {

std::string valid_utf8(const std::string& text) {
  return nlohmann::json::parse(nlohmann::json(text).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace))
      .get<std::string>();
}

}  // namespace papillote::exports
