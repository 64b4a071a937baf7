// The inference runtime: a network file in, a function from tensor to tensor out.
//
// runtime.cpp is the only file that knows the runtime (ONNX Runtime, through its C interface, loaded when the first model is
// opened). The shared library is looked for at $PAPILLOTE_RUNTIME, then at runtime/libonnxruntime.so.1 beside the program, then
// where the build put it.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "pipeline/record/digest.h"
#include "pipeline/record/result.h"

namespace papillote::models {

// Row-major; values.size() is the product of shape.
struct Tensor {
  std::vector<std::int64_t> shape;
  std::vector<float> values;
};

// A network with one input and one output of 32-bit floats. Runs on the caller's thread alone and may be called from several
// threads at once.
class Model {
 public:
  // Failures: "runtime_missing", "model_missing", "model_altered" (SHA-256 differs: changed or cut short), "model_unusable".
  [[nodiscard]] static Result<Model> open(const std::string& path_to_onnx, const Digest& expected);
  Model(Model&&) noexcept;
  Model& operator=(Model&&) noexcept;
  ~Model();

  // Failure "inference": the input does not fit the network.
  [[nodiscard]] Result<Tensor> run(const Tensor& input) const;

  [[nodiscard]] const Digest& digest() const;
  [[nodiscard]] const std::vector<std::int64_t>& input_shape() const;   // -1 = free
  [[nodiscard]] const std::vector<std::int64_t>& output_shape() const;

 private:
  struct Session;
  explicit Model(std::unique_ptr<Session>);
  std::unique_ptr<Session> session_;
};

}  // namespace papillote::models
