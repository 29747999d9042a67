// SPDX-License-Identifier: MIT
#include "sim/studies/sweep/sweep.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <deque>
#include <iterator>
#include <utility>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/history/tool_geometry.hpp"
#include "sim/parallel.hpp"
#include "sim/simulate/beside_model.hpp"

namespace arris {
namespace {

constexpr std::size_t members_per_chunk = 4096;
constexpr std::size_t chunks_wanted     = 64;  // at least, so that a small sweep can be spread too
constexpr std::size_t members_per_batch = 4096;

template <class F>
void for_each_step_number(Step& step, F&& visit) {
  std::visit(
      [&]<class S>(S& s) {
        S::fields(
            [&]<class M>(const Field& field, M& member) {
              if constexpr (std::is_same_v<M, double> || std::is_same_v<M, bool>) visit(field, member);
            },
            s);
      },
      step);
}

void set_count(Step& step, double count) {
  for_each_step_number(step, [&](const Field& field, auto& member) {
    if (field.key != count_key(step)) return;
    member = std::remove_reference_t<decltype(member)>(count);
  });
}

void set_material(Step& step, const std::string& key, const std::string& name, int index) {
  struct Set {
    const std::string &key, &name;
    int                index;

    void operator()(HoneStep& s) const { s.hone = name, s.medium = index; }
    void operator()(BackStep& s) const { s.back = name, s.medium = index; }
    void operator()(StropStep& s) const {
      if (key == "compound") {
        s.compound = name, s.compound_index = index;
      } else {
        s.strop = name, s.backing = index;
      }
    }
    void operator()(CutStep& s) const { s.cut = name, s.wood = index; }
    void operator()(DressStep& s) const { s.dress = name, s.medium = index; }
    void operator()(ReadStep&) const {}
  };
  std::visit(Set{key, name, index}, step);
}

/// A step in the place of one that is left out: it does nothing, and the steps behind it keep their numbers.
Step nothing() {
  ReadStep read;
  read.read = "left out";
  return read;
}

bool does_nothing_to_an_edge(const Step& step) {
  return std::holds_alternative<ReadStep>(step) || std::holds_alternative<DressStep>(step);
}

}  // namespace

SweepStatus status_of(RunStatus::Code code) {
  switch (code) {
    case RunStatus::Code::too_many_steps:
      return SweepStatus::too_many_steps;
    case RunStatus::Code::not_finite:
      return SweepStatus::not_finite;
    case RunStatus::Code::no_burr:
      return SweepStatus::no_burr;
    case RunStatus::Code::beyond_blade:
      return SweepStatus::beyond_blade;
    case RunStatus::Code::done:
      break;
  }
  return SweepStatus::done;
}

std::string SweepMoment::text() const {
  switch (kind) {
    case Kind::after_step:
      return fmt::format("after step {}", step + 1);
    case Kind::after_passes:
      return fmt::format("after {:g} passes", passes);
    case Kind::end:
      break;
  }
  return "at the end";
}

int SweepDefinition::output(std::string_view name) const {
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    if (outputs[i].name == name) return static_cast<int>(i);
  }
  return -1;
}

SweepGrid::SweepGrid(const SweepDefinition& d) : strides(d.axes.size(), 0) {
  const bool one_row = d.axes.size() == 1 && d.row_is_one_history;
  for (std::size_t a = d.axes.size(); a > (one_row ? 0 : 1); --a) {
    strides[a - 1] = columns;
    columns *= d.axes[a - 1].size();
  }
  if (!one_row) rows = d.axes[0].size();
  const std::size_t for_size   = std::max<std::size_t>(1, members_per_chunk / columns);
  const std::size_t for_shards = std::max<std::size_t>(1, rows / chunks_wanted);
  rows_per_chunk               = std::min(for_size, for_shards);
}

