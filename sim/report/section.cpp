// SPDX-License-Identifier: MIT
#include "sim/report/section.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <utility>

#include <fmt/format.h>
#include <toml++/toml.h>

#include "sim/diagnostic.hpp"
#include "sim/laws/field.hpp"
#include "sim/report/parts.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris::report {
namespace {

struct Kind {
  const char* name;
  const char* heading;
  void (*add)(const StoredResult&, Section&);
};

constexpr Kind kinds[] = {
    {"readings", "What was read", add_readings},
    {"simulate", "What each step does to an edge", add_simulation},
    {"fit", "What the readings say about the model", add_fit},
    {"weigh", "Which wear law the readings speak for", add_weighing},
    {"forward", "Whether forecasts of this campaign hold", add_forward},
    {"forecast", "How long each edge lasts", add_forecast},
    {"in-hand", "How long this edge goes on", add_in_hand},
    {"compare", "Ways of sharpening side by side", add_comparison},
    {"periods", "This year against last", add_periods},
    {"sweep", "What comes out over a range", add_sweep},
    {"sensitivity", "What matters most", add_sensitivity},
    {"upkeep", "How often to strop, hone and grind", add_upkeep},
    {"plan", "The experiment to do next", add_plan},
    {"gauge", "Is the tester good enough", add_gauge},
    {"log-check", "Has the tester changed", add_control},
};

// parsed once, however many edges ask for their blade
const toml::table& configuration_of(const StoredResult& r) {
  thread_local std::string                text;
  thread_local std::optional<toml::table> parsed;
  try {
    if (std::string now = r.origin("configuration"); !parsed || now != text) {
      parsed.reset();
      parsed = toml::parse(now);
      text   = std::move(now);
    }
    return *parsed;
  } catch (const toml::parse_error& e) {
    throw Error(Exit::data, {.code  = "not-a-result",
                             .what  = "the configuration in the result cannot be read",
                             .cause = std::string(e.description()),
                             .file  = r.file});
  }
}

}  // namespace

std::vector<Run> runs_of(const std::vector<std::string>& names) {
  std::vector<Run> runs;
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (runs.empty() || runs.back().name != names[i]) runs.push_back({names[i], i, i});
    runs.back().end = i + 1;
  }
  return runs;
}

std::vector<double> part(const std::vector<double>& values, const Run& run) {
  return {values.begin() + static_cast<std::ptrdiff_t>(run.begin),
          values.begin() + static_cast<std::ptrdiff_t>(run.end)};
}

AnswerTable columns_of(const AnswerTable&                                      table,
                       const std::vector<std::pair<const char*, const char*>>& columns) {
  AnswerTable out{.name = table.name, .says = table.says, .axis = table.axis};
  for (const auto& [name, head] : columns) {
    for (const AnswerColumn& c : table.columns) {
      if (c.name != name) continue;
      out.columns.push_back(c);
      out.columns.back().head = head;
    }
  }
  return out;
}

AnswerTable thinned(AnswerTable table, std::size_t most) {
  if (table.rows() == 0) return table;
  std::vector<std::size_t> kept;
  const auto               runs = table.columns.front().is_text() ? runs_of(table.columns.front().texts)
                                                                  : std::vector<Run>{{"", 0, table.rows()}};
  for (const Run& run : runs) {
    const std::size_t n = run.end - run.begin, take = std::min(n, most);
    for (std::size_t k = 0; k < take; ++k)
      kept.push_back(run.begin + (take > 1 ? k * (n - 1) / (take - 1) : 0));
  }
  if (kept.size() == table.rows()) return table;
  for (AnswerColumn& c : table.columns) {
    AnswerColumn fewer = c;
    fewer.numbers.clear();
    fewer.texts.clear();
    for (const std::size_t i : kept) {
      if (c.is_text()) {
        fewer.texts.push_back(c.texts[i]);
      } else {
        fewer.numbers.push_back(c.numbers[i]);
      }
    }
    c = std::move(fewer);
  }
  table.says += fmt::format(" ({} of the points; all are in the result file)", kept.size());
  return table;
}

double setting(const StoredResult& r, const std::string& name) {
  const auto found = r.numbers.find(name);
  return found == r.numbers.end() ? not_given : found->second;
}

void add_rest(const StoredResult& r, Section& s, const std::vector<std::string>& shown) {
  for (const AnswerTable& t : r.answer.tables) {
    if (t.name.empty() || t.name == "map" || std::find(shown.begin(), shown.end(), t.name) != shown.end())
      continue;
    s.tables.push_back(t);
  }
}

std::string fit_option(const StoredResult& r) {
  const std::string command = r.origin("command");
  const auto        begin   = command.find(" --fit ");
  if (begin == std::string::npos) return {};
  const auto end = command.find(" --", begin + 1);
  return command.substr(begin, end == std::string::npos ? end : end - begin);
}

bool has_fit(const StoredResult& r) { return r.origin("command").find("--fit") != std::string::npos; }

Figure drawn(const std::string& name, const std::string& title, const std::string& caption,
             figures::LineFigure lines) {
  return {name, title, caption, [lines = std::move(lines)](double width, const std::string& id) {
            return figures::lines_svg(lines, width, id);
          }};
}

