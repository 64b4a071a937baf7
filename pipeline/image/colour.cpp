#include <lcms2.h>

#include <memory>
#include <string>

#include <opencv2/imgproc.hpp>

#include "pipeline/image/decoder.h"

namespace papillote::image {
namespace {

struct CloseProfile {
  void operator()(void* profile) const { cmsCloseProfile(profile); }
};
struct DeleteTransform {
  void operator()(void* transform) const { cmsDeleteTransform(transform); }
};

// Most cameras say that they mean sRGB, which is what is wanted.
bool is_srgb(cmsHPROFILE profile) {
  char words[128] = "";
  cmsGetProfileInfoASCII(profile, cmsInfoDescription, "en", "US", words, sizeof words);
  return std::string_view(words).find("sRGB") != std::string_view::npos;
}

struct Kind {
  cmsColorSpaceSignature space;
  cmsUInt32Number of_8;
  cmsUInt32Number of_16;
};

Kind kind_of(const cv::Mat& pixels) {
  if (pixels.channels() == 1) return {cmsSigGrayData, TYPE_GRAY_8, TYPE_GRAY_16};
  if (pixels.channels() == 3) return {cmsSigRgbData, TYPE_BGR_8, TYPE_BGR_16};
  return {cmsSigCmykData, TYPE_CMYK_8, TYPE_CMYK_16};
}

// Empty where the profile is none that fits the pixels: a wrong profile is passed over.
cv::Mat through_profile(const Stored& stored) {
  const std::unique_ptr<void, CloseProfile> from(cmsOpenProfileFromMem(stored.icc.data(), static_cast<cmsUInt32Number>(stored.icc.size())));
  const Kind kind = kind_of(stored.pixels);
  if (!from || cmsGetColorSpace(from.get()) != kind.space || is_srgb(from.get())) return {};
  const std::unique_ptr<void, CloseProfile> to(cmsCreate_sRGBProfile());
  const std::unique_ptr<void, DeleteTransform> transform(cmsCreateTransform(from.get(), stored.pixels.depth() == CV_16U ? kind.of_16 : kind.of_8, to.get(),
                                                                            TYPE_BGR_8, INTENT_PERCEPTUAL, 0));
  if (!transform) return {};
  cv::Mat bgr(stored.pixels.size(), CV_8UC3);
  for (int y = 0; y < bgr.rows; ++y) cmsDoTransform(transform.get(), stored.pixels.ptr(y), bgr.ptr(y), static_cast<cmsUInt32Number>(bgr.cols));
  return bgr;
}

cv::Mat bgr_from_cmyk(const cv::Mat& cmyk) {
  cv::Mat bgr(cmyk.size(), CV_8UC3);
  for (int y = 0; y < cmyk.rows; ++y) {
    const auto* from = cmyk.ptr<cv::Vec4b>(y);
    auto* to = bgr.ptr<cv::Vec3b>(y);
    for (int x = 0; x < cmyk.cols; ++x)
      for (int c = 0; c < 3; ++c) to[x][c] = static_cast<unsigned char>((255 - from[x][2 - c]) * (255 - from[x][3]) / 255);
  }
  return bgr;
}

}  // namespace

cv::Mat to_srgb(Stored stored) {
  if (!stored.icc.empty())
    if (cv::Mat bgr = through_profile(stored); !bgr.empty()) return bgr;
  cv::Mat pixels = std::move(stored.pixels);
  if (pixels.depth() == CV_16U) pixels.convertTo(pixels, CV_8U, 1 / 257.0);
  if (pixels.channels() == 1) cv::cvtColor(pixels, pixels, cv::COLOR_GRAY2BGR);
  return pixels.channels() == 4 ? bgr_from_cmyk(pixels) : pixels;
}

void prepare_colour_tables() {
  cv::Mat one(1, 1, CV_8UC3, cv::Scalar::all(0));
  cv::cvtColor(one, one, cv::COLOR_BGR2Lab);
}

}  // namespace papillote::image
