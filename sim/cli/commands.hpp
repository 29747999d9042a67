// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include "sim/diagnostic.hpp"

namespace arris {
struct Arguments;
struct Forecast;
}  // namespace arris

/// A function for each row of the option table (options.cpp).
namespace arris::cli {

/// Each command takes what was said and returns an exit code; faults come as Error.
Exit simulate(const Arguments& arguments);
Exit check(const Arguments& arguments);
Exit fit(const Arguments& arguments);
Exit weigh(const Arguments& arguments);
Exit forecast(const Arguments& arguments);
Exit compare(const Arguments& arguments);
Exit upkeep(const Arguments& arguments);
Exit readings(const Arguments& arguments);
Exit plan(const Arguments& arguments);
Exit gauge(const Arguments& arguments);
Exit import_files(const Arguments& arguments);
Exit reading_log(const Arguments& arguments);
Exit sweep(const Arguments& arguments);
Exit sensitivity(const Arguments& arguments);
Exit merge(const Arguments& arguments);
Exit materials(const Arguments& arguments);
Exit report(const Arguments& arguments);
Exit study(const Arguments& arguments);
Exit write_documents(const Arguments& arguments);

/// Two commands of a study, one after the other: what the first made the second need not work out again (ask.hpp).
Exit forecast(const Arguments& arguments, std::optional<Forecast>& made);
Exit compare(const Arguments& arguments, const std::optional<Forecast>& known);

}  // namespace arris::cli
