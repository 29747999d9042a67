// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/figures/svg.hpp"

/// Axes in a box of a picture, with ticks and units, and what is drawn along them.
namespace arris::figures {

struct Axis {
  std::string label;  ///< with its unit: "reading, gf"
  double      low = 0.0, high = 1.0;
  bool        log    = false;  ///< equal ratios take equal room; low above 0
  bool        places = true;   ///< false: no numbers beside its ticks, where a neighbour has them
};

/// An axis that holds all of `values` (numbers that are none are passed over), its ends on round numbers. Where there is no
/// value, 0 … 1.
[[nodiscard]] Axis axis_over(std::string label, const std::vector<double>& values, bool log = false,
                             bool from_zero = false);

/// Round numbers from low to high, at most `most` of them.
[[nodiscard]] std::vector<double> ticks_of(const Axis& axis, int most);

/// A box in the units of its picture: the part inside the axes.
struct Box {
  double x, y, width, height;
};

class Plot {
 public:
  /// Draws grid, axes, numbers and labels at once.
  Plot(Svg& svg, const Box& box, Axis x, Axis y);

  [[nodiscard]] double     x(double value) const;
  [[nodiscard]] double     y(double value) const;
  [[nodiscard]] const Box& box() const { return box_; }

  /// `tone`: "ink", "ochre", "plum" or "text". Gaps where a number is none.
  void curve(const std::vector<double>& xs, const std::vector<double>& ys, std::string_view tone);
  /// Between two curves.
  void band(const std::vector<double>& xs, const std::vector<double>& low, const std::vector<double>& high,
            std::string_view tone);
  void point(double x, double y, std::string_view tone, std::string_view says = {}, double radius = 4.0);
  /// From low to high at one place of the other axis.
  void bar_up(double x, double low, double high, std::string_view tone);
  void bar_across(double y, double low, double high, std::string_view tone);
  /// A level line with its meaning above its right end (left where `at_left`).
  void level(double at, std::string_view says, bool at_left = false);
  /// A line upright with its meaning beside its top.
  void mark(double at, std::string_view says);

 private:
  Svg& svg_;
  Box  box_;
  Axis x_, y_;
};

/// Of points along a curve those without which it would look otherwise: of those that follow each other within a strip `strip` wide the
/// first, the last, the highest and the lowest. Indices in order.
[[nodiscard]] std::vector<std::size_t> seen_points(const std::vector<double>& xs,
                                                   const std::vector<double>& ys, double strip);

}  // namespace arris::figures
