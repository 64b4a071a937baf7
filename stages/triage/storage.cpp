#include "stages/triage/storage.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <string_view>

namespace papillote::triage {
namespace {

// source: growth, feeding and breeding of pests slow or stop below 15 °C, CCI Notes 3/3
constexpr double kPestsFrom_c = 15;
// source: mean lower threshold of development, Stejskal, Vendl, Li & Aulicky, Insects 10 (2019) 149
constexpr double kMothsFrom_c = 11.3;
constexpr double kBeetlesFrom_c = 14.0;
constexpr double kMostOfADay_h = 12;  // a day with less logged says nothing of its mean

struct Known {
  std::string Container::*member;
  std::string_view word;
  std::string_view sign;
  std::string_view words;
};
// Risks that the trade knows by sight.
const std::array kKnown{
    Known{&Container::material, "cigar_box", "cigar_box", "a cigar box can bring the cigarette beetle with it (from memory)"},
    Known{&Container::material, "cardboard", "cardboard",
          "cardboard is acid and lets pests and damp through (common practice)"},
    Known{&Container::seal, "none", "no_seal", "no seal: pests, dust and damp come in (common practice)"},
    Known{&Container::seal, "tight", "tight_seal",
          "a tight, damp-proof box grows mould if it was closed damp (source: Schauff, USDA text)"},
    Known{&Container::lining, "cork", "cork", "cork hides pests and gives off acids (common practice)"},
    Known{&Container::lining, "foam", "foam", "foam decays, sticks and gives off acids (common practice)"},
    Known{&Container::wood, "oak", "oak", "oak gives off acetic acid (common practice)"},
    Known{&Container::stands, "floor", "floor", "on the floor water and silverfish reach it first (common practice)"},
    Known{&Container::stands, "outside_wall", "outside_wall", "at an outside wall damp condenses (common practice)"},
    Known{&Container::stands, "attic", "attic", "an attic is hot in summer and open to pests (common practice)"},
    Known{&Container::stands, "cellar", "cellar", "a cellar is damp (common practice)"},
    Known{&Container::light, "daylight", "daylight", "daylight fades ink and wings (common practice)"},
    Known{&Container::chemicals, "crystals", "crystals",
          "white crystals: treat as old naphthalene or paradichlorobenzene, open it in moving air (common practice)"},
    Known{&Container::chemicals, "naphthalene", "crystals",
          "naphthalene was put in: open it in moving air (source: NIOSH, limit 10 ppm)"},
    Known{&Container::chemicals, "paradichlorobenzene", "crystals",
          "paradichlorobenzene was put in: open it in moving air (NIOSH treats it as a carcinogen; secondary source)"},
    Known{&Container::chemicals, "camphor", "crystals", "camphor was put in: open it in moving air (common practice)"},
    Known{&Container::chemicals, "not_known", "crystals",
          "an unknown chemical was put in: presume poison until tested (common practice)"},
};

bool within(const Band& band, double value) { return value >= band.least && value <= band.most; }

struct Day {
  double hours = 0;
  double degree_hours = 0;
};

void judge_climate(const Container& container, const Climate& climate, Storage& storage) {
  double hours = 0, warm_or_cold = 0, damp_or_dry = 0, outside = 0, decay = 0, worst_mould = 0;
  MouldIndex mould;
  std::map<std::int64_t, Day> days;
  for (const ClimateSpell& spell : climate.spells) {
    hours += spell.hours;
    const bool temperature_kept = within(container.temperature_c, spell.temperature_c);
    const bool humidity_kept = within(container.rh_percent, spell.rh_percent);
    if (!temperature_kept) warm_or_cold += spell.hours;
    if (!humidity_kept) damp_or_dry += spell.hours;
    if (!temperature_kept || !humidity_kept) outside += spell.hours;
    decay += spell.hours / lifetime_multiplier(spell.temperature_c, spell.rh_percent);
    mould.pass(spell.hours, spell.temperature_c, spell.rh_percent);
    worst_mould = std::max(worst_mould, mould.now());
    Day& day = days[spell.begin_s / 86400];
    day.hours += spell.hours;
    day.degree_hours += spell.hours * spell.temperature_c;
  }
  int known_days = 0, pest_days = 0, moth_days = 0, beetle_days = 0;
  for (const auto& [number, day] : days) {
    if (day.hours < kMostOfADay_h) continue;
    const double mean = day.degree_hours / day.hours;
    ++known_days;
    pest_days += mean >= kPestsFrom_c ? 1 : 0;
    moth_days += mean >= kMothsFrom_c ? 1 : 0;
    beetle_days += mean >= kBeetlesFrom_c ? 1 : 0;
  }

  storage.signs.push_back(
      {"outside_band", outside / hours,
       fmt::format(
           "outside {:g}–{:g} °C and {:g}–{:g} % RH for {:.0f} % of {:.0f} h logged (temperature {:.0f} %, humidity {:.0f} %)",
           container.temperature_c.least, container.temperature_c.most, container.rh_percent.least, container.rh_percent.most,
           100 * outside / hours, hours, 100 * warm_or_cold / hours, 100 * damp_or_dry / hours)});
  storage.signs.push_back({"mould_index", worst_mould,
                           fmt::format("mould index up to {:.1f} (1 microscope, 3 visible, 6 all covered; Hukka & Viitanen "
                                       "1999, a model of wood: it ranks risk, no more)",
                                       worst_mould)});
  storage.signs.push_back(
      {"pest_days", static_cast<double>(pest_days),
       fmt::format("pest season: {} of {} days at {:g} °C or more on average (below it growth slows or stops, CCI Notes 3/3); "
                   "moths develop from {:g} °C: {} days, "
                   "beetles from {:g} °C: {} days (means of orders, Stejskal et al. 2019)",
                   pest_days, known_days, kPestsFrom_c, kMothsFrom_c, moth_days, kBeetlesFrom_c, beetle_days)});
  const double lifetime = hours / decay;
  storage.signs.push_back(
      {"paper_ages", 1 / lifetime,
       fmt::format("paper lasts {:.2f} times as long as at 20 °C and 50 % (Michalski 2002, as given in later texts)",
                   lifetime)});
  storage.remarks.insert(storage.remarks.end(), climate.remarks.begin(), climate.remarks.end());
}

}  // namespace

std::optional<double> critical_rh_percent(double t) {
  if (t < 0 || t > 50) return std::nullopt;
  return t <= 20 ? -0.00267 * t * t * t + 0.160 * t * t - 3.13 * t + 100 : 80;
}

double weeks_to_index_1(double t, double rh) { return std::exp(-0.68 * std::log(t) - 13.9 * std::log(rh) + 66.02); }

double weeks_to_visible(double t, double rh) { return std::exp(-0.74 * std::log(t) - 12.72 * std::log(rh) + 61.50); }

double greatest_mould_index(double t, double rh) {
  const double critical = critical_rh_percent(t).value_or(100);
  const double x = (critical - rh) / (critical - 100);
  return 1 + 7 * x - 2 * x * x;
}

void MouldIndex::pass(double hours, double t, double rh) {
  constexpr double kStep_h = 1;
  const auto critical = critical_rh_percent(t);
  // At 0 °C the critical humidity is 100 %, and the times to growth have no limit.
  const bool grows = critical && t > 0 && *critical < 100 && rh >= *critical;
  for (double left = hours; left > 0; left -= kStep_h) {
    const double step_h = std::min(left, kStep_h);
    if (grows) {
      dry_hours_ = 0;
      const double tm = weeks_to_index_1(t, rh);
      const double k1 = index_ < 1 ? 1 : 2 / (weeks_to_visible(t, rh) / tm - 1);
      const double k2 = std::max(1 - std::exp(2.3 * (index_ - greatest_mould_index(t, rh))), 0.0);
      index_ += k1 * k2 / (7 * tm) * step_h / 24;
    } else {
      // Decline per day: quick at first, then none for a while, then slow.
      const double decline = dry_hours_ < 6 ? 0.032 : dry_hours_ < 24 ? 0 : 0.016;
      index_ = std::max(0.0, index_ - decline * step_h / 24);
      dry_hours_ += step_h;
    }
  }
}

double lifetime_multiplier(double temperature_c, double rh_percent) {
  constexpr double kActivation_j = 100'000, kGas = 8.314462618, kReference_k = 293.15;
  constexpr double kDriest_percent = 5;  // the power law has no end towards 0
  return std::pow(50 / std::max(rh_percent, kDriest_percent), 1.3) *
         std::exp(kActivation_j / kGas * (1 / (temperature_c + 273.15) - 1 / kReference_k));
}

Storage storage_of(const Container& container, const std::optional<Climate>& climate) {
  Storage storage;
  for (const Known& known : kKnown)
    if (container.*known.member == known.word) storage.signs.push_back({std::string(known.sign), 1, std::string(known.words)});
  if (climate && !climate->spells.empty()) judge_climate(container, *climate, storage);
  return storage;
}

}  // namespace papillote::triage
