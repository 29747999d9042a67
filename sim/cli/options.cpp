// SPDX-License-Identifier: MIT
#include "sim/cli/options.hpp"

#include <algorithm>
#include <cctype>
#include <charconv>
#include <string_view>

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include "sim/cli/commands.hpp"
#include "sim/diagnostic.hpp"
#include "sim/input/document.hpp"
#include "sim/output/provenance.hpp"

namespace arris::cli {
namespace {

// options of a command alone, then those it shares with others
std::vector<Option> with(const std::vector<Option>& shared, std::vector<Option> own) {
  own.insert(own.end(), shared.begin(), shared.end());
  return own;
}

}  // namespace

const std::vector<Command>& commands() {
  // clang-format off
  static const std::vector<Command> table = {
      {"simulate",
       "what every step of a history does to an edge",
       "Runs every edge of a configuration through its steps and prints the apex radius, scratches, burr, land and the reading of the tester after each. Where the configuration names a file of "
       "readings, measured stands beside predicted.",
       {{"FILE", true, "configuration", Completes::files}},
       {{"out", 'o', "FILE", "write the result as HDF5", Completes::files},
        {"csv", 0, "FILE", "write the curves as CSV; - is standard output", Completes::files},
        {"json", 0, "FILE", "write everything as JSON; - is standard output", Completes::files},
        {"edge", 'e', "NAME", "print the steps of this edge only; several with commas between them"},
        {"brief", 'b', "", "leave the steps of each edge out"},
        {"invent-readings", 0, "FILE", "write invented readings of every read step, with the scatter that the configuration states", Completes::files},
        {"seed", 0, "N", "seed of invented readings (1)"},
        {"operators", 0, "NAMES", "who takes invented readings, with commas between them (A,B)"},
        {"lots", 0, "NAMES", "filament lots of invented readings, with commas between them (lot 1,lot 2)"},
        {"threads", 't', "N", "threads to use; 0 is all cores (0)"},
        {"quiet", 'q', "", "print nothing but errors"}}},
      {"fit",
       "parameters from readings",
       "Tunes parameters of the model to the readings that a configuration names, by Levenberg-Marquardt from several starts, with exact derivatives, the scatter of readings and edges estimated along "
       "with them. Says which combinations the readings do not determine, and what measurement would. Parameters are those of [fit] free, of --free, or the usual ones.",
       {{"FILE", true, "configuration that names readings", Completes::files}},
       {{"out", 'o', "FILE", "write parameters, covariance, profiles, draws and residuals as HDF5", Completes::files},
        {"fitted", 'f', "FILE", "write a configuration with the fitted values", Completes::files},
        {"json", 0, "FILE", "write the result as JSON; - is standard output", Completes::files},
        {"free", 0, "PATHS", "parameters to free, with commas between them"},
        {"starts", 0, "N", "starting points (that of the configuration, or 16)"},
        {"draws", 0, "N", "posterior draws to keep (0)"},
        {"seed", 0, "N", "seed of starts and draws (that of the configuration, or 1)"},
        {"no-profiles", 0, "", "leave profile intervals out"},
        {"full", 0, "", "tell effects, starts and the farthest readings too"},
        {"check-gradient", 0, "", "compare exact derivatives with differences, and stop"},
        {"threads", 't', "N", "threads to use; 0 is all cores (0)"},
        {"quiet", 'q', "", "print nothing but errors"}}},
      {"weigh",
       "rival wear laws against readings",
       "Fits each wear law to the readings that a configuration names and tells the evidence: AICc, BIC, the density of edges left out of the fit, and where each law misses.",
       {{"FILE", true, "configuration that names readings", Completes::files}},
       with(answer_options(), {{"law", 'l', "NAMES", "wear laws to weigh, with commas between them or one by one (all)", Completes::nothing, true},
                               {"starts", 0, "N", "starting points for each law (4)"}})},
      {"check",
       "is a configuration right, and what does it come to",
       "Validates a configuration and what it includes, and the readings it names. Prints every value that a simulation would use, with where it came from: a file and line, a material table, or a "
       "default and on what that rests. The output is itself a configuration.",
       {{"FILE", true, "configuration", Completes::files}},
       {{"quiet", 'q', "", "print the verdict only"}}},
      {"materials",
       "the materials at hand",
       "Lists the shipped materials, and those of a configuration: steel, family (of abrasive media), grit, backing, compound, wood, filament. With one match it shows every value with its status and "
       "source.",
       {{"KIND", false, "kind of material", Completes::kinds}},
       {{"search", 's', "WORD", "only those whose name, other names or remark contain the word"},
        {"config", 'c', "FILE", "list the materials of this configuration too", Completes::files},
        {"json", 0, "", "as JSON"}}},
      {"write-documents", "write man page and completions", "", {{"FOLDER", true, "where to", Completes::files}}, {}, true},
  };
  // clang-format on
  return table;
}

std::optional<std::string> Arguments::text(const std::string& name) const {
  const auto found = values.find(name);
  return found == values.end() ? std::nullopt : std::optional<std::string>(found->second);
}

long long Arguments::integer(const std::string& name, long long otherwise, long long low,
                             long long high) const {
  const auto given = text(name);
  if (!given) return otherwise;
  long long value         = 0;
  const auto [end, error] = std::from_chars(given->data(), given->data() + given->size(), value);
  if (error != std::errc{} || end != given->data() + given->size() || value < low || value > high) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("--{} {} must be a whole number", name, printable(*given)),
                              .allowed = fmt::format("{} … {}", low, high)});
  }
  return value;
}

