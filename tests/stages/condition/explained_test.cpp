#include "stages/condition/explained.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

namespace papillote::condition {
namespace {

using testing::ElementsAre;

std::vector<Sign> nothing(const View&) { return {}; }

const Detector flap{"open_flap", 1, nothing};
const Detector corner{"missing_corner", 1, nothing, {"open_flap"}};
const Detector tear{"tear", 1, nothing, {"missing_corner"}};

Sign square(double left, double top, double side, double confidence) {
  Sign sign;
  sign.region = {{left, top}, {left + side, top}, {left + side, top + side}, {left, top + side}};
  sign.confidence = confidence;
  return sign;
}

View view() {
  View view;
  view.depth_px = cv::Mat::zeros(200, 300, CV_32FC1);
  view.unit_px = 2.5;  // a sign within 5 px lies on the other
  return view;
}

std::vector<std::string> kept(const std::vector<Seen>& seen) {
  std::vector<std::string> names;
  for (const Seen& one : without_explained(seen, view())) names.emplace_back(one.detector->name);
  return names;
}

TEST(Explained, WhatLiesOnAKindThatExplainsItGoes) {
  EXPECT_THAT(kept({{&flap, square(50, 50, 60, 0.9)}, {&corner, square(60, 60, 20, 0.9)}}), ElementsAre("open_flap"));
  EXPECT_THAT(kept({{&corner, square(111, 60, 6, 0.9)}, {&flap, square(50, 50, 60, 0.9)}}), ElementsAre("open_flap")) << "close to it";
}

TEST(Explained, WhatLiesElsewhereStays) {
  EXPECT_THAT(kept({{&flap, square(50, 50, 60, 0.9)}, {&corner, square(200, 60, 20, 0.9)}}), ElementsAre("open_flap", "missing_corner"));
  EXPECT_THAT(kept({{&flap, square(50, 50, 60, 0.9)}, {&corner, square(105, 60, 40, 0.9)}}), ElementsAre("open_flap", "missing_corner"))
      << "only a small part lies on it";
}

TEST(Explained, WhatIsDoubtfulOrOfAnotherKindExplainsNothing) {
  EXPECT_THAT(kept({{&flap, square(50, 50, 60, 0.4)}, {&corner, square(60, 60, 20, 0.9)}}), ElementsAre("open_flap", "missing_corner"));
  EXPECT_THAT(kept({{&corner, square(50, 50, 60, 0.9)}, {&flap, square(60, 60, 20, 0.9)}}), ElementsAre("missing_corner", "open_flap"));
}

TEST(Explained, WhatIsExplainedStillExplains) {
  EXPECT_THAT(kept({{&flap, square(50, 50, 60, 0.9)}, {&corner, square(60, 60, 20, 0.9)}, {&tear, square(65, 65, 5, 0.9)}}), ElementsAre("open_flap"));
}

}  // namespace
}  // namespace papillote::condition
