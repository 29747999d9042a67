// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "sim/studies/answer.hpp"

/// An answer as text and CSV, and its tables as groups of a file.
namespace arris {

/// For people, below the title of the configuration where it has one.
[[nodiscard]] std::string answer_text(const Answer& answer, const std::string& title = {});
/// The first table; texts and shortest decimals that read back to the same doubles, blank where there is no number.
[[nodiscard]] std::string answer_csv(const Answer& answer);

/// One table below `parent`, in a group of its name: the axis `row` and data along it; as attributes `columns` and `heads`, a line
/// each, the names in their order and what stands over them for people (empty: not shown). `Group` is Hdf5Group or works like it.
template <class Group>
void put_table(const Group& parent, const AnswerTable& table) {
  const Group group = parent.group(table.name);
  group.attribute("long_name", table.says);
  // a file keeps its members by name: these two tell how people are shown them
  std::string names, heads;
  for (const AnswerColumn& c : table.columns) {
    names += (names.empty() ? "" : "\n") + c.name;
    heads += (&c == &table.columns.front() ? "" : "\n") + c.head;
  }
  group.attribute("columns", names);
  group.attribute("heads", heads);
  group.axis("row", table.rows(), table.axis + ", from 0");
  for (const AnswerColumn& c : table.columns) {
    if (c.is_text()) {
      group.data(c.name, c.texts, "row", c.says);
    } else {
      group.data(c.name, c.numbers, "row", c.units, c.says);
    }
  }
}

}  // namespace arris