Figure drawn(const std::string& name, const std::string& title, const std::string& caption,
             figures::IntervalFigure intervals) {
  return {name, title, caption, [intervals = std::move(intervals)](double width, const std::string& id) {
            return figures::intervals_svg(intervals, width, id);
          }};
}

Figure drawn(const std::string& name, const std::string& title, const std::string& caption,
             figures::BarFigure bars) {
  return {name, title, caption, [bars = std::move(bars)](double width, const std::string& id) {
            return figures::bars_svg(bars, width, id);
          }};
}

LiveLine live_line(std::string name, const figures::CurvePanel& panel) {
  LiveLine line;
  line.name    = std::move(name);
  line.x_label = panel.x_label;
  line.x       = panel.x;
  line.y       = panel.y;
  if (!panel.bands.empty()) {
    line.low  = panel.bands.front().low;
    line.high = panel.bands.front().high;
  }
  for (const figures::MeasuredPoint& point : panel.points) {
    line.point_x.push_back(point.x);
    line.point_y.push_back(point.y);
  }
  return line;
}

std::string configuration_file(const StoredResult& r) {
  const std::string inputs = r.origin("inputs");
  const auto        end    = inputs.find(" sha1:");
  return end == std::string::npos ? "FILE" : inputs.substr(0, end);
}

double configured_limit(const StoredResult& r) {
  return configuration_of(r)["output"]["reading_limit_gf"].value<double>().value_or(not_given);
}

std::vector<std::pair<double, std::string>> pads_of(const StoredResult& r) {
  std::vector<std::pair<double, std::string>> out;
  if (const toml::table* pads = configuration_of(r)["backing"].as_table()) {
    for (const auto& [name, pad] : *pads) {
      const auto* table = pad.as_table();
      if (table == nullptr) continue;
      const double modulus = (*table)["modulus_MPa"].value<double>().value_or(not_given);
      if (!std::isnan(modulus)) out.emplace_back(modulus, std::string(name.str()));
    }
  }
  return out;
}

figures::BladeSection blade_of(const StoredResult& r, const std::string& tool) {
  const toml::table& all   = configuration_of(r);
  const toml::node*  found = all["tool"].is_table() ? all["tool"].as_table()->get(tool) : nullptr;
  const toml::table* table = found != nullptr ? found->as_table() : nullptr;
  const auto         value = [&](const char* key) {
    const auto number = table != nullptr ? (*table)[key].value<double>() : std::nullopt;
    if (!number)
      throw Error(Exit::data, {.code = "not-a-result",
                                       .what = fmt::format("the configuration in the result has no {} of tool {}",
                                                           key, printable(tool)),
                                       .file = r.file});
    return *number;
  };
  return {.primary_bevel_deg = value("primary_bevel_deg"),
          .micro_bevel_deg   = value("micro_bevel_deg"),
          .back_bevel_deg    = value("back_bevel_deg"),
          .thickness_mm      = value("thickness_mm"),
          .both_sides        = value("honed_sides") == 2.0};
}

Section section_of(const StoredResult& r, const Extent& extent) {
  const auto kind =
      std::find_if(std::begin(kinds), std::end(kinds), [&](const Kind& k) { return r.kind == k.name; });
  if (kind == std::end(kinds))
    throw Error(Exit::data, {.code  = "not-a-result",
                             .what  = fmt::format("a result of kind \"{}\" is not known", printable(r.kind)),
                             .cause = "It may come from a later version of the program.",
                             .file  = r.file});
  if (r.answer.headline.empty())
    throw Error(Exit::data, {.code  = "old-result",
                             .what  = "the result holds no sentences",
                             .cause = "It was written by an earlier version of the program.",
                             .next  = "Run its command again: " + printable(r.origin("command")),
                             .file  = r.file});
  Section s;
  s.extent     = extent;
  s.kind       = r.kind;
  s.file       = r.file;
  s.heading    = kind->heading;
  s.answer     = r.answer.headline;
  s.cautions   = r.answer.cautions;
  s.rests_on   = r.answer.rests_on;
  s.provenance = r.provenance;
  for (std::size_t i = 0; i < r.answer.remarks.size(); ++i) {
    const About about = i < r.answer.about.size() ? r.answer.about[i] : About::more;
    (about == About::certainty ? s.certainty
     : about == About::next    ? s.next
                               : s.more)
        .push_back(r.answer.remarks[i]);
  }
  // a study does not know what its configuration is called, the file does
  for (std::string& sentence : s.next) {
    const std::string named = "arris fit FILE";
    if (const auto at = sentence.find(named); at != std::string::npos)
      sentence.replace(at, named.size(), "arris fit " + shell_word(configuration_file(r)));
  }
  kind->add(r, s);
  return s;
}

const Figure& figure_named(const std::vector<Section>& sections, const std::string& name) {
  std::vector<std::string> known;
  for (const Section& s : sections) {
    for (const Figure& f : s.figures) {
      if (f.name == name) return f;
      known.push_back(f.name);
    }
  }
  throw Error(Exit::usage, {.code    = "unknown-figure",
                            .what    = fmt::format("there is no figure \"{}\"", printable(name)),
                            .allowed = known.empty() ? "this result has none" : or_list(known, 40),
                            .next    = did_you_mean(name, known, {}, "{}")});
}

}  // namespace arris::report
