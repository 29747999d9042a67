// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

/// What a result says about how it came to be, so that anyone can repeat it.
namespace arris {

struct Campaign;

struct Provenance {
  std::string                                      command;  ///< the command line
  std::string                                      started;  ///< ISO 8601, UTC
  std::string                                      version;
  std::string                                      commit;
  std::string                                      compiler;
  std::string                                      flags;
  std::string                                      system;
  std::string                                      configuration;  ///< the resolved configuration as TOML
  std::string                                      seed;           ///< empty when nothing was drawn
  std::string                                      numerics;       ///< method and tolerance
  std::string                                      rests_on;       ///< a sentence: defaults, readings, a fit
  std::vector<std::pair<std::string, std::string>> inputs;         ///< name and SHA-1 of every file read
};

/// `seed` is empty when nothing was drawn; `fit` is the file of an earlier fit that the result rests on. Throws Error (Exit::data,
/// "unreadable") where that can no longer be read.
[[nodiscard]] Provenance provenance(const Campaign& campaign, const std::string& command,
                                    const std::string& seed, const std::optional<std::string>& fit = {});

/// The facts of the program and of the hour, with everything of a campaign left empty.
[[nodiscard]] Provenance command_provenance(const std::string& command);

/// As pairs of name and text, in the order in which they are shown.
[[nodiscard]] std::vector<std::pair<std::string, std::string>> entries_of(const Provenance& p);

/// Version, commit, compiler and libraries, for `--version`.
[[nodiscard]] std::string build_facts();

}  // namespace arris
