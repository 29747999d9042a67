// SPDX-License-Identifier: MIT
#include "sim/input/csv.hpp"

#include <algorithm>

#include "sim/diagnostic.hpp"
#include "sim/input/document.hpp"
#include "sim/read_number.hpp"
#include "sim/stop.hpp"
#include "sim/utf8.hpp"

namespace arris {
namespace {

constexpr const char* cell_blanks = " \t";

/// Whether a spreadsheet would take a cell for a formula, but for apostrophes before it.
bool is_formula(std::string_view cell) {
  const std::size_t first = cell.find_first_not_of('\'');
  return first != std::string_view::npos &&
         std::string_view("=+-@").find(cell[first]) != std::string_view::npos;
}

bool is_number(std::string_view cell) {
  if (!cell.empty() && cell.front() == '+') cell.remove_prefix(1);
  double value            = 0.0;
  const auto [end, error] = read_number(cell.data(), cell.data() + cell.size(), value);
  return error == std::errc{} && end == cell.data() + cell.size();
}

/// A cell without the apostrophe that csv_row puts before a formula.
CsvCell plain_cell(std::string text, int column) {
  if (text.empty() || text.front() != '\'' || !is_formula(text)) return {std::move(text), column};
  return {text.substr(1), column + 1};
}

// a tab that separates cells is no blank around them
const char* blanks_beside(char separator) { return separator == '\t' ? " " : cell_blanks; }

CsvRow split(const std::string& file, std::string_view line, int number, char separator) {
  const char* blanks = blanks_beside(separator);
  CsvRow      row{{}, number, std::string(line)};
  std::size_t at      = 0;
  std::size_t counted = 0;  // bytes whose characters `column` counts
  int         column  = 1;
  while (true) {
    const std::size_t begin = std::min(line.find_first_not_of(blanks, at), line.size());
    column += characters(line.substr(counted, begin - counted));
    counted = begin;
    if (begin < line.size() && line[begin] == '"') {
      std::string cell;
      std::size_t i      = begin + 1;
      bool        closed = false;
      for (; i < line.size(); ++i) {
        if (line[i] != '"') {
          cell += line[i];
        } else if (i + 1 < line.size() && line[i + 1] == '"') {
          cell += '"';
          ++i;
        } else {
          closed = true;
          ++i;
          break;
        }
      }
      const std::size_t next = std::min(line.find(separator, i), line.size());
      if (!closed || !trimmed(line.substr(i, next - i), blanks).empty()) {
        Diagnostic d{.code   = "unclosed-quote",
                     .what   = "a quoted cell does not end within its line",
                     .next   = "Close the quote, and write a quote inside a cell twice.",
                     .file   = file,
                     .line   = number,
                     .column = column};
        d.show_line(printable(line));
        throw Error(Exit::data, std::move(d));
      }
      row.cells.push_back(plain_cell(cell, column + 1));  // behind the quote
      at = next;
    } else {
      const std::size_t next = std::min(line.find(separator, at), line.size());
      row.cells.push_back(plain_cell(trimmed(line.substr(at, next - at), blanks), column));
      at = next;
    }
    if (at >= line.size()) return row;
    ++at;  // the separator; a line that ends with one has an empty last cell
    if (at == line.size()) {
      row.cells.push_back({"", characters(line) + 1});
      return row;
    }
  }
}

bool is_utf8(std::string_view text) {
  while (!text.empty()) {
    const std::size_t length = utf8_length(text);
    if (length == 0) return false;
    text.remove_prefix(length);
  }
  return true;
}

std::string_view without_mark(std::string_view text) {
  if (text.substr(0, 3) == "\xEF\xBB\xBF") text.remove_prefix(3);
  return text;
}

// the line that begins at `at`, which then is where the next one begins
std::string_view next_line(std::string_view text, std::size_t& at) {
  const std::size_t end  = std::min(text.find('\n', at), text.size());
  std::string_view  line = text.substr(at, end - at);
  at                     = end + 1;
  if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  return line;
}

bool is_passed_over(std::string_view line) {
  const std::string content = trimmed(line, cell_blanks);
  return content.empty() || content.front() == '#' || (content.size() == 5 && content.rfind("sep=", 0) == 0);
}

}  // namespace

CsvRow csv_header(std::string_view text, char separator) {
  text           = without_mark(text);
  std::size_t at = 0;
  for (int number = 1; at < text.size(); ++number) {
    const std::string_view line = next_line(text, at);
    if (is_passed_over(line)) continue;
    try {
      return split({}, line, number, separator);
    } catch (const Error&) {  // a quote that another separator closes
      break;
    }
  }
  return {};
}

CsvTable parse_csv(const std::string& file, std::string_view text, char separator) {
  text = without_mark(text);
  if (text.find('\0') != std::string_view::npos) {
    throw Error(Exit::data, {.code = "not-text",
                             .what = "this is not a text file",
                             .next = "Save it as CSV in UTF-8.",
                             .file = file});
  }
  CsvTable    table{{}, {}, {{file, {}, {}}}};
  bool        header = false;
  int         number = 0;
  std::size_t at     = 0;
  while (at < text.size()) {
    const std::string_view line = next_line(text, at);
    if (++number % 1000 == 0) stop_if_wished();
    if (!is_utf8(line)) {
      throw Error(
          Exit::data,
          {.code   = "not-text",
           .what   = "this line is not UTF-8 text",
           .cause  = "It was probably saved in an older encoding, in which accented letters are other bytes.",
           .next   = "Save it as CSV in UTF-8.",
           .file   = file,
           .line   = number,
           .column = 1});
    }
    if (is_passed_over(line)) continue;
    CsvRow row = split(file, line, number, separator);
    if (!header) {
      table.header = std::move(row);
      header       = true;
    } else {
      table.rows.push_back(std::move(row));
    }
  }
  if (!header)
    throw Error(Exit::data, {.code = "no-readings",
                             .what = "the file is empty",
                             .next = "Its first line names the columns.",
                             .file = file});
  return table;
}

std::string csv_row(const std::vector<std::string>& cells, char separator) {
  std::string out;
  for (std::size_t i = 0; i < cells.size(); ++i) {
    if (i > 0) out += separator;
    const std::string cell = is_formula(cells[i]) && !is_number(cells[i]) ? "'" + cells[i] : cells[i];
    if (cell.find_first_of("\"\r\n#") == std::string::npos && cell.find(separator) == std::string::npos &&
        trimmed(cell, cell_blanks) == cell) {
      out += cell;
      continue;
    }
    out += '"';
    for (const char c : cell)
      out += c == '"' ? std::string("\"\"") : std::string(1, c == '\n' || c == '\r' ? ' ' : c);
    out += '"';
  }
  return out + "\n";
}

}  // namespace arris
