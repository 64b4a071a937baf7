#include "stages/reading/decode.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <unordered_map>

namespace papillote::reading {
namespace {

constexpr double kNone = -std::numeric_limits<double>::infinity();
constexpr std::size_t kBeam = 24;        // prefixes kept a frame
constexpr std::size_t kMostTried = 8;    // characters tried a frame
constexpr float kLeastTried = -7;        // natural logarithm
constexpr double kAlpha = 0.5, kBeta = 1.4;  // chosen on development lines
constexpr std::size_t kMostAlternatives = 8;

double log_sum(double a, double b) {
  if (a < b) std::swap(a, b);
  return b == kNone ? a : a + std::log1p(std::exp(b - a));
}

struct Prefix {
  int parent = -1;
  int last_class = 0;
  double language = 0;
  LanguageModel::Context context;
  double blank = kNone, last = kNone;          // log p of the frames so far, ending in a blank or in the last class
  double next_blank = kNone, next_last = kNone;
  int touched = -1;                            // frame of next_*

  [[nodiscard]] double whole() const { return log_sum(blank, last); }
};

// The prefixes of a search as a tree.
class Beam {
 public:
  explicit Beam(const LanguageModel* language) : language_(language) {
    Prefix root;
    if (language_ != nullptr) root.context = language_->start();
    root.blank = 0;
    prefixes_.push_back(root);
    kept_ = {0};
  }

  void step(const Lattice& lattice, int frame) {
    tried_.clear();
    for (int k = 1; k < lattice.classes; ++k)
      if (lattice.at(frame, k) > kLeastTried) tried_.push_back(k);
    if (tried_.size() > kMostTried) {
      std::nth_element(tried_.begin(), tried_.begin() + kMostTried, tried_.end(),
                       [&](int a, int b) { return lattice.at(frame, a) > lattice.at(frame, b); });
      tried_.resize(kMostTried);
    }
    next_.clear();
    for (const int id : kept_) {
      const double whole = prefixes_[at(id)].whole(), blank = prefixes_[at(id)].blank, last = prefixes_[at(id)].last;
      const int last_class = prefixes_[at(id)].last_class;
      Prefix& same = touch(id, frame);
      same.next_blank = log_sum(same.next_blank, whole + static_cast<double>(lattice.at(frame, 0)));
      if (last_class != 0) same.next_last = log_sum(same.next_last, last + static_cast<double>(lattice.at(frame, last_class)));
      for (const int k : tried_) {
        const int child = child_of(id, k);
        Prefix& longer = touch(child, frame);
        longer.next_last = log_sum(longer.next_last, (k == last_class ? blank : whole) + static_cast<double>(lattice.at(frame, k)));
      }
    }
    for (const int id : next_) {
      Prefix& p = prefixes_[at(id)];
      p.blank = p.next_blank;
      p.last = p.next_last;
    }
    const auto worth = [&](int id) { return prefixes_[at(id)].whole() + prefixes_[at(id)].language; };
    if (next_.size() > kBeam) {
      std::nth_element(next_.begin(), next_.begin() + kBeam, next_.end(), [&](int a, int b) { return worth(a) > worth(b); });
      for (std::size_t i = kBeam; i < next_.size(); ++i) prefixes_[at(next_[i])].blank = prefixes_[at(next_[i])].last = kNone;
      next_.resize(kBeam);
    }
    kept_.swap(next_);
  }

  struct End {
    double worth = kNone;  // with the language's part
    double net = kNone;
    std::vector<int> classes;
  };
  [[nodiscard]] std::vector<End> ends() const {
    std::vector<End> all;
    for (const int id : kept_) {
      const Prefix& p = prefixes_[at(id)];
      End end{p.whole() + p.language + (language_ != nullptr ? kAlpha * language_->score(p.context, 0) : 0), p.whole(), {}};
      for (int i = id; i > 0; i = prefixes_[at(i)].parent) end.classes.push_back(prefixes_[at(i)].last_class);
      std::reverse(end.classes.begin(), end.classes.end());
      all.push_back(std::move(end));
    }
    std::sort(all.begin(), all.end(), [](const End& a, const End& b) { return a.worth > b.worth; });
    return all;
  }

 private:
  static std::size_t at(int id) { return static_cast<std::size_t>(id); }

  Prefix& touch(int id, int frame) {
    Prefix& p = prefixes_[at(id)];
    if (p.touched != frame) {
      p.touched = frame;
      p.next_blank = p.next_last = kNone;
      next_.push_back(id);
    }
    return p;
  }

  int child_of(int id, int k) {
    const std::uint64_t key = static_cast<std::uint64_t>(id) << 16 | static_cast<std::uint64_t>(k);
    if (const auto found = children_.find(key); found != children_.end()) return found->second;
    Prefix child;
    child.parent = id;
    child.last_class = k;
    if (language_ != nullptr) {
      const Prefix& parent = prefixes_[at(id)];
      child.language = parent.language + kAlpha * language_->score(parent.context, k) + kBeta;
      child.context = language_->extended(parent.context, k);
    }
    prefixes_.push_back(child);
    const int made = static_cast<int>(prefixes_.size()) - 1;
    children_.emplace(key, made);
    return made;
  }

