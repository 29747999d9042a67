// SPDX-License-Identifier: MIT
#include "sim/input/readings_import.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include <fmt/format.h>

#include "sim/input/document.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/input/readings_heads.hpp"
#include "sim/input/table_import.hpp"
#include "sim/input/workbook.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/read_number.hpp"
#include "sim/wording.hpp"

namespace arris {

const std::vector<std::string>& choices_of(std::string_view field) {
  static const std::map<std::string_view, std::vector<std::string>> all{
      {"separator", {"comma", "semicolon", "tab"}},
      {"decimal", {"point", "comma"}},
      {"unit", {"gf", "N"}},
      {"dates", {"day first", "month first", "days since 1900", "days since 1904"}},
      {"day", {"date", "month", "year"}}};
  static const std::vector<std::string> none;
  const auto                            found = all.find(field);
  return found == all.end() ? none : found->second;
}

namespace {

struct Separator {
  char        sign;
  const char* name;
  const char* several;
};

constexpr std::array<Separator, 3> separators = {
    {{',', "comma", "commas"}, {';', "semicolon", "semicolons"}, {'\t', "tab", "tabs"}}};

void check_choices(const ReadingsForm& form) {
  ReadingsForm::fields(
      [](const Field& field, const std::string& value) {
        const auto& known = choices_of(field.key);
        if (value.empty() || known.empty() || std::find(known.begin(), known.end(), value) != known.end())
          return;
        throw Error(Exit::usage, {.code    = "bad-form",
                                  .what    = fmt::format("{} = \"{}\" of readings is none that there is",
                                                         field.key, printable(value)),
                                  .allowed = or_list(known)});
      },
      form);
}

std::vector<std::string> texts_of(const CsvRow& row) {
  std::vector<std::string> texts;
  for (const CsvCell& cell : row.cells) texts.push_back(cell.text);
  return texts;
}

// how many heads are known, or stated
int known_heads(const std::vector<std::string>& heads, const ReadingsForm& form) {
  const auto is_stated = [&](const std::string& head) {
    const auto names = [&](const auto& pair) { return pair.first == head; };
    return std::any_of(form.columns.begin(), form.columns.end(), names) ||
           std::any_of(form.moments.begin(), form.moments.end(), names);
  };
  return static_cast<int>(std::count_if(heads.begin(), heads.end(), [&](const std::string& head) {
    return is_stated(head) || recognised({head}) == 1;
  }));
}

Error unclear_separator(const std::string& file, const CsvRow& line, const Separator& one,
                        const Separator& other, std::string_view text) {
  const auto cells = [&](const Separator& s) {
    std::string joined;
    for (const std::string& cell : texts_of(csv_header(text, s.sign)))
      joined += (joined.empty() ? "" : " | ") + printable(cell);
    return joined;
  };
  Diagnostic d{.code  = "ambiguous",
               .what  = fmt::format("columns may be separated by {} or by {}", one.several, other.several),
               .cause = fmt::format("By {} the first line reads: {}. By {}: {}.", one.several, cells(one),
                                    other.several, cells(other)),
               .next  = fmt::format(
                    "State separator = \"{0}\" or \"{1}\" under [readings] (arris import --separator {0}).",
                    one.name, other.name),
               .file   = file,
               .line   = line.line,
               .column = 1};
  d.show_line(printable(line.text));
  return {Exit::data, std::move(d)};
}

// by which the first line has most columns that are known; where none are, that which makes several columns of it
Separator separator_of(const std::string& file, std::string_view text, const ReadingsForm& form) {
  std::array<int, 3> known{}, cells{};
  for (std::size_t i = 0; i < separators.size(); ++i) {
    if (separators[i].name == form.separator) return separators[i];
    const auto heads = texts_of(csv_header(text, separators[i].sign));
    known[i]         = known_heads(heads, form);
    cells[i]         = static_cast<int>(heads.size());
  }
  const bool  by_names = *std::max_element(known.begin(), known.end()) > 0;
  const auto& score    = by_names ? known : cells;
  const auto  most     = std::max_element(score.begin(), score.end());
  if (by_names || *most > 1) {
    const auto again = std::find(std::next(most), score.end(), *most);
    const auto at    = [&](auto place) { return static_cast<std::size_t>(place - score.begin()); };
    // a line that is one column is no choice between separators
    if (again != score.end() && cells[at(most)] > 1 && cells[at(again)] > 1)
      throw unclear_separator(file, csv_header(text, ','), separators[at(most)], separators[at(again)], text);
    return separators[at(most)];
  }
  return separators.front();
}

/// A file of readings as a table, and how it came to be.
struct RawTable {
  CsvTable    table;
  char        separator = ',';  ///< 0: a workbook
  std::string where;            ///< stands before what is said of it
};

RawTable text_table(const ReadingsBytes& file, const ReadingsForm& form, std::vector<std::string>& said) {
  const Separator separator = separator_of(file.name, file.bytes, form);
  RawTable        raw{parse_csv(file.name, file.bytes, separator.sign), separator.sign, printable(file.name)};
  if (separator.sign != ',')
    said.push_back(fmt::format("{}: columns are separated by {}.", raw.where, separator.several));
  return raw;
}

// ---- workbooks ----

// the row that names the columns: the first with two known heads or more, or else the first
std::size_t head_row(const WorkbookSheet& sheet, const ReadingsForm& form) {
  constexpr std::size_t looked_at = 50;
  for (std::size_t i = 0; i < std::min(looked_at, sheet.rows.size()); ++i) {
    if (known_heads(texts_of(sheet.rows[i]), form) >= 2) return i;
  }
  return 0;
}

const WorkbookSheet& chosen_sheet(const std::string& file, const Workbook& book, const ReadingsForm& form) {
  std::vector<std::string>          names;
  std::vector<const WorkbookSheet*> fit, filled;
  for (const WorkbookSheet& sheet : book.sheets) {
    names.push_back(printable(sheet.name));
    if (!form.sheet.empty() && sheet.name == form.sheet) {
      if (!sheet.rows.empty()) return sheet;
      throw Error(Exit::data, {.code = "no-readings",
                               .what = fmt::format("the sheet \"{}\" is empty", printable(form.sheet)),
                               .file = file});
    }
    if (sheet.rows.empty() || sheet.is_hidden) continue;
    filled.push_back(&sheet);
    if (known_heads(texts_of(sheet.rows[head_row(sheet, form)]), form) >= 2) fit.push_back(&sheet);
  }
  if (!form.sheet.empty())
    throw Error(Exit::data, {.code    = "no-sheet",
                             .what    = fmt::format("there is no sheet \"{}\"", printable(form.sheet)),
                             .allowed = or_list(names),
                             .next    = did_you_mean(form.sheet, names),
                             .file    = file});
  if (fit.size() == 1) return *fit.front();
  if (fit.empty() && filled.size() == 1) return *filled.front();
  if (filled.empty()) {
    const bool has_hidden = std::any_of(book.sheets.begin(), book.sheets.end(),
                                        [](const WorkbookSheet& s) { return !s.rows.empty(); });
    throw Error(
        Exit::data,
        {.code = "no-readings",
         .what = has_hidden ? "all sheets that have something in them are hidden"
                            : "no sheet of the workbook has anything in it",
         .next =
             has_hidden
                 ? fmt::format(
                       "Name one that is to be read all the same: sheet = \"…\" under [readings] (arris import --sheet), of {}.",
                       or_list(names, 6))
                 : "",
         .file = file});
  }
  std::string              cause;
  std::vector<std::string> may_be;
  for (const WorkbookSheet* sheet : fit.empty() ? filled : fit) {
    may_be.push_back(fmt::format("\"{}\"", printable(sheet->name)));
    std::vector<std::string> heads;
    for (const std::string& head : texts_of(sheet->rows[head_row(*sheet, form)]))
      heads.push_back(printable(head));
    if (cause.size() < 1000)
      cause += fmt::format("\"{}\" begins: {}. ", printable(sheet->name), or_list(heads, 6));
  }
  throw Error(Exit::data, {.code  = "ambiguous",
                           .what  = fmt::format("the readings may be on the sheet {}", or_list(may_be)),
                           .cause = cause,
                           .next  = fmt::format("State sheet = {} under [readings] (arris import --sheet).",
                                                may_be.front()),
                           .file  = file});
}

// each row with a cell for each column from the first head on, so that cells stand below their heads
void put_below_heads(CsvTable& table, CsvRow head, const WorkbookSheet& sheet, std::size_t first_row) {
  int last = 0;
  for (std::size_t i = first_row; i < sheet.rows.size(); ++i)
    last = std::max(last, sheet.rows[i].cells.back().sheet_column);
  const int  first = head.cells.front().sheet_column;
  const auto dense = [&](const CsvRow& row) {
    CsvRow out{{}, row.line, {}, 0};
    out.cells.resize(static_cast<std::size_t>(last - first) + 1, {"", 1});
    for (int c = first; c <= last; ++c) out.cells[static_cast<std::size_t>(c - first)].sheet_column = c;
    for (const CsvCell& cell : row.cells) {
      if (cell.sheet_column >= first) out.cells[static_cast<std::size_t>(cell.sheet_column - first)] = cell;
    }
    return out;
  };
  // a stray cell far to the right of a long sheet would make it thousands of times as large
  if (static_cast<long long>(last - first + 1) * static_cast<long long>(sheet.rows.size() - first_row) >
      workbook_limits::cells * 2)
    throw Error(Exit::data,
                {.code = "too-large",
                 .what = fmt::format("the sheet \"{}\" has a cell in column {}, and {} rows",
                                     printable(sheet.name), sheet_column_name(last), sheet.rows.size()),
                 .next = "Delete what stands to the right of the readings.",
                 .file = table.sources.front().file});
  table.header = dense(head);
  for (std::size_t i = first_row + 1; i < sheet.rows.size(); ++i) {
    const CsvRow& row = sheet.rows[i];
    if (!row.cells.front().text.empty() && row.cells.front().text.front() == '#') continue;
    table.rows.push_back(dense(row));
  }
}

void check_formulas(const std::string& file, const WorkbookSheet& sheet, const CsvTable& table,
                    const std::string& where, std::vector<std::string>& said) {
  int                      count = 0;
  std::vector<std::string> columns;
  for (const CsvCell& head : table.header.cells) {
    const auto found = sheet.formulas.find(head.sheet_column);
    if (found == sheet.formulas.end()) continue;
    count += found->second;
    columns.push_back(head.text.empty() ? sheet_column_name(head.sheet_column) : printable(head.text));
  }
  for (const auto& [row, column] : sheet.unworked) {
    if (row <= table.header.line) continue;
    throw Error(
        Exit::data,
        {.code = "formula-without-value",
         .what = fmt::format("cell {}{} of sheet \"{}\" has a formula and no value",
                             sheet_column_name(column), row, printable(sheet.name)),
         .cause =
             "Formulas are not worked out here; a spreadsheet stores the value beside them when it saves.",
         .next = "Open it in the spreadsheet and save it, or put the number in place of the formula.",
         .file = file});
  }
  if (count > 0)
    said.push_back(fmt::format("{}: of {} in {}, the values that were stored with them are taken.", where,
                               counted(count, "formula"), and_list(columns)));
}

// "C2:C4"
std::string range_name(const MergedCells& cells) {
  return fmt::format("{}{}:{}{}", sheet_column_name(cells.first_column), cells.first_row,
                     sheet_column_name(cells.last_column), cells.last_row);
}

// whether a column has what was read, of which one value in several rows may be one or many
bool is_measured(const std::string& head, const ReadingsForm& form) {
  const auto has = [&](const auto& pairs) {
    return std::find_if(pairs.begin(), pairs.end(), [&](const auto& p) { return p.first == head; });
  };
  if (has(form.moments) != form.moments.end()) return true;
  const auto        stated = has(form.columns);
  const std::string column = stated != form.columns.end() ? stated->second : head_of(head).column;
  return column.rfind("reading", 0) == 0 || column == "apex_radius_um";
}

// what stands in a cell that goes over several rows counts for each of them
void fill_merged(CsvTable& table, const WorkbookSheet& sheet, const ReadingsForm& form,
                 const std::string& where, std::vector<std::string>& said) {
  std::vector<std::string> columns;
  for (const MergedCells& cells : sheet.merged) {
    const int  index = cells.first_column - table.header.cells.front().sheet_column;
    const auto from  = [](const CsvRow& row, int line) { return row.line < line; };
    auto       first = std::lower_bound(table.rows.begin(), table.rows.end(), cells.first_row, from);
    if (cells.first_row <= table.header.line || index < 0 || first == table.rows.end() ||
        first->line != cells.first_row || static_cast<std::size_t>(index) >= table.header.cells.size())
      continue;
    const auto        column = static_cast<std::size_t>(index);
    const std::string value = first->cells[column].text, head = table.header.cells[column].text;
    auto              row = std::next(first);
    if (value.empty() || row == table.rows.end() || row->line > cells.last_row) continue;
    if (is_measured(head, form)) {
      throw Error(
          Exit::data,
          {.code = "ambiguous",
           .what = fmt::format("{} of sheet \"{}\" are one cell: {} may be one reading, or one in each row",
                               range_name(cells), printable(sheet.name), printable(value)),
           .next = "Take the cells apart in the spreadsheet, and write each reading into its row.",
           .file = table.sources.front().file});
    }
    for (; row != table.rows.end() && row->line <= cells.last_row; ++row) row->cells[column].text = value;
    const std::string name = head.empty() ? sheet_column_name(cells.first_column) : printable(head);
    if (std::find(columns.begin(), columns.end(), name) == columns.end()) columns.push_back(name);
  }
  if (!columns.empty())
    said.push_back(fmt::format("{}: cells of {} that go over several rows count for each of these rows.",
                               where, and_list(columns)));
}

// hidden sheets with columns of readings, which somebody may miss
void say_hidden(const Workbook& book, const ReadingsForm& form, const std::string& where,
                std::vector<std::string>& said) {
  std::vector<std::string> names;
  for (const WorkbookSheet& sheet : book.sheets) {
    if (!sheet.is_hidden || sheet.rows.empty()) continue;
    if (known_heads(texts_of(sheet.rows[head_row(sheet, form)]), form) >= 2)
      names.push_back(fmt::format("\"{}\"", printable(sheet.name)));
  }
  if (!names.empty())
    said.push_back(
        fmt::format("{}: hidden sheets have columns of readings too; --sheet {} would be read instead.",
                    where, or_list(names, 6)));
}

RawTable workbook_table(const ReadingsBytes& file, const ReadingsForm& form, std::vector<std::string>& said) {
  const Workbook       book  = read_workbook(file.name, file.bytes);
  const WorkbookSheet& sheet = chosen_sheet(file.name, book, form);
  RawTable raw{{}, 0, fmt::format("{}, sheet \"{}\"", printable(file.name), printable(sheet.name))};
  raw.table.sources      = {{file.name, sheet.name, book.zero_day}};
  const std::size_t head = head_row(sheet, form);
  put_below_heads(raw.table, sheet.rows[head], sheet, head);
  if (book.sheets.size() > 1 && form.sheet.empty())
    said.push_back(
        fmt::format("{}: of {} sheets this one has columns of readings.", raw.where, book.sheets.size()));
  if (head > 0)
    said.push_back(fmt::format("{}: what stands above row {}, which names the columns, is passed over.",
                               raw.where, raw.table.header.line));
  if (form.sheet.empty()) say_hidden(book, form, raw.where, said);
  fill_merged(raw.table, sheet, form, raw.where, said);
  check_formulas(file.name, sheet, raw.table, raw.where, said);
  return raw;
}

// ---- several tables as one ----

// newtons as gram-force, where others are in that
void convert_to_gram_force(CsvTable& table, std::size_t column) {
  table.header.cells[column].text = "reading_gf";
  for (CsvRow& row : table.rows) {
    std::string& text       = row.cells[column].text;
    double       value      = 0.0;
    const auto [end, error] = read_number(text.data(), text.data() + text.size(), value);
    if (!text.empty() && error == std::errc{} && end == text.data() + text.size() && std::isfinite(value))
      text = fmt::format("{:.6g}", laws::in_gram_force(value));
  }
}

std::optional<std::size_t> column_at(const CsvTable& table, const std::string& name) {
  for (std::size_t i = 0; i < table.header.cells.size(); ++i) {
    if (table.header.cells[i].text == name) return i;
  }
  return std::nullopt;
}

// the columns of all, in the order in which a readings file has them
std::vector<std::string> columns_of_all(const std::vector<CsvTable>& tables) {
  std::vector<std::string> order{"part"}, columns;
  order.insert(order.end(), readings_columns().begin(), readings_columns().end());
  for (const std::string& name : order) {
    if (std::any_of(tables.begin(), tables.end(),
                    [&](const CsvTable& t) { return column_at(t, name).has_value(); }))
      columns.push_back(name);
  }
  return columns;
}

CsvTable joined(std::vector<CsvTable> tables, std::vector<std::string>& said) {
  const auto has = [&](const char* name) {
    return std::any_of(tables.begin(), tables.end(),
                       [&](const CsvTable& t) { return column_at(t, name).has_value(); });
  };
  if (has("reading_gf") && has("reading_N")) {
    for (CsvTable& table : tables) {
      const auto column = column_at(table, "reading_N");
      if (!column) continue;
      convert_to_gram_force(table, *column);
      said.push_back(fmt::format("{}: newtons are turned into gram-force, as other files have it.",
                                 printable(table.sources.front().file)));
    }
  }
  const std::vector<std::string> columns = columns_of_all(tables);
  CsvTable                       out;
  for (CsvTable& table : tables) {
    std::vector<std::optional<std::size_t>> from;
    for (const std::string& name : columns) from.push_back(column_at(table, name));
    const auto source   = static_cast<int>(out.sources.size());
    const auto in_order = [&](CsvRow& row) {
      CsvRow one{{}, row.line, std::move(row.text), source};
      for (const auto& column : from) {
        if (column)
          one.cells.push_back(std::move(row.cells[*column]));
        else
          one.cells.push_back({"", 1});
      }
      return one;
    };
    out.sources.push_back(table.sources.front());
    if (source == 0) {
      out.header = in_order(table.header);
      for (std::size_t i = 0; i < columns.size(); ++i) out.header.cells[i].text = columns[i];
    }
    for (CsvRow& row : table.rows) out.rows.push_back(in_order(row));
  }
  return out;
}

void check_stated_names(const ReadingsForm& form, const std::vector<std::vector<std::string>>& heads,
                        std::vector<std::string>& said) {
  const auto check = [&](const auto& pairs) {
    for (const auto& pair : pairs) {
      const bool there = std::any_of(heads.begin(), heads.end(), [&](const auto& names) {
        return std::find(names.begin(), names.end(), pair.first) != names.end();
      });
      if (!there)
        said.push_back(
            fmt::format("no file has a column \"{}\", of which something is stated.", printable(pair.first)));
    }
  };
  check(form.columns);
  check(form.moments);
}

}  // namespace

ImportedReadings import_readings(const std::vector<ReadingsBytes>& files, const ReadingsForm& form) {
  check_choices(form);
  ImportedReadings                      out{{}, {}, files.size() == 1};
  std::vector<CsvTable>                 tables;
  std::vector<std::vector<std::string>> heads;
  for (const ReadingsBytes& file : files) {
    RawTable raw =
        is_workbook(file.bytes) ? workbook_table(file, form, out.said) : text_table(file, form, out.said);
    heads.push_back(texts_of(raw.table.header));
    out.is_plain = out.is_plain && raw.separator == ',';
    TableImport table(file.name, std::move(raw.table), form, raw.separator, raw.where);
    tables.push_back(table.import(out.said));
    out.is_plain = out.is_plain && table.is_unchanged();
  }
  check_stated_names(form, heads, out.said);
  if (out.is_plain) out.said.clear();
  out.table = tables.size() == 1 ? std::move(tables.front()) : joined(std::move(tables), out.said);
  return out;
}

std::vector<std::string> heads_of(const std::vector<ReadingsBytes>& files, const ReadingsForm& form) {
  check_choices(form);
  std::vector<std::string> heads, unused;
  for (const ReadingsBytes& file : files) {
    const RawTable raw =
        is_workbook(file.bytes) ? workbook_table(file, form, unused) : text_table(file, form, unused);
    for (const std::string& head : texts_of(raw.table.header)) {
      if (!head.empty() && std::find(heads.begin(), heads.end(), head) == heads.end()) heads.push_back(head);
    }
  }
  return heads;
}

CsvTable without_check_edge(CsvTable table, const ReadingsForm& form, std::vector<std::string>* said) {
  const auto edge = column_at(table, "edge");
  if (form.check_edge.empty() || !edge) return table;
  const auto is_check = [&](const CsvRow& row) {
    return *edge < row.cells.size() && row.cells[*edge].text == form.check_edge;
  };
  const auto kept = std::remove_if(table.rows.begin(), table.rows.end(), is_check);
  if (said != nullptr && kept != table.rows.end())
    said->push_back(fmt::format("{} of the check edge \"{}\" {} left to arris log check.",
                                counted(std::distance(kept, table.rows.end()), "row"),
                                printable(form.check_edge), table.rows.end() - kept == 1 ? "is" : "are"));
  table.rows.erase(kept, table.rows.end());
  return table;
}

char separator_in(const std::string& file, std::string_view text, const ReadingsForm& form) {
  return separator_of(file, text, form).sign;
}

std::string csv_text(const CsvTable& table) {
  std::string out = csv_row(texts_of(table.header));
  for (const CsvRow& row : table.rows) out += csv_row(texts_of(row));
  return out;
}

}  // namespace arris
