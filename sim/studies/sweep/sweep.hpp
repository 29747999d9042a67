// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/simulate/simulate.hpp"
#include "sim/studies/answer.hpp"

/// Sweeps: one edge, simulated over ranges of any number of inputs.
///
/// On a grid every value of an input meets every value of the others: a full factorial design. A row of it is one value of the first
/// input with all combinations of the others. Or members are the rows of a design or a table, each of which gives every input a value.
/// Members are worked out in chunks of whole rows, each of which goes to a store and is forgotten, so that a sweep of many rows takes
/// constant memory. Where the strokes, laps or passes of a step are one of the inputs of a grid and nothing happens between the end of
/// that step and the moment asked for, they become its last, and one integration gives all of their values.
namespace arris {

/// What an input changes.
enum class SweepInput {
  number,       ///< a number of the model
  step_number,  ///< a number of a step
  material,     ///< what a step works with
  skip,         ///< whether a step is left out: 0 or 1
  left_out,     ///< which of several sets of steps are left out
  which_step,   ///< the steps, one or several together, whose counts `times` multiplies
  times,        ///< factor on that count
};

struct SweepAxis {
  SweepInput               kind = SweepInput::number;
  std::string              path;      ///< as a user writes it: "backing.soft hide.modulus_MPa", "step.5.laps"
  std::string              name;      ///< of the coordinate in files: "backing_modulus_MPa", "step_5_laps"
  std::string              units;     ///< as files have them; empty for names
  std::string              says;      ///< one clause
  std::string              head;      ///< short, for a column: "laps", "pad MPa"
  std::vector<double>      values;    ///< ascending; 0, 1, … for names
  std::vector<std::string> labels;    ///< one per value, where these stand for names
  double           own  = not_given;  ///< the configuration's own value; NaN where it is none of this kind
  int              step = -1;         ///< index of the step, from 0
  std::string      key;               ///< of the number, or of the material, in its step
  std::vector<int> choices;           ///< material: index into its table of the model, one per label
  std::vector<std::vector<int>> sets;  ///< left_out, which_step: steps meant by each label
  std::vector<double>
      amounts;  ///< which_step: strokes or laps that the configuration gives each, of several their sum

  [[nodiscard]] std::size_t size() const { return values.size(); }
  [[nodiscard]] bool        is_text() const { return !labels.empty(); }
};

/// One number that is recorded of each member.
struct SweepOutput {
  std::string                              name;  ///< with its unit: "reading_gf"
  std::string                              units;
  std::string                              says;
  std::function<double(const TrackPoint&)> value;  ///< of the moment; empty: passes to the reading limit
};

/// When in the history outputs are taken.
struct SweepMoment {
  enum class Kind { end, after_step, after_passes };
  Kind   kind   = Kind::end;
  int    step   = -1;   ///< index from 0
  double passes = 0.0;  ///< cumulative, of the edge

  /// "at the end", "after step 5" or "after 100 passes".
  [[nodiscard]] std::string text() const;
};

struct SweepDefinition {
  std::string              question;  ///< empty, or one of those of sweep_questions.hpp
  std::string              edge;
  std::string              about;   ///< what a question is about: the pad, the wood
  std::vector<SweepAxis>   axes;    ///< of the grid, rows first; of a design the one axis "row"
  std::string              design;  ///< "sobol", "latin-hypercube" or "rows" of a table; empty: a grid
  std::vector<SweepAxis>   inputs;  ///< of a design: what each row gives them; empty on a grid
  std::vector<SweepOutput> outputs;
  SweepMoment              moment;
  double                   limit_gf = not_given;  ///< reading above which the edge counts as dull
  std::string              rests_on;              ///< a sentence that begins with "Rests on"
  std::vector<std::string> misses;                ///< of the fit behind it, sentences
  bool row_is_one_history = false;                ///< the last axis is read off one integration; set by Sweep

  /// Index of the output of that name, or −1.
  [[nodiscard]] int output(std::string_view name) const;
  /// What is varied: the inputs of a design, or the axes of a grid.
  [[nodiscard]] const std::vector<SweepAxis>& varied() const { return inputs.empty() ? axes : inputs; }
};

/// How members lie: by rows, and within a row by the axes behind the first, the last of them fastest. One axis alone makes rows of one
/// member, or one row where it is read off one history.
struct SweepGrid {
  std::size_t              rows = 1, columns = 1, rows_per_chunk = 1;
  std::vector<std::size_t> strides;  ///< by axis, in members of a row; 0 where it is the rows