std::string units_in_files(std::string_view key) {
  const Unit* unit = unit_of(key);
  if (unit == nullptr) return "1";
  static const std::map<std::string_view, std::string> spelled{
      {"deg", "degree"},    {"pct", "percent"}, {"per_pct", "1/percent"}, {"hrc", "1"},
      {"N_per_um", "N/um"}, {"N_per_m", "N/m"}, {"um2_per_m", "um^2/m"},  {"um_per_m", "um/m"},
  };
  const auto found = spelled.find(unit->suffix);
  return found != spelled.end() ? found->second : std::string(unit->suffix);
}

SweepAxis row_axis(std::size_t rows) {
  SweepAxis axis;
  axis.path  = "row";
  axis.name  = "row";
  axis.units = "1";
  axis.head  = "row";
  axis.says  = "row of the design";
  axis.values.resize(rows);
  for (std::size_t i = 0; i < rows; ++i) axis.values[i] = static_cast<double>(i + 1);
  return axis;
}

double step_number(const Step& step, std::string_view key) {
  double value = not_given;
  Step   copy  = step;
  for_each_step_number(copy, [&](const Field& field, const auto& member) {
    if (field.key == key) value = static_cast<double>(member);
  });
  return value;
}

std::string describe_step(const EdgePlan& plan, int index) {
  const Step& step = plan.steps[static_cast<std::size_t>(index)];
  const char* verb = verb_of(step);
  const bool  on   = !std::holds_alternative<CutStep>(step) && !does_nothing_to_an_edge(step);
  return fmt::format("step {}, {}{} {}", index + 1, verb, on ? " on" : "", subject_of(step));
}

const char* count_key(const Step& step) {
  if (std::holds_alternative<StropStep>(step)) return "laps";
  if (std::holds_alternative<CutStep>(step)) return "passes";
  return does_nothing_to_an_edge(step) ? "" : "strokes";
}

/// A scenario to change, for one thread at a time.
class Sweep::Bench {
 public:
  explicit Bench(const Sweep& sweep) : sweep_(sweep), scenario_(sweep.scenario_) {
    const auto& axes = sweep.definition_.varied();
    places_.resize(axes.size(), nullptr);
    plan_         = scenario_.edges.front();
    only_numbers_ = std::all_of(axes.begin(), axes.end(),
                                [](const SweepAxis& axis) { return axis.kind == SweepInput::number; });
    for_each_number(scenario_.model, [&](const std::string& path, const Field&, double& number) {
      for (std::size_t a = 0; a < axes.size(); ++a) {
        if (axes[a].kind == SweepInput::number && axes[a].path == path) places_[a] = &number;
      }
    });
  }

  /// One member; its outputs go to `at` in each list of the block.
  void member(std::size_t row, std::size_t column, SweepBlock& block, std::size_t at) {
    block.status[at] = static_cast<double>(work_out(row, column, &block, at));
  }

  /// Members, each with its place in the block, worked out together.
  struct Member {
    std::size_t row, column, at;
  };
  void members(const std::vector<Member>& list, SweepBlock& block) {
    Cases cases(*this);
    for (const Member& m : list) {
      const auto [status, when] = prepare(m.row, m.column);
      block.status[m.at]        = static_cast<double>(status);
      if (status == SweepStatus::done) cases.add(m, when);
    }
    auto             predictions = predict(cases, tolerances_of(scenario_));
    const ReadBeside beside(scenario_, scenario_.edges.front());
    for (std::size_t i = 0; i < predictions.size(); ++i) {
      const Member& m = cases.member(i);
      if (!scenario_.beside.is_empty()) {
        set_numbers(m.row, m.column);
        beside.put_right(predictions[i].points);
      }
      block.status[m.at] = static_cast<double>(record(m.row, m.column, predictions[i], block, m.at));
    }
  }

