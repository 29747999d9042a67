// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/renewal.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>

namespace arris {
namespace {

constexpr double Cycle::*numbers[] = {&Cycle::minutes,     &Cycle::money,   &Cycle::gain_um,
                                      &Cycle::square_gain, &Cycle::honed_N, &Cycle::worst_N,
                                      &Cycle::mean_N,      &Cycle::within,  &Cycle::hone_minutes};

}  // namespace

bool nearly_same(const Cycle& a, const Cycle& b, double closeness) {
  if (!a.usable || !b.usable) return false;
  return std::all_of(std::begin(numbers), std::end(numbers), [&](double Cycle::*number) {
    const double x = a.*number, y = b.*number;
    return std::abs(x - y) <= closeness * std::max(std::abs(x), std::abs(y));
  });
}

bool PeriodsByCycle::goes_on() const {
  const int most = rules_.grinds ? rules_.most_honings : 1;
  return !ended_ && sum_.honings < most && (periods_.empty() || sum_.depth_um < rules_.depth_limit_um);
}

void PeriodsByCycle::add(const Cycle& c) {
  ended_ = ended_ || !c.usable;
  if (ended_) return;
  const double before = sum_.depth_um;
  sum_.depth_um       = rules_.grinds ? std::sqrt(before * before + c.square_gain) : before + c.gain_um;
  loss_um_ += rules_.loss_per_depth * (sum_.depth_um - before);
  ++sum_.honings;
  sum_.passes += c.passes;
  sum_.hone_minutes += c.hone_minutes;
  sum_.minutes += c.minutes;
  sum_.money += c.money;
  sum_.honed_N = std::max(sum_.honed_N, c.honed_N);
  sum_.worst_N = std::max(sum_.worst_N, c.worst_N);
  reading_passes_ += c.passes * c.mean_N;
  passes_within_ += c.passes * c.within;
  Period p  = sum_;
  p.loss_um = loss_um_;
  if (rules_.grinds) {
    p.minutes += rules_.grind_minutes;
    p.money += rules_.grind_money;
    p.loss_um += rules_.grind_loss_um;
  }
  p.mean_N = reading_passes_ / sum_.passes;
  p.within = passes_within_ / sum_.passes;
  periods_.push_back(p);
}

std::vector<Period> periods_of(const std::function<Cycle(double)>& next, const PeriodRules& rules) {
  PeriodsByCycle out(rules);
  while (out.goes_on()) out.add(next(out.depth_um()));
  return out.all();
}

CycleCurve::CycleCurve(std::span<const double> depths, std::span<const Cycle> known) {
  std::size_t good = 0;
  while (good < known.size() && known[good].usable) ++good;
  goes_on_ = good < known.size();
  depths_.assign(depths.begin(), depths.begin() + static_cast<std::ptrdiff_t>(good));
  known_.assign(known.begin(), known.begin() + static_cast<std::ptrdiff_t>(good));
  if (good < 4) return;
  for (double Cycle::*number : numbers) {
    std::vector<double> x = depths_, y;
    for (const Cycle& c : known_) y.push_back(c.*number);
    curves_.emplace_back(number, Pchip(std::move(x), std::move(y)));
  }
}

Cycle CycleCurve::at(double depth_um) const {
  if (known_.empty() || (goes_on_ && depth_um > depths_.back())) {
    Cycle none;
    none.usable = false;
    return none;
  }
  if (depth_um <= depths_.front()) return known_.front();
  if (depth_um >= depths_.back()) return known_.back();
  Cycle c = known_.front();
  if (!curves_.empty()) {
    for (const auto& [number, curve] : curves_) c.*number = curve(depth_um);
    return c;
  }
  const auto   above = std::upper_bound(depths_.begin(), depths_.end(), depth_um) - depths_.begin();
  const auto   i     = static_cast<std::size_t>(above);
  const double share = (depth_um - depths_[i - 1]) / (depths_[i] - depths_[i - 1]);
  for (double Cycle::*number : numbers)
    c.*number = known_[i - 1].*number + share * (known_[i].*number - known_[i - 1].*number);
  return c;
}

std::vector<std::size_t> pareto_front(const std::vector<std::pair<double, double>>& points) {
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!std::isnan(points[i].first) && !std::isnan(points[i].second)) order.push_back(i);
  }
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return points[a] < points[b]; });
  std::vector<std::size_t> front;
  for (const std::size_t i : order) {
    if (front.empty() || points[i].second < points[front.back()].second) front.push_back(i);
  }
  return front;
}

}  // namespace arris
