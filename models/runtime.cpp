#include "models/runtime.h"

#include <dlfcn.h>

#include <array>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <numeric>
#include <optional>
#include <span>
#include <utility>

namespace papillote::models {
namespace {

// The runtime's C interface is a table of function pointers that only ever grows at its end, so a slot number and a signature
// are all that is needed of it. Numbers are those of interface version 14 (ONNX Runtime 1.14 and later).
constexpr std::uint32_t kInterfaceVersion = 14;

struct Opaque;             // every handle of the runtime
using Status = Opaque*;    // null = went well

enum Slot : std::size_t {
  kGetErrorMessage = 2,
  kCreateEnv = 3,
  kCreateSessionFromArray = 8,
  kRun = 9,
  kCreateSessionOptions = 10,
  kDisableMemPattern = 17,
  kDisableCpuMemArena = 19,
  kSetGraphOptimizationLevel = 23,
  kSetIntraOpNumThreads = 24,
  kSetInterOpNumThreads = 25,
  kSessionGetInputCount = 30,
  kSessionGetOutputCount = 31,
  kSessionGetInputTypeInfo = 33,
  kSessionGetOutputTypeInfo = 34,
  kSessionGetInputName = 36,
  kSessionGetOutputName = 37,
  kCreateTensorWithData = 49,
  kGetTensorMutableData = 51,
  kCastTypeInfoToTensorInfo = 55,
  kGetTensorElementType = 60,
  kGetDimensionsCount = 61,
  kGetDimensions = 62,
  kGetTensorTypeAndShape = 65,
  kCreateCpuMemoryInfo = 69,
  kAllocatorFree = 76,
  kGetAllocatorWithDefaultOptions = 78,
  kReleaseEnv = 92,
  kReleaseStatus = 93,
  kReleaseMemoryInfo = 94,
  kReleaseSession = 95,
  kReleaseValue = 96,
  kReleaseTypeInfo = 98,
  kReleaseTensorTypeAndShapeInfo = 99,
  kReleaseSessionOptions = 100,
};

constexpr int kFloat = 1;  // the runtime's number for 32-bit floats

// Since 1.29 the runtime tells its makers about the machine and its use, from a thread of its own, and leaves files in the user's
// cache, unless this variable is set before its first use. Set before main, when no other thread can be reading the environment.
[[maybe_unused]] const int kTellNobody = ::setenv("ORT_DISABLE_TELEMETRY", "1", 1);

class Runtime {
 public:
  explicit Runtime(const void* const* table) : table_(table) {}

  // Empty = went well; otherwise the runtime's own words.
  template <class... Arguments>
  [[nodiscard]] std::optional<std::string> call(Slot slot, Arguments... arguments) const {
    const auto function = reinterpret_cast<Status (*)(Arguments...)>(const_cast<void*>(table_[slot]));
    const Status status = function(arguments...);
    if (status == nullptr) return std::nullopt;
    const auto message = reinterpret_cast<const char* (*)(Status)>(const_cast<void*>(table_[kGetErrorMessage]));
    std::string words = message(status);
    release(kReleaseStatus, status);
    return words;
  }

  void release(Slot slot, Opaque* handle) const {
    if (handle != nullptr) reinterpret_cast<void (*)(Opaque*)>(const_cast<void*>(table_[slot]))(handle);
  }

 private:
  const void* const* table_;
};

// A handle of the runtime, given back when it goes out of scope.
class Handle {
 public:
  Handle(Runtime runtime, Slot release) : runtime_(runtime), release_(release) {}
  Handle(Handle&& other) noexcept
      : runtime_(other.runtime_), release_(other.release_), handle_(std::exchange(other.handle_, nullptr)) {}
  Handle& operator=(Handle&&) = delete;
  ~Handle() { runtime_.release(release_, handle_); }

  [[nodiscard]] Opaque* get() const { return handle_; }
  [[nodiscard]] Opaque** out() { return &handle_; }

