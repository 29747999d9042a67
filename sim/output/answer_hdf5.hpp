// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>

#include "sim/output/hdf5_file.hpp"
#include "sim/output/provenance.hpp"
#include "sim/studies/answer.hpp"

/// An answer as HDF5, and what every result file says about itself.
///
/// The layout of the file stands in docs/results.md. `rests_on` is that of the answer.
namespace arris {

void write_answer_hdf5(const std::filesystem::path& path, const Answer& answer, const std::string& title,
                       const Provenance& provenance);

/// What is said, as attributes: `headline`; `remarks` and `cautions`, a line each; `remarks_about`, a line for each remark with
/// "certainty", "next" (what to do) or "more".
void write_sentences(const Hdf5Group& root, const Answer& answer);

/// The root attributes that every result file has.
void write_root_attributes(const Hdf5Group& root, const std::string& kind, const std::string& title,
                           const Provenance& provenance);

}  // namespace arris
