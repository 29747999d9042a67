// SPDX-License-Identifier: MIT
#include "sim/input/document.hpp"

#include <algorithm>
#include <map>
#include <sstream>
#include <tuple>

#include <fmt/format.h>

#include "sim/input/by_cause.hpp"

namespace arris {
namespace {

Diagnostic placed(const Document& document, const toml::source_region& where, int width, Diagnostic d) {
  d.file   = document.file;
  d.line   = static_cast<int>(where.begin.line);
  d.column = static_cast<int>(where.begin.column);
  if (d.line >= 1 && d.line <= static_cast<int>(document.lines.size())) {
    const std::string line  = printable(document.lines[static_cast<std::size_t>(d.line - 1)]);
    const int         room  = characters(line) - d.column + 1;
    const int         ended = where.end.line == where.begin.line && where.end.column > where.begin.column
                                  ? static_cast<int>(where.end.column - where.begin.column)
                                  : 1;
    d.width                 = std::clamp(width > 0 ? width : ended, 1, std::max(room, 1));
    d.show_line(line);
  }
  return d;
}

// toml++ limits nested brackets, but goes one call deeper for every part of a dotted key, without a limit: a key of
// very many parts would overflow the stack
void refuse_long_keys(const Document& document, std::string_view text) {
  constexpr int most  = 100;
  int           dots  = 0;
  char          quote = 0;  // of the string that `i` is in
  bool          block = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c      = text[i];
    const auto triple = [&](char q) { return text.substr(i, 3) == std::string(3, q); };
    if (quote != 0) {
      if (c == '\\' && quote == '"') {
        ++i;
      } else if (block ? triple(quote) : c == quote || c == '\n') {
        // a block may end in quotes of its own before the three that close it
        if (block) i = std::min(text.find_first_not_of(quote, i), text.size()) - 1;
        quote = 0;
      }
    } else if (c == '"' || c == '\'') {
      quote = c;
      block = triple(c);
      if (block) i += 2;
    } else if (c == '#') {
      i = std::min(text.find('\n', i), text.size()) - 1;
    } else if (c == '.') {
      if (++dots <= most) continue;
      const auto          begin = text.rfind('\n', i) + 1;  // 0 where there is none
      Diagnostic          d{.code = "syntax",
                            .what = fmt::format("a key of more than {} parts", most),
                            .next = "Put text in \"quotes\"."};
      toml::source_region where;
      where.begin.line = static_cast<toml::source_index>(
          std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(i), '\n') + 1);
      where.begin.column = static_cast<toml::source_index>(characters(text.substr(begin, i - begin)) + 1);
      throw Error(Exit::usage, placed(document, where, 1, std::move(d)));
    } else if (std::string_view("=,[]{}\n").find(c) != std::string_view::npos) {
      dots = 0;
    }
  }
}

}  // namespace

Document parse_document(std::string file, std::string_view text) {
  Document document;
  document.file = std::move(file);
  std::istringstream stream{std::string(text)};
  for (std::string line; std::getline(stream, line);) {
    if (!line.empty() && line.back() == '\r') line.pop_back();
    document.lines.push_back(line);
  }
  refuse_long_keys(document, text);
  try {
    document.root = toml::parse(text, document.file);
  } catch (const toml::parse_error& e) {
    throw Error(
        Exit::usage,
        placed(
            document, e.source(), 1,
            {.code = "syntax",
             .what = fmt::format("this is not valid TOML: {}", printable(e.description())),
             .next =
                 "Text stands in \"quotes\", numbers have a decimal point and no unit, and each key appears once."}));
  }
  return document;
}

std::string cited(const Document& document, const std::string& id) {
  return document.root.at_path("source." + id + ".text").value<std::string>().value_or(id);
}

// not node.value<double>(), which is empty for a whole number beyond 2^53
double as_double(const toml::node& number) {
  return number.is_integer() ? static_cast<double>(number.as_integer()->get())
                             : number.as_floating_point()->get();
}

const toml::array* as_texts(const toml::node& node) {
  const toml::array* list = node.as_array();
  const bool         texts =
      list != nullptr && std::all_of(list->begin(), list->end(), [](const auto& n) { return n.is_string(); });
  return texts ? list : nullptr;
}

void Findings::add(const Document& document, const toml::source_region& where, int width,
                   Diagnostic diagnostic) {
  ++added_;
  if (errors_.size() >= most_told) return;
  add_once(errors_, placed(document, where, width, std::move(diagnostic)));
}
void Findings::add(const Document& document, const toml::node& node, Diagnostic diagnostic) {
  add(document, node.source(), 0, std::move(diagnostic));
}
void Findings::add(const Document& document, const toml::key& key, Diagnostic diagnostic) {
  add(document, key.source(), characters(key.str()), std::move(diagnostic));
}
void Findings::warn(const Document& document, const toml::node& node, Diagnostic diagnostic) {
  if (warnings_.size() >= most_told) return;
  add_once(warnings_, placed(document, node.source(), 0, std::move(diagnostic)));
}

// a table that several others name is read for each of them, but its faults are reported once
void Findings::add_once(std::vector<Diagnostic>& list, Diagnostic diagnostic) {
  if (told_.insert(diagnostic.text()).second) list.push_back(std::move(diagnostic));
}

bool Findings::has_fault_at(std::string_view path) const {
  return std::any_of(errors_.begin(), errors_.end(), [&](const Diagnostic& d) { return d.key == path; });
}

void Findings::throw_if_any() {
  if (errors_.empty()) return;
  std::map<std::string, std::size_t> order;  // of the files, as they were found at fault
  for (const Diagnostic& d : errors_) order.emplace(d.file, order.size());
  std::stable_sort(errors_.begin(), errors_.end(), [&](const Diagnostic& a, const Diagnostic& b) {
    return std::tuple(order[a.file], a.line, a.column) < std::tuple(order[b.file], b.line, b.column);
  });
  if (errors_.size() >= most_told) {
    errors_.push_back({.code = "more-faults",
                       .what = "there may be more faults than these",
                       .next = "Mend the first ones and try again."});
  }
  throw Error(Exit::usage, by_cause(errors_));
}

}  // namespace arris