 private:
  Runtime runtime_;
  Slot release_;
  Opaque* handle_ = nullptr;
};

std::vector<std::string> library_places() {
  std::vector<std::string> places;
  if (const char* named = std::getenv("PAPILLOTE_RUNTIME"); named != nullptr && *named != '\0') return {named};
  std::error_code error;
  const auto program = std::filesystem::read_symlink("/proc/self/exe", error);
  if (!error) places.push_back((program.parent_path() / "runtime" / "libonnxruntime.so.1").string());
  places.emplace_back(PAPILLOTE_RUNTIME_LIBRARY);
  return places;
}

Failure failed(std::string kind, std::string reason, std::string remedy) {
  return {"models", std::move(kind), std::move(reason), std::move(remedy)};
}

Result<Runtime> load_runtime() {
  const std::string remedy = "Install it with scripts/fetch_runtime, or name the file in the variable PAPILLOTE_RUNTIME.";
  std::string tried;
  for (const std::string& place : library_places()) {
    tried += (tried.empty() ? "" : ", ") + place;
    if (!std::filesystem::exists(place)) continue;
    // Kept loaded for good (NODELETE): the runtime has threads-local state that outlives its last handle.
    void* const library = dlopen(place.c_str(), RTLD_NOW | RTLD_LOCAL | RTLD_NODELETE);
    if (library == nullptr) {
      const char* why = dlerror();
      return failed("runtime_missing", place + ": cannot be loaded as inference runtime (" + (why ? why : "unknown") + ").", remedy);
    }
    struct Base {
      const void* const* (*get_api)(std::uint32_t);
      const char* (*version)();
    };
    const auto get_base = reinterpret_cast<const Base* (*)()>(dlsym(library, "OrtGetApiBase"));
    const void* const* table = get_base != nullptr ? get_base()->get_api(kInterfaceVersion) : nullptr;
    if (table == nullptr) return failed("runtime_missing", place + ": is not a fitting inference runtime.", remedy);
    return Runtime(table);
  }
  return failed("runtime_missing", "The inference runtime was not found (looked for " + tried + ").", remedy);
}

std::optional<std::vector<char>> read_file(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file) return std::nullopt;
  std::vector<char> bytes{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  if (file.bad()) return std::nullopt;
  return bytes;
}

std::vector<std::int64_t> shape_of(const Runtime& runtime, Opaque* tensor_info, std::optional<std::string>& error) {
  std::size_t count = 0;
  error = runtime.call(kGetDimensionsCount, static_cast<const Opaque*>(tensor_info), &count);
  std::vector<std::int64_t> shape(count);
  if (!error) error = runtime.call(kGetDimensions, static_cast<const Opaque*>(tensor_info), shape.data(), count);
  return shape;
}

}  // namespace

struct Model::Session {
  Runtime runtime;
  Digest digest;
  Handle env{runtime, kReleaseEnv};
  Handle session{runtime, kReleaseSession};
  Handle memory{runtime, kReleaseMemoryInfo};
  std::string input_name{}, output_name{};
  std::vector<std::int64_t> input_shape{}, output_shape{};

  // What is wrong, or nothing.
  std::optional<std::string> start(std::span<const char> network) {
    Handle options(runtime, kReleaseSessionOptions);
    constexpr int kErrorsOnly = 3, kAllOptimisations = 99, kDeviceAllocator = 0, kDefaultMemory = 0;
    if (auto e = runtime.call(kCreateEnv, kErrorsOnly, "papillote", env.out())) return e;
    if (auto e = runtime.call(kCreateSessionOptions, options.out())) return e;
    if (auto e = runtime.call(kSetIntraOpNumThreads, options.get(), 1)) return e;
    if (auto e = runtime.call(kSetInterOpNumThreads, options.get(), 1)) return e;
    if (auto e = runtime.call(kSetGraphOptimizationLevel, options.get(), kAllOptimisations)) return e;
    // Inputs differ in width from call to call: remembered buffers would pile up.
    if (auto e = runtime.call(kDisableMemPattern, options.get())) return e;
    if (auto e = runtime.call(kDisableCpuMemArena, options.get())) return e;
    if (auto e = runtime.call(kCreateSessionFromArray, static_cast<const Opaque*>(env.get()),
                              static_cast<const void*>(network.data()), network.size(),
                              static_cast<const Opaque*>(options.get()), session.out()))
      return e;
    if (auto e = runtime.call(kCreateCpuMemoryInfo, kDeviceAllocator, kDefaultMemory, memory.out())) return e;
    if (auto e = describe(kSessionGetInputCount, kSessionGetInputName, kSessionGetInputTypeInfo, input_name, input_shape)) return e;
    return describe(kSessionGetOutputCount, kSessionGetOutputName, kSessionGetOutputTypeInfo, output_name, output_shape);
  }

