// Storage risk: what the keeping of a tin and its climate mean for what lies in it.
//
// The mould index is the model of Hukka & Viitanen, Wood Science and Technology 33 (1999) 475-485, for pine sapwood, as its
// equations are carried in later public texts. It was fitted on wood: for paper and insects it ranks risk, no more.
// The lifetime multiplier is Michalski's of 2002 as given in later texts, for paper (100 kJ/mol), against 20 °C and 50 %.
#pragma once

#include "pipeline/record/climate.h"
#include "pipeline/record/storage.h"

namespace papillote::triage {

// Humidity above which mould can grow, percent. Outside 0 to 50 °C it cannot: nothing.
[[nodiscard]] std::optional<double> critical_rh_percent(double temperature_c);
// Weeks of unbroken growth until the index is 1 (seen by microscope) and 3 (seen by eye).
[[nodiscard]] double weeks_to_index_1(double temperature_c, double rh_percent);
[[nodiscard]] double weeks_to_visible(double temperature_c, double rh_percent);
// The index that growth tends to. Only where growth is possible.
[[nodiscard]] double greatest_mould_index(double temperature_c, double rh_percent);

// The index over time: 0 none, 1 microscope, 3 visible, 6 all covered.
class MouldIndex {
 public:
  void pass(double hours, double temperature_c, double rh_percent);
  [[nodiscard]] double now() const { return index_; }

 private:
  double index_ = 0;
  double dry_hours_ = 0;
};

// How many times as long as at 20 °C and 50 % paper lasts.
[[nodiscard]] double lifetime_multiplier(double temperature_c, double rh_percent);

// `climate` may be absent.
[[nodiscard]] Storage storage_of(const Container&, const std::optional<Climate>& climate);

}  // namespace papillote::triage
