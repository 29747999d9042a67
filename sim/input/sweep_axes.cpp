// SPDX-License-Identifier: MIT
#include "sim/input/sweep_axes.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>

#include <fmt/format.h>

#include "sim/input/catalogue.hpp"
#include "sim/input/names.hpp"
#include "sim/input/table_reader.hpp"
#include "sim/read_number.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

const char* const example =
    "Write PATH=LOW:HIGH:POINTS, with :log behind it for equal ratios, or PATH=ONE|OTHER|…, such as \"step.5.laps=0:60:61\" or \"step.7.cut=white oak|teak\".";

[[noreturn]] void bad(const std::string& what, std::string allowed = {}) {
  throw Error(Exit::usage,
              {.code = "bad-sweep", .what = what, .allowed = std::move(allowed), .next = example});
}

std::vector<std::string> split(const std::string& text, char at) {
  std::vector<std::string> parts;
  std::size_t              from = 0;
  for (std::size_t end = 0; end != std::string::npos; from = end + 1) {
    end = text.find(at, from);
    parts.push_back(trimmed(text.substr(from, end == std::string::npos ? end : end - from)));
  }
  return parts;
}

std::optional<double> number_in(const std::string& text) {
  double value            = 0.0;
  const auto [end, error] = read_number(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) return std::nullopt;
  return value;
}

struct Parts {
  std::string path, values;
};

Parts parts_of(const std::string& input) {
  const auto equals = input.find('=');
  if (equals == std::string::npos)
    bad(fmt::format("\"{}\" does not say over which values", printable(input)));
  Parts parts{trimmed(input.substr(0, equals)), trimmed(input.substr(equals + 1))};
  if (parts.path.empty() || parts.values.empty())
    bad(fmt::format("\"{}\" lacks {}", printable(input), parts.path.empty() ? "its input" : "its values"));
  return parts;
}

// "step.5.laps": 5 and "laps"
struct StepPath {
  int         number = 0;
  std::string key;
};

std::optional<StepPath> step_path(const std::string& path) {
  const auto parts = split(path, '.');
  if (parts.size() != 3 || parts[0] != "step") return std::nullopt;
  int number              = 0;
  const auto [end, error] = std::from_chars(parts[1].data(), parts[1].data() + parts[1].size(), number);
  if (error != std::errc{} || end != parts[1].data() + parts[1].size()) return std::nullopt;
  return StepPath{number, parts[2]};
}

// the kind of material that a key of a step names; empty for other keys
std::string kind_of(const std::string& key) {
  if (key == "hone" || key == "back" || key == "dress") return "medium";
  if (key == "strop") return "backing";
  if (key == "compound") return "compound";
  return key == "cut" ? "wood" : "";
}

std::vector<double> numbers_in(const std::string& path, const std::string& text, const Field& field) {
  const auto          range = split(text, ':');
  const auto          each  = split(text, '|');
  std::vector<double> values;
  if (range.size() == 1) {
    for (const std::string& part : each) {
      const auto value = number_in(part);
      if (!value) bad(fmt::format("\"{}\" of {} is no number", printable(part), path));
      values.push_back(*value);
    }
    std::sort(values.begin(), values.end());
    if (const auto twice = std::adjacent_find(values.begin(), values.end()); twice != values.end())
      throw Error(Exit::usage,
                  {.code = "given-twice", .what = fmt::format("{} has the value {:g} twice", path, *twice)});
  } else {
    if (range.size() < 3 || range.size() > 4 || (range.size() == 4 && range[3] != "log"))
      bad(fmt::format("\"{}\" of {} is no range", printable(text), path));
    const auto low = number_in(range[0]), high = number_in(range[1]), points = number_in(range[2]);
    const bool log = range.size() == 4;
    if (!low || !high || !points) bad(fmt::format("\"{}\" of {} is no range", printable(text), path));
    if (!(*low < *high)) bad(fmt::format("the range of {} ends at {:g}, not above {:g}", path, *high, *low));
    if (*points != std::floor(*points) || *points < 2 || *points > static_cast<double>(most_values))
      bad(fmt::format("{} cannot have {:g} points", path, *points), fmt::format("2 … {}", most_values));
    if (log && !(*low > 0.0)) bad(fmt::format("equal ratios cannot begin at {:g}", *low), "above 0");
    const auto n = static_cast<std::size_t>(*points);
    values.resize(n);
    for (std::size_t i = 0; i < n; ++i) {
      const double share = static_cast<double>(i) / static_cast<double>(n - 1);
      values[i]          = log ? *low * std::pow(*high / *low, share) : *low + (*high - *low) * share;
    }
    values.back() = *high;
    if (std::adjacent_find(values.begin(), values.end(), std::greater_equal<>()) != values.end())
      bad(fmt::format("the points of {} lie closer than numbers can tell apart", path));
  }
  for (const double value : {values.front(), values.back()}) {
    if (value >= field.low && value <= field.high) continue;
    throw Error(Exit::usage, {.code    = "out-of-range",
                              .what    = fmt::format("{} = {:g} is out of range", path, value),
                              .allowed = TableReader::range(field),
                              .next    = fmt::format("Sweep it within its range: {}.", field.doc),
                              .key     = path});
  }
  return values;
}

