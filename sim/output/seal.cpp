// SPDX-License-Identifier: MIT
#include "sim/output/seal.hpp"

#include <algorithm>
#include <cerrno>
#include <charconv>
#include <cstring>
#include <fstream>
#include <optional>
#include <string>
#include <string_view>
#include <system_error>

#include <boost/crc.hpp>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include "sim/diagnostic.hpp"
#include "sim/output/safe_file.hpp"

namespace arris {
namespace {

namespace fs = std::filesystem;
// CRC-64/XZ (ECMA-182, reflected): a flipped bit or a burst is always found, other damage but for one case in 2⁶⁴
using Sum      = boost::crc_optimal<64, 0x42F0E1EBA9EA3693, ~std::uint64_t{0}, ~std::uint64_t{0}, true, true>;
using Position = std::uint64_t;

constexpr std::string_view signature    = "\x89HDF\r\n\x1a\n";  // of HDF5 files
constexpr std::size_t      tail_size    = 9;  // of a seal: its length in eight digits, a line
constexpr std::size_t      longest_seal = 100'000;

struct Seal {
  Position          bytes = 0;  ///< that stand before it
  std::vector<Span> open;
  std::string       sum;

  // what it says of the file; the sum is over this too
  [[nodiscard]] std::string head() const {
    std::vector<std::string> spans;
    for (const Span& span : open) spans.push_back(fmt::format("{}+{}", span.begin, span.size));
    return fmt::format("\narris seal 1\nbytes {}\nopen {}\nsum ", bytes, fmt::join(spans, ","));
  }
  [[nodiscard]] std::string text() const {
    const std::string most = head() + sum + "\n";
    return fmt::format("{}{:08}\n", most, most.size() + tail_size);
  }
};

// the seal that a text is, if it is one to the letter
std::optional<Seal> seal_of(const std::string& text) {
  Seal        seal;
  const char* at   = text.data();
  const char* end  = at + text.size();
  const auto  word = [&](std::string_view expected) {
    if (std::string_view(at, static_cast<std::size_t>(end - at)).substr(0, expected.size()) != expected)
      return false;
    at += expected.size();
    return true;
  };
  const auto number = [&](Position& into) {
    const auto [behind, error] = std::from_chars(at, end, into);
    at                         = behind;
    return error == std::errc{};
  };
  if (!word("\narris seal 1\nbytes ") || !number(seal.bytes) || !word("\nopen ")) return std::nullopt;
  while (!word("\nsum ")) {
    Span span;
    if ((!seal.open.empty() && !word(",")) || !number(span.begin) || !word("+") || !number(span.size))
      return std::nullopt;
    const Position before = seal.open.empty() ? 0 : seal.open.back().begin + seal.open.back().size;
    if (span.begin < before || span.begin > seal.bytes || span.size > seal.bytes - span.begin)
      return std::nullopt;
    seal.open.push_back(span);
  }
  constexpr std::ptrdiff_t digits = 16;
  if (end - at < digits) return std::nullopt;
  seal.sum.assign(at, digits);
  if (seal.text() != text) return std::nullopt;
  return seal;
}

[[noreturn]] void refuse(const char* code, const std::string& what, const char* cause, const fs::path& file) {
  throw Error(Exit::data, {.code  = code,
                           .what  = what,
                           .cause = cause,
                           .next  = "Take an undamaged copy, or make the result anew.",
                           .file  = file.string()});
}

std::ifstream opened(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  if (!stream)
    throw Error(Exit::data, {.code = "cannot-read",
                             .what = fmt::format("the result cannot be read: {}", std::strerror(errno)),
                             .next = "Check the path, and that you may read the file.",
                             .file = file.string()});
  return stream;
}

// the sum of what `seal` speaks for; nothing where the file cannot be read so far
std::optional<std::string> sum_of(std::ifstream& stream, const Seal& seal) {
  Sum               sum;
  std::vector<char> block(std::size_t{1} << 20);
  const auto        take = [&](Position from, Position to) {
    stream.seekg(static_cast<std::streamoff>(from));
    while (from < to && stream) {
      const auto some = std::min<Position>(block.size(), to - from);
      stream.read(block.data(), static_cast<std::streamsize>(some));
      sum.process_bytes(block.data(), static_cast<std::size_t>(stream.gcount()));
      from += some;
    }
  };
  Position at = 0;
  for (const Span& span : seal.open) {
    take(at, span.begin);
    at = span.begin + span.size;
  }
  take(at, seal.bytes);
  if (!stream) return std::nullopt;
  const std::string head = seal.head();
  sum.process_bytes(head.data(), head.size());
  return fmt::format("{:016x}", sum.checksum());
}

// a result's stream behind its signature
std::ifstream opened_result(const fs::path& file) {
  std::ifstream stream = opened(file);
  std::string   begin(signature.size(), '\0');
  stream.read(begin.data(), static_cast<std::streamsize>(begin.size()));
  if (!stream || begin != signature)
    refuse("not-a-result", "this is no result: it does not begin as an HDF5 file does",
           "It is another kind of file, or it was damaged.", file);
  return stream;
}

// the seal at the end of a file, whatever its sum
std::optional<Seal> seal_at_end(std::ifstream& stream) {
  stream.seekg(0, std::ios::end);
  const auto size = static_cast<Position>(stream.tellg());
  const auto last = [&](std::size_t count) {
    std::string text(std::min<Position>(count, size), '\0');
    stream.seekg(-static_cast<std::streamoff>(text.size()), std::ios::end);
    stream.read(text.data(), static_cast<std::streamsize>(text.size()));
    return text;
  };
  const std::string   tail   = last(tail_size);
  std::size_t         length = 0;
  std::optional<Seal> seal;
  if (std::from_chars(tail.data(), tail.data() + tail.size(), length).ec == std::errc{} &&
      length <= longest_seal)
    seal = seal_of(last(length));
  if (seal && seal->bytes + length != size) return std::nullopt;
  return seal;
}

Seal checked_seal(const fs::path& file) {
  std::ifstream             stream = opened_result(file);
  const std::optional<Seal> seal   = seal_at_end(stream);
  if (!seal)
    refuse(
        "damaged-result", "the result has no seal at its end",
        "The file was cut short or damaged, or another program or an earlier version of this one wrote it.",
        file);
  if (sum_of(stream, *seal) != seal->sum)
    refuse("damaged-result",
           "the result is not what was written: its bytes have another sum than its seal says",
           "The file was damaged, on its disk or on the way, or another program changed it.", file);
  return *seal;
}

// the file without what lies behind its first bytes
void cut_behind(const fs::path& file, Position bytes) {
  std::error_code error;
  fs::resize_file(file, bytes, error);
  if (error) cannot_write(file, error.message());
}

}  // namespace

void seal(const fs::path& file, const std::vector<Span>& open) {
  std::error_code error;
  Seal            seal;
  seal.bytes      = fs::file_size(file, error);
  seal.open       = open;
  std::string why = error.message();
  if (!error) {
    std::ifstream stream = opened(file);
    const auto    sum    = sum_of(stream, seal);
    if (!sum) cannot_write(file, "it cannot be read back");
    seal.sum = *sum;
    std::ofstream     end(file, std::ios::binary | std::ios::app);
    const std::string text = seal.text();
    end.write(text.data(), static_cast<std::streamsize>(text.size()));
    end.close();
    if (end) return;
    why = std::strerror(errno);
  }
  cannot_write(file, why);
}

std::vector<Span> check_seal(const fs::path& file) { return checked_seal(file).open; }

void unseal(const fs::path& file) { cut_behind(file, checked_seal(file).bytes); }

std::string seal_sum(const fs::path& file) { return checked_seal(file).sum; }

void seal_anew(const fs::path& file) {
  std::ifstream             stream = opened_result(file);
  const std::optional<Seal> before = seal_at_end(stream);
  stream.close();
  if (before) cut_behind(file, before->bytes);
  seal(file);
}

}  // namespace arris
