// SPDX-License-Identifier: MIT
#include "sim/output/shares.hpp"

#include <iterator>
#include <sstream>
#include <system_error>
#include <utility>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/output/seal.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

// sum and name of each share
std::vector<std::pair<std::string, std::string>> noted_shares(const std::string& note) {
  std::vector<std::pair<std::string, std::string>> out;
  std::istringstream                               lines(note);
  for (std::string line; std::getline(lines, line);) {
    const std::size_t blank = line.find(' ');
    if (blank != std::string::npos) out.emplace_back(line.substr(0, blank), line.substr(blank + 1));
  }
  return out;
}

// what is wrong with a share; empty: nothing
std::string fault_of(const std::filesystem::path& share, const std::string& sum) {
  std::error_code error;
  if (!std::filesystem::is_regular_file(share, error)) return "is not there";
  try {
    return seal_sum(share) == sum ? "" : "is another file than the one that was linked";
  } catch (const Error& fault) {
    return fault.diagnostics().front().code == "cannot-read" ? "cannot be read" : "is damaged";
  }
}

}  // namespace

std::string linked_name(const std::filesystem::path& whole, const std::filesystem::path& share) {
  const auto file   = std::filesystem::absolute(share).lexically_normal();
  const auto folder = std::filesystem::absolute(whole).lexically_normal().parent_path();
  const auto near   = file.lexically_relative(folder);
  return (near.empty() ? file : near).string();
}

std::string note_of_shares(const std::filesystem::path&              whole,
                           const std::vector<std::filesystem::path>& shares) {
  std::string note;
  for (const auto& share : shares)
    note += fmt::format("{}{} {}", note.empty() ? "" : "\n", seal_sum(share), linked_name(whole, share));
  return note;
}

std::vector<std::string> names_in_note(const std::string& note) {
  std::vector<std::string> names;
  for (auto& [sum, name] : noted_shares(note)) names.push_back(std::move(name));
  return names;
}

void check_shares(const std::filesystem::path& whole, const std::string& note) {
  const auto               folder = std::filesystem::absolute(whole).parent_path();
  const auto               noted  = noted_shares(note);
  std::vector<std::string> faults;
  for (const auto& [sum, name] : noted) {
    const std::string fault = fault_of(folder / name, sum);
    if (!fault.empty()) faults.push_back(printable(name) + " " + fault);
  }
  if (faults.empty()) return;
  throw Error(
      Exit::data,
      {.code  = "share-changed",
       .what  = fmt::format("the file is linked to {} and holds no results itself: {}",
                            counted(std::ssize(noted), "share"), and_list(faults)),
       .cause = "Shares were moved, deleted, changed or swapped since they were merged.",
       .next =
           "Bring them back to where they were, or merge them anew; without --link the whole needs no shares.",
       .file = whole.string()});
}

}  // namespace arris
