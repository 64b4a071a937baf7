// What a browser may send to the desk: whatever it is, the answer is one of those the page knows, and nothing is kept without a
// name. First line: method and address, the rest is the body. "@0" to "@3" stand for the ids of the collection.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <nlohmann/json.hpp>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "pipeline/review/desk.h"
#include "pipeline/store/decisions.h"
#include "pipeline/store/movements.h"
#include "pipeline/store/sameness.h"
#include "tests/store/collection.h"

namespace papillote::review {
namespace {

using nlohmann::json;

// Somebody at the desk of a small collection.
class Sitting {
 public:
  Sitting() {
    store::Store store = store::opened(folder_.path());
    const auto sheet = [](const char* path, const char* number, const char* slip) {
      return store::photograph(path,
                               {store::envelope(0, store::box(0, 0, 100, 100), "Labuan 12.vii.1909", slip),
                                store::envelope(1, store::box(200, 0, 100, 100), "Simla 1897")},
                               "07", number);
    };
    for (const auto& index : {sheet("a.jpg", "1", "LEP-1"), sheet("b.jpg", "9", "")}) {
      store::keep(store, index);
      for (std::string& id : store::ids_on(store, index.photo.path)) ids_.push_back(std::move(id));
    }
    desk_ = std::make_unique<Desk>(Desk::open(folder_.path(), craft()).value());
  }

  Reply send(std::string_view input) {
    std::string text;
    for (std::size_t i = 0; i < input.size(); ++i) {
      if (input[i] == '@' && i + 1 < input.size() && input[i + 1] >= '0' && input[i + 1] <= '3')
        text += ids_[static_cast<std::size_t>(input[++i] - '0')];
      else
        text += input[i];
    }
    Request request;
    const std::size_t end = std::min(text.find('\n'), text.size());
    const std::string line = text.substr(0, end);
    if (end < text.size()) request.body = text.substr(end + 1);
    const std::size_t blank = std::min(line.find(' '), line.size());
    request.method = line.substr(0, blank) == "POST" ? "POST" : "GET";
    const std::string address = blank < line.size() ? line.substr(blank + 1) : "";
    const std::size_t mark = std::min(address.find('?'), address.size());
    request.path = address.substr(0, mark);
    for (std::size_t from = mark + 1; from < address.size();) {
      const std::size_t to = std::min(address.find('&', from), address.size());
      const std::size_t sign = std::min(address.find('=', from), to);
      request.asked[address.substr(from, sign - from)] = sign < to ? address.substr(sign + 1, to - sign - 1) : "";
      from = to + 1;
    }
    return desk_->answer(request);
  }

  // Everything that people said, with who said it.
  [[nodiscard]] std::vector<std::string> names() {
    store::Store store = store::opened(folder_.path(), store::Access::read);
    std::vector<std::string> all;
    for (const std::string& id : ids_) {
      for (const auto& each : store::history_of(store, id)) all.push_back(each.who);
      for (const auto& each : store::movements_of(store, id)) all.push_back(each.who);
    }
    for (const auto& each : store::sameness_history(store)) all.push_back(each.who);
    return all;
  }

 private:
  Craft craft() {
    Craft craft;
    craft.now = [] { return std::string("2026-01-02T03:04:05Z"); };
    craft.file = [](store::Store&, const Photo&) -> Result<std::string> {
      return Failure{"review", "gone", "It is gone.", ""};
    };
    craft.understand = [](const std::string&, const std::string& typed, const Calibration&) -> Result<Understood> {
      return Understood{json(typed).dump(-1, ' ', false, json::error_handler_t::replace), std::nullopt, {}, {}};
    };
    craft.days = [](const std::string&) -> Result<std::optional<store::DayRange>> { return std::optional<store::DayRange>(); };
    craft.places = [](const std::string&) { return std::vector<Place>{}; };
    craft.alike = [](std::span<const std::string>) { return std::vector<std::vector<std::size_t>>{{0, 1}}; };
    craft.refound = [this](store::Store&) {
      return std::vector<Refound>{{{ids_[2], "b.jpg", {}, 1}, {ids_[0], "a.jpg", {}, 1}, 0.9, {}}};
    };
    craft.scanned = [](store::Store&, const std::string& code) -> Result<Scanned> { return Scanned{code, "", ""}; };
    craft.plain = [](const std::string&, const std::string&) -> Result<Done> { return Done{}; };
    craft.pick_list = [](store::Store&, const std::vector<store::Hit>&, const std::string&) { return std::string("%PDF"); };
    return craft;
  }

  store::TemporaryFolder folder_;
  std::vector<std::string> ids_;
  std::unique_ptr<Desk> desk_;
};

}  // namespace
}  // namespace papillote::review

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace papillote::review;
  static Sitting sitting;
  const Reply reply = sitting.send({reinterpret_cast<const char*>(data), size});
  static const std::set<int> kKnown{200, 400, 404, 409, 422};
  if (!kKnown.contains(reply.status)) __builtin_trap();
  if (reply.type == "application/json") {
    const json said = json::parse(reply.body, nullptr, false);
    if (said.is_discarded() || (reply.status != 200 && !said.contains("error"))) __builtin_trap();
  }
  if (size > 0 && data[0] == 'P' && reply.status == 200)
    for (const std::string& who : sitting.names())
      if (who.empty()) __builtin_trap();
  return 0;
}
