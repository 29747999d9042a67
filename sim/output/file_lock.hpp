// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>

/// One process at a time writes a result: whoever means to takes a lock beside it before the work begins.
///
/// The lock is that of the system (flock) on the file `.NAME.lock`, which says who holds it. It goes with the process that
/// holds it, however that one ends; a lock file that was left behind holds nobody up. Where a file system knows no such
/// locks (some shares of a network) there is none, and files are whole all the same (safe_file.hpp).
namespace arris {

class FileLock {
 public:
  /// Locks `target`, and takes away unfinished files of it that a killed process left. `who` is shown to those who come
  /// second: the command line. Throws Error (Exit::usage): "in-use" when another process holds it, "cannot-write" when no
  /// file can be made in its folder.
  FileLock(const std::filesystem::path& target, const std::string& who);
  FileLock(FileLock&& other) noexcept;
  FileLock(const FileLock&)            = delete;
  FileLock& operator=(const FileLock&) = delete;
  FileLock& operator=(FileLock&&)      = delete;
  ~FileLock();

 private:
  std::filesystem::path lock_;
  int                   descriptor_ = -1;
};

}  // namespace arris
