// How a tin is kept: what a curator notes of it, and what that means for its content.
#pragma once

#include <optional>
#include <string>
#include <vector>

namespace papillote {

struct Band {
  double least = 0;
  double most = 0;

  bool operator==(const Band&) const = default;
};

// One tin as noted by a person. An empty word was not noted; the words that each may hold stand in container_words.
struct Container {
  std::string tin{};
  std::string material{};
  std::string seal{};
  std::string lining{};
  std::string wood{};  // of the container, or of the furniture it stands in
  std::string stands{};
  std::string light{};
  std::string chemicals{};
  // source of the band: entomology store set point 18 +- 1 °C and 50 +- 5 % RH, Auckland Museum entomology, list post, 2006
  Band temperature_c{17, 19};
  Band rh_percent{45, 55};
  std::string climate{};  // file of the climate logger, relative to the table of containers
  std::string heading{};  // what stands on the tin for all its envelopes, as written: "Sarawak 1909-11"

  bool operator==(const Container&) const = default;
};

// One reason why a tin's keeping endangers what is in it.
struct StorageSign {
  std::string sign;    // stable word that a triage rule may name: "no_seal", "mould_index"
  double measure = 1;  // index, share, days ...; 1 for what is simply so
  std::string words;   // with the source

  bool operator==(const StorageSign&) const = default;
};

struct Storage {
  std::vector<StorageSign> signs;
  std::vector<std::string> remarks;  // what is known without being a danger, and what the climate table left open

  bool operator==(const Storage&) const = default;
};

}  // namespace papillote