namespace {

// the first word that is no command or no option of it, with the one that was meant
std::optional<Diagnostic> misspelt(int argc, char** argv) {
  const auto meant = [](const std::string& word, const std::vector<std::string>& known, const char* dashes) {
    const std::string close = nearest(word, known);
    return close.empty() ? std::string{} : fmt::format("Did you mean {}{}?", dashes, close);
  };
  const Command* command = nullptr;
  for (int i = 1; i < argc; ++i) {
    const std::string word(argv[i]);
    if (word == "--") break;
    if (word.size() > 2 && word.rfind("--", 0) == 0) {
      const std::string        name = word.substr(2, word.find('=') - 2);
      std::vector<std::string> known{"help"};
      if (command == nullptr) known.emplace_back("version");
      if (command != nullptr) {
        for (const Option& o : command->options) known.emplace_back(o.name);
      }
      if (std::find(known.begin(), known.end(), name) != known.end()) continue;
      const std::string of =
          command != nullptr ? fmt::format("arris {}", command->name) : std::string("arris");
      return Diagnostic{.code    = "unknown-option",
                        .what    = fmt::format("{} has no option --{}", of, printable(name)),
                        .allowed = fmt::format("--{}", fmt::join(known, ", --")),
                        .next    = meant(name, known, "--")};
    }
    if (command != nullptr || word.rfind('-', 0) == 0) continue;
    std::vector<std::string> known;
    for (const Command& c : commands()) {
      if (c.name == word) command = &c;
      if (!c.hidden) known.emplace_back(c.name);
    }
    if (command == nullptr) {
      return Diagnostic{.code    = "unknown-command",
                        .what    = fmt::format("there is no command \"{}\"", printable(word)),
                        .allowed = listed(known),
                        .next    = meant(word, known, "arris ")};
    }
  }
  return std::nullopt;
}

}  // namespace

std::optional<Arguments> parse(int argc, char** argv) {
  CLI::App app{
      "Simulates how the edge of a hand tool is honed, stropped and worn, and what a tester reads on it.",
      "arris"};
  app.require_subcommand(0, 1);
  app.set_version_flag("--version", build_facts());
  app.footer(
      "arris COMMAND --help tells the options of a command.\nExit codes: 0 done, 2 usage or configuration, 3 "
      "data, 4 integration, 5 fit not converged.");

  Arguments                                         arguments;
  std::map<std::string, std::string>                texts;
  std::map<std::string, bool>                       switches;
  std::vector<std::pair<const Command*, CLI::App*>> built;
  for (const Command& command : commands()) {
    CLI::App* sub = app.add_subcommand(command.name, command.summary);
    if (command.hidden) sub->group("");
    const std::string prefix = std::string(command.name) + " ";
    for (const Argument& a : command.arguments) {
      auto* option = sub->add_option(a.name, texts[prefix + a.name], a.help)->type_name("");
      if (a.required) option->required();
    }
    for (const Option& o : command.options) {
      const std::string names =
          (o.letter != 0 ? fmt::format("-{},", o.letter) : std::string{}) + "--" + o.name;
      if (*o.value == '\0') {
        sub->add_flag(names, switches[prefix + o.name], o.help);
      } else {
        auto* option = sub->add_option(names, texts[prefix + o.name], o.help)->type_name(o.value);
        if (o.repeats) option->join(',');
      }
    }
    built.emplace_back(&command, sub);
  }

  try {
    app.parse(argc, argv);
  } catch (const CLI::CallForHelp&) {
    fmt::print("{}", app.help());  // that of the command, where there is one
    return std::nullopt;
  } catch (const CLI::CallForVersion&) {
    fmt::print("{}", build_facts());
    return std::nullopt;
  } catch (const CLI::ParseError& e) {
    if (auto diagnostic = misspelt(argc, argv)) throw Error(Exit::usage, std::move(*diagnostic));
    throw Error(Exit::usage,
                {.code = "usage",
                 .what = e.what(),
                 .next = "arris --help lists the commands, arris COMMAND --help the options of one."});
  }
  for (int i = 0; i < argc; ++i) {
    const std::string word(i == 0 ? "arris" : argv[i]);
    const auto        plain = [](char c) {
      return std::isalnum(static_cast<unsigned char>(c)) != 0 || (c & 0x80) != 0 ||
             std::string_view("-_./,:=@%+").find(c) != std::string_view::npos;
    };
    std::string safe = word;  // for a shell
    if (word.empty() || !std::all_of(word.begin(), word.end(), plain)) {
      safe = "'";
      for (const char c : word) safe += c == '\'' ? std::string("'\\''") : std::string(1, c);
      safe += "'";
    }
    arguments.line += (i > 0 ? " " : "") + safe;
  }
  for (const auto& [command, sub] : built) {
    if (!sub->parsed()) continue;
    arguments.command        = command->name;
    const std::string prefix = arguments.command + " ";
    for (const Argument& a : command->arguments) {
      if (sub->count(a.name) > 0) arguments.values[a.name] = texts[prefix + a.name];
    }
    for (const Option& o : command->options) {
      if (sub->count(fmt::format("--{}", o.name)) == 0) continue;
      arguments.values[o.name] = *o.value == '\0' ? "yes" : texts[prefix + o.name];
    }
  }
  if (arguments.command.empty()) {
    fmt::print("{}", app.help());
    return std::nullopt;
  }
  return arguments;
}

}  // namespace arris::cli