SweepAxis model_axis(const Parts& parts, const Loaded& loaded, const EdgePlan& plan) {
  Model<double>            model = loaded.scenario.model;
  std::vector<std::string> known;
  SweepAxis                axis;
  bool                     found = false;
  for_each_number(model, [&](const std::string& path, const Field& field, const double& number) {
    known.push_back(path);
    if (path != parts.path) return;
    found              = true;
    const auto  dot    = path.find('.');
    const auto  last   = path.rfind('.');
    const auto  kind   = path.substr(0, dot);
    const auto  entry  = last > dot ? path.substr(dot + 1, last - dot - 1) : std::string{};
    const auto  symbol = field.unit_symbol();
    std::string key(field.key);
    axis.kind  = SweepInput::number;
    axis.path  = path;
    axis.name  = kind + "_" + key;
    axis.units = units_in_files(key);
    axis.says  = std::string(field.doc) + (entry.empty() ? "" : " of " + entry);
    axis.head  = key.substr(0, symbol.empty() ? key.size() : key.size() - unit_of(key)->suffix.size() - 1);
    std::replace(axis.head.begin(), axis.head.end(), '_', ' ');
    if (!symbol.empty()) axis.head += " " + std::string(symbol);
    axis.own    = number;
    axis.values = numbers_in(path, parts.values, field);
  });
  if (found) return axis;
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    const std::string prefix = fmt::format("step.{}.", i + 1);
    std::visit(
        [&]<class S>(const S& s) {
          S::fields(
              [&](const Field& field, const auto&) { known.push_back(prefix + std::string(field.key)); }, s);
        },
        plan.steps[i]);
  }
  throw Error(
      Exit::usage,
      {.code  = "unknown-input",
       .what  = fmt::format("there is no input \"{}\"", printable(parts.path)),
       .cause = "Only materials and tools that the configuration uses have numbers.",
       .next  = did_you_mean(
            parts.path, known,
            "`arris check` prints all: TABLE.KEY or TABLE.NAME.KEY; those of a step are step.NUMBER.KEY."),
       .key = parts.path});
}

SweepAxis material_axis(const Parts& parts, const StepPath& at, const Loaded& loaded) {
  SweepAxis         axis;
  const std::string kind = kind_of(at.key);
  axis.kind              = SweepInput::material;
  axis.key               = at.key;
  axis.head              = kind;
  for (const std::string& name : parts_of_list(parts.values, '|')) {
    const auto known = std::find_if(loaded.also.begin(), loaded.also.end(), [&](const NamedMaterial& m) {
      return m.kind == kind && folded(m.name) == folded(name);
    });
    if (known == loaded.also.end()) bad(fmt::format("\"{}\" names no {}", printable(name), kind));
    std::string spelled;
    for_each_table(
        [&](const char* table, const auto& entries) {
          if (kind == table) spelled = entries[static_cast<std::size_t>(known->index)].name;
        },
        loaded.scenario.model);
    if (std::find(axis.labels.begin(), axis.labels.end(), spelled) != axis.labels.end())
      throw Error(Exit::usage,
                  {.code = "given-twice", .what = fmt::format("{} has \"{}\" twice", parts.path, spelled)});
    axis.values.push_back(static_cast<double>(axis.labels.size()));
    axis.labels.push_back(spelled);
    axis.choices.push_back(known->index);
  }
  return axis;
}

