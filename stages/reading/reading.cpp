#include "stages/reading/reading.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <optional>
#include <utility>

#include <opencv2/core.hpp>

#include "models/library.h"
#include "stages/reading/decode.h"
#include "stages/reading/grammar.h"
#include "stages/reading/handwriting.h"
#include "stages/reading/language_model.h"
#include "stages/reading/print_reader.h"
#include "stages/reading/strip.h"

namespace papillote::reading {

struct Readers::Engines {
  PrintReader print;
  std::optional<HandwritingReader> hand;
  std::optional<LanguageModel> language;
  Grammar dates, elevations;
  std::string identity;
};

Readers::Readers(std::unique_ptr<Engines> engines) : engines_(std::move(engines)) {}
Readers::Readers(Readers&&) noexcept = default;
Readers& Readers::operator=(Readers&&) noexcept = default;
Readers::~Readers() = default;

const std::string& Readers::identity() const { return engines_->identity; }

Result<Readers> Readers::open(const std::string& models_dir, const Options& options) {
  auto print = PrintReader::open(options.languages);
  if (!print) return print.failure();
  std::string identity = print->identity();
  std::optional<HandwritingReader> hand;
  const auto card = models::read_card(models_dir, "reader");
  if (!card) return card.failure();
  if (!card->row("sha256").empty()) {
    auto opened = HandwritingReader::open(models_dir);
    if (!opened) return opened.failure();
    identity += ", " + opened->identity();
    hand.emplace(std::move(opened).value());
  }
  std::optional<LanguageModel> language;
  if (hand && !card->row("language").empty()) {
    const auto bytes = models::read_part(models_dir, "reader", "language");
    if (!bytes) return bytes.failure();
    auto read = LanguageModel::read(*bytes, hand->classes());
    if (!read) return read.failure();
    identity += ", language " + card->row("language sha256");
    language.emplace(std::move(read).value());
  }
  return Readers(std::make_unique<Engines>(
      Engines{std::move(print).value(), std::move(hand), std::move(language), date_grammar(), elevation_grammar(), std::move(identity)}));
}

namespace {

constexpr int kStripPx = 64;

struct Routed {
  Candidate candidate;
  std::string reader;
  std::optional<Lattice> lattice = std::nullopt;  // what the net saw
};

// Where the reading holds no date or elevation of its own but one lies near, the reading with it becomes an alternative: the
// interpreter takes the best valid one instead of guessing at a misread letter.
void offer_fits(const Lattice& lattice, const Grammar& grammar, Candidate& candidate) {
  constexpr double kWorstLogOdds = -6;
  for (const Fit& fit : best_under(lattice, grammar, 1)) {
    if (fit.log_odds < kWorstLogOdds || candidate.text.find(fit.text) != std::string::npos) continue;
    Alternative other{spliced(lattice, candidate.text, fit),
                      std::min(1 - candidate.confidence, candidate.confidence * std::exp(fit.log_odds))};
    auto& all = candidate.alternatives;
    std::erase_if(all, [&](const Alternative& a) { return a.text == other.text; });
    all.insert(std::find_if(all.begin(), all.end(), [&](const Alternative& a) { return a.confidence < other.confidence; }), other);
  }
}

// The net reads everything first: measured on label lines, it wins on print and type too, and it is quicker.
Result<std::vector<Routed>> first_look(Readers::Engines& engines, const std::vector<cv::Mat>& greys, bool language_model) {
  std::vector<Routed> routed;
  if (!engines.hand) {
    for (const cv::Mat& grey : greys) routed.push_back({engines.print.read(grey), "tesseract"});
    return routed;
  }
  auto lattices = engines.hand->look(greys);
  if (!lattices) return lattices.failure();
  for (Lattice& lattice : *lattices) {
    Candidate candidate = decode(lattice, language_model && engines.language ? &*engines.language : nullptr);
    routed.push_back({std::move(candidate), "papillote", std::move(lattice)});
  }
  return routed;
}

// Once it is settled that the line is read this way up.
Routed with_fits(const Readers::Engines& engines, Routed first) {
  if (first.lattice && !first.candidate.text.empty())
    for (const Grammar* grammar : {&engines.dates, &engines.elevations}) offer_fits(*first.lattice, *grammar, first.candidate);
  return first;
}

// Tesseract is asked where it may know better: doubtful print and type. Without the net it has read already, and what it claims about
// handwriting is not to be believed.
template <class Cut>
Routed second_look(Readers::Engines& engines, const Cut& grey, LineKind kind, Routed first) {
  constexpr double kSureEnough = 0.5, kMostForHandwriting = 0.2;
  if (!engines.hand) {
    if (kind == LineKind::handwritten) first.candidate.confidence = std::min(first.candidate.confidence, kMostForHandwriting);
    return first;
  }
  if (kind == LineKind::handwritten || first.candidate.confidence >= kSureEnough) return first;
  Candidate print = engines.print.read(grey());
  return print.confidence > first.candidate.confidence ? Routed{std::move(print), "tesseract"} : first;
}

double direction_deg(const Quad& quad) {
  return std::atan2(quad[1].y - quad[0].y, quad[1].x - quad[0].x) * 180 / std::numbers::pi;
}

double length_px(const Quad& quad) { return std::hypot(quad[1].x - quad[0].x, quad[1].y - quad[0].y); }

// Smallest angle between two directions, 0..180.
double apart_deg(double a, double b) { return std::abs(std::remainder(a - b, 360.0)); }

Reading reading_of(const TextLine& line, Routed routed) {
  Reading reading;
  reading.line = line;
  reading.text = std::move(routed.candidate.text);
  reading.confidence = routed.candidate.confidence;
  reading.alternatives = std::move(routed.candidate.alternatives);
  reading.character_confidence = std::move(routed.candidate.character_confidence);
  reading.reader = std::move(routed.reader);
  return reading;
}

// Lines of one direction, read. Which end is the start is decided for all of them together by the longest few.
Result<Done> read_group(const std::vector<TextLine>& lines, const image::Image& photo, Readers::Engines& engines,
                        std::vector<Reading>& out) {
  std::vector<std::size_t> by_length(lines.size());
  std::iota(by_length.begin(), by_length.end(), std::size_t{0});
  std::stable_sort(by_length.begin(), by_length.end(),
                   [&](std::size_t a, std::size_t b) { return length_px(lines[a].quad_px) > length_px(lines[b].quad_px); });
  constexpr std::size_t kVoters = 3;
  constexpr double kDecisive = 12;  // beyond this the shorter lines never changed what the longest said, among 481 groups
  by_length.resize(std::min(by_length.size(), kVoters));

  std::vector<std::optional<Routed>> upright(lines.size()), turned(lines.size());
  double for_upright = 0, for_turned = 0;
  int nothing_upright = 0, nothing_turned = 0;
  for (const std::size_t i : by_length) {
    auto both = first_look(engines, {cut_strip(photo, lines[i], kStripPx), cut_strip(photo, lines[i], kStripPx, true)}, true);
    if (!both) return both.failure();
    const Candidate &one = both->front().candidate, &other = both->back().candidate;
    if (one.text.empty() || other.text.empty()) {
      // A direction in which nothing can be read loses, however sure the other is.
      (one.text.empty() ? nothing_upright : nothing_turned) += one.text != other.text ? 1 : 0;
    } else {
      for_upright += one.upright;
      for_turned += other.upright;
    }
    upright[i] = std::move(both->front());
    turned[i] = std::move(both->back());
    if (std::abs(for_turned - for_upright) > kDecisive) break;
  }
  // Numbers and stamps can be read either way: there both readers are heard.
  constexpr double kClose = 8;
  if (engines.hand && std::abs(for_turned - for_upright) < kClose)
    for (const std::size_t i : by_length) {
      if (lines[i].kind == LineKind::handwritten) continue;
      for_upright += engines.print.read(cut_strip(photo, lines[i], kStripPx)).upright;
      for_turned += engines.print.read(cut_strip(photo, lines[i], kStripPx, true)).upright;
    }
  const bool turn = nothing_upright != nothing_turned ? nothing_upright > nothing_turned : for_turned > for_upright;
  std::vector<std::optional<Routed>>& known = turn ? turned : upright;
  std::vector<std::size_t> unread;
  std::vector<cv::Mat> strips;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    if (known[i]) continue;
    unread.push_back(i);
    strips.push_back(cut_strip(photo, lines[i], kStripPx, turn));
  }
  auto read = first_look(engines, strips, true);
  if (!read) return read.failure();
  for (std::size_t k = 0; k < unread.size(); ++k) known[unread[k]] = std::move((*read)[k]);
  for (std::size_t k = 0; k < lines.size(); ++k) {
    // Read from the other end, the last line is the first.
    const std::size_t i = turn ? lines.size() - 1 - k : k;
    const auto strip = [&] { return cut_strip(photo, lines[i], kStripPx, turn); };
    out.push_back(reading_of(turn ? turned_half(lines[i]) : lines[i], second_look(engines, strip, lines[i].kind, with_fits(engines, *std::move(known[i])))));
  }
  return Done{};
}

// Clockwise turn of the crop, in quarters, that brings the annotation upright.
int turn_of(const std::vector<Reading>& readings, const Crop& crop) {
  const double crop_deg = direction_deg(crop.quad_px);
  double x = 0, y = 0;
  for (const Reading& r : readings) {
    if (r.line.kind == LineKind::newsprint) continue;
    // Weighted by what was read surely, so that one long doubtful line does not turn the envelope.
    const double weight = static_cast<double>(r.character_confidence.size()) *
                          std::accumulate(r.character_confidence.begin(), r.character_confidence.end(), 1e-6);
    const double deg = (direction_deg(r.line.quad_px) - crop_deg) * std::numbers::pi / 180;
    x += weight * std::cos(deg);
    y += weight * std::sin(deg);
  }
  if (x == 0 && y == 0) return 0;
  const auto quarters = static_cast<int>(std::lround(-std::atan2(y, x) / (std::numbers::pi / 2)));
  return ((quarters % 4) + 4) % 4 * 90;
}

}  // namespace

