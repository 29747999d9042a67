// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "sim/diagnostic.hpp"

namespace arris {
struct Campaign;
}

/// What a study has made in its folder, and on what each of its stages rests: FOLDER/study.json. A stage whose basis is still
/// the same, and whose files are as they were written, need not be made again.
namespace arris::cli {

/// Everything that decides what comes out of a stage, name and value: if all of it is the same, so is the result. Values are
/// SHA-1 but for the command line.
using StageBasis = std::vector<std::pair<std::string, std::string>>;

/// `program` by its own bytes, `configuration` with what it includes, `readings`, the `command` with its options, and as
/// `earlier stages` the files of those that it reads.
[[nodiscard]] StageBasis basis_of(const Campaign& campaign, const std::string& command,
                                  const std::vector<std::filesystem::path>& earlier_stages);

/// Throws Error (Exit::data, "changed-meanwhile") when a file that the campaign was read from is not what it was then.
void check_unchanged(const Campaign& campaign);

class StudyRecord {
 public:
  struct Stage {
    StageBasis                         basis;
    std::string                        made;  ///< ISO 8601, UTC
    Exit                               exit = Exit::done;
    std::map<std::string, std::string> files;  ///< name and SHA-1
  };

  /// Reads the record of an earlier study, if there is one that can be read.
  explicit StudyRecord(std::filesystem::path folder);

  /// The stage as it stands, nullptr where it cannot be taken over; `why` then holds the reason, a clause, or nothing where
  /// there was no such stage.
  [[nodiscard]] const Stage* find(const std::string& name, const StageBasis& basis, std::string& why) const;
  /// Notes a stage whose files, given by name, stand in the folder.
  void put(const std::string& name, const StageBasis& basis, Exit exit,
           const std::vector<std::string>& files);
  /// Forgets a stage and deletes the files that it had made.
  void drop(const std::string& name, const std::vector<std::string>& files);

  static constexpr const char* file_name = "study.json";

 private:
  void write() const;

  std::filesystem::path        folder_;
  std::map<std::string, Stage> stages_;
};

}  // namespace arris::cli