  /// All values of the last axis, from that column on, from one integration, or member by member where that fails.
  void history(std::size_t row, std::size_t column, SweepBlock& block, std::size_t at) {
    const SweepDefinition& d    = sweep_.definition_;
    const SweepAxis&       last = d.axes.back();
    set(row, column + last.size() - 1);
    if (possible().empty()) {
      EdgePlan plan = plan_;
      plan.steps.resize(static_cast<std::size_t>(last.step) + 1);
      moments_.clear();
      for (const double count : last.values) moments_.push_back({last.step, count});
      const Prediction p = predict(scenario_, plan, moments_, &scenario_.edges.front());
      if (p.status.usable()) {
        for (std::size_t c = 0; c < last.size(); ++c) {
          for (std::size_t o = 0; o < d.outputs.size(); ++o)
            block.values[o][at + c] = d.outputs[o].value(p.points[c]);
          block.status[at + c] = static_cast<double>(SweepStatus::done);
        }
        return;
      }
    }
    for (std::size_t c = 0; c < last.size(); ++c) member(row, column + c, block, at + c);
  }

  [[nodiscard]] std::string cause(std::size_t row, std::size_t column) {
    work_out(row, column, nullptr, 0);
    return cause_;
  }

 private:
  [[nodiscard]] std::size_t index_on(std::size_t axis, std::size_t row, std::size_t column) const {
    const SweepDefinition& d = sweep_.definition_;
    return d.inputs.empty() ? sweep_.grid_.index_on(axis, d.axes[axis].size(), row, column) : row;
  }
  void set_numbers(std::size_t row, std::size_t column) {
    const auto& axes = sweep_.definition_.varied();
    for (std::size_t a = 0; a < axes.size(); ++a) {
      if (places_[a] != nullptr) *places_[a] = axes[a].values[index_on(a, row, column)];
    }
  }
  void set(std::size_t row, std::size_t column) {
    const auto& axes = sweep_.definition_.varied();
    set_numbers(row, column);
    if (only_numbers_) return;
    plan_ = scenario_.edges.front();
    std::vector<int> out;
    std::vector<int> chosen;
    for (std::size_t a = 0; a < axes.size(); ++a) {
      const SweepAxis&  axis  = axes[a];
      const std::size_t i     = index_on(a, row, column);
      const double      value = axis.values[i];
      switch (axis.kind) {
        case SweepInput::number:
          break;
        case SweepInput::step_number:
          for_each_step_number(step(axis.step), [&]<class M>(const Field& field, M& member) {
            if (field.key == axis.key) member = M(value);
          });
          break;
        case SweepInput::material:
          set_material(step(axis.step), axis.key, axis.labels[i], axis.choices[i]);
          break;
        case SweepInput::skip:
          if (value != 0.0) out.push_back(axis.step);
          break;
        case SweepInput::left_out:
          out.insert(out.end(), axis.sets[i].begin(), axis.sets[i].end());
          break;
        case SweepInput::which_step:
          chosen = axis.sets[i];
          break;
        case SweepInput::times:
          for (const int c : chosen) {
            Step&        one   = step(c);
            const auto*  hone  = std::get_if<HoneStep>(&one);
            const double least = hone != nullptr && hone->after_burr ? 1.0 : 0.0;
            set_count(one, std::max(least, value * count_of(one)));
          }
          break;
      }
    }
    for (const int s : out) step(s) = nothing();
  }
  Step& step(int i) { return plan_.steps[static_cast<std::size_t>(i)]; }

  // why these numbers cannot be together; empty where they can
  [[nodiscard]] std::string possible() const {
    const auto& model  = scenario_.model;
    const auto  faults = geometry_faults(model.tools[static_cast<std::size_t>(plan_.tool)]);
    if (!faults.empty()) return faults.front().what;
    if (!(model.tester.saturation_N > model.tester.cut_resistance_N))
      return fmt::format("saturation_N = {:g} N of the tester is not above cut_resistance_N = {:g} N",
                         model.tester.saturation_N, model.tester.cut_resistance_N);
    return {};
  }

  // the moment asked for in this member; step −1 where it has none
  [[nodiscard]] Moment moment() const {
    const SweepMoment& m = sweep_.definition_.moment;
    if (m.kind == SweepMoment::Kind::after_step) return {m.step, not_given};
    if (m.kind == SweepMoment::Kind::end) return {static_cast<int>(plan_.steps.size()) - 1, not_given};
    double before = 0.0;
    for (std::size_t i = 0; i < plan_.steps.size(); ++i) {
      const auto* cut = std::get_if<CutStep>(&plan_.steps[i]);
      if (cut == nullptr) continue;
      if (before + cut->passes >= m.passes) return {static_cast<int>(i), m.passes - before};
      before += cut->passes;
    }
    return {-1, before};
  }