Result<Reading> read_line(const cv::Mat& picture, Readers& readers, bool language_model) {
  const auto w = static_cast<double>(picture.cols), h = static_cast<double>(picture.rows);
  TextLine line;
  line.quad_px = {{{0, 0}, {w, 0}, {w, h}, {0, h}}};
  line.polygon_px = {line.quad_px.begin(), line.quad_px.end()};
  if (picture.empty()) return reading_of(line, {});
  const cv::Mat grey = grey_line(picture);
  auto looked = first_look(readers.engines(), {grey}, language_model);
  if (!looked) return looked.failure();
  Routed& read = looked->front();
  const auto settled = [&](Routed one) { return language_model ? with_fits(readers.engines(), std::move(one)) : one; };
  // Upside-down lines are read with a certainty below these (95 in 100 of them; 10 in 100 upright ones).
  const double doubtful = readers.engines().hand ? 0.8 : 0.97;
  if (read.candidate.certainty < doubtful) {
    cv::Mat half;
    cv::flip(grey, half, -1);
    auto turned = first_look(readers.engines(), {half}, language_model);
    if (!turned) return turned.failure();
    if (Routed& other = turned->front(); other.candidate.upright > read.candidate.upright && !other.candidate.text.empty())
      return reading_of(turned_half(line), settled(std::move(other)));
  }
  return reading_of(line, settled(std::move(read)));
}

