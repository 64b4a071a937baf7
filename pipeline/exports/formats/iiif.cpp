// Sheets with their envelopes for viewers of pictures: a manifest whose canvases are the photographs, with an annotation for
// each envelope that holds its outline, its number and what is written on it, word for word.
//
// Source: IIIF Presentation API 3.0; W3C Web Annotation Data Model (TextualBody, SvgSelector). Pixels of a canvas are those of
// its photograph, upright.
#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <ostream>

#include "pipeline/exports/exporter.h"
#include "pipeline/exports/uri.h"

namespace papillote::exports::formats {
namespace {

using nlohmann::ordered_json;

ordered_json words(const std::string& language, const std::string& text) { return {{language, {text}}}; }

// What pictures are, by the name of the file; camera raw has no registered type.
std::string media_type(const std::string& format) { return format == "raw" ? "application/octet-stream" : "image/" + format; }

ordered_json annotation_of(const IndexRecord& record, const std::string& canvas, const Photo& photo) {
  std::string path;
  for (const Point& p : record.outline.polygon_px) path += fmt::format("{}{:.1f},{:.1f} ", path.empty() ? "M" : "L", p.x, p.y);
  ordered_json bodies = {{{"type", "TextualBody"},
                          {"value", record.catalogue_number.empty() ? record.id : record.catalogue_number},
                          {"format", "text/plain"},
                          {"purpose", "identifying"}}};
  if (!record.annotation.text.empty())
    bodies.push_back(
        {{"type", "TextualBody"}, {"value", record.annotation.text}, {"format", "text/plain"}, {"purpose", "supplementing"}});
  return {
      {"id", fmt::format("{}/envelope/{}", canvas, record.id)},
      {"type", "Annotation"},
      {"motivation", "supplementing"},
      {"body", std::move(bodies)},
      {"target",
       {{"type", "SpecificResource"},
        {"source", canvas},
        {"selector",
         {{"type", "SvgSelector"},
          {"value", fmt::format("<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}\" height=\"{}\"><path d=\"{}Z\"/></svg>",
                                photo.width_px, photo.height_px, path)}}}}}};
}

ordered_json canvas_of(const std::string& base, const PhotoIndex& index) {
  const Photo& photo = index.photo;
  const Sheet sheet = index.calibration.sheet.value_or(Sheet{});
  const std::string id = fmt::format("{}canvas/{}", base, photo.sha256.hex);
  const std::string label = sheet.tin.empty() && sheet.sheet.empty()
                                ? photo.path
                                : fmt::format("tin {}, sheet {}, {}", sheet.tin, sheet.sheet, sheet.side);
  ordered_json annotations = ordered_json::array();
  for (const IndexRecord& record : index.envelopes)
    if (record.outline.polygon_px.size() > 2) annotations.push_back(annotation_of(record, id, photo));
  ordered_json canvas{
      {"id", id}, {"type", "Canvas"}, {"label", words("en", label)}, {"height", photo.height_px}, {"width", photo.width_px}};
  canvas["metadata"] = {{{"label", words("en", "SHA-256")}, {"value", words("none", photo.sha256.hex)}}};
  canvas["items"] = {{{"id", id + "/page"},
                      {"type", "AnnotationPage"},
                      {"items",
                       {{{"id", id + "/painting"},
                         {"type", "Annotation"},
                         {"motivation", "painting"},
                         {"body",
                          {{"id", uri_of(base, photo.path)},
                           {"type", "Image"},
                           {"format", media_type(photo.format)},
                           {"height", photo.height_px},
                           {"width", photo.width_px}}},
                         {"target", id}}}}}};
  if (!annotations.empty())
    canvas["annotations"] = {{{"id", id + "/envelopes"}, {"type", "AnnotationPage"}, {"items", std::move(annotations)}}};
  return canvas;
}

// `rights` takes Creative Commons licences and RightsStatements.org alone, as http URIs; any other is said in words.
void add_licence(ordered_json& manifest, const std::string& licence) {
  if (licence.empty()) return;
  const std::size_t scheme = licence.find("://");
  const std::string bare = scheme == std::string::npos ? licence : licence.substr(scheme + 3);
  if (scheme != std::string::npos && (bare.starts_with("creativecommons.org/") || bare.starts_with("rightsstatements.org/")))
    manifest["rights"] = "http://" + bare;
  else
    manifest["requiredStatement"] = {{"label", words("en", "Licence")}, {"value", words("none", licence)}};
}

Result<Done> write(const Rows& rows, const Dataset& dataset, std::ostream& out) {
  if (!dataset.media_uri.starts_with("https://") && !dataset.media_uri.starts_with("http://"))
    return Failure{"exports", "no_media_uri",
                   "A manifest says where its pictures can be had, and the collection does not say it.",
                   "Write media_uri, an http or https address that ends in '/', into about.json."};
  const std::string base = dataset.media_uri + (dataset.media_uri.ends_with('/') ? "" : "/");
  ordered_json manifest{{"@context", "http://iiif.io/api/presentation/3/context.json"},
                        {"id", base + "manifest.json"},
                        {"type", "Manifest"},
                        {"label", words("en", dataset.title.empty() ? "Papered specimens" : dataset.title)}};
  if (!dataset.description.empty()) manifest["summary"] = words("en", dataset.description);
  if (!dataset.organisation.empty())
    manifest["metadata"] = {{{"label", words("en", "Held by")}, {"value", words("none", dataset.organisation)}}};
  add_licence(manifest, dataset.licence);
  const std::string head = manifest.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
  out << head.substr(0, head.size() - 1) << ",\"items\":[";
  bool first = true;
  rows([&](const store::IndexedPhotograph& photograph) {
    if (photograph.index.photo.width_px <= 0 || photograph.index.photo.height_px <= 0) return;
    out << (first ? "\n" : ",\n")
        << canvas_of(base, photograph.index).dump(-1, ' ', false, ordered_json::error_handler_t::replace);
    first = false;
  });
  out << "\n]}\n";
  return Done{};
}

}  // namespace

extern const Exporter iiif{
    "iiif", "A IIIF Presentation 3.0 manifest: photographs with envelopes as annotations; needs media_uri.", write};

}  // namespace papillote::exports::formats
