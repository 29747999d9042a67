// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/studies/answer.hpp"

namespace arris {

/// Columns of a table that has a row for every item of a list. A column is stated by what it takes of an item: a member of it, or
/// a function.
///
///     AnswerTable      table{.name = "ways", .says = "Each way of sharpening", .axis = "way"};
///     ItemColumns<Way> columns(table, ways);
///     columns.text("way", "way", "route and strops", &Way::name);
///     columns.number("minutes", "min", "minutes", "of one sharpening", &Way::minutes);
template <class Item>
class ItemColumns {
 public:
  /// Keeps references to both.
  ItemColumns(AnswerTable& table, const std::vector<Item>& items) : table_(table), items_(items) {}

  /// Adds a column of numbers, in `unit`, and returns it: valid until the next column is added.
  template <class Value>
  AnswerColumn& number(const std::string& column, const std::string& unit, const std::string& head,
                       const std::string& meaning, const Value& value, int significant = 3) {
    table_.number(column, unit, head, meaning, of_each<double>(value), significant);
    return table_.columns.back();
  }

  /// Adds a column of texts.
  template <class Value>
  void text(const std::string& column, const std::string& head, const std::string& meaning,
            const Value& value) {
    table_.text(column, head, meaning, of_each<std::string>(value));
  }

 private:
  template <class Cell, class Value>
  [[nodiscard]] std::vector<Cell> of_each(const Value& value) const {
    std::vector<Cell> cells;
    cells.reserve(items_.size());
    for (const Item& item : items_) cells.push_back(static_cast<Cell>(std::invoke(value, item)));
    return cells;
  }

  AnswerTable&             table_;
  const std::vector<Item>& items_;
};

}  // namespace arris
