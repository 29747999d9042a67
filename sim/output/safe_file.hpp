// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

/// Result files that are whole or absent: written beside their place under a temporary name, then renamed.
namespace arris {

/// Throws Error (Exit::usage, "cannot-write") with the reason, which is that of the folder where that is not there.
[[noreturn]] void cannot_write(const std::filesystem::path& path, const std::string& why);

class SafeFile {
 public:
  /// Chooses a temporary name in the folder of `target`. Throws Error (Exit::usage, "cannot-write") when that folder
  /// does not exist or cannot be written, or `target` is a folder, a pipe or a device.
  explicit SafeFile(std::filesystem::path target);
  SafeFile(const SafeFile&)            = delete;
  SafeFile& operator=(const SafeFile&) = delete;
  ~SafeFile();  ///< removes the temporary file unless it was kept

  [[nodiscard]] const std::filesystem::path& temporary() const { return temporary_; }
  /// Puts the finished file in its place, over an earlier one. Throws Error as above.
  void keep();

 private:
  std::filesystem::path target_;
  std::filesystem::path temporary_;
  bool                  kept_ = false;
};

/// Writes `text` to a file in that way; "-" is standard output; where its reader has gone away, throws std::system_error. A pipe or a device is written to as it stands.
void write_text(const std::string& path, std::string_view text);

}  // namespace arris
