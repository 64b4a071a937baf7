// The desk over a real connection: who may come in, what a write keeps, and what a late or forged one changes (nothing).
#include "pipeline/review/server.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <httplib.h>

#include <memory>
#include <nlohmann/json.hpp>
#include <thread>

#include "pipeline/store/decisions.h"
#include "pipeline/store/envelopes.h"
#include "pipeline/store/movements.h"
#include "pipeline/store/sameness.h"
#include "tests/store/collection.h"

namespace papillote::review {
namespace {

using nlohmann::json;
using testing::HasSubstr;

constexpr const char* kHostile = "<script>alert(1)</script> \u202e=1+1 \"'&";

class Open : public testing::Test {
 protected:
  void SetUp() override {
    {
      store::Store store = store::opened(folder_.path());
      store::keep(store, store::photograph("a.jpg",
                                           {store::envelope(0, store::box(0, 0, 100, 100), "Labuan 12.vii.1909", "LEP-1"),
                                            store::envelope(1, store::box(200, 0, 100, 100), "Labuan 13.vii.1909"),
                                            store::envelope(2, store::box(400, 0, 100, 100), kHostile)},
                                           "07", "1"));
      store::keep(store,
                  store::photograph("b.jpg", {store::envelope(0, store::box(0, 0, 100, 100), "", "LEP-1")}, "07", "1", "back"));
      ids_ = store::ids_on(store, "a.jpg");
    }
    Craft craft;
    craft.now = [] { return std::string("2026-01-02T03:04:05Z"); };
    craft.file = [](store::Store&, const Photo&) -> Result<std::string> {
      return Failure{"review", "gone", "The photograph is gone.", ""};
    };
    craft.understand = [](const std::string&, const std::string& typed, const Calibration&) -> Result<Understood> {
      return Understood{json(typed).dump(), std::nullopt, {}, {}};
    };
    craft.days = [](const std::string& edtf) -> Result<std::optional<store::DayRange>> {
      if (edtf == "1909-07-12") return std::optional(store::DayRange{-22088, -22088});
      return Failure{"review", "not_understood", "This is no date.", "Write it as 1909-07-12."};
    };
    craft.places = [](const std::string&) { return std::vector<Place>{}; };
    craft.alike = [](std::span<const std::string>) { return std::vector<std::vector<std::size_t>>{{0, 1}}; };
    craft.refound = [this](store::Store&) {
      ++comparisons_;
      return refound_;
    };
    craft.scanned = [](store::Store& store, const std::string& code) -> Result<Scanned> {
      if (code.starts_with("place=")) return Scanned{"", "", code.substr(6)};
      if (const auto id = store::current_id(store, code)) return Scanned{*id, "", ""};
      return Failure{"bench", "unknown_envelope", code + " is no envelope of this collection.", ""};
    };
    craft.plain = [](const std::string& words, const std::string& what) -> Result<Done> {
      if (words.find('\n') == std::string::npos) return Done{};
      return Failure{"bench", "unclear_words", "The " + what + " cannot be seen.", ""};
    };
    craft.pick_list = [](store::Store&, const std::vector<store::Hit>& hits, const std::string& who) {
      return "%PDF " + std::to_string(hits.size()) + " for " + who;
    };
    server_ =
        std::make_unique<Server>(std::move(Server::bind(std::move(Desk::open(folder_.path(), craft)).value(), 0)).value());
    serving_ = std::thread([this] { server_->serve(); });
    client_ = std::make_unique<httplib::Client>("127.0.0.1", server_->port());
    const std::string address = server_->address();
    token_ = address.substr(address.find('#') + 1);
  }
  void TearDown() override {
    client_.reset();
    server_->stop();
    serving_.join();
  }

