// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "sim/output/hdf5_file.hpp"
#include "sim/output/provenance.hpp"
#include "sim/studies/sweep/sweep.hpp"

/// Results of a sweep in HDF5, written as they come.
///
/// The layout stands in docs/results.md.
///
/// While it runs the file is called FILE.part. A sweep that was killed leaves it behind, and the same sweep finds it and
/// goes on: a chunk counts as done when its status is written, which happens after its numbers are, and when its numbers and
/// status have the sum that stands beside them (`/unfinished`). When all are done they are written once more, compressed and with the
/// answer, under the name; so much room must be left.
namespace arris {

class SweepFile : public SweepStore {
 public:
  /// Goes on with `out`.part, or begins it. Throws Error: "sweep-differs" (Exit::usage) when that file belongs to another
  /// sweep, telling what differs; "cannot-write"; "damaged-result" and the like (seal.hpp).
  SweepFile(std::filesystem::path out, const SweepDefinition& definition, const SweepShard& shard,
            const std::string& title, const Provenance& provenance);

  /// Chunks that an earlier run had done.
  [[nodiscard]] std::size_t resumed() const { return resumed_; }
  [[nodiscard]] bool        has(std::size_t chunk) const override { return done_[chunk]; }
  void                      put(std::size_t chunk, const SweepBlock& block) override;
  [[nodiscard]] SweepBlock  get(std::size_t chunk) const override;
  /// Writes the numbers and the answer into a file of that name.
  void finish(const Answer& answer, const SweepFailures& failures);

 private:
  void                      create(const std::string& title, const Provenance& provenance) const;
  void                      compare(const Provenance& provenance) const;
  void                      find_done();  ///< chunks of an earlier run
  void                      write_whole(const Answer& answer, const SweepFailures& failures) const;
  [[nodiscard]] bool        is_whole(std::size_t chunk) const;
  [[nodiscard]] std::size_t local_chunk(std::size_t chunk) const;
  [[nodiscard]] std::size_t local_row(std::size_t chunk) const;

  std::filesystem::path     out_, part_;
  SweepDefinition           definition_;
  SweepGrid                 grid_;
  SweepShard                shard_;
  std::string               title_;
  Provenance                provenance_;  ///< of the run that began it
  std::unique_ptr<Hdf5Rows> rows_;
  std::vector<bool>         done_;
  std::size_t               resumed_ = 0;
};

/// All shares of a sweep, checked to be of the same one and complete.
class SweepShards {
 public:
  /// Throws Error (Exit::data): "not-a-sweep", "unfinished-share", "old-share" for one that lies in stripes, as those of schema version 3
  /// do, "sweep-differs" telling what differs, "share-twice", "share-missing" with the numbers that are.
  explicit SweepShards(const std::vector<std::filesystem::path>& files);

  [[nodiscard]] const SweepDefinition& definition() const { return definition_; }
  [[nodiscard]] const SweepFailures&   failures() const { return failures_; }
  [[nodiscard]] SweepBlock             get(std::size_t chunk) const;
  [[nodiscard]] const std::string&     title() const { return title_; }
  /// That of the first share; the command and the time are those of the merge.
  [[nodiscard]] Provenance provenance(const std::string& command) const;

  /// A file of its own, into which the results are copied block by block; `progress(done, all)` counts chunks and may be empty.
  void copy(const std::filesystem::path& out, const Answer& answer, const std::string& command,
            const std::function<void(std::size_t, std::size_t)>& progress = {}) const;
  /// A file of virtual data sets over the shares: it needs them where they are now, as seen from it.
  void link(const std::filesystem::path& out, const Answer& answer, const std::string& command) const;

 private:
  struct Share {
    std::filesystem::path file;
    Hdf5Reader            reader;
    std::size_t           first_chunk = 0, end_chunk = 0;
  };
  std::vector<Share> shares_;  ///< in order
  SweepDefinition    definition_;
  std::string        definition_text_;
  SweepFailures      failures_;
  std::string        title_;
};

}  // namespace arris
