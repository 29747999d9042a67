// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "sim/diagnostic.hpp"
#include "sim/stop.hpp"

/// The program is asked to stop: by Ctrl-C (SIGINT), by who ends it (SIGTERM), by a terminal that closes (SIGHUP), or by the clock where `[computer] max_time_h` is over. Work ends with
/// Stopped (stop.hpp), in which whoever keeps a part of it says so.
namespace arris::cli {

/// The wish that these signals make. From now on they do; a second one of a kind ends the program on the spot, as it does by itself.
[[nodiscard]] const StopWish* stop_on_signals();

/// Puts something behind each standard stream that is closed, so that no result file gets its number: what is written to standard
/// output fails, and what is told on standard error is lost. A reader who has gone away makes writing fail, too, rather than end the
/// program on the spot. Before anything is opened.
void keep_standard_streams();

/// Ends the program as one whose reader went away ends by itself, without a word: by SIGPIPE. For after all was put in order.
[[noreturn]] void end_without_reader();

/// Work is to stop so many hours from now.
void stop_after_hours(double hours);

/// From now on the program can have no more memory than so many megabytes, save under a sanitizer, which needs its own: an
/// attempt ends with std::bad_alloc.
void limit_memory(double megabytes);
/// As it was set last.
[[nodiscard]] double memory_limit_MB();

/// Says on standard error that the work was stopped, by what, and in the words of `kept` what there is of it and how to go
/// on. Returns the exit code of that.
Exit stopped(const std::string& kept);

}  // namespace arris::cli
