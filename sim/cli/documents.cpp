// SPDX-License-Identifier: MIT
#include <filesystem>

#include <fmt/format.h>

#include "sim/cli/commands.hpp"
#include "sim/cli/options.hpp"
#include "sim/output/safe_file.hpp"

namespace arris::cli {
namespace {

// a hyphen in a man page must be a minus to be copied as one
std::string roff(std::string_view text) {
  std::string out;
  for (const char c : text)
    out += c == '-' ? std::string("\\-") : c == '\\' ? std::string("\\e") : std::string(1, c);
  return out;
}

std::string names_of_kinds() {
  std::string out;
  for (const auto& [name, what] : material_kinds()) out += (out.empty() ? "" : " ") + name;
  return out;
}

std::string options_of(const Command& command) {
  std::string out = "--help";
  for (const Option& o : command.options) out += fmt::format(" --{}", o.name);
  return out;
}

}  // namespace

std::string man_page() {
  std::string out =
      ".\\\" SPDX-License-Identifier: MIT\n.TH ARRIS 1\n.SH NAME\narris \\- simulate how the edge of a hand tool is honed, stropped and worn\n.SH SYNOPSIS\n";
  for (const Command& c : commands()) {
    if (c.hidden) continue;
    out += fmt::format(".B arris {}\n[OPTIONS]", roff(c.name));
    for (const Argument& a : c.arguments)
      out += (a.required ? fmt::format(" {}", a.name) : fmt::format(" [{}]", a.name)) +
             (a.repeats ? " ..." : "");
    out += "\n.br\n";
  }
  out +=
      ".SH DESCRIPTION\nA physical model of the apex of an edge, stroke by stroke and pass by pass: radius, scratches, burr and land, and what a tester that parts a filament reads on it. "
      "A configuration in TOML names tools, media, strops and woods, and lists the steps of each edge.\n.SH COMMANDS\n";
  for (const Command& c : commands()) {
    if (c.hidden) continue;
    out += fmt::format(".SS {}\n{}\n", roff(c.name), roff(c.details));
    for (const Argument& a : c.arguments) out += fmt::format(".TP\n.I {}\n{}\n", a.name, roff(a.help));
    for (const Option& o : c.options) {
      const std::string letter = o.letter != 0 ? fmt::format("\\fB\\-{}\\fR, ", o.letter) : "";
      out += fmt::format(".TP\n{}\\fB\\-\\-{}\\fR{}\n{}\n", letter, roff(o.name),
                         *o.value != '\0' ? fmt::format(" \\fI{}\\fR", o.value) : "", roff(o.help));
    }
  }
  out +=
      fmt::format(".SH EXIT STATUS\n{}.\n", exit_codes) +
      ".SH NOTES\nA prediction is an estimate, not a promise: every result says on what it rests. Edges cut, and dust of wood and board harms lungs; follow the makers' instructions, local rules and qualified people.\n";
  return out;
}

std::string bash_completion() {
  std::string out =
      "# SPDX-License-Identifier: MIT\n_arris() {\n  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} command=${COMP_WORDS[1]}\n  if [ \"$COMP_CWORD\" -eq 1 ]; then\n"
      "    COMPREPLY=($(compgen -W '--help --version";
  for (const Command& c : commands()) {
    if (!c.hidden) out += fmt::format(" {}", c.name);
  }
  out += "' -- \"$word\"))\n    return\n  fi\n  case \"$command\" in\n";
  for (const Command& c : commands()) {
    if (c.hidden) continue;
    out += fmt::format("    {})\n      case \"$before\" in\n", c.name);
    for (const Option& o : c.options) {
      if (*o.value == '\0') continue;
      const std::string letter = o.letter != 0 ? fmt::format("-{} | ", o.letter) : "";
      out += fmt::format("        {}--{}) {}return ;;\n", letter, o.name,
                         o.completes == Completes::files ? "COMPREPLY=($(compgen -f -- \"$word\")); " : "");
    }
    out += "      esac\n";
    const bool kind = !c.arguments.empty() && c.arguments.front().completes == Completes::kinds;
    out += fmt::format(
        "      if [[ $word == -* ]]; then COMPREPLY=($(compgen -W '{}' -- \"$word\")); return; fi\n",
        options_of(c));
    out +=
        kind ? fmt::format("      COMPREPLY=($(compgen -W '{}' -- \"$word\"))\n      ;;\n", names_of_kinds())
             : std::string("      COMPREPLY=($(compgen -f -- \"$word\"))\n      ;;\n");
  }
  return out + "  esac\n}\ncomplete -o filenames -F _arris arris\n";
}

std::string zsh_completion() {
  std::string out  = "#compdef arris\n# SPDX-License-Identifier: MIT\n_arris() {\n  local -a commands=(\n";
  const auto  safe = [](std::string text) {
    for (std::size_t i = 0; (i = text.find_first_of("':[]", i)) != std::string::npos; i += 2)
      text.insert(i, "\\");
    return text;
  };
  for (const Command& c : commands()) {
    if (!c.hidden) out += fmt::format("    '{}:{}'\n", c.name, safe(c.summary));
  }
  out += "  )\n  if (( CURRENT == 2 )); then _describe command commands; return; fi\n  case $words[2] in\n";
  for (const Command& c : commands()) {
    if (c.hidden) continue;
    out += fmt::format("    {})\n      _arguments", c.name);
    for (const Option& o : c.options) {
      const std::string action =
          *o.value == '\0' ? ""
                           : fmt::format(":{}:{}", o.value, o.completes == Completes::files ? "_files" : " ");
      // one that may be given again is not taken from the list once it stands there
      const std::string names =
          o.letter != 0 ? fmt::format("'{2}'{{-{0},--{1}}}'", o.letter, o.name,
                                      o.repeats ? "*" : fmt::format("(-{} --{})", o.letter, o.name))
                        : fmt::format("'{}--{}", o.repeats ? "*" : "", o.name);
      out += fmt::format(" {}[{}]{}'", names, safe(o.help), action);
    }
    for (const Argument& a : c.arguments)
      out += fmt::format(
          " '{}:{}:{}'", a.repeats ? "*" : "2", a.name,
          a.completes == Completes::kinds ? fmt::format("({})", names_of_kinds()) : std::string("_files"));
    out += "\n      ;;\n";
  }
  return out + "  esac\n}\n_arris \"$@\"\n";
}

std::string fish_completion() {
  std::string out  = "# SPDX-License-Identifier: MIT\n";
  const auto  safe = [](std::string text) {
    for (std::size_t i = 0; (i = text.find('\'', i)) != std::string::npos; i += 2) text.insert(i, "\\");
    return text;
  };
  for (const Command& c : commands()) {
    if (c.hidden) continue;
    out +=
        fmt::format("complete -c arris -n __fish_use_subcommand -f -a {} -d '{}'\n", c.name, safe(c.summary));
    for (const Option& o : c.options) {
      out += fmt::format("complete -c arris -n '__fish_seen_subcommand_from {}' -l {}{}{}{} -d '{}'\n",
                         c.name, o.name, o.letter != 0 ? fmt::format(" -s {}", o.letter) : "",
                         *o.value != '\0' ? " -r" : "",
                         *o.value != '\0' && o.completes != Completes::files ? " -f" : "", safe(o.help));
    }
    if (!c.arguments.empty() && c.arguments.front().completes == Completes::kinds)
      out += fmt::format("complete -c arris -n '__fish_seen_subcommand_from {}' -f -a '{}'\n", c.name,
                         names_of_kinds());
  }
  return out;
}

Exit write_documents(const Arguments& arguments) {
  const std::filesystem::path folder = *arguments.text("FOLDER");
  write_text((folder / "arris.1").string(), man_page());
  write_text((folder / "arris.bash").string(), bash_completion());
  write_text((folder / "_arris").string(), zsh_completion());
  write_text((folder / "arris.fish").string(), fish_completion());
  return Exit::done;
}

}  // namespace arris::cli
