#include "pipeline/exports/archive_view.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <pugixml.hpp>
#include <sstream>

namespace papillote::exports {
namespace {

// Letters, digits and a few marks that every file system takes.
std::string harmless(const std::string& name) {
  std::string out;
  for (const char c : name) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_' || c == ' ' || static_cast<unsigned char>(c) >= 0x80;
    out += plain ? c : '_';
  }
  return out;
}

// XML takes neither bytes that are no UTF-8 nor control characters.
std::string for_xml(const std::string& text) {
  std::string valid = nlohmann::json::parse(nlohmann::json(text).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace)).get<std::string>();
  std::replace_if(valid.begin(), valid.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20 && c != '\n'; }, ' ');
  return valid;
}

}  // namespace

ArchiveView archive_view(const Dataset& dataset, const View& view) {
  const Photo& photo = view.photo;
  const IndexRecord& record = view.record;
  ArchiveView out;
  const std::string side = view.sheet.side.empty() ? "front" : harmless(view.sheet.side);
  out.file = fmt::format("{}/{}-{}-{}.tif", view.sheet.tin.empty() ? "no tin" : "tin " + harmless(view.sheet.tin), record.id, side, photo.sha256.hex.substr(0, 8));
  out.description = fmt::format("Envelope {}{}, {} side, cut upright from {}", record.id,
                                record.catalogue_number.empty() ? "" : " (" + for_xml(record.catalogue_number) + ")", side, for_xml(photo.path));
  std::string corners;
  for (const Point& p : record.outline.crop.quad_px) corners += fmt::format("{}{:.2f},{:.2f}", corners.empty() ? "" : " ", p.x, p.y);

  pugi::xml_document document;
  pugi::xml_node meta = document.append_child("x:xmpmeta");
  meta.append_attribute("xmlns:x") = "adobe:ns:meta/";
  pugi::xml_node rdf = meta.append_child("rdf:RDF");
  rdf.append_attribute("xmlns:rdf") = "http://www.w3.org/1999/02/22-rdf-syntax-ns#";
  pugi::xml_node about = rdf.append_child("rdf:Description");
  about.append_attribute("rdf:about") = "";
  about.append_attribute("xmlns:dc") = "http://purl.org/dc/elements/1.1/";
  about.append_attribute("xmlns:ac") = "http://rs.tdwg.org/ac/terms/";
  about.append_attribute("xmlns:papillote") = "urn:papillote:archive:1";
  const auto say = [&](const char* name, const std::string& text) {
    if (!text.empty()) about.append_child(name).text() = for_xml(text).c_str();
  };
  say("dc:identifier", occurrence_id(dataset, record.id));
  say("dc:source", "sha256:" + photo.sha256.hex);
  say("ac:associatedSpecimenReference", occurrence_id(dataset, record.id));
  say("papillote:envelope", record.id);
  say("papillote:catalogueNumber", record.catalogue_number);
  say("papillote:photograph", photo.path);
  say("papillote:photographSha256", photo.sha256.hex);
  say("papillote:photographWidthPx", std::to_string(photo.width_px));
  say("papillote:photographHeightPx", std::to_string(photo.height_px));
  say("papillote:cropCornersPx", corners);
  say("papillote:tin", view.sheet.tin);
  say("papillote:sheet", view.sheet.sheet);
  say("papillote:side", view.sheet.side);
  std::ostringstream body;
  document.save(body, " ", pugi::format_default | pugi::format_no_declaration, pugi::encoding_utf8);
  out.xmp = "<?xpacket begin=\"\xef\xbb\xbf\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n" + body.str() + "<?xpacket end=\"r\"?>";
  return out;
}

std::string digest_lines(const DigestList& list) {
  std::string text;
  for (const auto& [file, digest] : list) text += fmt::format("{}  {}\n", digest.hex, file);
  return text;
}

Result<DigestList> read_digest_lines(std::string_view text, const std::string& name) {
  DigestList list;
  int number = 0;
  while (!text.empty()) {
    ++number;
    const std::string_view line = text.substr(0, text.find('\n'));
    text.remove_prefix(std::min(line.size() + 1, text.size()));
    constexpr std::size_t kHex = 64;
    const bool whole = line.size() > kHex + 2 && line.substr(kHex, 2) == "  " && line.substr(0, kHex).find_first_not_of("0123456789abcdef") == std::string_view::npos;
    if (!whole)
      return Failure{"exports", "damaged_list", fmt::format("{}: line {} is no digest and file name.", name, number),
                     "Bring the list back from a backup; without it nobody can tell what changed."};
    list[std::string(line.substr(kHex + 2))] = Digest{std::string(line.substr(0, kHex))};
  }
  return list;
}

}  // namespace papillote::exports
