#include "stages/interpretation/place_words.h"

#include <array>
#include <unordered_map>
#include <unordered_set>

namespace papillote::interpretation {
namespace {

using Words = std::unordered_set<std::string_view>;

// Letters of a compass heading: 0 none.
std::optional<Heading> heading_of_letters(std::string_view letters) {
  static const std::unordered_map<std::string_view, double> compass{
      {"n", 0},   {"nne", 22.5},  {"ne", 45},  {"ene", 67.5},  {"e", 90},  {"ese", 112.5}, {"se", 135}, {"sse", 157.5},
      {"s", 180}, {"ssw", 202.5}, {"sw", 225}, {"wsw", 247.5}, {"w", 270}, {"wnw", 292.5}, {"nw", 315}, {"nnw", 337.5}};
  if (letters.empty() || letters.size() > 3) return std::nullopt;
  std::array<char, 3> plain{};
  bool o = false;
  for (std::size_t i = 0; i < letters.size(); ++i) {
    char c = letters[i];
    if (c == 'o') {
      o = true;
      c = 'w';
    }
    if (c == 'v') c = 'w';
    plain[i] = c;
  }
  const auto found = compass.find(std::string_view(plain.data(), letters.size()));
  if (found == compass.end()) return std::nullopt;
  return Heading{found->second, o};
}

}  // namespace

std::optional<Heading> heading_of(std::string_view word) {
  if (word.size() <= 3) return heading_of_letters(word);
  static const std::unordered_map<std::string_view, std::string_view> words{{"north", "n"},
                                                                            {"northern", "n"},
                                                                            {"northward", "n"},
                                                                            {"nord", "n"},
                                                                            {"norden", "n"},
                                                                            {"nordl", "n"},
                                                                            {"nordlich", "n"},
                                                                            {"norte", "n"},
                                                                            {"norr", "n"},
                                                                            {"noord", "n"},
                                                                            {"south", "s"},
                                                                            {"southern", "s"},
                                                                            {"southward", "s"},
                                                                            {"suden", "s"},
                                                                            {"sudl", "s"},
                                                                            {"sudlich", "s"},
                                                                            {"soder", "s"},
                                                                            {"zuid", "s"},
                                                                            {"syden", "s"},
                                                                            {"east", "e"},
                                                                            {"eastern", "e"},
                                                                            {"eastward", "e"},
                                                                            {"osten", "e"},
                                                                            {"ostl", "e"},
                                                                            {"ostlich", "e"},
                                                                            {"este", "e"},
                                                                            {"leste", "e"},
                                                                            {"oster", "e"},
                                                                            {"oost", "e"},
                                                                            {"west", "w"},
                                                                            {"western", "w"},
                                                                            {"westward", "w"},
                                                                            {"westen", "w"},
                                                                            {"westl", "w"},
                                                                            {"westlich", "w"},
                                                                            {"oeste", "w"},
                                                                            {"ouest", "w"},
                                                                            {"ovest", "w"},
                                                                            {"vaster", "w"},
                                                                            {"vest", "w"},
                                                                            {"northeast", "ne"},
                                                                            {"northeastern", "ne"},
                                                                            {"nordost", "ne"},
                                                                            {"noreste", "ne"},
                                                                            {"nordeste", "ne"},
                                                                            {"nordest", "ne"},
                                                                            {"noordoost", "ne"},
                                                                            {"northwest", "nw"},
                                                                            {"northwestern", "nw"},
                                                                            {"nordwest", "nw"},
                                                                            {"noroeste", "nw"},
                                                                            {"nordouest", "nw"},
                                                                            {"nordvest", "nw"},
                                                                            {"noordwest", "nw"},
                                                                            {"nordvast", "nw"},
                                                                            {"southeast", "se"},
                                                                            {"southeastern", "se"},
                                                                            {"sudost", "se"},
                                                                            {"sureste", "se"},
                                                                            {"sudeste", "se"},
                                                                            {"sudest", "se"},
                                                                            {"sydost", "se"},
                                                                            {"zuidoost", "se"},
                                                                            {"southwest", "sw"},
                                                                            {"southwestern", "sw"},
                                                                            {"sudwest", "sw"},
                                                                            {"suroeste", "sw"},
                                                                            {"sudoeste", "sw"},
                                                                            {"sudouest", "sw"},
                                                                            {"sydvest", "sw"},
                                                                            {"sydvast", "sw"},
                                                                            {"zuidwest", "sw"},
                                                                            {"northnortheast", "nne"},
                                                                            {"northnorthwest", "nnw"},
                                                                            {"southsoutheast", "sse"},
                                                                            {"southsouthwest", "ssw"},
                                                                            {"eastnortheast", "ene"},
                                                                            {"eastsoutheast", "ese"},
                                                                            {"westnorthwest", "wnw"},
                                                                            {"westsouthwest", "wsw"}};
  const auto found = words.find(word);
  return found == words.end() ? std::nullopt : heading_of_letters(found->second);
}

std::optional<double> length_unit_m(std::string_view word) {
  static const std::unordered_map<std::string_view, double> units{
      {"km", 1000},         {"kms", 1000},        {"kilometer", 1000}, {"kilometers", 1000},  {"kilometre", 1000},
      {"kilometres", 1000}, {"kilometros", 1000}, {"kilometro", 1000}, {"quilometros", 1000}, {"kilom", 1000},
      {"mi", 1609.344},     {"mile", 1609.344},   {"miles", 1609.344}, {"mls", 1609.344},     {"mil", 1609.344},
      {"milles", 1609.344}, {"millas", 1609.344}, {"metres", 1},       {"meters", 1},         {"meter", 1},
      {"metre", 1},         {"mtr", 1},           {"mts", 1},          {"metros", 1},         {"yards", 0.9144},
      {"yds", 0.9144},      {"yd", 0.9144},       {"ft", 0.3048},      {"feet", 0.3048},      {"leagues", 4828},
      {"leguas", 5572.7},   {"lieues", 4444},     {"werst", 1066.8},   {"verst", 1066.8},     {"versts", 1066.8},
      {"nm", 1852},         {"nautical", 1852}};
  const auto found = units.find(word);
  return found == units.end() ? std::nullopt : std::optional(found->second);
}

std::optional<double> number_word(std::string_view word) {
  static const std::unordered_map<std::string_view, double> numbers{
      {"half", 0.5}, {"one", 1},   {"two", 2},  {"three", 3}, {"four", 4},    {"five", 5},   {"six", 6},
      {"seven", 7},  {"eight", 8}, {"nine", 9}, {"ten", 10},  {"eleven", 11}, {"twelve", 12}};
  const auto found = numbers.find(word);
  return found == numbers.end() ? std::nullopt : std::optional(found->second);
}

Feature feature_of(std::string_view word) {
  static const std::unordered_map<std::string_view, Feature> features = [] {
    std::unordered_map<std::string_view, Feature> all;
    const auto say = [&all](Feature feature, std::initializer_list<std::string_view> words) {
      for (const auto one : words) all.emplace(one, feature);
    };
    say(Feature::road,
        {"road",   "rd",         "street",  "highway",  "hwy",  "route",   "rte",    "avenue",    "ave",      "av",
         "blvd",   "boulevard",  "drive",   "dr",       "lane", "ln",      "trail",  "track",     "junction", "jct",
         "jn",     "interstate", "freeway", "fwy",      "exit", "turnoff", "camino", "carretera", "calle",    "ruta",
         "chemin", "rue",        "strasse", "str",      "weg",  "vagen",   "vei",    "veg",       "riksveg",  "bridge",
         "ct",     "court",      "cir",     "circle",   "way",  "place",   "pl",     "pkwy",      "parkway",  "loop",
         "ter",    "estrada",    "railway", "railroad", "rr",   "ry",      "puente", "brucke"});
    say(Feature::water, {"river",  "rio",    "creek",   "cr",      "lake",      "lago",    "laguna",    "lagoon",    "pond",
                         "pool",   "stream", "brook",   "falls",   "waterfall", "spring",  "springs",   "reservoir", "res",
                         "dam",    "arroyo", "wash",    "canal",   "lac",       "riviere", "fluss",     "bach",      "see",
                         "teich",  "sjo",    "sjon",    "swamp",   "marsh",     "bayou",   "tank",      "well",      "sungai",
                         "sei",    "ford",   "cienega", "estero",  "cascade",   "fork",    "branch",    "slough",    "run",
                         "rivier", "vlei",   "presa",   "embalse", "quebrada",  "igarape", "tributary", "trib"});
    say(Feature::height,
        {"mt",     "mts",    "monte", "montes",  "mont",       "monts",  "peak",   "pk",     "hill",  "hills",     "cerro",
         "cerros", "sierra", "sa",    "serra",   "cordillera", "range",  "ridge",  "butte",  "mesa",  "volcan",    "volcano",
         "vulkan", "pic",    "pico",  "picacho", "loma",       "berg",   "gunung", "gunong", "g",     "summit",    "pass",
         "paso",   "col",    "passo", "plateau", "bluff",      "bluffs", "crater", "kopje",  "rim",   "foothills", "slope",
         "cuesta", "puerto", "knob",  "top",     "rock",       "rocks",  "penon",  "cliff",  "cliffs"});
    say(Feature::low, {"valley",   "valle",    "val",   "vallee", "tal",   "thal",   "canyon",  "canada",  "gulch",  "gorge",
                       "ravine",   "barranca", "basin", "flat",   "flats", "meadow", "meadows", "plain",   "plains", "desert",
                       "dunes",    "cave",     "caves", "cueva",  "hohle", "grotte", "kloof",   "congost", "bolson", "playa",
                       "badlands", "dal",      "dalen", "hollow", "glen",  "draw",   "cove",    "llano",   "llanos", "sink"});
    say(Feature::island, {"is", "cay", "key", "keys", "atoll", "islet"});
    say(Feature::coast, {"bay",    "bahia", "baie",   "bucht", "cape",      "cabo",    "cap",  "kap",   "pt",    "punta",
                         "pointe", "beach", "harbor", "port",  "coast",     "costa",   "cote", "gulf",  "golfo", "strait",
                         "inlet",  "sound", "shoal",  "reef",  "peninsula", "channel", "sea",  "ocean", "boca",  "head",
                         "fjord",  "viken", "bukt",   "mouth", "landing",   "estuary", "bank", "banks"});
    say(Feature::estate,
        {"ranch", "rancho", "hda",  "finca", "estancia", "fazenda", "faz", "farm", "estate", "plantation", "ejido", "mine",
         "mina",  "mines",  "mill", "camp",  "quinta",   "hof",     "gut", "gard", "plaas",  "granja",     "quarry"});
    say(Feature::building,
        {"museum",     "university", "univ",        "college",  "school",  "hotel",     "hospital",  "church",  "kirke",
         "station",    "sta",        "biol",        "garden",   "gardens", "gdns",      "bot",       "airport", "institute",
         "laboratory", "lab",        "observatory", "cemetery", "castle",  "convent",   "monastery", "lodge",   "headquarters",
         "hq",         "campground", "cg",          "centre",   "visitor", "lookout",   "tower",     "house",   "park entrance",
         "tunnel",     "dump",       "post",        "plant",    "bahnhof", "powerhouse"});
    say(Feature::reserve,
        {"park",        "parque",        "parc",       "forest",    "for",      "reserve",  "reserva",   "refuge",
         "monument",    "wilderness",    "sp",         "np",        "nf",       "nm",       "nwr",       "wma",
         "reservation", "conservation",  "cons",       "sanctuary", "natl",     "preserve", "prairie",   "woods",
         "wood",        "naturreservat", "bosque",     "selva",     "wald",     "grove",    "naturpark", "parke",
         "natura",      "wildlife",      "recreation", "nra",       "township", "twp",      "parks"});
    say(Feature::settlement, {"city", "town", "village", "pueblo", "ciudad", "villa", "stadt", "dorf", "kp", "desa", "suburb",
                              "downtown", "hamlet"});
    say(Feature::division, {"co", "distr", "prov", "dept", "mpio", "state", "region", "parish", "terr", "oblast", "canton",
                            "lan", "estado", "rep", "quad"});
    return all;
  }();
  const auto found = features.find(word);
  return found == features.end() ? Feature::none : found->second;
}

bool is_link_word(std::string_view word) {
  static const Words words{"of",  "from", "de",  "del", "della", "delle", "du",  "des", "da",  "do",   "dos", "das",  "di",
                           "d",   "von",  "vom", "van", "der",   "den",   "die", "the", "la",  "le",   "les", "los",  "las",
                           "el",  "al",   "a",   "l",   "fra",   "fran",  "av",  "om",  "for", "till", "til", "at",   "in",
                           "on",  "en",   "i",   "im",  "am",    "by",    "zu",  "zum", "zur", "ved",  "vid", "pa",   "op",
                           "het", "te",   "ten", "and", "e",     "y",     "und", "et",  "aux", "au",   "sur", "unter"};
  return words.contains(word);
}
bool is_near_word(std::string_view word) {
  static const Words words{
      "near",        "nr",           "nahe",  "bei",  "b",        "pres",  "cerca",    "perto",        "vic",
      "vicinity",    "environs",     "env",   "umg",  "umgebung", "nabij", "around",   "outside",      "about",
      "vicino",      "vers",         "aprop", "nara", "ca",       "circa", "adjacent", "neighborhood", "neighbourhood",
      "alrededores", "inmediaciones"};
  return words.contains(word);
}
bool is_offshore_word(std::string_view word) {
  static const Words words{"off", "offshore", "frente", "front", "larg"};
  return words.contains(word);
}
bool is_towards_word(std::string_view word) {
  static const Words words{"to", "towards", "toward", "nach", "hacia", "vers", "till", "til", "naar", "via"};
  return words.contains(word);
}
bool is_between_word(std::string_view word) {
  static const Words words{"between", "zwischen", "zw", "entre", "tussen", "mellan", "mellem", "mellom", "betw", "btw", "tra"};
  return words.contains(word);
}
bool is_and_word(std::string_view word) {
  static const Words words{"and", "und", "u", "y", "e", "et", "en", "och", "og"};
  return words.contains(word);
}
bool is_people_word(std::string_view word) {
  static const Words words{"leg", "legit", "lgt", "coll", "col", "det", "ded", "collector", "collected", "coleccion"};
  return words.contains(word);
}

bool is_never_a_place(std::string_view word) {
  static const Words words{
      // months and seasons
      "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december",
      "jan", "feb", "mar", "apr", "jun", "jul", "aug", "sep", "sept", "oct", "nov", "dec", "januar", "februar", "marz", "mai",
      "juni", "juli", "oktober", "dezember", "janvier", "fevrier", "mars", "avril", "juin", "juillet", "aout", "septembre",
      "octobre", "novembre", "decembre", "enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre",
      "octubre", "noviembre", "diciembre", "spring", "summer", "autumn", "winter", "fall", "sommer", "fruhling", "herbst",
      "ete", "automne", "printemps", "ii", "iii", "iv", "vi", "vii", "viii", "ix", "xi", "xii", "xiii",
      // collecting
      "light", "trap", "malaise", "net", "sweep", "sweeping", "bred", "larva", "larvae", "pupa", "ex", "at", "uv", "flight",
      "intercept", "interception", "pan", "pitfall", "male", "female", "type", "holotype", "paratype", "syntype", "allotype",
      "specimen", "collection", "no", "nr", "nos", "plot", "site", "stn",
      // habitats
      "rocky", "sandy", "granite", "limestone", "grassland", "savanna", "woodland", "roadside", "habitat", "common", "dry",
      "wet", "scrub", "bank", "soil", "plants", "desert", "forest", "river", "lake", "mountain", "mountains", "hill", "hills",
      "valley", "beach", "island", "coast", "camp", "station", "farm", "mine", "park", "ranch", "road", "trail", "house",
      "garden", "bridge", "junction", "school", "village", "town", "city", "border", "mouth", "head", "base", "top", "foot",
      "edge", "area", "along", "above", "below", "under", "upper", "lower", "northern", "southern", "eastern", "western",
      "central", "centro", "center", "centre", "middle", "side", "slope", "slopes", "foothills", "canyon", "creek", "between",
      "near", "off", "from", "this", "that", "with", "and", "the", "there", "where", "just", "about", "approx", "approximately",
      "miles", "mile", "alt", "elev", "elevation", "altitude", "feet", "meters", "metres", "lat", "lon", "long", "sec",
      "section", "range", "quad", "state", "county", "district", "province", "region", "country", "federal", "zone", "new",
      "old", "north", "south", "east", "west", "nature", "natural", "national", "public", "private", "property", "locality",
      "data", "available", "not", "none", "unknown", "nan", "na", "disponible", "exact", "place", "point", "street", "main",
      "rd", "hwy", "highway", "route", "ruta", "us", "drive", "rest", "stop", "bar", "plain", "field", "reserve", "wilderness",
      "museum", "university", "college", "museo", "museu", "rancho", "cerro", "arroyo", "rio", "sierra", "san", "santa",
      "santo", "st", "sta", "mt", "mts", "is", "co", "cos", "de", "el", "la", "los", "las", "monte", "punta", "puerto", "bahia",
      "playa", "isla", "valle", "llano", "loma", "mesa", "laguna", "presa", "ejido", "hacienda", "finca", "pueblo", "ciudad",
      "villa", "norte", "sur", "este", "oeste", "sud", "nord", "ost", "ouest", "costa", "cabo", "cape", "bay", "gulf",
      "pacific", "atlantic", "indian", "ocean", "sea", "international", "general", "local", "unit", "ltd", "record", "note",
      "notes", "plant", "tree", "trees", "flowers", "corolla", "cave", "well", "wells", "tank", "springs", "falls", "basin",
      "plateau", "ridge", "peak", "pass", "summit", "cliff", "meadow", "marsh", "swamp", "bog", "wash", "gravel", "sand",
      "rock", "rocks", "clay", "loam", "burned", "open", "big", "little", "small", "large", "great", "grand", "gran", "grande",
      "red", "black", "white", "blue", "green", "cruise", "vessel", "trawl"};
  return words.contains(word);
}

}  // namespace papillote::interpretation