  explicit SweepGrid(const SweepDefinition& definition);
  [[nodiscard]] std::size_t members() const { return rows * columns; }
  /// Which value of an axis of `size` values a member has.
  [[nodiscard]] std::size_t index_on(std::size_t axis, std::size_t size, std::size_t row,
                                     std::size_t column) const {
    return strides[axis] == 0 ? row : column / strides[axis] % size;
  }
  [[nodiscard]] std::size_t chunks() const { return (rows + rows_per_chunk - 1) / rows_per_chunk; }
  [[nodiscard]] std::size_t first_row(std::size_t chunk) const { return chunk * rows_per_chunk; }
  [[nodiscard]] std::size_t rows_in(std::size_t chunk) const {
    return std::min(rows_per_chunk, rows - first_row(chunk));
  }
};

/// How a member went. Numbers are those of the data set `status` in files.
enum class SweepStatus : int {
  missing        = -1,  ///< not worked out yet
  done           = 0,
  too_many_steps = 1,
  not_finite     = 2,
  no_burr        = 3,
  too_few_passes = 4,  ///< the moment lies beyond the last pass of the edge
  impossible     = 5,  ///< no blade or tester has these numbers together
  beyond_blade   = 6,  ///< the edge is rounder, or its land wider, than the blade
};
inline constexpr const char* sweep_status_meanings =
    "-1 not worked out yet; 0 done; 1 too many steps of the integration; 2 a rate not finite; 3 no burr; 4 not so many passes; 5 impossible geometry or tester; 6 an edge rounder than its blade is thick";

/// What the end of an integration makes of a member.
SweepStatus status_of(RunStatus::Code code);

/// Results of some whole rows; NaN in every output of a member that failed.
struct SweepBlock {
  std::vector<std::vector<double>> values;  ///< by output; row by row
  std::vector<double>              status;  ///< SweepStatus as a number
};

/// Where results go and come from, chunk by chunk.
class SweepStore {
 public:
  virtual ~SweepStore()                                                            = default;
  [[nodiscard]] virtual bool       has(std::size_t chunk) const                    = 0;
  virtual void                     put(std::size_t chunk, const SweepBlock& block) = 0;
  [[nodiscard]] virtual SweepBlock get(std::size_t chunk) const                    = 0;
};

/// Keeps everything in memory.
class SweepMemory : public SweepStore {
 public:
  [[nodiscard]] bool has(std::size_t chunk) const override { return blocks_.count(chunk) > 0; }
  void               put(std::size_t chunk, const SweepBlock& block) override { blocks_[chunk] = block; }
  [[nodiscard]] SweepBlock get(std::size_t chunk) const override { return blocks_.at(chunk); }

 private:
  std::map<std::size_t, SweepBlock> blocks_;
};

/// The I-th of N blocks of chunks that lie side by side, as nearly equal as they can be.
struct SweepShard {
  std::size_t index = 1, count = 1;

  /// Its first of that many chunks, and the one behind its last.
  [[nodiscard]] std::size_t first(std::size_t chunks) const { return chunks * (index - 1) / count; }
  [[nodiscard]] std::size_t end(std::size_t chunks) const { return chunks * index / count; }
  [[nodiscard]] bool        is_whole() const { return count == 1; }
  [[nodiscard]] std::string text() const;  ///< "3/20"
};

/// The share that "3/20" names; nothing where it is no such text, or has anything behind it.
[[nodiscard]] std::optional<SweepShard> shard_of(std::string_view text);

/// Members that failed.
struct SweepFailures {
  std::size_t count = 0, members = 0;
  std::size_t first_row = 0, first_column = 0;
  std::string cause;  ///< of the first
};

class Sweep {
 public:
  /// Puts the axes in order. Throws Error (Exit::usage): "no-such-step" for a moment that the edge does not have,
  /// "no-limit" where passes to a limit are asked for and there is none.
  Sweep(const Scenario& scenario, const EdgePlan& plan, SweepDefinition definition);

  [[nodiscard]] const SweepDefinition& definition() const { return definition_; }
  [[nodiscard]] const SweepGrid&       grid() const { return grid_; }

  /// Results of several chunks, in their order; the same bits at any number of threads.
  [[nodiscard]] std::vector<SweepBlock> run(const std::vector<std::size_t>& chunks, int threads) const;

  /// Works out what the store lacks of this share and puts it there, some thousand members at a time; then tells what of the share
  /// failed. `progress(done, all)` counts chunks and may be empty.
  SweepFailures run_into(SweepStore& store, const SweepShard& shard, int threads,
                         const std::function<void(std::size_t, std::size_t)>& progress = {}) const;

  /// What failed of a share that is all in the store, with the cause of the first.
  [[nodiscard]] SweepFailures failures_in(const SweepStore& store, const SweepShard& shard = {}) const;

  /// A sentence on why a member failed; empty where it did not.
  [[nodiscard]] std::string cause(std::size_t row, std::size_t column) const;

 private:
  class Bench;

  Scenario        scenario_;  ///< with the one edge
  SweepDefinition definition_;
  SweepGrid       grid_;
};

/// The answer. Of the whole it is made from the results chunk by chunk: for one input its curve, for several what is best in each row, for
/// a design how its rows spread; for a question its sentences. One share of several says how far it is, and reads no results. `get` gives
/// the results of a chunk.
[[nodiscard]] Answer sweep_answer(const SweepDefinition& definition, const SweepShard& shard,
                                  const SweepFailures&                          failures,
                                  const std::function<SweepBlock(std::size_t)>& get);

/// The axis along which the rows of a design lie: 1 … rows.
[[nodiscard]] SweepAxis row_axis(std::size_t rows);

/// The units of a configuration's key as files write them: "um", "degree", "1".
[[nodiscard]] std::string units_in_files(std::string_view key);

/// The number, or the choice of yes or no as 0 or 1, `key` of a step; nullptr where the step has none of that name.
[[nodiscard]] double step_number(const Step& step, std::string_view key);

/// "step 6, strop on soft hide".
[[nodiscard]] std::string describe_step(const EdgePlan& plan, int index);

/// The key that counts a step: "strokes", "laps", "passes"; empty for readings and dressings.
[[nodiscard]] const char* count_key(const Step& step);

}  // namespace arris
