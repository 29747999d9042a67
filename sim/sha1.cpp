// SPDX-License-Identifier: MIT
#include "sim/sha1.hpp"

#include <fstream>
#include <vector>

#include <boost/uuid/detail/sha1.hpp>
#include <fmt/format.h>

namespace arris {
namespace {

using Hash = boost::uuids::detail::sha1;

std::string in_hexadecimal(Hash hash) {
  unsigned int digest[5];
  hash.get_digest(digest);
  return fmt::format("{:08x}{:08x}{:08x}{:08x}{:08x}", digest[0], digest[1], digest[2], digest[3], digest[4]);
}

}  // namespace

std::string sha1(std::string_view text) {
  Hash hash;
  hash.process_bytes(text.data(), text.size());
  return in_hexadecimal(hash);
}

std::optional<std::string> sha1_of_file(const std::filesystem::path& path) {
  std::ifstream     stream(path, std::ios::binary);
  std::vector<char> piece(1 << 16);
  Hash              hash;
  while (stream) {
    stream.read(piece.data(), static_cast<std::streamsize>(piece.size()));
    hash.process_bytes(piece.data(), static_cast<std::size_t>(stream.gcount()));
  }
  if (!stream.eof()) return std::nullopt;
  return in_hexadecimal(hash);
}

}  // namespace arris
