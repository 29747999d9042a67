// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

/// The seal of a result file: a few lines of text behind what HDF5 reads, with a sum (CRC-64) of all that stands before them.
///
/// HDF5 keeps no sums of numbers and texts, and its library comes down over some damaged files. So a file is read here only
/// when its bytes are those that were written. Other programs do not see the seal, and lose it when they change the file.
namespace arris {

/// Bytes of a file from `begin` on.
struct Span {
  std::uint64_t begin = 0, size = 0;
  bool          operator==(const Span&) const = default;
};

/// Seals a file that is finished. What lies in `open`, in ascending order, may change afterwards: the seal says nothing of it.
/// Throws Error (Exit::usage, "cannot-write").
void seal(const std::filesystem::path& file, const std::vector<Span>& open = {});

/// Gives back what is open in a sealed file. Throws Error (Exit::data): "cannot-read"; "not-a-result" where it does not begin as HDF5
/// files do; "damaged-result" where there is no seal, or another one than its bytes have.
std::vector<Span> check_seal(const std::filesystem::path& file);

/// Takes the seal of a sealed file off. Throws as both of the above.
void unseal(const std::filesystem::path& file);

/// The sum in the seal of a file, 16 hexadecimal digits, once check_seal has passed it; throws as that does.
[[nodiscard]] std::string seal_sum(const std::filesystem::path& file);

/// Seals anew a file that another program has changed: a seal that is still at its end, whatever its sum, is taken off first. Throws
/// Error: "cannot-read" and "not-a-result" as check_seal, "cannot-write".
void seal_anew(const std::filesystem::path& file);

}  // namespace arris