  // sets a member up, and the moment asked for in it; not done where it cannot be, and the cause is reported
  std::pair<SweepStatus, Moment> prepare(std::size_t row, std::size_t column) {
    set(row, column);
    cause_ = possible();
    if (!cause_.empty()) return {SweepStatus::impossible, {}};
    const Moment when = moment();
    if (when.step >= 0) return {SweepStatus::done, when};
    cause_ =
        fmt::format("the edge has only {:g} passes, not {:g}", when.count, sweep_.definition_.moment.passes);
    return {SweepStatus::too_few_passes, when};
  }

  // what a member came to: into the block, where everything is NaN that is not put there
  SweepStatus record(std::size_t row, std::size_t column, const Prediction& p, SweepBlock& block,
                     std::size_t at) {
    const SweepDefinition& d = sweep_.definition_;
    if (!p.status.usable()) return status_of(p.status.code);
    EdgeResult whole;
    if (std::any_of(d.outputs.begin(), d.outputs.end(), [](const auto& o) { return !o.value; })) {
      set(row, column);
      whole = simulate_edge(scenario_, plan_, &scenario_.edges.front());
      if (!whole.status.usable()) {
        cause_ = whole.message;
        return status_of(whole.status.code);
      }
    }
    for (std::size_t o = 0; o < d.outputs.size(); ++o)
      block.values[o][at] = d.outputs[o].value ? d.outputs[o].value(p.points.front()) : whole.life.passes;
    return SweepStatus::done;
  }

  SweepStatus work_out(std::size_t row, std::size_t column, SweepBlock* block, std::size_t at) {
    const auto [status, when] = prepare(row, column);
    if (status != SweepStatus::done) return status;
    EdgePlan plan = plan_;
    plan.steps.resize(static_cast<std::size_t>(when.step) + 1);
    const Prediction p = predict(scenario_, plan, {when}, &scenario_.edges.front());
    SweepBlock       unseen;
    if (block == nullptr) {
      unseen.values.assign(sweep_.definition_.outputs.size(), std::vector<double>(at + 1, not_given));
      block = &unseen;
    }
    const SweepStatus out = record(row, column, p, *block, at);
    if (!p.status.usable()) cause_ = describe(p.status, plan);
    return out;
  }

  /// Members of which the model and the plan are set up in turn.
  class Cases final : public PredictionCases {
   public:
    explicit Cases(Bench& bench) : bench_(bench) {}
    void add(const Member& member, const Moment& when) {
      const auto steps = static_cast<std::size_t>(when.step) + 1;
      // where only numbers of the model differ, all have the plan of the first
      if (members_.empty() || !bench_.only_numbers_) {
        plans_.push_back(bench_.plan_);
        plans_.back().steps.resize(steps);
        moments_.push_back({when});
      }
      members_.push_back(member);
    }
    [[nodiscard]] const Member& member(std::size_t i) const { return members_[i]; }
    [[nodiscard]] std::size_t   size() const override { return members_.size(); }
    const Model<double>&        model(std::size_t i) override {
      bench_.set_numbers(members_[i].row, members_[i].column);
      return bench_.scenario_.model;
    }
    const EdgePlan&            plan(std::size_t i) override { return plans_[std::min(i, plans_.size() - 1)]; }
    const std::vector<Moment>& moments(std::size_t i) override {
      return moments_[std::min(i, moments_.size() - 1)];
    }

   private:
    Bench&                          bench_;
    std::vector<Member>             members_;
    std::deque<EdgePlan>            plans_;
    std::deque<std::vector<Moment>> moments_;
  };

