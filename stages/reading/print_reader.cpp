#include "stages/reading/print_reader.h"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <mutex>
#include <utility>

#include <opencv2/imgproc.hpp>
#include <tesseract/baseapi.h>
#include <tesseract/resultiterator.h>

#include "stages/reading/strip.h"

namespace papillote::reading {
namespace {

std::size_t code_points(const std::string& text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xC0) != 0x80; }));
}

std::string owned(const char* words) {
  std::string text = words != nullptr ? words : "";
  delete[] words;  // Tesseract hands out new[] arrays
  return text;
}

struct Glyph {
  std::string text;
  double confidence = 0;  // 0..1
  std::vector<std::string> others;
};

// Tesseract's symbol scores are optimistic on rubbish (0.95 is poor) and say nothing about characters it left out. Logistic fit of
// "the whole line is right" on development lines and label lines of rendered photographs.
double calibrated(const std::vector<Glyph>& glyphs) {
  double weakest = 1, sum = 0;
  int count = 0;
  for (const Glyph& glyph : glyphs) {
    if (glyph.text == " ") continue;
    weakest = std::min(weakest, glyph.confidence);
    sum += glyph.confidence;
    ++count;
  }
  if (count == 0) return 0;
  const auto odds = [](double p) {
    p = std::clamp(p, 0.002, 0.9995);
    return std::log(p / (1 - p));
  };
  return 1 / (1 + std::exp(-(-11.357 + 1.184 * odds(sum / count) + 1.426 * odds(weakest) + 0.168 * std::log(1.0 + count))));
}

}  // namespace

struct PrintReader::Engine {
  tesseract::TessBaseAPI api;
  std::string identity;
};

PrintReader::PrintReader(std::unique_ptr<Engine> engine) : engine_(std::move(engine)) {}
PrintReader::PrintReader(PrintReader&&) noexcept = default;
PrintReader& PrintReader::operator=(PrintReader&&) noexcept = default;
PrintReader::~PrintReader() = default;

const std::string& PrintReader::identity() const { return engine_->identity; }

Result<PrintReader> PrintReader::open(const std::string& languages) {
  // Tesseract keeps some of its variables once for the whole program: engines are opened one after the other.
  static std::mutex opening;
  const std::lock_guard alone(opening);
  auto engine = std::make_unique<Engine>();
  const std::vector<std::string> names{"debug_file"}, values{"/dev/null"};
  if (engine->api.Init(nullptr, languages.c_str(), tesseract::OEM_LSTM_ONLY, nullptr, 0, &names, &values, false) != 0)
    return Failure{"reading", "no_language_data", "Tesseract's data for the languages " + languages + " cannot be loaded.",
                   "Install a package tesseract-ocr-<language> for each of them, or choose other languages."};
  std::vector<std::string> loaded;
  engine->api.GetLoadedLanguagesAsVector(&loaded);
  for (std::size_t start = 0; start < languages.size();) {
    const std::size_t end = std::min(languages.find('+', start), languages.size());
    const std::string wanted = languages.substr(start, end - start);
    if (std::find(loaded.begin(), loaded.end(), wanted) == loaded.end())
      return Failure{"reading", "no_language_data", "Tesseract's data for the language " + wanted + " is not installed.",
                     "Install the package tesseract-ocr-" + wanted + ", or choose other languages."};
    start = end + 1;
  }
  engine->api.SetPageSegMode(tesseract::PSM_SINGLE_LINE);
  engine->api.SetVariable("lstm_choice_mode", "2");  // keeps the other choices of each character
  engine->identity = std::string("tesseract ") + tesseract::TessBaseAPI::Version() + " " + languages;
  return PrintReader(std::move(engine));
}

Candidate PrintReader::read(const cv::Mat& grey) const {
  Candidate candidate;
  constexpr int kLeastPx = 8, kBorderPx = 12;
  if (grey.cols < kLeastPx || grey.rows < kLeastPx) return candidate;
  // Of an even picture the engine makes up letters.
  cv::Scalar mean, deviation;
  cv::meanStdDev(grey, mean, deviation);
  constexpr double kBlankDeviation = 2;
  if (deviation[0] < kBlankDeviation) return candidate;
  cv::Mat page;
  cv::copyMakeBorder(flattened(grey), page, kBorderPx, kBorderPx, kBorderPx, kBorderPx, cv::BORDER_CONSTANT, cv::Scalar(255));

  tesseract::TessBaseAPI& api = engine_->api;
  api.SetImage(page.data, page.cols, page.rows, 1, static_cast<int>(page.step));
  api.SetSourceResolution(300);
  if (api.Recognize(nullptr) != 0) {
    api.Clear();
    return candidate;
  }
  std::vector<Glyph> glyphs;
  if (const std::unique_ptr<tesseract::ResultIterator> at{api.GetIterator()}) {
    do {
      if (at->Empty(tesseract::RIL_SYMBOL)) continue;
      Glyph glyph{owned(at->GetUTF8Text(tesseract::RIL_SYMBOL)), at->Confidence(tesseract::RIL_SYMBOL) / 100.0, {}};
      if (glyph.text.empty()) continue;
      if (!glyphs.empty() && at->IsAtBeginningOf(tesseract::RIL_WORD)) glyphs.push_back({" ", glyph.confidence, {}});
      tesseract::ChoiceIterator choices(*at);
      do {
        const char* other = choices.GetUTF8Text();  // owned by the iterator
        if (other != nullptr && *other != '\0' && glyph.text != other &&
            std::find(glyph.others.begin(), glyph.others.end(), other) == glyph.others.end())
          glyph.others.emplace_back(other);
      } while (choices.Next());
      glyphs.push_back(std::move(glyph));
    } while (at->Next(tesseract::RIL_SYMBOL));
  }
  api.Clear();

  double sum = 0;
  int count = 0;
  for (const Glyph& glyph : glyphs) {
    candidate.text += glyph.text;
    candidate.character_confidence.insert(candidate.character_confidence.end(), code_points(glyph.text), glyph.confidence);
    if (glyph.text == " ") continue;
    sum += glyph.confidence;
    ++count;
  }
  if (count == 0) return Candidate{};
  candidate.certainty = sum / count;
  candidate.confidence = calibrated(glyphs);
  // Tesseract is never unsure by its own measure (0.95 upside-down against 0.99 upright is usual), so certainty counts by its odds.
  const double p = std::clamp(candidate.certainty, 0.01, 0.9995);
  candidate.upright = std::max(0.0, std::log(p / (1 - p))) * grey.cols / grey.rows;

  // The engine scores only its best choice; the others are tried one at a time where it was least sure.
  std::vector<std::size_t> doubtful;
  for (std::size_t i = 0; i < glyphs.size(); ++i)
    if (!glyphs[i].others.empty()) doubtful.push_back(i);
  std::stable_sort(doubtful.begin(), doubtful.end(),
                   [&](std::size_t a, std::size_t b) { return glyphs[a].confidence < glyphs[b].confidence; });
  constexpr std::size_t kMostAlternatives = 5;
  for (const std::size_t i : doubtful)
    for (const std::string& other : glyphs[i].others) {
      if (candidate.alternatives.size() == kMostAlternatives) return candidate;
      std::string text;
      for (std::size_t k = 0; k < glyphs.size(); ++k) text += k == i ? other : glyphs[k].text;
      const double share = (1 - glyphs[i].confidence) / static_cast<double>(glyphs[i].others.size());
      candidate.alternatives.push_back({std::move(text), std::min(candidate.confidence, share) * (1 - candidate.confidence)});
    }
  return candidate;
}

}  // namespace papillote::reading
