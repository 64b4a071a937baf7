// One face of an envelope drawn flat: what the camera will see of it.
#pragma once
#include "drawing.h"
#include "envelope.h"

namespace papillote::samples {

struct Face {
  Plane plane;
  cv::Mat colour;   // CV_32FC3, linear reflectance
  cv::Mat alpha;    // CV_32F, 1 where paper or a part of the insect covers the table
  cv::Mat opacity;  // CV_32F, below 1 where the paper lets the table show through
  cv::Mat height;   // CV_32F, relief in mm
};

// light points from the envelope towards the lamp, in the envelope's own frame; its length is the strength of the relief.
Face draw_face(const FontShelf& shelf, const EnvelopePlan& plan, double px_per_mm, Point light);

}  // namespace papillote::samples
