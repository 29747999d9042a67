// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>
#include <vector>

/// A file that is linked to others, its shares, and holds nothing of theirs: what it notes of each, so that none of them can go, be
/// moved, changed or swapped without being noticed.
namespace arris {

/// A line of the note for each share: the sum in its seal, a blank, and its name, as `linked_name` gives it. Throws as check_seal.
[[nodiscard]] std::string note_of_shares(const std::filesystem::path&              whole,
                                         const std::vector<std::filesystem::path>& shares);

/// What a linked file calls a share: relative to its own folder where that can be.
[[nodiscard]] std::string linked_name(const std::filesystem::path& whole, const std::filesystem::path& share);

/// The names in a note.
[[nodiscard]] std::vector<std::string> names_in_note(const std::string& note);

/// Throws Error (Exit::data, "share-changed") that names every share of `whole` that is not there, is damaged, or is another file
/// than the one that was linked.
void check_shares(const std::filesystem::path& whole, const std::string& note);

}  // namespace arris
