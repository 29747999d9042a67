// SPDX-License-Identifier: MIT
#include "sim/cli/output_files.hpp"

#include <filesystem>
#include <map>
#include <system_error>

#include <fmt/format.h>

#include "sim/ask/arguments.hpp"
#include "sim/input/files.hpp"

namespace arris::cli {

std::vector<FileLock> hold_output(const Arguments& arguments, const std::string& path) {
  std::vector<FileLock> held;
  std::error_code       error;
  if (path != "-" && !std::filesystem::is_other(path, error)) held.emplace_back(path, arguments.line);
  return held;
}

std::vector<FileLock> hold_outputs(const Arguments& arguments, const Campaign& campaign,
                                   const std::vector<std::string>& options) {
  namespace fs = std::filesystem;
  std::vector<std::string> inputs;
  for (const ReadingsBytes& file : campaign.readings_files) inputs.push_back(file.name);
  for (const auto& [name, text] : campaign.loaded.texts) inputs.push_back(name);
  for (const char* given : {"fit", "rows"}) {
    if (const auto file = arguments.text(given)) inputs.push_back(*file);
  }
  std::map<fs::path, std::string> outputs;  // and the option that names each
  for (const std::string& option : options) {
    const auto path = arguments.text(option);
    if (!path) continue;
    for (const std::string& input : inputs) {
      std::error_code error;
      if (*path == "-" || !fs::equivalent(*path, input, error) || error) continue;
      throw Error(Exit::usage, {.code = "would-overwrite",
                                .what = fmt::format("--{} would overwrite a file that is read here", option),
                                .next = "Give the result another name.",
                                .file = *path});
    }
    const auto [other, is_new] = outputs.emplace(fs::path(*path).lexically_normal(), option);
    if (!is_new) {
      throw Error(Exit::usage,
                  {.code = "would-overwrite",
                   .what = fmt::format("--{} and --{} name the same file", other->second, option),
                   .file = *path});
    }
  }
  std::vector<FileLock> held;
  for (const auto& [path, option] : outputs) {
    for (FileLock& lock : hold_output(arguments, path.string())) held.push_back(std::move(lock));
  }
  return held;
}

}  // namespace arris::cli
