// SPDX-License-Identifier: MIT
#include <cerrno>
#include <csignal>
#include <cstdio>
#include <new>
#include <system_error>

#include <fmt/format.h>

#include "sim/cli/options.hpp"
#include "sim/cli/stopping.hpp"
#include "sim/history/computer.hpp"
#include "sim/stop.hpp"

int main(int argc, char** argv) {
  using arris::Exit;
  try {
    const auto arguments = arris::cli::parse(argc, argv);
    if (!arguments) return 0;
    // a file that may not grow further is an error like any other, not the end of the program
    std::signal(SIGXFSZ, SIG_IGN);
    arris::cli::limit_memory(arris::Computer{}.max_memory_MB);  // until a configuration says otherwise
    const arris::Listening listening(arris::cli::stop_on_signals());
    const int code = static_cast<int>(arris::cli::command_named(arguments->command).run(*arguments));
    if (std::fflush(stdout) != 0) throw std::system_error(errno, std::generic_category(), "standard output");
    return code;
  } catch (const arris::Stopped& stop) {
    return static_cast<int>(arris::cli::stopped(
        stop.kept().empty()
            ? "what was not finished was not written, and earlier files are as they were; the same command begins anew."
            : stop.kept()));
  } catch (const arris::Error& error) {
    const auto& all = error.diagnostics();
    for (const auto& diagnostic : all) fmt::print(stderr, "error: {}", diagnostic.text());
    if (all.size() > 1) fmt::print(stderr, "{} errors; nothing was written.\n", all.size());
    return static_cast<int>(error.exit());
  } catch (const std::system_error& error) {
    // fmt and the lines above throw it when standard output cannot take what is printed; files throw arris::Error
    fmt::print(stderr, "error: the output cannot be written: {} [cannot-write]\n", error.code().message());
    return static_cast<int>(Exit::usage);
  } catch (const std::bad_alloc&) {
    fmt::print(
        stderr,
        "error: not enough memory for this many edges, steps or points (allowed: up to {:g} MB) [no-memory]\n"
        "  Nothing was written. [computer] max_memory_MB allows more, where the computer has it.\n",
        arris::cli::memory_limit_MB());
    return static_cast<int>(Exit::integration);
  }
}