  const LanguageModel* language_;
  std::vector<Prefix> prefixes_;
  std::unordered_map<std::uint64_t, int> children_;
  std::vector<int> kept_, next_, tried_;
};

std::string text_of(const Lattice& lattice, const std::vector<int>& classes) {
  std::u32string text;
  for (const int k : classes) text += lattice.character(k);
  return utf8_of(text);
}

// Chance that every character is right, from the share of the best text among all that were kept, the weakest character, the
// sum of the characters' doubts and their number. Logistic fit on development lines and label lines of rendered photographs.
struct Calibration {
  double bias, share, weakest, doubt, count;
};
constexpr Calibration kWithLanguage{-1.281, 0.907, 0.220, -0.114, 0.137};
constexpr Calibration kWithoutLanguage{-0.323, 1.158, 0.056, -0.338, -0.104};

double calibrated(const Calibration& c, double share, const std::vector<double>& characters) {
  double weakest = 1, doubt = 0;
  for (const double p : characters) {
    weakest = std::min(weakest, p);
    doubt -= std::log(std::max(1e-4, p));
  }
  const auto odds = [](double p) {
    p = std::clamp(p, 0.002, 0.9995);
    return std::log(p / (1 - p));
  };
  const double sum = c.bias + c.share * odds(share) + c.weakest * odds(weakest) + c.doubt * doubt +
                     c.count * std::log(1 + static_cast<double>(characters.size()));
  return 1 / (1 + std::exp(-sum));
}

}  // namespace

std::vector<Placed> place(const Lattice& lattice, const std::vector<int>& classes) {
  // States: blank, first class, blank, second class, ... blank.
  const std::size_t states = 2 * classes.size() + 1;
  const auto frames = static_cast<std::size_t>(lattice.frames);
  if (frames == 0 || classes.empty()) return std::vector<Placed>(classes.size());
  const auto class_of = [&](std::size_t s) { return s % 2 == 0 ? 0 : classes[s / 2]; };
  std::vector<double> score(states, kNone), next(states);
  std::vector<std::uint8_t> step(frames * states);  // how far back the best state before lies
  score[0] = static_cast<double>(lattice.at(0, 0));
  score[1] = static_cast<double>(lattice.at(0, classes[0]));
  for (std::size_t t = 1; t < frames; ++t) {
    for (std::size_t s = 0; s < states; ++s) {
      double best = score[s];
      std::uint8_t back = 0;
      if (s >= 1 && score[s - 1] > best) best = score[s - 1], back = 1;
      if (s >= 2 && s % 2 == 1 && class_of(s) != class_of(s - 2) && score[s - 2] > best) best = score[s - 2], back = 2;
      next[s] = best + static_cast<double>(lattice.at(static_cast<int>(t), class_of(s)));
      step[t * states + s] = back;
    }
    score.swap(next);
  }
  std::vector<Placed> placed(classes.size(), Placed{-1, -1, 0});
  std::size_t s = score[states - 1] > score[states - 2] ? states - 1 : states - 2;
  for (std::size_t t = frames; t-- > 0;) {
    if (s % 2 == 1) {
      Placed& p = placed[s / 2];
      if (p.last_frame < 0) p.last_frame = static_cast<int>(t);
      p.first_frame = static_cast<int>(t);
      p.confidence = std::max(p.confidence, std::exp(static_cast<double>(lattice.at(static_cast<int>(t), class_of(s)))));
    }
    if (t > 0) s -= step[t * states + s];
  }
  return placed;
}

Candidate decode(const Lattice& lattice, const LanguageModel* language) {
  if (lattice.frames == 0) return {};
  Beam beam(language);
  for (int t = 0; t < lattice.frames; ++t) beam.step(lattice, t);
  const auto ends = beam.ends();
  if (ends.empty() || ends.front().classes.empty()) return {};
  Candidate candidate;
  candidate.text = text_of(lattice, ends.front().classes);
  for (const Placed& p : place(lattice, ends.front().classes)) candidate.character_confidence.push_back(p.confidence);
  for (const double c : candidate.character_confidence) candidate.certainty += c / static_cast<double>(candidate.character_confidence.size());
  // Logarithm of the text's probability by net and language: letters that are rare together speak against a direction.
  candidate.upright = ends.front().worth;
  double all = kNone;
  for (const auto& end : ends) all = log_sum(all, end.worth);
  const auto share = [&](const Beam::End& end) { return std::exp(end.worth - all); };
  candidate.confidence = calibrated(language != nullptr ? kWithLanguage : kWithoutLanguage, share(ends.front()), candidate.character_confidence);
  const double left = std::max(1e-9, 1 - share(ends.front()));
  for (std::size_t i = 1; i < ends.size() && candidate.alternatives.size() < kMostAlternatives; ++i) {
    // What the best text leaves over is divided in proportion.
    candidate.alternatives.push_back({text_of(lattice, ends[i].classes),
                                      std::min(candidate.confidence, (1 - candidate.confidence) * share(ends[i]) / left)});
  }
  return candidate;
}

}  // namespace papillote::reading
