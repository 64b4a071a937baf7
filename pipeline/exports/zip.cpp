#include "pipeline/exports/zip.h"

#include <zip.h>

#include <memory>
#include <stdexcept>

namespace papillote::exports {

void write_zip(const std::filesystem::path& archive, const std::vector<std::pair<std::string, std::filesystem::path>>& files) {
  const auto give_up = [&](const std::string& why) { throw std::runtime_error(archive.string() + " cannot be written: " + why); };
  int error = 0;
  std::unique_ptr<zip_t, void (*)(zip_t*)> zip(zip_open(archive.c_str(), ZIP_CREATE | ZIP_TRUNCATE, &error), zip_discard);
  if (!zip) give_up("error " + std::to_string(error) + " of libzip");
  for (const auto& [name, file] : files) {
    zip_source_t* source = zip_source_file(zip.get(), file.c_str(), 0, -1);
    if (source == nullptr) give_up(zip_strerror(zip.get()));
    const zip_int64_t index = zip_file_add(zip.get(), name.c_str(), source, ZIP_FL_ENC_UTF_8);
    if (index < 0) {
      zip_source_free(source);
      give_up(zip_strerror(zip.get()));
    }
    const auto entry = static_cast<zip_uint64_t>(index);
    constexpr zip_uint16_t kFirstDay = 1 << 5 | 1;  // 1 January 1980, where the format's time begins
    constexpr zip_uint32_t kReadableByAll = 0100644U << 16;
    constexpr zip_uint32_t kLevel = 6;
    if (zip_file_set_dostime(zip.get(), entry, 0, kFirstDay, 0) != 0 ||
        zip_file_set_external_attributes(zip.get(), entry, 0, ZIP_OPSYS_UNIX, kReadableByAll) != 0 ||
        zip_set_file_compression(zip.get(), entry, ZIP_CM_DEFLATE, kLevel) != 0)
      give_up(zip_strerror(zip.get()));
  }
  if (zip_close(zip.get()) != 0) give_up(zip_strerror(zip.get()));
  (void)zip.release();
}

}  // namespace papillote::exports
