// SPDX-License-Identifier: MIT
#include "sim/output/file_lock.hpp"

#include <cctype>
#include <cerrno>
#include <csignal>
#include <cstring>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "sim/diagnostic.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/text.hpp"

namespace arris {
namespace {

namespace fs = std::filesystem;

// what the holder of a lock wrote into it, its process and its command line, on one line
std::string holder_of(int descriptor) {
  char       text[600];
  const auto got = ::pread(descriptor, text, sizeof text, 0);
  if (got <= 0) return "it does not say which";  // it has only just taken the lock
  std::string       holder(text, static_cast<std::size_t>(got));
  const std::size_t line = holder.find('\n');
  if (line == std::string::npos) return printable(holder);
  return fmt::format("process {}, {}", printable(holder.substr(0, line)), printable(holder.substr(line + 1)));
}

// `.NAME.PROCESS.part`, and `.NAME.part.PROCESS.part` of a sweep, of processes that are no more
void remove_leftovers(const fs::path& folder, const std::string& name) {
  const std::string head = "." + name + ".", tail = ".part";
  std::error_code   error;
  for (fs::directory_iterator entry(folder, error), end; !error && entry != end; entry.increment(error)) {
    const std::string other = entry->path().filename().string();
    if (other.size() <= head.size() + tail.size() || other.rfind(head, 0) != 0 ||
        other.compare(other.size() - tail.size(), tail.size(), tail) != 0)
      continue;
    std::string number = other.substr(head.size(), other.size() - head.size() - tail.size());
    if (number.rfind("part.", 0) == 0) number.erase(0, 5);
    if (number.empty() || number.size() > 9 || number.find_first_not_of("0123456789") != std::string::npos)
      continue;
    if (::kill(static_cast<pid_t>(std::stol(number)), 0) == 0 || errno != ESRCH) continue;
    std::error_code unimportant;
    fs::remove(entry->path(), unimportant);
  }
}

}  // namespace

FileLock::FileLock(const fs::path& target, const std::string& who) {
  { const SafeFile probe(target); }  // says what is wrong with the folder, if anything is
  const fs::path    folder = target.has_parent_path() ? target.parent_path() : fs::path(".");
  const std::string name   = target.filename().string();
  lock_                    = folder / fmt::format(".{}.lock", name);
  while (true) {
    descriptor_ = ::open(lock_.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    if (descriptor_ < 0) {
      throw Error(Exit::usage, {.code = "cannot-write",
                                .what = fmt::format("its lock {} cannot be made: {}", lock_.string(),
                                                    std::strerror(errno)),
                                .next = "Delete the lock where nobody uses it, or give another name.",
                                .file = target.string()});
    }
    if (::flock(descriptor_, LOCK_EX | LOCK_NB) != 0) {
      const int         why    = errno;
      const std::string holder = holder_of(descriptor_);
      ::close(std::exchange(descriptor_, -1));
      if (why == EINTR) continue;
      if (why != EWOULDBLOCK) return;  // no locks on this file system
      throw Error(Exit::usage,
                  {.code  = "in-use",
                   .what  = "another process is writing this file: " + holder,
                   .cause = "Two at a time would spoil each other's result.",
                   .next  = "Wait until it has ended, or end it, or give this result another name.",
                   .file  = target.string()});
    }
    // the one before may have taken the file away between opening and locking
    struct stat mine, there;
    if (::fstat(descriptor_, &mine) == 0 && ::stat(lock_.c_str(), &there) == 0 &&
        mine.st_ino == there.st_ino && mine.st_dev == there.st_dev)
      break;
    ::close(std::exchange(descriptor_, -1));
  }
  const std::string holder = fmt::format("{}\n{}", ::getpid(), who.substr(0, 500));
  // only a courtesy to whoever comes second
  if (::ftruncate(descriptor_, 0) == 0 && ::pwrite(descriptor_, holder.data(), holder.size(), 0) < 0)
    errno = 0;
  remove_leftovers(folder, name);
}

FileLock::FileLock(FileLock&& other) noexcept
    : lock_(std::move(other.lock_)), descriptor_(std::exchange(other.descriptor_, -1)) {}

FileLock::~FileLock() {
  if (descriptor_ < 0) return;
  ::unlink(lock_.c_str());
  ::close(descriptor_);
}

}  // namespace arris
