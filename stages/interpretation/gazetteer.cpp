#include "stages/interpretation/gazetteer.h"

#include <fcntl.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cstring>
#include <utility>

#include "stages/interpretation/gazetteer_format.h"
#include "stages/interpretation/place_names.h"

namespace papillote::interpretation {

using namespace format;

std::string_view name_of(PlaceKind kind) {
  switch (kind) {
    case PlaceKind::country:
      return "country";
    case PlaceKind::former_country:
      return "former country";
    case PlaceKind::division1:
      return "state or province";
    case PlaceKind::division2:
      return "county or district";
    case PlaceKind::settlement:
      return "settlement";
    case PlaceKind::island:
      return "island";
    case PlaceKind::mountain:
      return "mountain";
    case PlaceKind::region:
      return "region";
    case PlaceKind::water:
      return "water";
    case PlaceKind::other:
      break;
  }
  return "place";
}

bool lies_in(std::string_view division, std::string_view outer) {
  while (!outer.empty()) {
    const auto comma = outer.find(',');
    const auto one = outer.substr(0, comma);
    outer = comma == std::string_view::npos ? std::string_view{} : outer.substr(comma + 1);
    if (one.empty()) continue;
    for (auto rest = division; !rest.empty();) {
      const auto end = rest.find(',');
      const auto inner = rest.substr(0, end);
      if (inner.starts_with(one) && (inner.size() == one.size() || inner[one.size()] == '.')) return true;
      rest = end == std::string_view::npos ? std::string_view{} : rest.substr(end + 1);
    }
  }
  return false;
}

// One mapped file. Every offset read from it is checked against its section, so a damaged file gives wrong
// answers at worst, never a read outside it.
class Gazetteer::File {
 public:
  static Result<File> open(const std::filesystem::path& path) {
    const auto damaged = [&path](std::string why) {
      return Failure{"interpretation", "damaged_gazetteer", path.string() + " is not a gazetteer file: " + std::move(why) + ".",
                     "Make it again with `papillote gazetteer build` or `papillote gazetteer add`."};
    };
    const int handle = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (handle < 0)
      return Failure{
          "interpretation", "no_gazetteer", path.string() + " cannot be read: " + std::strerror(errno) + ".",
          "Run scripts/fetch_gazetteer and `papillote gazetteer build`, or name another gazetteer with --gazetteer."};
    struct stat about {};
    const bool sized = ::fstat(handle, &about) == 0;
    const auto bytes = sized && about.st_size > 0 ? static_cast<std::size_t>(about.st_size) : std::size_t{0};
    void* mapped = bytes >= sizeof(Header) ? ::mmap(nullptr, bytes, PROT_READ, MAP_PRIVATE, handle, 0) : MAP_FAILED;
    ::close(handle);
    if (mapped == MAP_FAILED) return damaged("it is too short");
    File file(static_cast<const char*>(mapped), bytes);
    const auto& header = file.header();
    if (header.magic != kMagic) return damaged("its first bytes are wrong, or another version wrote it");
    if (header.file_size != bytes) return damaged("it was cut short");
    for (std::size_t i = 0; i < kSectionCount; ++i)
      if (header.begin[i] % 8 != 0 || header.begin[i] > bytes || header.size[i] > bytes - header.begin[i])
        return damaged("a section lies outside it");
    if (file.text_bytes(kTexts).empty() || file.text_bytes(kTexts).back() != '\0') return damaged("its names do not end");
    return file;
  }

  File(File&& other) noexcept : data_(std::exchange(other.data_, nullptr)), bytes_(std::exchange(other.bytes_, 0)) {}
  File& operator=(File&& other) noexcept {
    std::swap(data_, other.data_);
    std::swap(bytes_, other.bytes_);
    return *this;
  }
  ~File() {
    if (data_ != nullptr) ::munmap(const_cast<char*>(data_), bytes_);
  }

  const Header& header() const { return *reinterpret_cast<const Header*>(data_); }
  std::span<const PlaceRow> places() const { return rows<PlaceRow>(kPlaces); }
  std::string_view text(std::uint32_t offset) const {
    const auto all = text_bytes(kTexts);
    return offset < all.size() ? std::string_view(all.data() + offset) : std::string_view{};
  }

  // The key's number, or none.
  std::size_t find_key(std::string_view key) const {
    std::size_t low = 0, high = key_count();
    while (low < high) {
      const auto middle = low + (high - low) / 2;
      if (this->key(middle) < key)
        low = middle + 1;
      else
        high = middle;
    }
    return low < key_count() && this->key(low) == key ? low : kNone;
  }

  std::size_t key_count() const {
    const auto offsets = rows<std::uint32_t>(kKeyText);
    return offsets.empty() ? 0 : offsets.size() - 1;
  }
  std::string_view key(std::size_t number) const {
    const auto offsets = rows<std::uint32_t>(kKeyText);
    if (number + 1 >= offsets.size()) return {};
    const auto all = text_bytes(kKeys);
    const std::size_t begin = offsets[number], end = offsets[number + 1];
    return begin <= end && end <= all.size() ? all.substr(begin, end - begin) : std::string_view{};
  }
  std::span<const std::uint32_t> postings(std::size_t key_number) const { return slice(kKeyPostings, key_number, kPostings); }
  // Numbers of the keys in the bucket of a skeleton.
  std::span<const std::uint32_t> lookalikes(std::string_view skeleton) const {
    const auto buckets = rows<std::uint32_t>(kBuckets);
    if (buckets.size() < 2) return {};
    return slice(kBuckets, hash_of(skeleton) % (buckets.size() - 1), kLookalikes);
  }