  [[nodiscard]] httplib::Headers key() const { return {{"X-Papillote-Token", token_}}; }
  [[nodiscard]] httplib::Headers own_page() const {
    return {{"X-Papillote-Token", token_}, {"Origin", "http://127.0.0.1:" + std::to_string(server_->port())}};
  }
  json get(const std::string& path) {
    const auto answer = client_->Get(path.c_str(), key());
    EXPECT_TRUE(answer && answer->status == 200) << path;
    return answer ? json::parse(answer->body) : json();
  }
  std::pair<int, json> post(const std::string& path, const json& body) {
    const auto answer = client_->Post(path.c_str(), own_page(), body.dump(), "application/json");
    EXPECT_TRUE(answer) << path;
    return answer ? std::pair{answer->status, json::parse(answer->body, nullptr, false)} : std::pair{0, json()};
  }
  std::size_t decisions() {
    auto store = store::opened(folder_.path(), store::Access::read);
    std::size_t count = 0;
    for (const std::string& id : ids_) count += store::history_of(store, id).size();
    return count;
  }
  std::size_t movements() {
    auto store = store::opened(folder_.path(), store::Access::read);
    std::size_t count = 0;
    for (const std::string& id : ids_) count += store::movements_of(store, id).size();
    return count;
  }
  [[nodiscard]] json scan(const std::string& code, const std::string& kind, const std::string& where) const {
    return {{"who", "Ada"}, {"code", code}, {"kind", kind}, {"where", where}};
  }
  [[nodiscard]] json change(std::size_t envelope, int seen, const json& value, const std::string& term = "date") const {
    return {{"id", ids_[envelope]}, {"term", term}, {"seen", seen}, {"value", value}};
  }

