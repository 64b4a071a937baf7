#include "stages/reading/grammar.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <unordered_map>

#include "stages/reading/decode.h"

namespace papillote::reading {

int Grammar::add(char32_t c) {
  characters_.push_back(c);
  after_.emplace_back();
  last_.push_back(false);
  return positions() - 1;
}

int Grammar::append(const Grammar& more) {
  const int moved = positions();
  characters_.insert(characters_.end(), more.characters_.begin(), more.characters_.end());
  last_.insert(last_.end(), more.last_.begin(), more.last_.end());
  for (const auto& follow : more.after_) {
    after_.emplace_back();
    for (const int position : follow) after_.back().push_back(position + moved);
  }
  return moved;
}

Grammar Grammar::text(std::u32string_view text) {
  Grammar g;
  g.empty_too_ = text.empty();
  for (const char32_t c : text) {
    const int position = g.add(c);
    if (position == 0)
      g.first_ = {0};
    else
      g.after_[static_cast<std::size_t>(position) - 1] = {position};
  }
  if (!text.empty()) g.last_.back() = true;
  return g;
}

Grammar Grammar::one_of(std::u32string_view characters) {
  Grammar g;
  for (const char32_t c : characters) {
    g.first_.push_back(g.add(c));
    g.last_.back() = true;
  }
  return g;
}

Grammar Grammar::any(const std::vector<Grammar>& choices) {
  Grammar g;
  for (const Grammar& choice : choices) {
    const int moved = g.append(choice);
    for (const int position : choice.first_) g.first_.push_back(position + moved);
    g.empty_too_ = g.empty_too_ || choice.empty_too_;
  }
  return g;
}

Grammar Grammar::sequence(const std::vector<Grammar>& parts) {
  Grammar g;
  g.empty_too_ = true;
  for (const Grammar& part : parts) {
    const auto before = static_cast<std::size_t>(g.positions());
    const int moved = g.append(part);
    for (std::size_t i = 0; i < before; ++i) {
      if (!g.last_[i]) continue;
      for (const int position : part.first_) g.after_[i].push_back(position + moved);
      if (!part.empty_too_) g.last_[i] = false;
    }
    if (g.empty_too_)
      for (const int position : part.first_) g.first_.push_back(position + moved);
    g.empty_too_ = g.empty_too_ && part.empty_too_;
  }
  return g;
}

Grammar Grammar::optional(const Grammar& grammar) {
  Grammar g = grammar;
  g.empty_too_ = true;
  return g;
}

Grammar Grammar::words(const std::vector<std::u32string>& words) {
  Grammar g;
  std::map<std::pair<int, char32_t>, int> tree;  // (position before or -1, character) -> position
  for (const auto& word : words) {
    int before = -1;
    for (const char32_t c : word) {
      const auto [found, fresh] = tree.try_emplace({before, c}, 0);
      if (fresh) {
        found->second = g.add(c);
        (before < 0 ? g.first_ : g.after_[static_cast<std::size_t>(before)]).push_back(found->second);
      }
      before = found->second;
    }
    if (before >= 0) g.last_[static_cast<std::size_t>(before)] = true;
  }
  return g;
}

namespace {

Grammar number_between(int low, int high) {
  std::vector<std::u32string> numbers;
  for (int n = low; n <= high; ++n) {
    const std::string digits = std::to_string(n);
    numbers.emplace_back(digits.begin(), digits.end());
  }
  return Grammar::words(numbers);
}

// Month names and abbreviations in English, French, German, Spanish, Italian, Portuguese and Dutch.
const std::vector<std::u32string>& month_words() {
  static const std::vector<std::u32string> words{
      U"January", U"February", U"March", U"April", U"May", U"June", U"July", U"August", U"September", U"October", U"November",
      U"December", U"Jan", U"Feb", U"Mar", U"Apr", U"Jun", U"Jul", U"Aug", U"Sep", U"Sept", U"Oct", U"Nov", U"Dec",
      U"janvier", U"février", U"mars", U"avril", U"mai", U"juin", U"juillet", U"août", U"septembre", U"octobre", U"novembre",
      U"décembre", U"janv", U"févr", U"avr", U"juil", U"déc", U"Januar", U"Jänner", U"Februar", U"März", U"Mai", U"Juni", U"Juli",
      U"Oktober", U"Dezember", U"Okt", U"Dez", U"enero", U"febrero", U"marzo", U"abril", U"mayo", U"junio", U"julio", U"agosto",
      U"septiembre", U"octubre", U"noviembre", U"diciembre", U"gennaio", U"febbraio", U"aprile", U"maggio", U"giugno", U"luglio",
      U"settembre", U"ottobre", U"dicembre", U"janeiro", U"fevereiro", U"março", U"maio", U"junho", U"julho", U"setembro",
      U"outubro", U"novembro", U"dezembro", U"januari", U"februari", U"maart", U"april", U"mei", U"juni", U"juli", U"augustus",
      U"september", U"oktober", U"november", U"december", U"jan", U"feb", U"mrt", U"apr", U"aug", U"sept", U"okt", U"nov", U"dec"};
  return words;
}

}  // namespace

Grammar date_grammar() {
  const auto space = Grammar::optional(Grammar::text(U" "));
  const auto mark = Grammar::any({Grammar::sequence({Grammar::one_of(U".-/"), space}), Grammar::text(U" ")});
  const auto day = Grammar::any({number_between(1, 31), Grammar::sequence({Grammar::text(U"0"), Grammar::one_of(U"123456789")})});
  const auto days = Grammar::sequence({day, Grammar::optional(Grammar::sequence({Grammar::one_of(U"-–"), day}))});
  const auto roman = Grammar::words({U"i", U"ii", U"iii", U"iv", U"v", U"vi", U"vii", U"viii", U"ix", U"x", U"xi", U"xii", U"I", U"II",
                                     U"III", U"IV", U"V", U"VI", U"VII", U"VIII", U"IX", U"X", U"XI", U"XII"});
  const auto arabic = Grammar::any({number_between(1, 12), Grammar::sequence({Grammar::text(U"0"), Grammar::one_of(U"123456789")})});
  const auto named = Grammar::words(month_words());
  const auto month = Grammar::any({roman, arabic, named});
  const auto digit = Grammar::one_of(U"0123456789");
  const auto century = Grammar::words({U"17", U"18", U"19", U"20"});
  const auto year = Grammar::sequence({century, digit, digit});
  const auto short_year = Grammar::sequence({Grammar::optional(Grammar::one_of(U"'’")), digit, digit});
  const auto of = Grammar::optional(Grammar::words({U"de ", U"di ", U"del "}));
  return Grammar::any({
      Grammar::sequence({days, mark, of, month, Grammar::any({mark, Grammar::text(U", ")}), of, Grammar::any({year, short_year})}),
      Grammar::sequence({named, Grammar::any({mark, Grammar::text(U" ")}), days, Grammar::words({U", ", U" "}), year}),
      Grammar::sequence({Grammar::any({roman, named}), Grammar::any({mark, Grammar::text(U" "), Grammar::text(U"-")}), year}),
      year,
  });
}

Grammar elevation_grammar() {
  const auto digit = Grammar::one_of(U"0123456789");
  const auto first = Grammar::one_of(U"123456789");
  const auto more = Grammar::optional(digit);
  const auto height = Grammar::sequence({first, digit, more, more});
  const auto range = Grammar::sequence({height, Grammar::optional(Grammar::sequence({Grammar::one_of(U"-–"), height}))});
  const auto unit = Grammar::words({U"m", U"m.", U"ft", U"ft.", U"feet", U"metres", U"m ü. M."});
  return Grammar::sequence({range, Grammar::optional(Grammar::text(U" ")), unit});
}

namespace {

constexpr double kNone = -std::numeric_limits<double>::infinity();
constexpr double kWorst = -12;
constexpr double kPerCharacter = 0.5;  // preference for the longer of two texts

// One character of a text on its way through the line.
struct Step {
  int before;  // index of the step before, -1 = first
  int position;
  int frame;
};

struct Token {
  double on = kNone, off = kNone;  // score at the position itself, and in the blank after it
  int on_step = -1, off_step = -1;
};

bool word_character(char32_t c) { return (c >= U'0' && c <= U'9') || (c >= U'A' && c <= U'Z') || (c >= U'a' && c <= U'z') || c >= 0xC0; }

// The likeliest class of each frame and where words can begin and end by it.
struct Free {
  std::vector<float> best;
  std::vector<bool> begins, ends;  // a text may begin in this frame; may end before this frame

