// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "sim/output/provenance.hpp"
#include "sim/studies/answer.hpp"

/// What every result says of itself at its root, once: HDF5 files and Python are both made from it. `Group` has `attribute(name,
/// value)` as Hdf5Group has.
namespace arris {

/// Of every kind of result. 4: shares of a sweep are blocks, maps are compressed, what counts is an integer. 3: an edge has a dub,
/// and the burr a limit.
inline constexpr int schema_version = 4;
/// The first version whose fits are of the present model; those of before rest on coefficients that are gone.
inline constexpr int model_version = 3;

template <class Group>
void put_root_attributes(const Group& root, const std::string& kind, const std::string& title,
                         const Provenance& provenance) {
  root.attribute("Conventions", fmt::format("arris-{}", schema_version));
  root.attribute("title", title);
  root.attribute("history", provenance.started + " " + provenance.command);
  root.attribute("kind", kind);
  root.attribute("schema_version", static_cast<double>(schema_version));
  for (const auto& [name, text] : entries_of(provenance)) root.attribute(name, text);
}

/// What is said: `headline`; `remarks` and `cautions`, a line each; `remarks_about`, a line for each remark with "certainty", "next"
/// (what to do) or "more".
template <class Group>
void put_sentences(const Group& root, const Answer& answer) {
  std::vector<std::string> about;
  for (std::size_t i = 0; i < answer.remarks.size(); ++i)
    about.emplace_back(name_of(i < answer.about.size() ? answer.about[i] : About::more));
  root.attribute("headline", answer.headline);
  root.attribute("remarks", fmt::format("{}", fmt::join(answer.remarks, "\n")));
  root.attribute("remarks_about", fmt::format("{}", fmt::join(about, "\n")));
  root.attribute("cautions", fmt::format("{}", fmt::join(answer.cautions, "\n")));
}

}  // namespace arris
