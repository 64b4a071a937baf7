#include "stages/registration/registration.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/image/files.h"

namespace papillote::registration {
namespace {

namespace files = image::files;
using testing::StartsWith;

TEST(RegisterPhoto, SaysWhatTheFileIs) {
  const auto file = files::with_exif(files::jpeg(files::four_fields(96, 64)), 6, "2026:05:01 10:20:30");
  const auto photo = register_photo("tin_07/IMG_1.JPG", file);
  ASSERT_TRUE(photo.ok());
  EXPECT_EQ(photo->path, "tin_07/IMG_1.JPG");
  EXPECT_EQ(photo->format, "jpeg");
  EXPECT_EQ(photo->width_px, 64);
  EXPECT_EQ(photo->height_px, 96);
  EXPECT_EQ(photo->taken, "2026-05-01T10:20:30");
  EXPECT_EQ(photo->sha256, digest_of(std::span<const std::byte>(file)));
}

TEST(RegisterPhoto, BadFilesAreNamedWithARemedy) {
  const auto jpeg = files::jpeg(files::four_fields(96, 64));
  const files::File cut(jpeg.begin(), jpeg.begin() + 20);
  for (const auto& [file, kind] : {std::pair{files::File{}, "empty"}, {files::bytes_of("hello"), "not_an_image"}, {cut, "truncated"}}) {
    const auto photo = register_photo("a/b.jpg", file);
    ASSERT_FALSE(photo.ok());
    EXPECT_EQ(photo.failure().stage, "registration");
    EXPECT_EQ(photo.failure().kind, kind);
    EXPECT_THAT(photo.failure().reason, StartsWith("a/b.jpg: "));
    EXPECT_FALSE(photo.failure().remedy.empty());
  }
}

}  // namespace
}  // namespace papillote::registration
