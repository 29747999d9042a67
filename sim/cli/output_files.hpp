// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/output/file_lock.hpp"

namespace arris {
struct Arguments;
struct Campaign;
}  // namespace arris

/// The files that a command is to write: can they be written, and by this process alone?
namespace arris::cli {

/// Before the work: holds the files that these options name. Keep what it returns as long as they may be written. Throws Error
/// (Exit::usage): "would-overwrite" when one is a file that the campaign was read from, or two are the same; "in-use" when another
/// process writes one; "cannot-write".
[[nodiscard]] std::vector<FileLock> hold_outputs(const Arguments& arguments, const Campaign& campaign,
                                                 const std::vector<std::string>& options);
/// One file; nothing is held for standard output, a pipe or a device.
[[nodiscard]] std::vector<FileLock> hold_output(const Arguments& arguments, const std::string& path);

}  // namespace arris::cli