  store::TemporaryFolder folder_;
  std::vector<std::string> ids_;
  std::vector<Refound> refound_;
  int comparisons_ = 0;
  std::unique_ptr<Server> server_;
  std::unique_ptr<httplib::Client> client_;
  std::thread serving_;
  std::string token_;
};

TEST_F(Open, GivesThePageToAnybodyAndTheCollectionToTheKeyAlone) {
  const auto page = client_->Get("/");
  ASSERT_TRUE(page);
  EXPECT_EQ(page->status, 200);
  EXPECT_THAT(page->get_header_value("Content-Security-Policy"), HasSubstr("default-src 'none'"));
  EXPECT_EQ(page->body.find("http://"), std::string::npos) << "nothing from elsewhere";
  for (const char* path : {"/api/start", "/api/find", "/api/tins", "/picture/crop?id=x"}) {
    const auto answer = client_->Get(path);
    ASSERT_TRUE(answer);
    EXPECT_GE(answer->status, 400) << path;
    EXPECT_EQ(answer->body.find("Labuan"), std::string::npos);
  }
  EXPECT_EQ(get("/api/start").at("envelopes"), 3);
}

TEST_F(Open, TurnsAwayForeignPages) {
  for (const auto& [name, value] : {std::pair{"Origin", "http://elsewhere.example"}, {"Host", "elsewhere.example"}}) {
    httplib::Headers headers = own_page();
    headers.erase(name);
    headers.emplace(name, value);
    const auto answer = client_->Post("/api/decide", headers,
                                      json{{"who", "A"}, {"changes", {change(0, 0, "1909-07-12")}}}.dump(), "application/json");
    ASSERT_TRUE(answer);
    EXPECT_GE(answer->status, 400) << name;
  }
  EXPECT_EQ(decisions(), 0U);
}

TEST_F(Open, KeepsADecisionAndRefusesALateOne) {
  const auto [first, done] = post("/api/decide", {{"who", "Ada"}, {"changes", {change(0, 0, "1909-07-12")}}});
  EXPECT_EQ(first, 200);
  EXPECT_EQ(decisions(), 1U);  // on the disk when it was answered
  const json seen = get("/api/envelope?id=" + ids_[0]);
  EXPECT_EQ(seen.at("seen"), 1);
  EXPECT_EQ(seen.at("views")[0].at("facts").at("date").at("value"), "1909-07-12");

  const auto [late, refused] = post("/api/decide", {{"who", "Ben"}, {"changes", {change(0, 0, nullptr)}}});
  EXPECT_EQ(late, 409);
  EXPECT_EQ(refused.at("conflicts")[0].at("since")[0].at("who"), "Ada");
  EXPECT_EQ(decisions(), 1U);

  const auto [undone, answer] = post(
      "/api/decide", {{"who", "Ada"}, {"changes", {{{"id", ids_[0]}, {"term", "date"}, {"seen", 1}, {"take_back", true}}}}});
  EXPECT_EQ(undone, 200);
  EXPECT_EQ(decisions(), 2U) << "taken back, not erased";
}

TEST_F(Open, SpreadsACorrectionOverTheGroupOrNotAtAll) {
  const json alike = get("/api/alike?id=" + ids_[0] + "&term=date");
  ASSERT_EQ(alike.at("members").size(), 1U);
  EXPECT_EQ(alike.at("members")[0].at("id"), ids_[1]);
  EXPECT_EQ(post("/api/decide", {{"who", "Ada"}, {"changes", {change(0, 0, "1909-07-12"), change(1, 3, "1909-07-12")}}}).first,
            409);
  EXPECT_EQ(decisions(), 0U);
  EXPECT_EQ(post("/api/decide", {{"who", "Ada"}, {"changes", {change(0, 0, "1909-07-12"), change(1, 0, "1909-07-12")}}}).first,
            200);
  EXPECT_EQ(decisions(), 2U);
}

TEST_F(Open, SettlesAPriorityAndNoOtherWordForOne) {
  EXPECT_EQ(post("/api/decide", {{"who", "Ada"}, {"changes", {change(0, 0, "urgent", "priority")}}}).first, 400);
  EXPECT_EQ(post("/api/decide", {{"who", "Ada"}, {"changes", {change(0, 0, nullptr, "priority")}}}).first, 400);
  EXPECT_EQ(decisions(), 0U);
  EXPECT_EQ(post("/api/decide", {{"who", "Ada"}, {"changes", {change(0, 0, "isolate", "priority")}}}).first, 200);
  const json seen = get("/api/envelope?id=" + ids_[0]);
  EXPECT_EQ(seen.at("views").at(0).at("triage").at("level"), "isolate");
  const auto [status, done] = post("/api/decide", {{"who", "Ada"}, {"changes", {{{"id", ids_[0]}, {"term", "priority"}, {"seen", 1}, {"take_back", true}}}}});
  EXPECT_EQ(status, 200) << done;
  EXPECT_NE(get("/api/envelope?id=" + ids_[0]).at("views").at(0).at("triage").at("level"), "isolate");
}

TEST_F(Open, ASecondPersonChecksWhatTheFirstConfirmed) {
  EXPECT_EQ(post("/api/check", {{"who", "Ben"}, {"id", ids_[0]}, {"seen", 0}}).first, 422);
  EXPECT_EQ(post("/api/confirm", {{"who", "Ada"}, {"id", ids_[0]}, {"seen", 0}}).first, 200);
  EXPECT_EQ(post("/api/check", {{"who", "Ada"}, {"id", ids_[0]}, {"seen", 1}}).first, 422);
  EXPECT_EQ(post("/api/check", {{"who", "Ben"}, {"id", ids_[0]}, {"seen", 1}}).first, 200);
  EXPECT_EQ(get("/api/envelope?id=" + ids_[0]).at("checked").at("who"), "Ben");
}

TEST_F(Open, PicksTheWholeListOrNothing) {
  const std::string both = ids_[0] + "." + ids_[1];
  json entries = get("/api/picks?ids=" + both).at("entries");
  ASSERT_EQ(entries.size(), 2U);
  EXPECT_TRUE(entries[0].at("inside"));
  EXPECT_EQ(post("/api/pick", {{"who", "Ben"}, {"ids", {ids_[1]}}}).first, 200);
  const auto [status, refused] = post("/api/pick", {{"who", "Ada"}, {"ids", {ids_[0], ids_[1]}}});
  EXPECT_EQ(status, 409);
  EXPECT_THAT(refused.at("error"), HasSubstr("Ben"));
  EXPECT_EQ(movements(), 1U);
  entries = get("/api/picks?ids=" + both).at("entries");
  EXPECT_FALSE(entries[1].at("inside"));
  EXPECT_EQ(entries[1].at("where").at("who"), "Ben");
  std::string many = ids_[0];
  for (int i = 0; i < 500; ++i) many += ".A";
  EXPECT_EQ(client_->Get(("/api/picks?ids=" + many).c_str(), key())->status, 400);
}

TEST_F(Open, PrintsTheListForWhoeverHoldsTheKeyOfPictures) {
  const std::string list = "/picture/pick-list.pdf?who=Ada&ids=" + ids_[0] + "." + ids_[2];
  EXPECT_EQ(client_->Get(list.c_str())->status, 401);
  const auto entered = client_->Post("/api/enter", own_page(), "{}", "application/json");
  ASSERT_TRUE(entered);
  const std::string cookie = entered->get_header_value("Set-Cookie");
  const auto printed = client_->Get(list.c_str(), {{"Cookie", cookie.substr(0, cookie.find(';'))}});
  ASSERT_TRUE(printed);
  EXPECT_EQ(printed->get_header_value("Content-Type"), "application/pdf");
  EXPECT_EQ(printed->body, "%PDF 2 for Ada");
  EXPECT_EQ(movements(), 0U) << "to print is not to take";
}

TEST_F(Open, MovesWhatIsScannedAndPutsNothingInTwoPlaces) {
  EXPECT_EQ(post("/api/move", scan("place=drawer 12", "housed", "")).second.at("place"), "drawer 12");
  EXPECT_EQ(movements(), 0U);
  const auto [status, moved] = post("/api/move", scan(ids_[0], "housed", "drawer 12"));
  EXPECT_EQ(status, 200);
  EXPECT_EQ(moved.at("movement").at("where"), "drawer 12");
  EXPECT_EQ(movements(), 1U);
  for (const auto& [body, words] : {std::pair(scan(ids_[0], "housed", "drawer 13"), "drawer 12"),
                                    {scan("ZZZ", "picked", ""), "no envelope"},
                                    {scan(ids_[1], "juggled", ""), "juggled"},
                                    {scan(ids_[1], "housed", ""), "nowhere"},
                                    {scan(ids_[1], "housed", ids_[2]), "wrong field"},
                                    {scan(ids_[1], "housed", "a\nb"), "cannot be seen"}}) {
    const auto [refusal, answer] = post("/api/move", body);
    EXPECT_GE(refusal, 400) << body;
    EXPECT_THAT(answer.dump(), HasSubstr(words));
  }
  EXPECT_GE(post("/api/move", {{"code", ids_[1]}, {"kind", "picked"}, {"where", ""}}).first, 400) << "nobody moved it";
  EXPECT_EQ(movements(), 1U);
}

TEST_F(Open, TakesAWrongScanBackWithoutErasingIt) {
  ASSERT_EQ(post("/api/move", scan(ids_[0], "picked", "")).first, 200);
  ASSERT_EQ(post("/api/move", scan(ids_[0], "housed", "drawer 12")).first, 200);
  const auto [late, refused] = post("/api/take_back", {{"who", "Ben"}, {"id", ids_[0]}, {"seen", 1}});
  EXPECT_EQ(late, 409);
  EXPECT_THAT(refused.at("error"), HasSubstr("meanwhile"));
  const auto [status, back] = post("/api/take_back", {{"who", "Ada"}, {"id", ids_[0]}, {"seen", 2}});
  EXPECT_EQ(status, 200);
  EXPECT_EQ(back.at("movement").at("kind"), "picked");
  EXPECT_EQ(movements(), 3U);
  EXPECT_EQ(post("/api/take_back", {{"who", "Ada"}, {"id", ids_[1]}, {"seen", 0}}).first, 409) << "it never moved";
}

// The first two envelopes seem to have been photographed again on another sheet.
class OpenAgain : public Open {
 protected:
  void SetUp() override {
    Open::SetUp();
    {
      store::Store store = store::opened(folder_.path());
      store::keep(store, store::photograph("c.jpg",
                                           {store::envelope(0, store::box(0, 0, 100, 100), "Lobuan 12.vii.1909"),
                                            store::envelope(1, store::box(200, 0, 100, 100), "Labuan 13.vii.1909")},
                                           "07", "9"));
      newer_ = store::ids_on(store, "c.jpg");
    }
    for (std::size_t i = 0; i < 2; ++i)
      refound_.push_back({{newer_[i], "c.jpg", {"07", "9", "front", {}}, static_cast<int>(i) + 1},
                          {ids_[i], "a.jpg", {"07", "1", "front", {}}, static_cast<int>(i) + 1},
                          0.9 - 0.1 * static_cast<double>(i),
                          {"the text agrees to 94 %"}});
  }
  json pair(std::size_t i) { return get("/api/pair?newer=" + newer_[i] + "&earlier=" + ids_[i]); }
  std::pair<int, json> settle(const char* who, std::size_t i, const char* verdict, const json& seen) {
    return post("/api/settle", {{"who", who}, {"id", newer_[i]}, {"earlier", ids_[i]}, {"verdict", verdict}, {"seen", seen}});
  }
  std::vector<std::string> verdicts() {
    auto store = store::opened(folder_.path(), store::Access::read);
    std::vector<std::string> all;
    for (const store::Sameness& each : store::sameness_history(store)) all.push_back(each.who + ": " + each.verdict);
    return all;
  }