  const Sweep&         sweep_;
  Scenario             scenario_;
  EdgePlan             plan_;                  ///< of the member in hand
  bool                 only_numbers_ = false;  ///< of the model are changed, and the plan is the same for all
  std::vector<double*> places_;
  std::vector<Moment>  moments_;
  std::string          cause_;
};

namespace {

// the axis that one integration can give: the count of the last step that does anything before the moment
int axis_of_one_history(const EdgePlan& plan, const SweepDefinition& d) {
  if (!d.inputs.empty()) return -1;
  if (d.moment.kind == SweepMoment::Kind::after_passes) return -1;
  if (std::any_of(d.outputs.begin(), d.outputs.end(), [](const auto& o) { return !o.value; })) return -1;
  int last = d.moment.kind == SweepMoment::Kind::after_step ? d.moment.step
                                                            : static_cast<int>(plan.steps.size()) - 1;
  while (last >= 0 && does_nothing_to_an_edge(plan.steps[static_cast<std::size_t>(last)])) --last;
  for (std::size_t a = 0; a < d.axes.size(); ++a) {
    const SweepAxis& axis = d.axes[a];
    if (axis.kind != SweepInput::step_number || axis.step != last) continue;
    const Step& step = plan.steps[static_cast<std::size_t>(last)];
    const auto* hone = std::get_if<HoneStep>(&step);
    if (axis.key != count_key(step) || (hone != nullptr && hone->after_burr)) continue;
    // strokes that may be counted from a burr on, or not, are no place on one curve
    const bool other_way = std::any_of(d.axes.begin(), d.axes.end(), [&](const SweepAxis& x) {
      return x.step == last && x.key == "after_burr";
    });
    if (!other_way) return static_cast<int>(a);
  }
  return -1;
}

Scenario only(const Scenario& scenario, const EdgePlan& plan, double limit_gf) {
  Scenario s;
  s.title                   = scenario.title;
  s.model                   = scenario.model;
  s.edges                   = {plan};
  s.numerics                = scenario.numerics;
  s.output                  = scenario.output;
  s.beside                  = scenario.beside;
  s.output.reading_limit_gf = limit_gf;
  return s;
}

SweepDefinition in_order(const EdgePlan& plan, SweepDefinition d) {
  const int a          = axis_of_one_history(plan, d);
  d.row_is_one_history = a >= 0;
  if (a >= 0) std::rotate(d.axes.begin() + a, d.axes.begin() + a + 1, d.axes.end());
  return d;
}

}  // namespace

Sweep::Sweep(const Scenario& scenario, const EdgePlan& plan, SweepDefinition definition)
    : scenario_(only(scenario, plan, definition.limit_gf)),
      definition_(in_order(plan, std::move(definition))),
      grid_(definition_) {
  const SweepMoment& m    = definition_.moment;
  const int          last = static_cast<int>(plan.steps.size());
  if (m.kind == SweepMoment::Kind::after_step && (m.step < 0 || m.step >= last)) {
    throw Error(Exit::usage,
                {.code    = "no-such-step",
                 .what    = fmt::format("the edge \"{}\" has no step {}", plan.name, m.step + 1),
                 .allowed = fmt::format("1 … {}", last),
                 .next    = fmt::format(
                        "`arris simulate FILE --edge \"{}\"` prints its steps with their numbers.", plan.name)});
  }
  for (const SweepOutput& o : definition_.outputs) {
    if (o.value || !std::isnan(definition_.limit_gf)) continue;
    throw Error(Exit::usage,
                {.code = "no-limit",
                 .what = fmt::format("{} needs the reading at which the edge counts as dull", o.name),
                 .next = "Give --limit, or reading_limit_gf in [output]."});
  }
}