Result<Annotation> read_lines(const EnvelopeOutline& envelope, const LineLayout& layout, const image::Image& photo, Readers& readers) {
  Annotation annotation;
  std::vector<std::vector<TextLine>> groups;
  std::vector<TextLine> newsprint;
  for (const TextLine& line : layout.lines) {
    if (line.kind == LineKind::newsprint) {
      newsprint.push_back(line);
      continue;
    }
    constexpr double kSameDirection_deg = 20;
    const auto group = std::find_if(groups.begin(), groups.end(), [&](const std::vector<TextLine>& g) {
      return apart_deg(direction_deg(g.front().quad_px), direction_deg(line.quad_px)) < kSameDirection_deg;
    });
    if (group == groups.end())
      groups.push_back({line});
    else
      group->push_back(line);
  }
  for (const auto& group : groups)
    if (const auto read = read_group(group, photo, readers.engines(), annotation.lines); !read) return read.failure();
  for (const Reading& reading : annotation.lines)
    if (!reading.text.empty()) annotation.text += (annotation.text.empty() ? "" : "\n") + reading.text;
  annotation.turned_deg = turn_of(annotation.lines, envelope.crop);

  // Newsprint matters for its date alone, which stands in the larger lines; the rest is kept unread.
  std::vector<std::size_t> by_height(newsprint.size());
  std::iota(by_height.begin(), by_height.end(), std::size_t{0});
  const auto height_px = [&](std::size_t i) {
    return std::hypot(newsprint[i].quad_px[3].x - newsprint[i].quad_px[0].x, newsprint[i].quad_px[3].y - newsprint[i].quad_px[0].y);
  };
  std::stable_sort(by_height.begin(), by_height.end(), [&](std::size_t a, std::size_t b) { return height_px(a) > height_px(b); });
  constexpr std::size_t kMostNewsprint = 3;
  std::vector<bool> wanted(newsprint.size());
  for (std::size_t k = 0; k < std::min(kMostNewsprint, by_height.size()); ++k) wanted[by_height[k]] = true;
  for (std::size_t i = 0; i < newsprint.size(); ++i) {
    Routed routed;
    if (wanted[i]) routed = {readers.engines().print.read(cut_strip(photo, newsprint[i], kStripPx)), "tesseract"};
    annotation.lines.push_back(reading_of(newsprint[i], std::move(routed)));
  }
  return annotation;
}

}  // namespace papillote::reading
