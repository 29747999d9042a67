// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>

#include "sim/output/hdf5_file.hpp"
#include "sim/output/provenance.hpp"
#include "sim/studies/answer.hpp"

/// An answer as HDF5.
///
/// The layout of the file stands in docs/results.md. `rests_on` is that of the answer.
namespace arris {

void write_answer_hdf5(const std::filesystem::path& path, const Answer& answer, const std::string& title,
                       const Provenance& provenance);

}  // namespace arris
