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
#include "sim/output/terminal.hpp"
#include "sim/stop.hpp"
#include "sim/text.hpp"

namespace {

// throws std::system_error where standard output cannot take what was printed
void flush_output() {
  if (std::fflush(stdout) != 0) throw std::system_error(errno, std::generic_category(), "standard output");
}

int tell_faults(const arris::Error& error) {
  const auto& all = error.diagnostics();
  for (arris::Diagnostic diagnostic : all) {
    diagnostic.file = arris::printable(diagnostic.file);
    arris::tell("error: " + diagnostic.text());
  }
  if (all.size() > 1) arris::tell(fmt::format("{} errors; nothing was written.\n", all.size()));
  return static_cast<int>(error.exit());
}

}  // namespace

int main(int argc, char** argv) {
  using arris::Exit;
  arris::cli::keep_standard_streams();
  try {
    const auto arguments = arris::cli::parse(argc, argv);
    int        code      = 0;
    if (arguments) {
      // a file that may not grow further is an error like any other, not the end of the program
      std::signal(SIGXFSZ, SIG_IGN);
      arris::cli::limit_memory(arris::Computer{}.max_memory_MB);  // until a configuration says otherwise
      const arris::Listening listening(arris::cli::stop_on_signals());
      code = static_cast<int>(arris::cli::command_named(arguments->command).run(*arguments));
    }
    flush_output();
    return code;
  } catch (const arris::Stopped& stop) {
    return static_cast<int>(arris::cli::stopped(
        stop.kept().empty()
            ? "what was not finished was not written, and earlier files are as they were; the same command begins anew."
            : stop.kept()));
  } catch (const arris::Error& error) {
    return tell_faults(error);
  } catch (const std::system_error& error) {
    // fmt and flush_output throw it when standard output cannot take what is printed; files throw arris::Error
    if (error.code() == std::errc::broken_pipe) arris::cli::end_without_reader();
    arris::tell(
        fmt::format("error: the output cannot be written: {} [cannot-write]\n", error.code().message()));
    return static_cast<int>(Exit::usage);
  } catch (const std::bad_alloc&) {
    arris::tell(fmt::format(
        "error: not enough memory for this many edges, steps or points (allowed: up to {:g} MB) [no-memory]\n"
        "  Nothing was written. [computer] max_memory_MB allows more, where the computer has it.\n",
        arris::cli::memory_limit_MB()));
    return static_cast<int>(Exit::integration);
  }
}
