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
constexpr double kAlpha = 0.35, kBeta = 1.4;  // chosen on development lines
constexpr double kMostOfLanguage = kAlpha * 0.5;  // a probability is at most 1; the model's logarithms are rounded
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
};

// The prefixes of a search as a tree.
class Beam {
 public:
  explicit Beam(const LanguageModel* language) : language_(language) {
    Prefix root;
    if (language_ != nullptr) root.context = language_->start();
    root.blank = 0;
    prefixes_.push_back(root);
    kept_ = {{0, 0, 0}};
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
    touched_.clear();
    fresh_.clear();
    for (const Kept& kept : kept_) {
      const double blank = prefixes_[at(kept.id)].blank, last = prefixes_[at(kept.id)].last;
      const int last_class = prefixes_[at(kept.id)].last_class;
      Prefix& same = touch(kept.id, frame);
      same.next_blank = log_sum(same.next_blank, kept.whole + static_cast<double>(lattice.at(frame, 0)));
      if (last_class != 0) same.next_last = log_sum(same.next_last, last + static_cast<double>(lattice.at(frame, last_class)));
      for (const int k : tried_) {
        const double whole = (k == last_class ? blank : kept.whole) + static_cast<double>(lattice.at(frame, k));
        if (whole == kNone) continue;
        if (const auto known = children_.find(key_of(kept.id, k)); known != children_.end()) {
          Prefix& longer = touch(known->second, frame);
          longer.next_last = log_sum(longer.next_last, whole);
        } else {
          fresh_.push_back({kept.id, k, whole, whole + prefixes_[at(kept.id)].language + kBeta + kMostOfLanguage});
        }
      }
    }
    kept_.clear();
    for (const int id : touched_) {
      Prefix& p = prefixes_[at(id)];
      const double whole = log_sum(p.next_blank, p.next_last);
      keep({id, whole, whole + p.language});
    }
    // The language is asked only about characters that could still come among the best.
    std::sort(fresh_.begin(), fresh_.end(), [](const Fresh& a, const Fresh& b) { return a.most > b.most; });
    for (const Fresh& one : fresh_) {
      if (kept_.size() == kBeam && one.most <= kept_.front().worth) break;
      const int id = grown(one.parent, one.k);
      touch(id, frame).next_last = one.whole;
      keep({id, one.whole, one.whole + prefixes_[at(id)].language});
    }
    for (const Kept& kept : kept_) {
      Prefix& p = prefixes_[at(kept.id)];
      p.blank = p.next_blank;
      p.last = p.next_last;
    }
  }

  struct End {
    double worth = kNone;  // with the language's part
    double net = kNone;
    std::vector<int> classes;
  };
  [[nodiscard]] std::vector<End> ends() const {
    std::vector<End> all;
    for (const Kept& kept : kept_) {
      const Prefix& p = prefixes_[at(kept.id)];
      End end{kept.worth + (language_ != nullptr ? kAlpha * language_->score(p.context, 0) : 0), kept.whole, {}};
      for (int i = kept.id; i > 0; i = prefixes_[at(i)].parent) end.classes.push_back(prefixes_[at(i)].last_class);
      std::reverse(end.classes.begin(), end.classes.end());
      all.push_back(std::move(end));
    }
    std::sort(all.begin(), all.end(), [](const End& a, const End& b) { return a.worth > b.worth; });
    return all;
  }

 private:
  struct Kept {
    int id;
    double whole;  // log p of the frames so far
    double worth;  // with the language's part
  };
  // A character more than what is in the tree.
  struct Fresh {
    int parent;
    int k;
    double whole;
    double most;  // that it can be worth, whatever the language says
  };

  static std::size_t at(int id) { return static_cast<std::size_t>(id); }
  static std::uint64_t key_of(int id, int k) { return static_cast<std::uint64_t>(id) << 16 | static_cast<std::uint64_t>(k); }

  Prefix& touch(int id, int frame) {
    Prefix& p = prefixes_[at(id)];
    if (p.touched != frame) {
      p.touched = frame;
      p.next_blank = p.next_last = kNone;
      touched_.push_back(id);
    }
    return p;
  }

  // Among the best, the least of which stands in front (a heap).
  void keep(const Kept& one) {
    const auto better = [](const Kept& a, const Kept& b) { return a.worth > b.worth; };
    if (kept_.size() == kBeam) {
      if (one.worth <= kept_.front().worth) return;
      std::pop_heap(kept_.begin(), kept_.end(), better);
      kept_.pop_back();
    }
    kept_.push_back(one);
    std::push_heap(kept_.begin(), kept_.end(), better);
  }

  int grown(int parent, int k) {
    Prefix child;
    child.parent = parent;
    child.last_class = k;
    if (language_ != nullptr) {
      const Prefix& before = prefixes_[at(parent)];
      child.language = before.language + kAlpha * language_->score(before.context, k) + kBeta;
      child.context = language_->extended(before.context, k);
    }
    prefixes_.push_back(child);
    const int made = static_cast<int>(prefixes_.size()) - 1;
    children_.emplace(key_of(parent, k), made);
    return made;
  }

  const LanguageModel* language_;
  std::vector<Prefix> prefixes_;
  std::unordered_map<std::uint64_t, int> children_;
  std::vector<Kept> kept_;
  std::vector<Fresh> fresh_;
  std::vector<int> touched_, tried_;
};

std::string text_of(const Lattice& lattice, const std::vector<int>& classes) {
  std::u32string text;
  for (const int k : classes) text += lattice.character(k);
  return utf8_of(text);
}

// Chance that every character is right, from the share of the best text among all that were kept, the weakest character, the
// sum of the characters' doubts and their number. Logistic fit on development lines and drawn label lines in fonts never learnt from.
struct Calibration {
  double bias, share, weakest, doubt, count;
};
constexpr Calibration kWithLanguage{0.042, 1.159, 0.117, -0.082, -0.029};
constexpr Calibration kWithoutLanguage{0.426, 1.524, -0.117, -0.405, 0.251};

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
