// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/ask/arguments.hpp"
#include "sim/figures/bars.hpp"
#include "sim/figures/curves.hpp"
#include "sim/figures/edge_section.hpp"
#include "sim/figures/intervals.hpp"
#include "sim/figures/lines.hpp"
#include "sim/report/section.hpp"

/// Figures by kind of result, and what they share. Only for section.cpp and the files beside it.
namespace arris::report {

void add_readings(const StoredResult& r, Section& s);
void add_simulation(const StoredResult& r, Section& s);
void add_fit(const StoredResult& r, Section& s);
void add_forecast(const StoredResult& r, Section& s);
/// Simulations and forecasts of specimens, which those of blades hand over.
[[nodiscard]] bool is_of_specimens(const StoredResult& r);
void               add_specimens(const StoredResult& r, Section& s);
void               add_specimen_forecast(const StoredResult& r, Section& s);
void               add_comparison(const StoredResult& r, Section& s);
void               add_sweep(const StoredResult& r, Section& s);
void               add_sensitivity(const StoredResult& r, Section& s);
void               add_upkeep(const StoredResult& r, Section& s);
void               add_gauge(const StoredResult& r, Section& s);
void               add_forward(const StoredResult& r, Section& s);
void               add_in_hand(const StoredResult& r, Section& s);
void               add_periods(const StoredResult& r, Section& s);
void               add_control(const StoredResult& r, Section& s);
void               add_plan(const StoredResult& r, Section& s);
void               add_weighing(const StoredResult& r, Section& s);

/// Rows of one value of a text column: where each begins and ends, in order. They must stand together.
struct Run {
  std::string name;
  std::size_t begin, end;
};
[[nodiscard]] std::vector<Run> runs_of(const std::vector<std::string>& names);

[[nodiscard]] std::vector<double> part(const std::vector<double>& values, const Run& run);

/// A table with these columns only, under these heads.
[[nodiscard]] AnswerTable columns_of(const AnswerTable&                                      table,
                                     const std::vector<std::pair<const char*, const char*>>& columns);
/// No more than `most` rows of each run of its first column, the first and the last among them; says so in its title.
[[nodiscard]] AnswerTable thinned(AnswerTable table, std::size_t most);

/// A setting of the study that a result tells, such as "limit_gf"; NaN where there is none.
[[nodiscard]] double setting(const StoredResult& r, const std::string& name);
/// Whether the answer rests on a fit.
[[nodiscard]] bool has_fit(const StoredResult& r);
/// " --fit fit.h5" as its command had it, for the next command; empty without a fit.
[[nodiscard]] std::string fit_option(const StoredResult& r);

/// Adds the tables that no figure shows.
void add_rest(const StoredResult& r, Section& s, const std::vector<std::string>& shown);

/// Figures of these lines, intervals or bars, without tables.
[[nodiscard]] Figure drawn(const std::string& name, const std::string& title, const std::string& caption,
                           figures::LineFigure lines);
[[nodiscard]] Figure drawn(const std::string& name, const std::string& title, const std::string& caption,
                           figures::IntervalFigure intervals);
[[nodiscard]] Figure drawn(const std::string& name, const std::string& title, const std::string& caption,
                           figures::BarFigure bars);

/// The curve of a panel, with its widest band and what was measured, as a line of an interactive chart.
[[nodiscard]] LiveLine live_line(std::string name, const figures::CurvePanel& panel);

/// The first file that was read, as the command names it: the configuration, or a readings file.
[[nodiscard]] std::string configuration_file(const StoredResult& r);

/// reading_limit_gf of the configuration that was used; NaN where there is none.
[[nodiscard]] double configured_limit(const StoredResult& r);
/// The pads of the strops in it, with how stiff they are in MPa.
[[nodiscard]] std::vector<std::pair<double, std::string>> pads_of(const StoredResult& r);
/// The blade of a tool in it. Throws Error (Exit::data, "not-a-result") where it is not there.
[[nodiscard]] figures::BladeSection blade_of(const StoredResult& r, const std::string& tool);

}  // namespace arris::report