  explicit Free(const Lattice& lattice) {
    const auto frames = static_cast<std::size_t>(lattice.frames);
    std::vector<int> classes(frames);
    best.resize(frames);
    begins.assign(frames + 1, true);
    ends.assign(frames + 1, true);
    for (std::size_t t = 0; t < frames; ++t) {
      for (int k = 1; k < lattice.classes; ++k)
        if (lattice.at(static_cast<int>(t), k) > lattice.at(static_cast<int>(t), classes[t])) classes[t] = k;
      best[t] = lattice.at(static_cast<int>(t), classes[t]);
    }
    bool in_word = false;
    for (std::size_t t = 0; t < frames; ++t) {
      begins[t] = !in_word;
      if (classes[t] != 0) in_word = word_character(lattice.character(classes[t]));
    }
    in_word = false;
    for (std::size_t t = frames; t-- > 0;) {
      // The next character read freely starts a new one unless it goes on from the frame before.
      if (classes[t] != 0) in_word = word_character(lattice.character(classes[t]));
      ends[t] = !in_word;
    }
  }
};

}  // namespace

std::vector<Fit> best_under(const Lattice& lattice, const Grammar& grammar, std::size_t most) {
  if (lattice.frames == 0) return {};
  std::unordered_map<char32_t, int> class_of;
  for (int k = 1; k < lattice.classes; ++k) class_of.emplace(lattice.character(k), k);
  std::vector<int> classes(static_cast<std::size_t>(grammar.positions()), 0);  // 0 = the net does not know the character
  for (int p = 0; p < grammar.positions(); ++p)
    if (const auto found = class_of.find(grammar.character(p)); found != class_of.end()) classes[static_cast<std::size_t>(p)] = found->second;

  const Free free(lattice);
  std::vector<Step> steps;
  // Where the texts stand that are on their way: a token for each position, of which those named are meant.
  std::vector<Token> tokens(classes.size()), next(classes.size());
  std::vector<int> on_way, next_on_way;
  struct End {
    double score;
    int step;
    int frame;  // the frame after
  };
  std::vector<End> ends;
  const auto offer = [](double& score, int& step, double new_score, int new_step) {
    if (new_score > score) score = new_score, step = new_step;
  };
  for (int t = 0; t < lattice.frames; ++t) {
    const auto relative = [&](int k) {
      return static_cast<double>(lattice.at(t, k)) - static_cast<double>(free.best[static_cast<std::size_t>(t)]);
    };
    for (const int position : next_on_way) next[static_cast<std::size_t>(position)] = Token{};
    next_on_way.clear();
    const auto next_at = [&](int position) -> Token& {
      Token& token = next[static_cast<std::size_t>(position)];
      if (token.on == kNone && token.off == kNone) next_on_way.push_back(position);
      return token;
    };
    const auto enter = [&](int position, double score, int before) {
      const int k = classes[static_cast<std::size_t>(position)];
      if (k == 0) return;
      score += relative(k) + kPerCharacter;
      if (relative(k) < kWorst || score < kWorst) return;
      Token& token = next_at(position);
      if (score <= token.on) return;
      steps.push_back({before, position, t});
      token.on = score;
      token.on_step = static_cast<int>(steps.size()) - 1;
    };
    for (const int position : on_way) {
      const Token& token = tokens[static_cast<std::size_t>(position)];
      const int k = classes[static_cast<std::size_t>(position)];
      if (const double stay = token.on + relative(k); stay > kWorst) {
        Token& same = next_at(position);
        offer(same.on, same.on_step, stay, token.on_step);
      }
      const bool from_on = token.on > token.off;
      if (const double rest = std::max(token.on, token.off) + relative(0); rest > kWorst) {
        Token& same = next_at(position);
        offer(same.off, same.off_step, rest, from_on ? token.on_step : token.off_step);
      }
      for (const int to : grammar.after(position)) {
        // The same character twice needs a blank between.
        const bool twice = classes[static_cast<std::size_t>(to)] == k;
        if (twice || !from_on)
          enter(to, token.off, token.off_step);
        else
          enter(to, token.on, token.on_step);
      }
    }
    if (free.begins[static_cast<std::size_t>(t)])
      for (const int position : grammar.first()) enter(position, 0, -1);
    tokens.swap(next);
    on_way.swap(next_on_way);
    if (free.ends[static_cast<std::size_t>(t) + 1])
      for (const int position : on_way)
        if (const Token& token = tokens[static_cast<std::size_t>(position)]; grammar.may_end(position) && token.on > kWorst)
          ends.push_back({token.on, token.on_step, t + 1});
  }

  std::sort(ends.begin(), ends.end(), [](const End& a, const End& b) { return a.score > b.score || (a.score == b.score && a.step < b.step); });
  std::vector<Fit> fits;
  for (const End& end : ends) {
    if (fits.size() == most) break;
    std::u32string text;
    int first_frame = 0;
    for (int s = end.step; s >= 0; s = steps[static_cast<std::size_t>(s)].before) {
      text += grammar.character(steps[static_cast<std::size_t>(s)].position);
      first_frame = steps[static_cast<std::size_t>(s)].frame;
    }
    std::reverse(text.begin(), text.end());
    Fit fit{utf8_of(text), end.score - kPerCharacter * static_cast<double>(text.size()), first_frame, end.frame - 1};
    if (std::none_of(fits.begin(), fits.end(), [&](const Fit& f) { return f.text == fit.text; })) fits.push_back(std::move(fit));
  }
  return fits;
}

std::string spliced(const Lattice& lattice, const std::string& text, const Fit& fit) {
  const std::u32string characters = utf32_of(text);
  std::vector<int> classes;
  for (const char32_t c : characters) classes.push_back(static_cast<int>(lattice.characters->find(c)) + 1);
  const auto placed = place(lattice, classes);
  std::u32string before, after;
  for (std::size_t i = 0; i < characters.size(); ++i) {
    if (placed[i].last_frame < fit.first_frame) before += characters[i];
    if (placed[i].first_frame > fit.last_frame) after += characters[i];
  }
  return utf8_of(before) + fit.text + utf8_of(after);
}

}  // namespace papillote::reading
