// SPDX-License-Identifier: MIT
#include "sim/output/fit_reader.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "sim/fit/earlier_fit.hpp"
#include "sim/fit/ensemble.hpp"
#include "sim/input/files.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/output/root_attributes.hpp"
#include "sim/sha1.hpp"

namespace arris {
namespace {

Spread spread_at(const Hdf5Reader& reader, const std::string& object) {
  return {reader.number_attribute(object, "sd_readings"),  reader.number_attribute(object, "sd_edges"),
          reader.number_attribute(object, "sd_operators"), reader.number_attribute(object, "sd_lots"),
          reader.number_attribute(object, "sd_rates"),     reader.number_attribute(object, "sd_days")};
}

// nothing where it is not known
Discrepancy discrepancy_at(const Hdf5Reader& reader, const std::string& object) {
  const std::string group = object + "/discrepancy";
  if (!reader.has(group + "/miss")) return {};
  return {reader.numbers(group + "/passes"), reader.numbers(group + "/miss"),
          reader.numbers(group + "/variance")};
}

// draws under each law, where several were fitted side by side
std::vector<FittedLaw> read_laws(const Hdf5Reader& reader) {
  std::vector<FittedLaw> out;
  if (!reader.has("/laws/law")) return out;
  const auto names  = reader.texts("/laws/law");
  const auto usable = reader.numbers("/laws/usable"), weight = reader.numbers("/laws/weight"),
             ruled_out = reader.numbers("/laws/ruled_out");
  for (std::size_t k = 0; k < names.size(); ++k) {
    if (!(usable[k] > 0.0)) continue;
    const std::string group = "/laws/" + names[k];
    FittedLaw         law;
    law.name        = names[k];
    law.wear_law    = reader.attribute(group, "wear_law");
    law.weight      = weight[k];
    law.ruled_out   = ruled_out[k] > 0.0;
    law.columns     = reader.texts(group + "/column");
    law.values      = reader.numbers(group + "/drawn");
    law.parameters  = reader.texts(group + "/parameter");
    law.best        = reader.numbers(group + "/value");
    law.spread      = spread_at(reader, group);
    law.wear_paths  = reader.texts(group + "/path");
    law.wear_values = reader.numbers(group + "/wear");
    law.discrepancy = discrepancy_at(reader, group);
    out.push_back(std::move(law));
  }
  return out;
}

// a file that holds a fit of this version of the model
Hdf5Reader fit_in(const std::filesystem::path& path) {
  const std::string file = path.string();
  if (!std::filesystem::is_regular_file(path)) {
    throw Error(Exit::data, {.code = "no-such-file", .what = "the fit cannot be read", .file = file});
  }
  Hdf5Reader        reader(path);
  const std::string kind = reader.attribute("/", "kind");
  if (kind != "fit") {
    throw Error(Exit::data,
                {.code = "not-a-fit",
                 .what = fmt::format("this is the result of arris {}, not of a fit", printable(kind)),
                 .next = "Write one: arris fit FILE --draws 2000 --out fit.h5",
                 .file = file});
  }
  if (const double version = reader.number_attribute("/", "schema_version"); version < model_version) {
    throw Error(
        Exit::data,
        {.code = "old-fit",
         .what =
             fmt::format("this fit was made by an earlier version of the model (schema version {:g}, not {})",
                         version, schema_version),
         .cause =
             "That model had no dub on a stropped edge and no limit to a burr; what was fitted to it is not true of this one.",
         .next = "Fit again: arris fit FILE --draws 2000 --out fit.h5",
         .file = file});
  }
  return reader;
}

EarlierLaw posterior_in(const Hdf5Reader& reader, const std::string& name) {
  const std::string group  = "/posterior/" + name;
  const auto        shape  = reader.texts(group + "/prior_shape");
  const auto        centre = reader.numbers(group + "/prior_centre"),
             spread = reader.numbers(group + "/prior_spread"), shift = reader.numbers(group + "/prior_shift"),
             u = reader.numbers(group + "/scaled"), covariance = reader.numbers(group + "/covariance");
  EarlierLaw law;
  law.name            = name;
  law.wear_law        = reader.attribute(group, "wear_law");
  law.typical_um      = reader.number_attribute(group, "typical_um");
  law.paths           = reader.texts(group + "/parameter");
  law.at_end          = reader.numbers(group + "/at_bound");
  law.spreads         = reader.texts(group + "/scatter");
  law.log_spread      = reader.numbers(group + "/log_scatter");
  law.log_spread_sd   = reader.numbers(group + "/log_scatter_sd");
  const std::size_t P = law.paths.size();
  if (shape.size() != P || centre.size() != P || spread.size() != P || shift.size() != P ||
      covariance.size() != P * P)
    check_sizes(law);  // throws: there are no priors yet
  for (std::size_t i = 0; i < P; ++i)
    law.priors.push_back({prior_shape_of(shape[i]), centre[i], spread[i], shift[i]});
  const auto n   = static_cast<Eigen::Index>(P);
  law.u          = Eigen::Map<const Eigen::VectorXd>(u.data(), static_cast<Eigen::Index>(u.size()));
  law.covariance = Eigen::Map<const Eigen::MatrixXd>(covariance.data(), n, n);
  check_sizes(law);
  return law;
}

}  // namespace

Ensemble read_ensemble(const std::filesystem::path& path, const Scenario& scenario, int members) {
  const std::string file   = path.string();
  const Hdf5Reader  reader = fit_in(path);
  if (!reader.has("/draws/value")) {
    throw Error(Exit::data, {.code  = "no-draws",
                             .what  = "the fit holds no posterior draws",
                             .cause = "It was made without --draws, or the draws did not converge.",
                             .next  = "Write them: arris fit FILE --draws 2000 --out fit.h5",
                             .file  = file});
  }
  if (!reader.has("/given/value")) {
    throw Error(Exit::data, {.code  = "another-campaign",
                             .what  = "the fit does not say what it held fixed",
                             .cause = "It was written by an earlier version of the program.",
                             .next  = "Fit again: arris fit FILE --draws 2000 --out fit.h5",
                             .file  = file});
  }
  FittedDraws draws;
  draws.given      = {reader.texts("/given/path"), reader.numbers("/given/value"),
                      reader.attribute("/", "wear_law")};
  draws.columns    = reader.texts("/draws/column");
  draws.parameters = reader.texts("/parameters/parameter");
  draws.best       = reader.numbers("/parameters/value");
  draws.values     = reader.numbers("/draws/value");
  if (reader.has("/effects/name"))
    draws.effects = {reader.texts("/effects/kind"), reader.texts("/effects/name"),
                     reader.numbers("/effects/log_factor")};
  draws.spread      = spread_at(reader, "/");
  draws.laws        = read_laws(reader);
  draws.edges       = static_cast<int>(reader.number_attribute("/", "edges"));
  draws.readings    = static_cast<int>(reader.number_attribute("/", "readings"));
  draws.source      = file;
  draws.discrepancy = discrepancy_at(reader, "");
  if (reader.has("/lack_of_fit/misses/miss")) draws.misses = reader.texts("/lack_of_fit/misses/miss");
  return ensemble_of(draws, scenario, members);
}

EarlierFit read_earlier(const std::filesystem::path& path) {
  const Hdf5Reader reader = fit_in(path);
  EarlierFit       out;
  out.source = path.string();
  if (!reader.has("/posterior/law") || !reader.has("/given/value"))
    throw Error(Exit::data, {.code  = "old-fit",
                             .what  = "this fit does not say what a later one can begin from",
                             .cause = "It was written by an earlier version of the program.",
                             .next  = "Fit that campaign again: arris fit FILE --out fit.h5",
                             .file  = out.source});
  for (const std::string& name : reader.texts("/posterior/law"))
    out.laws.push_back(posterior_in(reader, name));
  out.given       = {reader.texts("/given/path"), reader.numbers("/given/value"),
                     reader.attribute("/", "wear_law")};
  out.edges       = static_cast<int>(reader.number_attribute("/", "edges"));
  const auto edge = reader.texts("/readings/edge"), moment = reader.texts("/readings/moment"),
             kind     = reader.texts("/readings/kind");
  const auto measured = reader.numbers("/readings/measured");
  for (std::size_t i = 0; i < std::min({edge.size(), moment.size(), kind.size(), measured.size()}); ++i)
    out.readings.push_back({edge[i], moment[i], kind[i], measured[i]});
  if (const auto hash = sha1_of_file(path)) out.sha1 = *hash;
  return out;
}

}  // namespace arris
