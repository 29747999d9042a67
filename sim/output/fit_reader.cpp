// SPDX-License-Identifier: MIT
#include "sim/output/fit_reader.hpp"

#include <fmt/format.h>

#include "sim/fit/ensemble.hpp"
#include "sim/input/files.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/output/root_attributes.hpp"

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
  draws.spread     = {reader.number_attribute("/", "sd_readings"), reader.number_attribute("/", "sd_edges"),
                      reader.number_attribute("/", "sd_operators"), reader.number_attribute("/", "sd_lots")};
  draws.edges      = static_cast<int>(reader.number_attribute("/", "edges"));
  draws.readings   = static_cast<int>(reader.number_attribute("/", "readings"));
  draws.source     = file;
  return ensemble_of(draws, scenario, members);
}

}  // namespace arris