std::vector<SweepBlock> Sweep::run(const std::vector<std::size_t>& chunks, int threads) const {
  constexpr std::size_t   members_per_task = 128, histories_per_task = 4;
  const std::size_t       along = definition_.axes.back().size();
  std::vector<SweepBlock> blocks(chunks.size());
  struct Task {
    std::size_t block, first, count;  ///< histories or members of the block
  };
  std::vector<Task> tasks;
  for (std::size_t b = 0; b < chunks.size(); ++b) {
    const std::size_t rows    = grid_.rows_in(chunks[b]);
    const std::size_t members = rows * grid_.columns;
    blocks[b].values.assign(definition_.outputs.size(), std::vector<double>(members, not_given));
    blocks[b].status.assign(members, static_cast<double>(SweepStatus::missing));
    const std::size_t all  = definition_.row_is_one_history ? members / along : members;
    const std::size_t each = definition_.row_is_one_history ? histories_per_task : members_per_task;
    for (std::size_t i = 0; i < all; i += each) tasks.push_back({b, i, std::min(each, all - i)});
  }
  for_each_index(tasks.size(), threads, [&](std::size_t t) {
    const Task&       task = tasks[t];
    SweepBlock&       into = blocks[task.block];
    const std::size_t base = grid_.first_row(chunks[task.block]);
    Bench             bench(*this);
    if (definition_.row_is_one_history) {
      for (std::size_t i = task.first; i < task.first + task.count; ++i)
        bench.history(base + i * along / grid_.columns, i * along % grid_.columns, into, i * along);
      return;
    }
    std::vector<Bench::Member> members;
    for (std::size_t i = task.first; i < task.first + task.count; ++i)
      members.push_back({base + i / grid_.columns, i % grid_.columns, i});
    bench.members(members, into);
  });
  return blocks;
}

SweepFailures Sweep::run_into(SweepStore& store, const SweepShard& shard, int threads,
                              const std::function<void(std::size_t, std::size_t)>& progress) const {
  const std::size_t        first = shard.first(grid_.chunks()), end = shard.end(grid_.chunks());
  std::size_t              done = 0;
  std::vector<std::size_t> batch;
  std::size_t              members = 0;
  const auto               flush   = [&] {
    const auto blocks = run(batch, threads);
    for (std::size_t b = 0; b < batch.size(); ++b) store.put(batch[b], blocks[b]);
    done += batch.size();
    if (progress) progress(done, end - first);
    batch.clear();
    members = 0;
  };
  for (std::size_t c = first; c < end; ++c) {
    if (store.has(c)) {
      ++done;
      continue;
    }
    batch.push_back(c);
    members += grid_.rows_in(c) * grid_.columns;
    if (members >= members_per_batch) flush();
  }
  if (!batch.empty()) flush();
  return failures_in(store, shard);
}

SweepFailures Sweep::failures_in(const SweepStore& store, const SweepShard& shard) const {
  SweepFailures failures;
  for (std::size_t c = shard.first(grid_.chunks()); c < shard.end(grid_.chunks()); ++c) {
    const SweepBlock block = store.get(c);
    failures.members += block.status.size();
    for (std::size_t i = 0; i < block.status.size(); ++i) {
      if (block.status[i] == static_cast<double>(SweepStatus::done)) continue;
      if (failures.count++ > 0) continue;
      failures.first_row    = grid_.first_row(c) + i / grid_.columns;
      failures.first_column = i % grid_.columns;
    }
  }
  if (failures.count > 0) failures.cause = cause(failures.first_row, failures.first_column);
  return failures;
}

std::string Sweep::cause(std::size_t row, std::size_t column) const {
  return Bench(*this).cause(row, column);
}

std::string SweepShard::text() const { return fmt::format("{}/{}", index, count); }

std::optional<SweepShard> shard_of(std::string_view text) {
  const auto slash = text.find('/');
  if (slash == std::string_view::npos) return std::nullopt;
  const auto read = [](std::string_view digits, std::size_t& value) {
    const char* const last  = digits.data() + digits.size();
    const auto [end, error] = std::from_chars(digits.data(), last, value);
    return error == std::errc{} && end == last;
  };
  SweepShard out;
  if (!read(text.substr(0, slash), out.index) || !read(text.substr(slash + 1), out.count) || out.index < 1 ||
      out.index > out.count)
    return std::nullopt;
  return out;
}

}  // namespace arris