  std::vector<std::string> newer_;
};

TEST_F(OpenAgain, ShowsBothSidesAndComparesOnce) {
  const json pairs = get("/api/again").at("pairs");
  ASSERT_EQ(pairs.size(), 2U);
  EXPECT_EQ(pairs[0].at("newer"), newer_[0]);
  EXPECT_EQ(pairs[0].at("newer_at").at("sheet"), "9");
  EXPECT_EQ(pairs[0].at("reasons")[0], "the text agrees to 94 %");
  const json sides = pair(0);
  EXPECT_EQ(sides.at("newer").at("text"), "Lobuan 12.vii.1909");
  EXPECT_EQ(sides.at("newer").at("photograph"), "c.jpg");
  EXPECT_EQ(sides.at("earlier").at("number"), "LEP-1");
  EXPECT_EQ(sides.at("earlier").at("photograph"), "a.jpg") << "not its back";
  EXPECT_EQ(settle("Ada", 0, "same", sides.at("seen")).first, 200);
  EXPECT_EQ(get("/api/again").at("pairs").size(), 2U);
  EXPECT_EQ(comparisons_, 1) << "what a person says compares nothing anew";
  EXPECT_EQ(get("/api/again?anew=1").at("pairs").size(), 2U);
  EXPECT_EQ(comparisons_, 2);
  {
    store::Store store = store::opened(folder_.path());
    store::keep(store, store::photograph("d.jpg", {store::envelope(0, store::box(0, 0, 100, 100), "Banguey")}, "07", "10"));
  }
  (void)get("/api/again");
  EXPECT_EQ(comparisons_, 3) << "a new photograph is compared";
}

TEST_F(OpenAgain, JoinsPartsAndCallsDifferentAsAPersonSays) {
  (void)get("/api/again");
  const auto [status, done] = settle("Ada", 0, "same", 0);
  ASSERT_EQ(status, 200) << done;
  EXPECT_EQ(done.at("before"), "taken back");
  EXPECT_EQ(get("/api/start").at("envelopes"), 4) << "one record, on the disk when it was answered";
  EXPECT_EQ(get("/api/find?words=labuan").at("counts").at("found"), 3);
  json sides = pair(0);
  EXPECT_EQ(sides.at("verdict"), "same");
  EXPECT_EQ(sides.at("newer").at("id"), ids_[0]);
  EXPECT_EQ(sides.at("newer").at("photograph"), "c.jpg") << "each side is still shown by its own photograph";
  EXPECT_EQ(sides.at("earlier").at("photograph"), "a.jpg");

  const auto [changed, parted] = settle("Ada", 0, "other", sides.at("seen"));
  ASSERT_EQ(changed, 200) << parted;
  EXPECT_EQ(parted.at("before"), "same");
  EXPECT_EQ(get("/api/start").at("envelopes"), 5);
  EXPECT_EQ(settle("Ada", 0, "taken back", parted.at("seen")).first, 200);
  EXPECT_THAT(verdicts(), testing::ElementsAre("Ada: same", "Ada: taken back", "Ada: other", "Ada: taken back"));
  EXPECT_EQ(pair(0).at("verdict"), "");
  EXPECT_EQ(pair(0).at("history").size(), 4U) << "nothing is erased";
}

TEST_F(OpenAgain, ShowsWhatWasSettledMeanwhileAndOverwritesNothing) {
  (void)get("/api/again");
  const json seen = pair(0).at("seen");
  ASSERT_EQ(settle("Ada", 0, "same", seen).first, 200);
  const auto [late, refused] = settle("Ben", 0, "other", seen);
  EXPECT_EQ(late, 409);
  EXPECT_EQ(refused.at("conflicts")[0].at("since")[0].at("who"), "Ada");
  EXPECT_EQ(refused.at("conflicts")[0].at("since")[0].at("verdict"), "same");
  EXPECT_THAT(verdicts(), testing::ElementsAre("Ada: same"));
  EXPECT_EQ(settle("Ben", 1, "other", pair(1).at("seen")).first, 200) << "another pair is no conflict";
  EXPECT_EQ(settle("Ben", 0, "other", refused.at("conflicts")[0].at("seen")).first, 200) << "having seen it, she may";
}

TEST_F(OpenAgain, ListsWhatIsSettledAfterWhatIsNot) {
  ASSERT_EQ(settle("Ada", 0, "other", 0).first, 200);
  json pairs = get("/api/again").at("pairs");
  ASSERT_EQ(pairs.size(), 2U);
  EXPECT_EQ(pairs[0].at("newer"), newer_[1]);
  EXPECT_EQ(pairs[1].at("verdict"), "other");
  EXPECT_EQ(pairs[1].at("who"), "Ada");
  refound_.clear();  // as after a new start: what is settled is proposed no more, and may still be taken back
  pairs = get("/api/again?anew=1").at("pairs");
  ASSERT_EQ(pairs.size(), 1U);
  EXPECT_TRUE(pairs[0].at("confidence").is_null());
  EXPECT_EQ(pair(0).at("newer").at("photograph"), "c.jpg");
}

TEST_F(OpenAgain, DropsAPairThatWasSettledUnderOtherNames) {
  (void)get("/api/again");
  {
    store::Store store = store::opened(folder_.path(), store::Access::desk);
    ASSERT_TRUE(store::settle_sameness(store, {{newer_[0], ids_[1], "same", "Ben", "2026-01-02T03:04:05Z", ""}}).ok());
  }
  EXPECT_EQ(settle("Ada", 0, "same", 0).first, 409) << "the newer one is another by now";
  const auto pairs = get("/api/again").at("pairs");
  ASSERT_EQ(pairs.size(), 3U);
  EXPECT_EQ(pairs[2].at("earlier"), ids_[1]);
}

TEST_F(OpenAgain, RefusesWhatCannotBe) {
  for (const auto& [body, words] : std::vector<std::pair<json, const char*>>{
           {{{"id", newer_[0]}, {"earlier", ids_[0]}, {"verdict", "same"}, {"seen", 0}}, "who you are"},
           {{{"who", "Ada"}, {"id", newer_[0]}, {"earlier", ids_[0]}, {"verdict", "perhaps"}, {"seen", 0}}, "verdict"},
           {{{"who", "Ada"}, {"id", "ZZZZZZZZZZZ"}, {"earlier", ids_[0]}, {"verdict", "same"}, {"seen", 0}}, "identity"},
           {{{"who", "Ada"}, {"id", ids_[1]}, {"earlier", ids_[0]}, {"verdict", "same"}, {"seen", 0}}, "shows both"},
           {{{"who", "Ada"}, {"id", newer_[0]}, {"earlier", ids_[0]}, {"verdict", "taken back"}, {"seen", 0}}, "Nothing is settled"},
           {{{"who", "Ada\nBen"}, {"id", newer_[0]}, {"earlier", ids_[0]}, {"verdict", "same"}, {"seen", 0}}, "cannot be seen"},
           {{{"who", "Ada"}, {"id", newer_[0]}, {"verdict", "same"}, {"seen", 0}}, "earlier"}}) {
    const auto [status, answer] = post("/api/settle", body);
    EXPECT_GE(status, 400) << body;
    EXPECT_LT(status, 500) << body;
    EXPECT_THAT(answer.dump(), HasSubstr(words)) << body;
  }
  EXPECT_EQ(client_->Get("/api/pair?newer=x&earlier=y", key())->status, 404);
  EXPECT_THAT(verdicts(), testing::IsEmpty());
}

TEST_F(Open, SaysWhatIsWrongAndChangesNothing) {
  const auto refused = [&](const json& body, const char* words) {
    const auto [status, answer] = post("/api/decide", body);
    EXPECT_GE(status, 400);
    EXPECT_THAT(answer.dump(), HasSubstr(words));
  };
  refused({{"changes", {change(0, 0, "1909-07-12")}}}, "who you are");
  refused({{"who", "Ada"}, {"changes", {change(0, 0, "no date")}}}, "no date");
  refused({{"who", "Ada"}, {"changes", {change(0, 0, "x", "colour")}}}, "no such term");
  refused({{"who", "Ada"}, {"changes", {{{"id", "ZZZZZZZZZZZ"}, {"term", "date"}, {"seen", 0}, {"value", "1909-07-12"}}}}},
          "identity");
  refused({{"who", "Ada"}, {"changes", json::array()}}, "changes");
  const auto large = client_->Post("/api/decide", own_page(), std::string(1 << 20, 'x'), "application/json");
  EXPECT_TRUE(!large || large->status == 413);
  for (const char* path : {"/page/../papillote.sqlite", "/page/%2e%2e/papillote.sqlite", "/etc/passwd", "/api/nothing"}) {
    const auto answer = client_->Get(path, key());
    ASSERT_TRUE(answer) << path;
    EXPECT_GE(answer->status, 400) << path;
  }
  EXPECT_EQ(decisions(), 0U);
}

TEST_F(Open, OutlivesARequestThatLacksSomething) {
  const json name = "a name too long for the string to keep it within itself, so that it is freed";
  for (const auto& [path, body] : std::vector<std::pair<const char*, json>>{
           {"/api/decide", {{"who", name}, {"changes", {{{"id", ids_[0]}, {"term", "date"}, {"value", "1909-07-12"}}}}}},
           {"/api/decide", {{"who", name}, {"changes", {{{"id", ids_[0]}, {"seen", 0}}}}}},
           {"/api/confirm", {{"who", name}, {"id", ids_[0]}}},
           {"/api/check", {{"who", name}, {"id", ids_[0]}}},
           {"/api/pick", {{"who", name}}},
           {"/api/move", {{"who", name}, {"code", ids_[0]}, {"where", "drawer 12"}}},
           {"/api/take_back", {{"who", name}, {"id", ids_[0]}}},
           {"/api/settle", {{"who", name}, {"id", ids_[0]}, {"earlier", ids_[1]}, {"verdict", "other"}}}})
    EXPECT_EQ(post(path, body).first, 400) << path << ' ' << body;
  EXPECT_EQ(get("/api/start").at("envelopes"), 3) << "it answers still";
}

TEST_F(Open, FindsWhileSheTypesAndKeepsHostileTextAsText) {
  const json found = get("/api/find?words=labua");
  EXPECT_EQ(found.at("counts").at("found"), 2);
  EXPECT_EQ(get("/api/find?words=lobuan").at("counts").at("found"), 2) << "a near miss";
  EXPECT_EQ(get("/api/envelope?id=" + ids_[2]).at("views")[0].at("text"), kHostile);
  const json sheets = get("/api/tin?name=07").at("sheets");
  ASSERT_EQ(sheets.size(), 2U);
  EXPECT_EQ(sheets[0].at("envelopes").size(), 3U);
  EXPECT_EQ(sheets[0].at("view"), 0);
  EXPECT_EQ(sheets[1].at("view"), 1) << "the back is not shown by the picture of its front";
}

}  // namespace
}  // namespace papillote::review
