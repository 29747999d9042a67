// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

/// SHA-1 in hexadecimal: whether a text or a file is what it was.
namespace arris {

[[nodiscard]] std::string sha1(std::string_view text);

/// Of a file of any size, which is read piece by piece; nothing where it cannot be read.
[[nodiscard]] std::optional<std::string> sha1_of_file(const std::filesystem::path& path);

}  // namespace arris
