// SPDX-License-Identifier: MIT
#include "sim/output/plan_files.hpp"

#include <fmt/format.h>

#include "sim/input/csv.hpp"
#include "sim/input/document.hpp"
#include "sim/input/loader.hpp"
#include "sim/output/terminal.hpp"
#include "sim/studies/plan/plan.hpp"

namespace arris {
namespace {

std::string remark(const std::string& text) {
  std::string       out;
  const std::string lines = wrapped(printable(text), 110);
  for (std::size_t at = 0; at < lines.size();) {
    const std::size_t end = std::min(lines.find('\n', at), lines.size());
    out += "# " + lines.substr(at, end - at) + "\n";
    at = end + 1;
  }
  return out;
}

std::string in_quotes(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    out += c;
  }
  return out + "\"";
}

}  // namespace

std::string run_sheet(const Plan& plan, const std::string& configuration) {
  std::string out = remark(fmt::format(
      "Run sheet of arris plan, seed {}: {} readings of {} edges in this order; have {} filaments ready.",
      plan.settings.seed, plan.sheet.size(),
      plan.scenario.edges.size() - static_cast<std::size_t>(plan.first_edge), plan.size.filaments));
  out += remark(fmt::format(
      "Mark each edge with its code; what is done to it stands in {}, which the one who reads should not see. Block by block: bring all its edges to a stage, read them in the order of the rows, then take them on to the next stage. A new filament for every reading; write it into reading_gf, and leave that empty where there is none.",
      configuration));
  out += remark(fmt::format("Filled in, in part or whole: arris fit {}", configuration));
  out += remark(usual_caution());
  out += "code,step,reading_gf,replicate,operator,filament_lot,note,excluded\n";
  for (const Reading& r : plan.sheet) {
    out += csv_row({plan.scenario.edges[static_cast<std::size_t>(r.edge)].code, r.moment_name, "",
                    std::to_string(r.replicate), r.operator_name, r.filament_lot, r.note, r.excluded});
  }
  return out;
}

std::string plan_toml(const Plan& plan, const std::string& base, const std::string& sheet) {
  std::string out =
      "# Written by arris plan: the edges of an experiment, and the codes under which they stand on its run sheet.\n";
  out += remark("Whoever reads the edges should not look in here before all readings are in.");
  for (const PlannedGroup& g : plan.groups) {
    std::string line = g.name + ":";
    for (std::size_t i = 0; i < g.moments.size(); ++i)
      line += fmt::format("{} stage {} {}", i > 0 ? "," : "", i + 1, g.moments[i].when);
    out += remark(line + ".");
  }
  out += remark(usual_caution());
  out += fmt::format("\ninclude = [{}]\n\n[readings]\nfile = {}\n", in_quotes(base), in_quotes(sheet));
  for (std::size_t i = static_cast<std::size_t>(plan.first_edge); i < plan.scenario.edges.size(); ++i)
    out += edge_toml(plan.scenario.edges[i], true);
  return out;
}

}  // namespace arris
