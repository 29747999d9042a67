// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "sim/studies/sweep/sweep.hpp"

/// A sweep as the text that its results carry, by which shares know each other.
namespace arris {

/// JSON. Values of the inputs stand in the result beside it; here only their hash.
[[nodiscard]] std::string definition_text(const SweepDefinition& definition);

/// A definition back from its text, but for the values of its axes. Throws nlohmann::json::exception, std::logic_error.
[[nodiscard]] SweepDefinition definition_in(const std::string& text);

/// SHA-1 of the values of an input.
[[nodiscard]] std::string hash_of(const SweepAxis& axis);

/// What tells of a result whose sweep, and which rows of it, it is. `Group` has `attribute(name, value)` as Hdf5Group has.
template <class Group>
void put_sweep_attributes(const Group& root, const SweepDefinition& definition, const std::string& text,
                          const SweepShard& shard) {
  const SweepGrid grid(definition);
  root.attribute("definition", text);
  root.attribute("shard", shard.text());
  root.attribute("rows_per_chunk", static_cast<double>(grid.rows_per_chunk));
  root.attribute("first_row", static_cast<double>(grid.first_row(shard.first(grid.chunks()))));
}
template <class Group>
void put_failures(const Group& root, const SweepFailures& failures) {
  root.attribute("first_failure_cause", failures.cause);
  root.attribute("first_failure_row", static_cast<double>(failures.first_row));
  root.attribute("first_failure_column", static_cast<double>(failures.first_column));
}

}  // namespace arris
