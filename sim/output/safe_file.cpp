// SPDX-License-Identifier: MIT
#include "sim/output/safe_file.hpp"

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <fstream>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include "sim/diagnostic.hpp"

namespace arris {

namespace {

std::filesystem::path folder_of(const std::filesystem::path& path) {
  return path.has_parent_path() ? path.parent_path() : std::filesystem::path(".");
}

}  // namespace

void cannot_write(const std::filesystem::path& path, const std::string& why) {
  std::error_code error;
  const auto      folder = folder_of(path);
  throw Error(
      Exit::usage,
      {.code = "cannot-write",
       .what = fmt::format("the result cannot be written: {}", std::filesystem::is_directory(folder, error)
                                                                   ? why
                                                                   : "there is no folder " + folder.string()),
       .next =
           "Check that the folder exists, can be written and has room; an earlier file is left as it was.",
       .file = path.string()});
}

SafeFile::SafeFile(std::filesystem::path target) : target_(std::move(target)) {
  std::error_code error;
  if (std::filesystem::is_directory(target_, error)) cannot_write(target_, "it is a folder");
  // renaming onto a device would replace it
  if (std::filesystem::exists(target_, error) && !std::filesystem::is_regular_file(target_, error))
    cannot_write(target_, "it is a pipe or a device");
  temporary_ = folder_of(target_) / fmt::format(".{}.{}.part", target_.filename().string(), ::getpid());
  std::ofstream probe(temporary_, std::ios::binary);
  if (!probe) cannot_write(target_, std::strerror(errno));
}

SafeFile::~SafeFile() {
  std::error_code error;
  if (!kept_) std::filesystem::remove(temporary_, error);
}

void SafeFile::keep() {
  // some file systems find out only now that there is no room
  const int  descriptor = ::open(temporary_.c_str(), O_RDONLY | O_CLOEXEC);
  const bool is_written = descriptor >= 0 && (::fsync(descriptor) == 0 || errno == EINVAL);
  const int  why        = errno;
  if (descriptor >= 0) ::close(descriptor);
  if (!is_written) cannot_write(target_, std::strerror(why));
  std::error_code error;
  std::filesystem::rename(temporary_, target_, error);
  if (error) cannot_write(target_, error.message());
  kept_ = true;
}

void write_text(const std::string& path, std::string_view text) {
  if (path == "-") {
    if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size() || std::fflush(stdout) != 0) {
      if (errno == EPIPE) throw std::system_error(errno, std::generic_category(), "standard output");
      cannot_write("standard output", std::strerror(errno));
    }
    return;
  }
  const auto write_to = [&](const std::filesystem::path& place) {
    std::ofstream stream(place, std::ios::binary);
    stream.write(text.data(), static_cast<std::streamsize>(text.size()));
    stream.close();
    if (!stream) cannot_write(path, std::strerror(errno));
  };
  std::error_code error;
  if (const auto status = std::filesystem::status(path, error); std::filesystem::is_other(status))
    return write_to(path);
  SafeFile file(path);
  write_to(file.temporary());
  file.keep();
}

}  // namespace arris