SweepAxis step_axis(const Parts& parts, const StepPath& at, const Loaded& loaded, const EdgePlan& plan) {
  if (at.number < 1 || at.number > static_cast<int>(plan.steps.size())) {
    throw Error(Exit::usage,
                {.code    = "no-such-step",
                 .what    = fmt::format("the edge \"{}\" has no step {}", plan.name, at.number),
                 .allowed = fmt::format("1 … {}", plan.steps.size()),
                 .next    = fmt::format(
                        "`arris simulate FILE --edge \"{}\"` prints its steps with their numbers.", plan.name),
                 .key = parts.path});
  }
  const int                index = at.number - 1;
  const Step&              step  = plan.steps[static_cast<std::size_t>(index)];
  SweepAxis                axis;
  std::vector<std::string> known{"skip"};
  bool                     found = false;
  std::visit(
      [&]<class S>(const S& s) {
        S::fields(
            [&]<class M>(const Field& field, const M& member) {
              const std::string key(field.key);
              if constexpr (std::is_same_v<M, double> || std::is_same_v<M, bool>) {
                known.push_back(key);
                if (key != at.key) return;
                found      = true;
                Field with = std::is_same_v<M, bool> ? field.between(0, 1) : field;
                if constexpr (std::is_same_v<S, HoneStep>) {
                  if (key == "strokes" && s.after_burr)
                    with.low = 1.0;  // counted by the share that has a burr
                }
                axis.kind   = SweepInput::step_number;
                axis.key    = key;
                axis.units  = units_in_files(key);
                axis.head   = key;
                axis.own    = static_cast<double>(member);
                axis.values = numbers_in(parts.path, parts.values, with);
              } else if constexpr (std::is_same_v<M, std::string>) {
                if (!kind_of(key).empty()) known.push_back(key);
                if (key != at.key || kind_of(key).empty()) return;
                found = true;
                axis  = material_axis(parts, at, loaded);
                for (std::size_t i = 0; i < axis.labels.size(); ++i) {
                  if (folded(axis.labels[i]) == folded(member)) axis.own = static_cast<double>(i);
                }
              }
            },
            s);
      },
      step);
  if (at.key == "skip") {
    found      = true;
    axis.kind  = SweepInput::skip;
    axis.units = "1";
    axis.head  = fmt::format("skip step {}", at.number);
    axis.own   = 0.0;
    axis.values =
        numbers_in(parts.path, parts.values, field("skip").between(0, 1).says("1 leaves the step out"));
    for (const double value : axis.values) {
      if (value != 0.0 && value != 1.0) bad(fmt::format("{} cannot be {:g}", parts.path, value), "0|1");
    }
  }
  if (!found) {
    throw Error(Exit::usage,
                {.code    = "unknown-input",
                 .what    = fmt::format("{} has no \"{}\"", describe_step(plan, index), printable(at.key)),
                 .allowed = or_list(known),
                 .next    = did_you_mean(at.key, known, {}, fmt::format("step.{}.{{}}", at.number)),
                 .key     = parts.path});
  }
  axis.step        = index;
  axis.path        = parts.path;
  axis.name        = fmt::format("step_{}_{}", at.number, at.key);
  std::string what = at.key;
  std::replace(what.begin(), what.end(), '_', ' ');
  axis.says = at.key == "skip" ? fmt::format("1: without {}", describe_step(plan, index))
                               : fmt::format("{} of {}", what, describe_step(plan, index));
  return axis;
}

}  // namespace

std::vector<NamedMaterial> materials_in(const std::vector<std::string>& inputs) {
  std::vector<NamedMaterial> out;
  for (const std::string& input : inputs) {
    const Parts parts = parts_of(input);
    const auto  at    = step_path(parts.path);
    if (!at || kind_of(at->key).empty()) continue;
    for (const std::string& name : parts_of_list(parts.values, '|')) {
      if (name.empty()) bad(fmt::format("\"{}\" has an empty name", printable(input)));
      out.push_back({kind_of(at->key), name, -1});
    }
  }
  return out;
}

SweepAxis sweep_axis(const std::string& input, const Loaded& loaded, const EdgePlan& plan) {
  const Parts parts = parts_of(input);
  const auto  at    = step_path(parts.path);
  return at ? step_axis(parts, *at, loaded, plan) : model_axis(parts, loaded, plan);
}

SweepMoment sweep_moment(const std::string& text) {
  const std::string words = trimmed(text);
  SweepMoment       moment;
  if (words == "end") return moment;
  const std::string step = "after step ", after = "after ", passes = " passes";
  if (words.rfind(step, 0) == 0) {
    const auto value = number_in(trimmed(words.substr(step.size())));
    if (value && *value == std::floor(*value) && *value >= 1 && *value <= 1e9)
      return {SweepMoment::Kind::after_step, static_cast<int>(*value) - 1, 0.0};
  } else if (words.rfind(after, 0) == 0 && words.size() > passes.size() &&
             words.compare(words.size() - passes.size(), passes.size(), passes) == 0) {
    const auto value =
        number_in(trimmed(words.substr(after.size(), words.size() - after.size() - passes.size())));
    if (value && *value > 0.0) return {SweepMoment::Kind::after_passes, -1, *value};
  }
  throw Error(Exit::usage, {.code    = "bad-option",
                            .what    = fmt::format("--at \"{}\" is no moment of a history", printable(text)),
                            .allowed = "end, \"after step 5\" or \"after 100 passes\""});
}

void name_apart(std::vector<SweepAxis>& axes, const std::vector<std::string>& taken) {
  std::vector<std::string> names = taken;
  for (std::size_t a = 0; a < axes.size(); ++a) {
    for (std::size_t b = 0; b < a; ++b) {
      if (axes[a].path == axes[b].path)
        throw Error(Exit::usage,
                    {.code = "given-twice", .what = fmt::format("{} is swept twice", axes[a].path)});
    }
    const std::string name = axes[a].name;
    const auto is_new = [&] { return std::find(names.begin(), names.end(), axes[a].name) == names.end(); };
    for (int n = 2; !is_new(); ++n) axes[a].name = fmt::format("{}_{}", name, n);
    names.push_back(axes[a].name);
  }
}

}  // namespace arris
