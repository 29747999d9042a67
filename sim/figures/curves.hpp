// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

/// Panels of curves with bands, measured points and a limit: the reading against strokes, laps and passes.
namespace arris::figures {

struct MeasuredPoint {
  double      x = 0.0, y = 0.0;
  double      low = 0.0, high = 0.0;  ///< its own uncertainty; the same where none is known
  std::string says;                   ///< "K, stropped: 3 readings"
};

struct CurveBand {
  std::vector<double> low, high;
  std::string         tone = "ink";
};

/// A thin curve beside that of a panel.
struct NamedCurve {
  std::string         name;  ///< said at its end where there is room
  std::vector<double> y;     ///< over the same x; NaN where it does not go
};

struct CurvePanel {
  std::string                title;  ///< "A1, waterstones, in coast Douglas-fir"
  std::string                x_label;
  std::vector<double>        x, y;   ///< ascending x; a jump is two points of one x
  std::vector<CurveBand>     bands;  ///< the widest first
  std::vector<NamedCurve>    others;
  std::vector<MeasuredPoint> points;
  double                     x_high = 0.0;  ///< end of the axis; 0 takes that of the curve
  struct Mark {
    double      x;
    std::string says;
  };
  std::vector<Mark> marks;  ///< upright lines: where a step begins
  struct Ground {
    double      from, to;
    std::string kind;  ///< class of the palette behind "ground-": "stone", "finer", "back", "strop"
  };
  std::vector<Ground> grounds;  ///< behind the curve: on what it was while it ran there
};

struct CurveFigure {
  std::string             title, description, y_label;
  std::vector<CurvePanel> panels;
  bool                    log    = false;  ///< the reading on equal ratios
  double                  height = 0.0;    ///< of a panel inside its axes; 0: as suits how many there are
  bool        side_by_side = false;  ///< the panels belong together as one curve: one row where it is wide
  double      limit        = 0.0;    ///< 0: none
  std::string limit_says;
  std::string line_says, points_say;                             ///< for the key; empty: not in it
  std::string others_say;                                        ///< of the thin curves
  std::vector<std::pair<std::string, std::string>> band_says;    ///< tone and meaning
  std::vector<std::pair<std::string, std::string>> ground_says;  ///< kind and meaning
};

/// All panels share the y axis. `width`: of the picture; panels stand one below the other where it is narrow.
[[nodiscard]] std::string curves_svg(const CurveFigure& figure, double width, const std::string& id);

}  // namespace arris::figures