  static constexpr std::size_t kNone = static_cast<std::size_t>(-1);

 private:
  File(const char* data, std::size_t bytes) : data_(data), bytes_(bytes) {}

  std::string_view text_bytes(Section section) const { return {data_ + header().begin[section], header().size[section]}; }
  template <class Row>
  std::span<const Row> rows(Section section) const {
    return {reinterpret_cast<const Row*>(data_ + header().begin[section]), header().size[section] / sizeof(Row)};
  }
  std::span<const std::uint32_t> slice(Section offsets_section, std::size_t number, Section section) const {
    const auto offsets = rows<std::uint32_t>(offsets_section);
    const auto all = rows<std::uint32_t>(section);
    if (number + 1 >= offsets.size()) return {};
    const std::size_t begin = offsets[number], end = offsets[number + 1];
    return begin <= end && end <= all.size() ? all.subspan(begin, end - begin) : std::span<const std::uint32_t>{};
  }

  const char* data_;
  std::size_t bytes_;
};

Gazetteer::Gazetteer() = default;
Gazetteer::Gazetteer(Gazetteer&&) noexcept = default;
Gazetteer& Gazetteer::operator=(Gazetteer&&) noexcept = default;
Gazetteer::~Gazetteer() = default;

Result<Gazetteer> Gazetteer::open(std::span<const std::filesystem::path> paths) {
  Gazetteer gazetteer;
  for (const auto& path : paths) {
    auto file = File::open(path);
    if (!file) return file.failure();
    gazetteer.files_.push_back(std::move(file).value());
  }
  return gazetteer;
}

std::size_t Gazetteer::size() const {
  std::size_t count = 0;
  for (const auto& file : files_) count += file.places().size();
  return count;
}

GazetteerPlace Gazetteer::place(PlaceIndex index) const {
  std::size_t at = index;
  for (const auto& file : files_) {
    const auto places = file.places();
    if (at >= places.size()) {
      at -= places.size();
      continue;
    }
    const auto& row = places[at];
    GazetteerPlace place;
    place.name = file.text(row.name);
    place.id = file.text(row.id);
    place.division = file.text(row.division);
    place.lat_deg = row.lat_udeg / 1e6;
    place.lon_deg = row.lon_udeg / 1e6;
    place.radius_m = static_cast<double>(row.radius_m);
    place.population = row.population;
    place.kind = row.kind <= static_cast<std::uint32_t>(PlaceKind::other) ? static_cast<PlaceKind>(row.kind) : PlaceKind::other;
    return place;
  }
  return {};
}

namespace {

void append_places(std::span<const std::uint32_t> postings, std::size_t first_place, double distance,
                   std::vector<NameMatch>& out) {
  for (const auto posting : postings)
    out.push_back({static_cast<PlaceIndex>(first_place + (posting & kPlaceMask)), distance, (posting & kMainName) != 0,
                   (posting & kAbbreviation) != 0});
}

}  // namespace

std::vector<NameMatch> Gazetteer::named(std::string_view key) const {
  std::vector<NameMatch> matches;
  std::size_t first_place = 0;
  for (const auto& file : files_) {
    if (const auto number = file.find_key(key); number != File::kNone)
      append_places(file.postings(number), first_place, 0, matches);
    first_place += file.places().size();
  }
  return matches;
}

std::vector<NameMatch> Gazetteer::named_about(std::string_view key, double most) const {
  std::vector<NameMatch> matches;
  if (key.size() < kShortestLookalike) return matches;
  const auto whole = skeleton(key);
  std::vector<std::string> probes{whole};
  for (std::size_t i = 0; i < whole.size(); ++i) {
    auto shorter = whole;
    shorter.erase(i, 1);
    if (std::find(probes.begin(), probes.end(), shorter) == probes.end()) probes.push_back(std::move(shorter));
  }
  std::size_t first_place = 0;
  std::vector<std::uint32_t> numbers;
  for (const auto& file : files_) {
    numbers.clear();
    for (const auto& probe : probes)
      for (const auto number : file.lookalikes(probe)) numbers.push_back(number);
    std::sort(numbers.begin(), numbers.end());
    numbers.erase(std::unique(numbers.begin(), numbers.end()), numbers.end());
    for (const auto number : numbers) {
      const auto candidate = file.key(number);
      const auto difference = candidate.size() > key.size() ? candidate.size() - key.size() : key.size() - candidate.size();
      if (difference > 4) continue;
      if (const double distance = reading_distance(key, candidate, most); distance <= most)
        append_places(file.postings(number), first_place, distance, matches);
    }
    first_place += file.places().size();
  }
  std::stable_sort(matches.begin(), matches.end(),
                   [](const NameMatch& a, const NameMatch& b) { return a.distance < b.distance; });
  return matches;
}

std::vector<std::string> Gazetteer::attributions() const {
  std::vector<std::string> all;
  for (const auto& file : files_)
    if (std::string text{file.text(file.header().attribution)}; !text.empty()) all.push_back(std::move(text));
  return all;
}

}  // namespace papillote::interpretation
