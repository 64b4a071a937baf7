// Reading: the lines of one envelope -> verbatim text with alternatives and confidence, and which way is up.
//
// Two readers: Tesseract for print and type, the project's own net for handwriting. Each line goes to the reader that its
// kind and both readers' confidence speak for; upside-down lines are turned. Newsprint is read only by Tesseract and kept apart.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "pipeline/image/image.h"
#include "pipeline/record/envelope.h"
#include "pipeline/record/result.h"
#include "pipeline/record/stage.h"
#include "pipeline/record/text.h"

namespace papillote::reading {

inline constexpr Stage stage{"reading", 6};

struct Options {
  std::string languages = "eng+fra+deu";  // Tesseract language packs

  template <class Self, class Say>
  static void describe(Self& o, Say&& say) {
    say("languages", o.languages, About{"", "Tesseract language packs for print and type, joined by '+'.", 0, 0});
  }
};

// The engines of one worker: not shared between threads, made once, used for every photograph.
class Readers {
 public:
  // `models_dir` holds reader/card.md and the files it names. A card without a digest stands for a net not yet trained: then
  // Tesseract reads everything, handwriting with the low confidence it deserves.
  // Failures: "no_language_data", "model_missing", "model_altered", "model_unusable", "runtime_missing".
  [[nodiscard]] static Result<Readers> open(const std::string& models_dir, const Options&);
  Readers(Readers&&) noexcept;
  Readers& operator=(Readers&&) noexcept;
  ~Readers();

  // What the answers depend on besides the options: engine versions and model digests, for the key.
  [[nodiscard]] const std::string& identity() const;

  struct Engines;
  [[nodiscard]] Engines& engines() { return *engines_; }

 private:
  explicit Readers(std::unique_ptr<Engines>);
  std::unique_ptr<Engines> engines_;
};

// A picture that holds one line and nothing else, of unknown kind and direction. `language_model`: prefer what labels say.
// A picture without writing gives an empty text. The answer's `line.quad_px` says in the picture's pixels where the text starts.
[[nodiscard]] Result<Reading> read_line(const cv::Mat& picture, Readers&, bool language_model);

[[nodiscard]] Result<Annotation> read_lines(const EnvelopeOutline&, const LineLayout&, const image::Image&, Readers&);

}  // namespace papillote::reading
