// SPDX-License-Identifier: MIT
#include "sim/output/provenance.hpp"

#include <chrono>

#include <fmt/chrono.h>
#include <fmt/format.h>

#include "build_facts.hpp"  // generated
#include "sim/fit/earlier_fit.hpp"
#include "sim/input/files.hpp"
#include "sim/integrate/lanes.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/sha1.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

// of which several histories run at once: another one rounds otherwise
std::string lanes_said() {
  const InstructionSet best = instruction_sets().back();
  return best == InstructionSet::none ? "no lanes" : fmt::format("lanes of {}", name_of(best));
}

}  // namespace

Provenance command_provenance(const std::string& command) {
  Provenance p;
  p.command = command;
  p.started =
      fmt::format("{:%Y-%m-%dT%H:%M:%SZ}",
                  fmt::gmtime(std::chrono::system_clock::to_time_t(std::chrono::system_clock::now())));
  p.version  = build::version;
  p.commit   = build::commit();
  p.compiler = build::compiler;
  p.flags    = build::flags;
  p.system   = fmt::format("{}, {}", build::system, lanes_said());
  return p;
}

Provenance provenance(const Campaign& campaign, const std::string& command, const std::string& seed,
                      const std::optional<std::string>& fit) {
  const Loaded& loaded = campaign.loaded;
  Provenance    p      = command_provenance(command);
  p.seed               = seed;
  for (const auto& [name, text] : loaded.texts) p.inputs.emplace_back(printable(name), sha1(text));
  for (const auto& [name, bytes] : campaign.readings_files)
    p.inputs.emplace_back(printable(name), sha1(bytes));
  if (loaded.fit.earlier != nullptr)
    p.inputs.emplace_back(printable(loaded.fit.earlier->source), loaded.fit.earlier->sha1);
  if (fit) {
    const auto hash = sha1_of_file(*fit);
    if (!hash)
      throw Error(Exit::data, {.code = "unreadable",
                               .what = "the fit can no longer be read",
                               .next = "Check whether it was moved.",
                               .file = *fit});
    p.inputs.emplace_back(printable(*fit), *hash);
  }
  if (loaded.texts.empty()) {  // readings alone
    p.rests_on = "The readings alone; no model of an edge was used.";
  } else {
    p.configuration = resolved_toml(loaded, false);
    p.numerics      = fmt::format("Dormand-Prince 5(4), relative tolerance {:g}",
                                  loaded.scenario.numerics.relative_tolerance);
    if (loaded.scenario.numerics.follows_outline())
      p.numerics += "; outline of the edge as a front of points";
    p.rests_on = rests_on(loaded);
  }
  return p;
}

std::vector<std::pair<std::string, std::string>> entries_of(const Provenance& p) {
  std::string inputs;
  for (const auto& [name, hash] : p.inputs)
    inputs += fmt::format("{}{} sha1:{}", inputs.empty() ? "" : "\n", name, hash);
  return {{"command", p.command},   {"started", p.started},   {"version", p.version},
          {"commit", p.commit},     {"compiler", p.compiler}, {"flags", p.flags},
          {"system", p.system},     {"seed", p.seed},         {"numerics", p.numerics},
          {"rests_on", p.rests_on}, {"inputs", inputs},       {"configuration", p.configuration}};
}

}  // namespace arris
