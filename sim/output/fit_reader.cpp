// SPDX-License-Identifier: MIT
#include "sim/output/fit_reader.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "sim/input/files.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/studies/fit_report.hpp"

namespace arris {

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
