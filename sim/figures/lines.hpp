// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

/// One panel of several curves with their names at their ends: what more readings find, what a sharper edge costs, a sweep.
namespace arris::figures {

struct LineSeries {
  std::string              name;
  std::vector<double>      x, y;
  bool                     points = false;  ///< mark each value
  std::vector<std::string> says;            ///< beside each point; may be empty
  std::vector<double>      low, high;       ///< a band; may be empty
};

struct LineFigure {
  std::string             title, description, x_label, y_label;
  bool                    x_log = false, y_log = false, from_zero = true, x_from_zero = false;
  double                  most = 0.0;  ///< that y can be, such as 100 of shares in per cent; 0: no such end
  std::vector<LineSeries> series;
  double                  level = 0.0;  ///< 0: none
  std::string             level_says;
  double                  mark = 0.0;  ///< an upright line; 0: none
  std::string             mark_says;
};

[[nodiscard]] std::string lines_svg(const LineFigure& figure, double width, const std::string& id);

/// Measured against predicted on equal ratios, with the line on which both agree.
struct AgreementFigure {
  std::string              title, description, unit;  ///< of both
  std::vector<double>      predicted, measured;
  std::vector<std::string> says;           ///< of each point
  double                   scatter = 0.0;  ///< standard deviation of the log of one reading: a band; 0: none
};

[[nodiscard]] std::string agreement_svg(const AgreementFigure& figure, double width, const std::string& id);

/// Profiles of parameters: how much worse the fit becomes as each is held away from its best value.
struct ProfilePanel {
  std::string         name, unit;
  std::vector<double> value, rise;  ///< −2·log posterior above its least
  double              best = 0.0;
};

struct ProfileFigure {
  std::string               title, description;
  std::vector<ProfilePanel> panels;
  double level = 2.706;  ///< rise at the ends of 90 %: the chi-square quantile of one degree of freedom
};

[[nodiscard]] std::string profiles_svg(const ProfileFigure& figure, double width, const std::string& id);

}  // namespace arris::figures
