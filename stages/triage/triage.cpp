#include "stages/triage/triage.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cstdlib>
#include <string_view>

namespace papillote::triage {
namespace {

constexpr double kSureEnough = 0.5;     // of a date or taxon that moves somebody
constexpr double kFurtherReason = 0.1;  // of its weight, from what is left to 1

std::string_view severity_words(int severity) {
  constexpr std::array<std::string_view, 5> words{"no", "trace", "slight", "serious", "severe"};
  return words[static_cast<std::size_t>(std::clamp(severity, 0, 4))];
}

// The first year of an EDTF value, or 0 when it has none of four plain digits.
int first_year(std::string_view edtf) {
  const std::size_t begin = edtf.find_first_of("0123456789");
  if (begin == std::string_view::npos || edtf.size() < begin + 4) return 0;
  const std::string year(edtf.substr(begin, 4));
  const bool digits = std::all_of(year.begin(), year.end(), [](unsigned char c) { return std::isdigit(c) != 0; });
  return digits ? std::atoi(year.c_str()) : 0;
}

std::string lowered(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

// `name` as whole words of `text`, in any case.
bool names(const std::string& text, const std::string& name) {
  const std::string in = lowered(text), wanted = lowered(name);
  const auto letter = [&](std::size_t at) {
    return at < in.size() && (std::isalnum(static_cast<unsigned char>(in[at])) != 0 || (in[at] & 0x80) != 0);
  };
  for (std::size_t at = in.find(wanted); at != std::string::npos; at = in.find(wanted, at + 1))
    if ((at == 0 || !letter(at - 1)) && !letter(at + wanted.size())) return true;
  return false;
}

// Gathers reasons; the highest level wins.
class Scale {
 public:
  explicit Scale(const Rules& rules) : rules_(rules) {}

  // `details` go in brackets behind the rule's words.
  void count(const Rule& rule, double share, const std::string& details) {
    if (rule.weight <= 0) return;
    const auto level = std::find(kLevels.begin(), kLevels.end(), rule.level) - kLevels.begin();
    std::string words = details.empty() ? rule.words : fmt::format("{} ({})", rule.words, details);
    if (std::none_of(reasons_.begin(), reasons_.end(), [&](const Reason& r) { return r.words == words; }))
      reasons_.push_back({static_cast<int>(level), rule.weight * share, std::move(words)});
  }
  void count(std::string_view about, std::string_view sign, const std::string& details) {
    if (const Rule* rule = rules_.find(about, sign)) count(*rule, 1, details);
  }
  // Counts where the measure reaches the rule's.
  void reach(std::string_view about, std::string_view sign, double measure, const std::string& details) {
    if (const Rule* rule = rules_.find(about, sign); rule != nullptr && measure >= rule->from) count(*rule, 1, details);
  }

  [[nodiscard]] Triage verdict() && {
    std::stable_sort(reasons_.begin(), reasons_.end(), [](const Reason& a, const Reason& b) {
      return std::pair(a.level, a.weight) > std::pair(b.level, b.weight);
    });
    const int level = reasons_.empty() ? 0 : reasons_.front().level;
    double within = 0;
    Triage triage;
    for (Reason& reason : reasons_) {
      within += &reason == &reasons_.front() ? reason.weight : kFurtherReason * reason.weight * (1 - within);
      triage.reasons.push_back(std::move(reason.words));
    }
    triage.level = kLevels[static_cast<std::size_t>(level)];
    triage.score = 0.25 * level + 0.25 * std::clamp(within, 0.0, 1.0);
    if (triage.reasons.empty()) triage.reasons.emplace_back("nothing seen that cannot wait");
    return triage;
  }

 private:
  struct Reason {
    int level;
    double weight;
    std::string words;
  };
  const Rules& rules_;
  std::vector<Reason> reasons_;
};

void weigh_condition(Scale& scale, const Condition& condition, const Rules& rules) {
  for (const Finding& finding : condition.findings) {
    if (finding.confidence < rules.limit("least_confidence")) continue;
    const std::string details = fmt::format("{}{}, {:.0f} % sure", severity_words(finding.severity),
                                            finding.words.empty() ? "" : ": " + finding.words, 100 * finding.confidence);
    if (const Rule* rule = rules.find("finding", finding.kind); rule != nullptr && finding.severity >= rule->from)
      scale.count(*rule, (0.4 + 0.15 * finding.severity) * finding.confidence, details);
    if (!finding.grown_since.empty())
      if (const Rule* rule = rules.find("grown", "any"); rule != nullptr && finding.severity >= rule->from) {
        std::string kind = finding.kind;
        std::replace(kind.begin(), kind.end(), '_', ' ');
        scale.count(*rule, finding.confidence,
                    fmt::format("{}, {}, since {}", kind, severity_words(finding.severity), finding.grown_since.substr(0, 10)));
      }
  }
  // "newsprint: acid paper, breaks at the folds": the sign stands before the colon.
  for (const std::string& words : condition.fragility) scale.count("fragile", words.substr(0, words.find(':')), words);
  if (!condition.judged)
    scale.count("doubt", "not_judged", condition.why_not);
  else if (!condition.why_not.empty())
    scale.count("doubt", "partly_judged", condition.why_not);
}

void weigh_value(Scale& scale, const Interpretation& facts, const Rules& rules, const Spread& spread) {
  if (facts.type_status && facts.type_status->value)
    scale.count("value", "type", fmt::format("marked \"{}\"", facts.type_status->verbatim));
  if (facts.date && facts.date->value && facts.date->confidence >= kSureEnough) {
    const int year = first_year(*facts.date->value);
    if (const Rule* rule = rules.find("value", "collected_before"); rule != nullptr && year > 0 && year < rule->from)
      scale.count(*rule, 1, fmt::format("collected in {}", year));
  }
  const auto few = [&](std::string_view sign, int same, int all, const std::string& what) {
    const Rule* rule = rules.find("value", sign);
    if (rule != nullptr && same > 0 && same <= rule->from && all >= rules.limit("index_holds"))
      scale.count(*rule, 1, fmt::format("{}: {} of {}", what, same, all));
  };
  if (facts.place && facts.place->value) few("few_from_place", spread.same_place, spread.placed, facts.place->value->name);
  if (const auto decade = decade_of(facts.date))
    few("few_from_decade", spread.same_decade, spread.dated, fmt::format("{}s", *decade));
  if (facts.taxon && facts.taxon->value) few("few_of_taxon", spread.same_taxon, spread.named, *facts.taxon->value);
  for (const Rule& rule : rules.rows) {
    if (rule.about == "wanted_taxon" && facts.taxon && names(facts.taxon->value.value_or(facts.taxon->verbatim), rule.sign))
      scale.count(rule, 1, rule.sign);
    if (rule.about == "wanted_place" && facts.place &&
        (names(facts.place->verbatim, rule.sign) || (facts.place->value && names(facts.place->value->name, rule.sign))))
      scale.count(rule, 1, rule.sign);
  }
}

}  // namespace

std::optional<int> decade_of(const std::optional<Claim<std::string>>& date) {
  if (!date || !date->value || date->confidence < kSureEnough) return std::nullopt;
  const std::string& edtf = *date->value;
  if (edtf.size() < 4 || edtf.find('/') != std::string::npos || edtf.find("..") != std::string::npos) return std::nullopt;
  const bool decade = std::isdigit(static_cast<unsigned char>(edtf[0])) != 0 &&
                      std::isdigit(static_cast<unsigned char>(edtf[1])) != 0 &&
                      std::isdigit(static_cast<unsigned char>(edtf[2])) != 0 &&
                      (edtf[3] == 'X' || std::isdigit(static_cast<unsigned char>(edtf[3])) != 0);
  return decade ? std::optional(10 * std::atoi(edtf.substr(0, 3).c_str())) : std::nullopt;
}

Result<Triage> rank(const Annotation& annotation, const Interpretation& facts, const Condition& condition, const Rules& rules,
                    const Surroundings& surroundings) {
  Scale scale(rules);
  weigh_condition(scale, condition, rules);
  weigh_value(scale, facts, rules, surroundings.spread);
  for (const StorageSign& sign : surroundings.storage) scale.reach("storage", sign.sign, sign.measure, sign.words);
  const bool read = std::any_of(annotation.lines.begin(), annotation.lines.end(),
                                [](const Reading& r) { return r.line.kind != LineKind::newsprint && !r.text.empty(); });
  if (!read) scale.count("doubt", "nothing_read", "");
  return std::move(scale).verdict();
}

}  // namespace papillote::triage
