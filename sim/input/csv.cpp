// SPDX-License-Identifier: MIT
#include "sim/input/csv.hpp"

#include <algorithm>

#include "sim/diagnostic.hpp"
#include "sim/input/document.hpp"
#include "sim/stop.hpp"

namespace arris {
namespace {

constexpr const char* cell_blanks = " \t";

CsvRow split(const std::string& file, std::string_view line, int number) {
  CsvRow      row{{}, number, std::string(line)};
  std::size_t at      = 0;
  std::size_t counted = 0;  // bytes whose characters `column` counts
  int         column  = 1;
  while (true) {
    const std::size_t begin = std::min(line.find_first_not_of(cell_blanks, at), line.size());
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
      const std::size_t next = std::min(line.find(',', i), line.size());
      if (!closed || !trimmed(line.substr(i, next - i), cell_blanks).empty()) {
        Diagnostic d{.code   = "unclosed-quote",
                     .what   = "a quoted cell does not end within its line",
                     .next   = "Close the quote, and write a quote inside a cell twice.",
                     .file   = file,
                     .line   = number,
                     .column = column};
        d.show_line(printable(line));
        throw Error(Exit::data, std::move(d));
      }
      row.cells.push_back({cell, column + 1});  // behind the quote
      at = next;
    } else {
      const std::size_t next = std::min(line.find(',', at), line.size());
      row.cells.push_back({trimmed(line.substr(at, next - at), cell_blanks), column});
      at = next;
    }
    if (at >= line.size()) return row;
    ++at;  // the comma; a line that ends with one has an empty last cell
    if (at == line.size()) {
      row.cells.push_back({"", characters(line) + 1});
      return row;
    }
  }
}

bool is_utf8(std::string_view text) {
  for (std::size_t i = 0; i < text.size();) {
    const auto byte = [&](std::size_t at) {
      return at < text.size() ? static_cast<unsigned char>(text[at]) : 0U;
    };
    const auto first  = byte(i);
    const int  more   = first < 0x80                    ? 0
                        : first >= 0xC2 && first < 0xE0 ? 1
                        : first >= 0xE0 && first < 0xF0 ? 2
                        : first >= 0xF0 && first < 0xF5 ? 3
                                                        : -1;
    const auto second = byte(i + 1);
    if (more < 0 || (first == 0xE0 && second < 0xA0) || (first == 0xED && second > 0x9F) ||
        (first == 0xF0 && second < 0x90) || (first == 0xF4 && second > 0x8F))
      return false;
    for (int k = 1; k <= more; ++k) {
      if ((byte(i + static_cast<std::size_t>(k)) & 0xC0U) != 0x80U) return false;
    }
    i += static_cast<std::size_t>(more) + 1;
  }
  return true;
}

}  // namespace

CsvTable parse_csv(const std::string& file, std::string_view text) {
  if (text.substr(0, 3) == "\xEF\xBB\xBF") text.remove_prefix(3);
  if (text.find('\0') != std::string_view::npos) {
    throw Error(Exit::data, {.code = "not-text",
                             .what = "this is not a text file",
                             .next = "Save it as CSV in UTF-8.",
                             .file = file});
  }
  CsvTable    table;
  bool        header = false;
  int         number = 0;
  std::size_t at     = 0;
  while (at < text.size()) {
    const std::size_t end  = std::min(text.find('\n', at), text.size());
    std::string_view  line = text.substr(at, end - at);
    at                     = end + 1;
    if (++number % 1000 == 0) stop_if_wished();
    if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
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
    const std::string content = trimmed(line, cell_blanks);
    if (content.empty() || content.front() == '#') continue;
    CsvRow row = split(file, line, number);
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

std::string csv_row(const std::vector<std::string>& cells) {
  std::string out;
  for (std::size_t i = 0; i < cells.size(); ++i) {
    if (i > 0) out += ',';
    const std::string& cell = cells[i];
    if (cell.find_first_of(",\"\r\n#") == std::string::npos && trimmed(cell, cell_blanks) == cell) {
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
