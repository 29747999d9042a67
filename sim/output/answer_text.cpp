// SPDX-License-Identifier: MIT
#include "sim/output/answer_text.hpp"

#include <cmath>

#include <fmt/format.h>

#include "sim/input/csv.hpp"
#include "sim/output/terminal.hpp"

namespace arris {
namespace {

// empty where a terminal does not show it
std::string table_text(const AnswerTable& table) {
  if (!table.on_terminal || table.rows() == 0) return {};
  std::vector<std::string> head;
  std::vector<bool>        right;
  for (const AnswerColumn& c : table.columns) {
    if (c.head.empty()) continue;
    head.push_back(c.head);
    right.push_back(!c.is_text());
  }
  TextTable text(head, right);
  for (std::size_t row = 0; row < table.rows(); ++row) {
    std::vector<std::string> cells;
    for (const AnswerColumn& c : table.columns) {
      if (c.head.empty()) continue;
      cells.push_back(c.is_text()     ? c.texts[row]
                      : c.places >= 0 ? decimals(c.numbers[row], c.places)
                                      : digits(c.numbers[row], c.significant));
    }
    text.add(std::move(cells));
  }
  return "\n" + (table.says.empty() ? std::string{} : wrapped(table.says + ":", text_width(), 2)) +
         text.text(2);
}

}  // namespace

std::string answer_text(const Answer& answer, const std::string& title) {
  std::string tables;
  for (const AnswerTable& table : answer.tables) tables += table_text(table);
  std::string out = title.empty() ? title : wrapped(title) + "\n";
  out += wrapped(answer.headline) + tables;
  for (const std::string& remark : answer.remarks) out += "\n" + wrapped(remark);
  if (!answer.rests_on.empty()) out += "\n" + wrapped(answer.rests_on + " An estimate, not a promise.");
  for (const std::string& caution : answer.cautions) out += "\n" + wrapped(caution);
  return out;
}

std::string answer_csv(const Answer& answer) {
  const AnswerTable&       table = answer.tables.front();
  std::vector<std::string> header;
  for (const AnswerColumn& c : table.columns) header.push_back(c.name);
  std::string out = csv_row(header);
  for (std::size_t row = 0; row < table.rows(); ++row) {
    std::vector<std::string> cells;
    for (const AnswerColumn& c : table.columns) {
      cells.push_back(c.is_text()                  ? c.texts[row]
                      : std::isnan(c.numbers[row]) ? std::string{}
                                                   : fmt::format("{}", c.numbers[row]));
    }
    out += csv_row(cells);
  }
  return out;
}

}  // namespace arris
