// SPDX-License-Identifier: MIT
#include "sim/output/fit_reader.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/input/files.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/studies/fit_report.hpp"

namespace arris {

namespace {

// refuses a fit that was made with other fixed numbers than the scenario has
void check_given(const Hdf5Reader& reader, const Scenario& scenario, const std::vector<std::string>& fitted,
                 const std::string& file) {
  const auto refuse = [&](const std::string& what, const std::string& cause) {
    throw Error(Exit::data,
                {.code  = "another-campaign",
                 .what  = what,
                 .cause = cause,
                 .next  = "A tool or material that was changed is another one: give it another name. Or fit "
                          "this configuration: arris fit FILE --draws 2000 --out fit.h5",
                 .file  = file});
  };
  if (!reader.has("/given/value"))
    refuse("the fit does not say what it held fixed", "It was written by an earlier version of the program.");
  const Given       here = given_to_fit(scenario.model, fitted);
  const std::string law  = reader.attribute("/", "wear_law");
  if (law != here.wear_law) {
    refuse(fmt::format("the wear law is {} here, and was {} in the fit", printable(here.wear_law),
                       printable(law)),
           "The fit belongs to another configuration, or this one was changed since.");
  }
  const std::vector<std::string> paths  = reader.texts("/given/path");
  const std::vector<double>      values = reader.numbers("/given/value");
  std::vector<std::string>       differing;
  for (std::size_t i = 0; i < paths.size(); ++i) {
    const auto at = std::find(here.paths.begin(), here.paths.end(), paths[i]);
    if (at == here.paths.end()) continue;
    const double value = here.values[static_cast<std::size_t>(at - here.paths.begin())];
    // conversions between units may round
    if (std::abs(value - values[i]) <= 1e-9 * std::max(std::abs(value), std::abs(values[i]))) continue;
    differing.push_back(
        fmt::format("{} is {:g} here and {:g} in the fit", printable(paths[i]), value, values[i]));
  }
  if (differing.empty()) return;
  std::string what = "the fit was made with other values: ";
  for (std::size_t i = 0; i < std::min<std::size_t>(5, differing.size()); ++i)
    what += (i > 0 ? "; " : "") + differing[i];
  if (differing.size() > 5) what += fmt::format("; and {} more", differing.size() - 5);
  refuse(what, "The fit belongs to another configuration, or this one was changed since.");
}

}  // namespace

Ensemble read_ensemble(const std::filesystem::path& path, const Scenario& scenario, int members) {
  const std::string file = path.string();
  if (!std::filesystem::is_regular_file(path)) {
    throw Error(Exit::data, {.code = "no-such-file", .what = "the fit cannot be read", .file = file});
  }
  const Hdf5Reader  reader(path);
  const std::string kind = reader.attribute("/", "kind");
  if (kind != "fit") {
    throw Error(Exit::data,
                {.code = "not-a-fit",
                 .what = fmt::format("this is the result of arris {}, not of a fit", printable(kind)),
                 .next = "Write one: arris fit FILE --draws 2000 --out fit.h5",
                 .file = file});
  }
  if (!reader.has("/draws/value")) {
    throw Error(Exit::data, {.code  = "no-draws",
                             .what  = "the fit holds no posterior draws",
                             .cause = "It was made without --draws, or the draws did not converge.",
                             .next  = "Write them: arris fit FILE --draws 2000 --out fit.h5",
                             .file  = file});
  }
  const std::vector<std::string> columns = reader.texts("/draws/column");
  const std::vector<double>      values  = reader.numbers("/draws/value");
  const std::size_t              rows    = values.size() / std::max<std::size_t>(1, columns.size());

  std::vector<std::string> known;
  Model<double>            model = scenario.model;
  for_each_number(model, [&](const std::string& name, const Field&, double&) { known.push_back(name); });
  Ensemble                 out;
  std::vector<std::size_t> places;
  for (std::size_t c = 0; c < columns.size(); ++c) {
    if (spread_member(columns[c]) != nullptr) continue;
    if (std::find(known.begin(), known.end(), columns[c]) == known.end()) {
      throw Error(Exit::data,
                  {.code  = "another-campaign",
                   .what  = fmt::format("the configuration has no parameter \"{}\", which was fitted",
                                        printable(columns[c])),
                   .cause = "The fit was made for another configuration.",
                   .next  = "Fit this configuration, or name the one that was fitted.",
                   .file  = file});
    }
    out.paths.push_back(columns[c]);
    places.push_back(c);
  }
  check_given(reader, scenario, out.paths, file);
  const std::size_t count = std::min(rows, static_cast<std::size_t>(std::max(1, members)));
  Spread base{reader.number_attribute("/", "sd_readings"), reader.number_attribute("/", "sd_edges"),
              reader.number_attribute("/", "sd_operators"), reader.number_attribute("/", "sd_lots")};
  out.values.resize(static_cast<Eigen::Index>(count), static_cast<Eigen::Index>(places.size()));
  for (std::size_t i = 0; i < count; ++i) {
    const double* row = values.data() + i * rows / count * columns.size();
    for (std::size_t j = 0; j < places.size(); ++j)
      out.values(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = row[places[j]];
    Spread spread = base;
    for (std::size_t c = 0; c < columns.size(); ++c) {
      if (double Spread::*member = spread_member(columns[c])) spread.*member = row[c];
    }
    out.spreads.push_back(spread);
  }
  out.edges    = static_cast<int>(reader.number_attribute("/", "edges"));
  out.readings = static_cast<int>(reader.number_attribute("/", "readings"));
  out.rests_on = fmt::format(
      "Rests on {} posterior draws of {} parameters, fitted to {} measurements of {} edge{} ({}).", count,
      places.size(), out.readings, out.edges, out.edges == 1 ? "" : "s", file);
  return out;
}

}  // namespace arris
