// What detectors share: the tone of the paper where it is sound, the look of the table around it, and regions as polygons.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

#include "stages/condition/detector.h"

namespace papillote::condition {

// CV_32FC3 Lab of the same size as the view: the paper's own slow tone (toning, shade), spots and writing taken out by a
// wide median. Outside the paper it continues the nearest paper.
[[nodiscard]] cv::Mat paper_tone(const View&);

// CV_32FC3 in the order B G R: optical density, natural logarithm of (light of the tone / light here). What lies on the paper adds
// to it whatever the paper's own colour: the ratio of blue to red tells brown from grey stains.
[[nodiscard]] cv::Mat density_above_tone(const View&);

// CV_32F: colour distance (CIE76, L* at half weight against shade) of each pixel from the table as it shows around the paper; small = looks
// like the table. Nothing of the table in sight gives 100 everywhere.
[[nodiscard]] cv::Mat distance_from_table(const View&);

// A connected region with what most detectors ask about it.
struct Region {
  std::vector<cv::Point> contour;  // outer boundary
  double area_px = 0;
  cv::Rect box;
  double length_px = 0;   // sides of the smallest turned rectangle, length >= width
  double width_px = 0;
  double roundness = 0;   // 4 pi area / perimeter^2 of the hull, 1 = disc
  double solidity = 0;    // area / hull area
  cv::Point2d centre;
};

// 8-connected regions of a CV_8U mask with at least `least_area_px`.
[[nodiscard]] std::vector<Region> regions_of(const cv::Mat& mask, double least_area_px);

// Mask of the region within its box.
[[nodiscard]] cv::Mat mask_of(const Region&);

// The paper without a rim of `rim_px` and without writing.
[[nodiscard]] cv::Mat bare_paper(const View&, double rim_px);

// Steepest change of density (green) across the region's boundary, mean along it, per pixel and as a share of the region's own
// density: 0.3 and more for an edge as sharp as the photograph, 0.1 for a soaked-in spot.
[[nodiscard]] double rim_sharpness(const View&, const Region&);

// A spot that differs from the paper around it in density.
struct Spot {
  Region region;
  cv::Vec3f density;      // mean, B G R
  double brownness = 1;   // blue over red density: 1 grey, 2 and more brown
};

// Compact spots darker than the paper by at least `least_density` (green and blue), from `least_mm` to `most_mm` across.
[[nodiscard]] std::vector<Spot> spots_on(const View&, const cv::Mat& where, double least_density, double least_mm, double most_mm,
                                         double least_solidity = 0.7);

// Spots that lie within `reach_px` of each other, as groups of at least `least_count`.
[[nodiscard]] std::vector<std::vector<Spot>> grouped(const View&, const std::vector<Spot>&, double reach_px, std::size_t least_count);
[[nodiscard]] Polygon hull_of(const std::vector<Spot>&);

// Mask of cards, slips, other papers and joints of the table: off the paper, with straight sides or running out of the view.
[[nodiscard]] cv::Mat foreign_objects(const View&);

// Mask of what lies around the paper and is neither table, nor a soft shadow, nor another envelope.
[[nodiscard]] cv::Mat stray_matter(const View&);

// Gaps between the envelope's whole shape (the convex hull of its outline) and where there is paper, open to the edge.
[[nodiscard]] std::vector<Region> gaps_at_edge(const View&);
[[nodiscard]] bool is_corner_gap(const View&, const Region& gap);
[[nodiscard]] double depth_into_paper_px(const View&, const Region& gap);

[[nodiscard]] Polygon polygon_of(const std::vector<cv::Point>& contour, double tolerance_px);

// Hull of several regions as one polygon.
[[nodiscard]] Polygon hull_of(const std::vector<Region>& regions);

// 1 / (1 + exp(-(value - middle) / scale)): a measured quantity as a confidence.
[[nodiscard]] double confidence_of(double value, double middle, double scale);

// Severity 1..4 of a measured quantity by the three limits at which the next step begins.
[[nodiscard]] int severity_of(double value, double from_2, double from_3, double from_4);

}  // namespace papillote::condition
