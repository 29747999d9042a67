// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstdio>
#include <stdexcept>
#include <string>
#include <vector>

#include <sys/wait.h>

#include "tests/desk.hpp"

/// The program itself, run as a user runs it.
namespace arris::desk {

/// `word` for a shell, whatever is in it.
[[nodiscard]] inline std::string quoted(const std::string& word) {
  std::string out = "'";
  for (const char c : word) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return out + "'";
}

struct Outcome {
  int         code;  ///< exit code; −1 where a signal ended it
  std::string out;   ///< standard output
  std::string err;   ///< standard error
};

/// Runs a line of shell in `folder`.
[[nodiscard]] inline Outcome shell(const std::filesystem::path& folder, const std::string& line) {
  const Folder      aside;
  const std::string whole =
      "cd " + quoted(folder.string()) + " && { " + line + "; } 2>" + quoted((aside / "err").string());
  std::FILE* pipe = ::popen(whole.c_str(), "r");
  if (pipe == nullptr) throw std::runtime_error("no shell");
  Outcome                outcome;
  std::array<char, 4096> buffer;
  for (std::size_t got; (got = std::fread(buffer.data(), 1, buffer.size(), pipe)) > 0;)
    outcome.out.append(buffer.data(), got);
  const int status = ::pclose(pipe);
  outcome.code     = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  outcome.err      = contents(aside / "err");
  return outcome;
}

[[nodiscard]] inline Outcome shell(const Folder& folder, const std::string& line) {
  return shell(folder.path(), line);
}

/// Runs the program in `folder` with these words.
[[nodiscard]] inline Outcome run(const Folder& folder, const std::vector<std::string>& words) {
  std::string line = quoted(ARRIS_PROGRAM);
  for (const std::string& word : words) line += " " + quoted(word);
  return shell(folder, line);
}

}  // namespace arris::desk