  std::optional<std::string> describe(Slot count_slot, Slot name_slot, Slot type_slot, std::string& name,
                                      std::vector<std::int64_t>& shape) const {
    const Opaque* const self = session.get();
    std::size_t count = 0;
    if (auto e = runtime.call(count_slot, self, &count)) return e;
    if (count != 1) return "it has " + std::to_string(count) + " inputs or outputs where one is expected";
    Opaque* allocator = nullptr;
    if (auto e = runtime.call(kGetAllocatorWithDefaultOptions, &allocator)) return e;
    char* words = nullptr;
    if (auto e = runtime.call(name_slot, self, std::size_t{0}, allocator, &words)) return e;
    name = words;
    if (auto e = runtime.call(kAllocatorFree, allocator, static_cast<void*>(words))) return e;
    Handle type(runtime, kReleaseTypeInfo);
    if (auto e = runtime.call(type_slot, self, std::size_t{0}, type.out())) return e;
    const Opaque* tensor = nullptr;  // owned by `type`
    if (auto e = runtime.call(kCastTypeInfoToTensorInfo, static_cast<const Opaque*>(type.get()), &tensor)) return e;
    if (tensor == nullptr) return std::string("its input or output is no tensor");
    int element = 0;
    if (auto e = runtime.call(kGetTensorElementType, tensor, &element)) return e;
    if (element != kFloat) return std::string("its input or output is not of 32-bit floats");
    std::optional<std::string> error;
    shape = shape_of(runtime, const_cast<Opaque*>(tensor), error);
    return error;
  }

  std::optional<std::string> run(const Tensor& input, Tensor& output) const {
    Handle in(runtime, kReleaseValue), out(runtime, kReleaseValue), info(runtime, kReleaseTensorTypeAndShapeInfo);
    // The runtime takes a non-const pointer and only reads through it.
    if (auto e = runtime.call(kCreateTensorWithData, static_cast<const Opaque*>(memory.get()),
                              static_cast<void*>(const_cast<float*>(input.values.data())), input.values.size() * sizeof(float),
                              input.shape.data(), input.shape.size(), kFloat, in.out()))
      return e;
    const std::array<const char*, 1> in_names{input_name.c_str()}, out_names{output_name.c_str()};
    const std::array<const Opaque*, 1> in_values{in.get()};
    if (auto e = runtime.call(kRun, session.get(), static_cast<const Opaque*>(nullptr), in_names.data(), in_values.data(),
                              std::size_t{1}, out_names.data(), std::size_t{1}, out.out()))
      return e;
    if (auto e = runtime.call(kGetTensorTypeAndShape, static_cast<const Opaque*>(out.get()), info.out())) return e;
    std::optional<std::string> error;
    output.shape = shape_of(runtime, info.get(), error);
    if (error) return error;
    void* data = nullptr;
    if (auto e = runtime.call(kGetTensorMutableData, out.get(), &data)) return e;
    const auto size = std::accumulate(output.shape.begin(), output.shape.end(), std::int64_t{1}, std::multiplies<>());
    const auto* first = static_cast<const float*>(data);
    output.values.assign(first, first + size);
    return std::nullopt;
  }
};

Model::Model(std::unique_ptr<Session> session) : session_(std::move(session)) {}
Model::Model(Model&&) noexcept = default;
Model& Model::operator=(Model&&) noexcept = default;
Model::~Model() = default;

const Digest& Model::digest() const { return session_->digest; }
const std::vector<std::int64_t>& Model::input_shape() const { return session_->input_shape; }
const std::vector<std::int64_t>& Model::output_shape() const { return session_->output_shape; }

Result<Model> Model::open(const std::string& path_to_onnx, const Digest& expected) {
  const std::string remedy = "Restore the file as it was delivered, for instance with git, and run the command again.";
  const auto network = read_file(path_to_onnx);
  if (!network) return failed("model_missing", path_to_onnx + ": the model file is missing or cannot be read.", remedy);
  const Digest found = digest_of(std::as_bytes(std::span(*network)));
  if (found != expected)
    return failed("model_altered",
                  path_to_onnx + ": the model file is not the one its card describes (SHA-256 differs, the file was altered or cut short).",
                  remedy);
  auto runtime = load_runtime();
  if (!runtime) return runtime.failure();
  auto session = std::make_unique<Session>(Session{*runtime, found});
  if (auto error = session->start(*network))
    return failed("model_unusable", path_to_onnx + ": the inference runtime refuses the model (" + *error + ").", remedy);
  return Model(std::move(session));
}

Result<Tensor> Model::run(const Tensor& input) const {
  const auto size = std::accumulate(input.shape.begin(), input.shape.end(), std::int64_t{1}, std::multiplies<>());
  Tensor output;
  std::optional<std::string> error;
  if (size < 0 || static_cast<std::size_t>(size) != input.values.size())
    error = "the values do not fill the shape";
  else
    error = session_->run(input, output);
  if (error) return failed("inference", "A model cannot work on its input (" + *error + ").", "Please report this with the photograph.");
  return output;
}

}  // namespace papillote::models
