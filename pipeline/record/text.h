// Lines of annotation on an envelope, what they say, and what that means.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "pipeline/record/geometry.h"

namespace papillote {

enum class LineKind { handwritten, typed, printed, stamped, newsprint };

struct TextLine {
  Polygon polygon_px;       // around the ink, in the photograph
  Quad quad_px{};           // straight strip to read: first corner = where the text starts, above it
  LineKind kind = LineKind::handwritten;
  double kind_confidence = 0;
  double confidence = 0;    // that this is a line of writing at all

  bool operator==(const TextLine&) const = default;
};

// All lines of one envelope in reading order, newsprint last.
struct LineLayout {
  std::vector<TextLine> lines;
  std::string paper;        // "plain" or "newsprint": no more can be told

  bool operator==(const LineLayout&) const = default;
};

struct Alternative {
  std::string text;
  double confidence = 0;

  bool operator==(const Alternative&) const = default;
};

struct Reading {
  TextLine line;                          // kind and direction as the reader settled them
  std::string text;                       // verbatim, UTF-8 NFC
  double confidence = 0;                  // calibrated chance that every character is right
  std::vector<Alternative> alternatives;  // best first, without `text` itself
  std::vector<double> character_confidence;  // one per code point of `text`
  std::string reader;                     // which reader won: "tesseract", "papillote"

  bool operator==(const Reading&) const = default;
};

// One envelope, read.
struct Annotation {
  std::vector<Reading> lines;   // in reading order as upright
  int turned_deg = 0;           // clockwise turn of the crop that makes the text upright: 0, 90, 180, 270
  std::string text;             // lines without newsprint, joined by '\n'

  bool operator==(const Annotation&) const = default;
};

// Which characters a claim rests on: line index in Annotation::lines and byte offsets into its text.
struct Evidence {
  int line = 0;
  int begin = 0;
  int end = 0;

  bool operator==(const Evidence&) const = default;
};

// What a reading means for one term; no value = seen but left open.
template <class Value>
struct Claim {
  std::string verbatim;
  std::optional<Value> value;
  double confidence = 0;
  std::vector<std::pair<Value, double>> alternatives;
  std::vector<std::string> reasons;
  std::vector<Evidence> evidence;

  bool operator==(const Claim&) const = default;
};

struct Place {
  std::string name;
  std::string gazetteer_id;
  std::string country;        // ISO 3166-1 alpha-2
  double lat_deg = 0;         // WGS 84
  double lon_deg = 0;
  double uncertainty_m = 0;   // point-radius

  bool operator==(const Place&) const = default;
};

struct GeoPoint {
  double lat_deg = 0;
  double lon_deg = 0;
  double uncertainty_m = 0;   // from the precision as written; 0 = not known

  bool operator==(const GeoPoint&) const = default;
};

struct ElevationRange {
  double min_m = 0;
  double max_m = 0;

  bool operator==(const ElevationRange&) const = default;
};

struct Interpretation {
  std::optional<Claim<std::string>> date;          // value: EDTF
  std::optional<Claim<Place>> place;
  std::optional<Claim<GeoPoint>> coordinates;
  std::optional<Claim<ElevationRange>> elevation;
  std::optional<Claim<std::string>> collector;
  std::optional<Claim<std::string>> determiner;
  std::optional<Claim<std::string>> donor;
  std::optional<Claim<std::string>> previous_collection;
  std::optional<Claim<std::string>> taxon;
  std::optional<Claim<std::string>> sex;
  std::optional<Claim<std::string>> type_status;
  std::optional<Claim<std::string>> number;        // collector's or accession number
  // Newsprint dates the paper, never the collecting: a hint kept apart.
  std::optional<Claim<std::string>> newspaper_date;

  bool operator==(const Interpretation&) const = default;
};

}  // namespace papillote
