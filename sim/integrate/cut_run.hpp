// SPDX-License-Identifier: MIT
#pragma once

#include "sim/integrate/cut.hpp"
#include "sim/integrate/growth.hpp"
#include "sim/laws/wear/wear_law.hpp"

/// What cut.hpp declares, compiled in cut.cpp, cut_jet4.cpp and cut_jet8.cpp. Every wear law is in it.
namespace arris {

namespace detail {

/// A law of whatever kind: with it steps of the solver are compiled once, and not for each law.
template <class T>
class AnyRate {
 public:
  template <class Law>
  explicit AnyRate(const Law& law)
      : law_(&law), rate_([](const void* any, const T& apex_radius_um, const T& path_m) {
          return static_cast<const Law*>(any)->rate(apex_radius_um, path_m);
        }) {}
  [[nodiscard]] T rate(const T& apex_radius_um, const T& path_m) const {
    return rate_(law_, apex_radius_um, path_m);
  }

 private:
  const void* law_;
  T (*rate_)(const void*, const T&, const T&);
};

}  // namespace detail

template <class T>
StageEnd<T, 1> integrate_cut(const Cut<T>& cut, const std::array<T, 1>& start, double end,
                             std::span<const double> points, const CutVisit<T>& visit,
                             const Tolerances& tolerances) {
  return std::visit(
      [&]<class Law>(const Law& law) {
        const CutStage<T, Law> stage{cut.wood, laws::in_wood(law, cut.here)};
        StageEnd<T, 1>         out;
        if (stage.by_radius_alone() && integrate_growth<T>(stage, start, end, points, visit, tolerances, out))
          return out;
        const CutStage<T, detail::AnyRate<T>> any{cut.wood, detail::AnyRate<T>(stage.wear)};
        return integrate_stage<T>(any, start, end, points, visit, Events<>{}, tolerances);
      },
      cut.law->law);
}

}  // namespace arris
