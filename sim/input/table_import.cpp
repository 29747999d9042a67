// SPDX-License-Identifier: MIT
#include "sim/input/table_import.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <fmt/format.h>

#include "sim/input/column_numbers.hpp"
#include "sim/input/document.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/input/readings_heads.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/read_number.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

bool is_number_column(const std::string& column) {
  static const std::set<std::string> known{"reading",      "reading_gf",        "reading_N",
                                           "passes",       "replicate",         "reading_cv",
                                           "recession_um", "apex_radius_sd_um", "apex_radius_um",
                                           "mass_loss_mg", "recession_sd_um",   "mass_loss_sd_mg",
                                           "metres",       "minutes",           "wear_um",
                                           "wear_mm",      "wear_sd_um",        "wear_sd_mm"};
  return known.count(column) > 0;
}

bool is_reading_column(const std::string& column) {
  return column == "reading" || column == "reading_gf" || column == "reading_N";
}

// whether a column holds what was read, by a tester, a microscope or a balance
bool is_measured_column(const std::string& column) {
  static const std::set<std::string> known{"apex_radius_um", "recession_um", "mass_loss_mg", "wear_um",
                                           "wear_mm"};
  return is_reading_column(column) || known.count(column) > 0;
}

bool is_known_column(const std::string& column) {
  const auto& known = readings_columns();
  return column == "part" || std::find(known.begin(), known.end(), column) != known.end();
}

// what is stated of a column of this name; nullptr where nothing is
const std::string* stated(const std::vector<std::pair<std::string, std::string>>& pairs,
                          const std::string&                                      name) {
  const auto found =
      std::find_if(pairs.begin(), pairs.end(), [&](const auto& pair) { return pair.first == name; });
  return found == pairs.end() ? nullptr : &found->second;
}

// the passes of a moment "60 passes"; empty where it is the name of a step
std::string passes_of(const std::string& moment) {
  constexpr std::string_view ending = " passes";
  if (moment.size() <= ending.size() || moment.substr(moment.size() - ending.size()) != ending) return {};
  const std::string number   = moment.substr(0, moment.size() - ending.size());
  double            value    = 0.0;
  const auto [end, error]    = read_number(number.data(), number.data() + number.size(), value);
  const bool is_whole_number = error == std::errc{} && end == number.data() + number.size();
  return is_whole_number ? number : std::string{};
}

// a reading in both units, for the message that asks which it is
std::string both_units(const std::string& text) {
  const std::string number = with_point(text);
  double            value  = 0.0;
  const auto [end, error]  = read_number(number.data(), number.data() + number.size(), value);
  if (error != std::errc{} || end != number.data() + number.size() || !std::isfinite(value)) return {};
  return fmt::format("As gram-force, {} would be {} N; as newtons, {} gf.", printable(text),
                     plain(laws::in_newton(value)), plain(laws::in_gram_force(value)));
}

// of a column, the first text that is a number
std::string first_number(const CsvTable& table, std::size_t column) {
  for (const CsvRow& row : table.rows) {
    if (column < row.cells.size() && written_number(row.cells[column].text).mark != NumberMark::none)
      return row.cells[column].text;
  }
  return {};
}

DateOrder stated_order(const std::string& dates) {
  if (dates == "day first") return DateOrder::day_first;
  if (dates == "month first") return DateOrder::month_first;
  if (dates == "days since 1900") return DateOrder::days_since_1900;
  if (dates == "days since 1904") return DateOrder::days_since_1904;
  return DateOrder::unstated;
}

}  // namespace

CsvTable TableImport::import(std::vector<std::string>& said) {
  said_ = &said;
  // a readings file is read as one, with the faults of one
  const bool all_whole = std::all_of(table().rows.begin(), table().rows.end(), [&](const CsvRow& row) {
    return row.cells.size() == table().header.cells.size();
  });
  if (is_exact() && !all_whole) return std::move(table());
  for (const CsvRow& row : table().rows) (void)is_whole(row);
  throw_if_any();
  std::vector<Column> columns = meanings();
  find_days(columns);
  guess_date(columns);
  guess_reading(columns);
  find_units(columns);
  throw_if_any();
  check_wide(columns);
  throw_if_any();
  check_needed(columns);
  check_twice(columns);
  throw_if_any();
  read_decimals(columns);
  read_dates(columns);
  throw_if_any();
  keep_free_columns(columns);
  turn_long(columns);
  add_test_days();
  return std::move(table());
}

// whether every head is a column of a readings file as it stands
bool TableImport::is_exact() const {
  return separator_ == ',' && std::all_of(table().header.cells.begin(), table().header.cells.end(),
                                          [](const CsvCell& head) { return is_known_column(head.text); });
}

// ---- what the columns are ----

std::vector<TableImport::Column> TableImport::meanings() {
  std::vector<Column> columns;
  for (const CsvCell& head : table().header.cells) columns.push_back(meaning_of(head));
  return columns;
}

TableImport::Column TableImport::meaning_of(const CsvCell& cell) {
  const std::string& text = cell.text;
  if (const std::string* target = stated(form_.columns, text)) return stated_column(cell, *target);
  const Head head = head_of(text);
  if (const std::string* moment = stated(form_.moments, text)) {
    say(fmt::format("the column \"{}\" holds readings at \"{}\", as stated.", printable(text),
                    printable(*moment)));
    return {"", *moment, head.unit, ""};
  }
  if (is_known_column(text)) return {text, "", "", ""};
  if (!head.column.empty()) {
    if (head.column != "reading")
      say(fmt::format("the column \"{}\" is taken for {}{}.", printable(text), head.column,
                      head.unit == "g" ? ", gram-force" : ""));
    return {head.column, "", "", ""};
  }
  if (!head.near.empty()) {
    add(table().header, &cell,
        {.code = "ambiguous",
         .what = fmt::format("the column \"{0}\" may be {1} misspelt, or a column of its own, kept as a note",
                             printable(text), head.near),
         .allowed = or_list(readings_columns(), 40),
         .next =
             fmt::format("Write {1}, or state which under [readings]: columns = {{ \"{0}\" = \"{1}\" }}, or "
                         "\"note\" (arris import --column \"{0}={1}\").",
                         printable(text), head.near)});
    return {};
  }
  // what has no head and holds nothing is no column
  const auto at    = static_cast<std::size_t>(&cell - table().header.cells.data());
  const bool empty = std::all_of(table().rows.begin(), table().rows.end(),
                                 [at](const CsvRow& row) { return row.cells[at].text.empty(); });
  if (text.empty() && empty) return {};
  return {"", "", "", text.empty() ? fmt::format("column {}", at + 1) : text};
}

TableImport::Column TableImport::stated_column(const CsvCell& head, const std::string& target) {
  if (target == "leave out") {
    say(fmt::format("the column \"{}\" is left out, as stated.", printable(head.text)));
    return {};
  }
  if (target == "keep") return {"", "", "", head.text};
  if (is_known_column(target) || target == "reading") {
    if (target != head.text)
      say(fmt::format("the column \"{}\" is {}, as stated.", printable(head.text), target));
    const std::string unit = head_of(head.text).unit;
    if (target == "reading" && !unit.empty()) return {unit == "N" ? "reading_N" : "reading_gf", "", "", ""};
    return {target, "", "", ""};
  }
  add(table().header, &head,
      {.code    = "unknown-column",
       .what    = fmt::format("\"{}\" is stated to be \"{}\", which is no column of readings",
                              printable(head.text), printable(target)),
       .allowed = or_list(readings_columns(), 40) + ", keep or leave out",
       .next    = did_you_mean(target, readings_columns())});
  return {};
}

// two columns that come to the same
void TableImport::check_twice(const std::vector<Column>& columns) {
  std::map<std::string, std::size_t> first;
  for (std::size_t i = 0; i < columns.size(); ++i) {
    const Column&     column = columns[i];
    const std::string is     = is_reading_column(column.is) ? "reading" : column.is;
    if (is.empty() || is == "note") continue;
    const auto [at, is_new] = first.emplace(is, i);
    if (is_new) continue;
    const CsvCell &one = table().header.cells[at->second], &other = table().header.cells[i];
    add(table().header, &other,
        {.code = one.text == other.text ? "given-twice" : "ambiguous",
         .what = one.text == other.text
                     ? fmt::format("the column \"{}\" appears twice", printable(one.text))
                     : fmt::format("both \"{}\" and \"{}\" may be {}", printable(one.text),
                                   printable(other.text), is == "reading" ? "the reading" : is),
         .next = fmt::format(
             "Keep one of them, or state which under [readings]: columns = {{ \"{}\" = \"keep\" }} "
             "keeps it in the note.",
             printable(other.text))});
  }
}

// "day" is a date where all its cells are, and else the name of a test day
void TableImport::find_days(std::vector<Column>& columns) {
  for (std::size_t i = 0; i < columns.size(); ++i) {
    if (columns[i].kept.empty() || head_of(columns[i].kept).name != "day") continue;
    const bool is_date = is_all_dates(i);
    columns[i]         = {is_date ? "date" : "test_day", "", "", ""};
    say(fmt::format("the column \"{}\" is taken for {}.", printable(table().header.cells[i].text),
                    is_date ? "date, as all its cells are dates" : "test_day"));
  }
}

// whether something stands in a column, and nothing but dates
bool TableImport::is_all_dates(std::size_t column) const {
  bool any = false;
  for (const CsvRow& row : table().rows) {
    if (row.cells[column].text.empty()) continue;
    const auto date = written_date(row.cells[column].text);
    if (!date || date->is_days) return false;
    any = true;
  }
  return any;
}

// heads in another language: where no head is known to be the date, the one column that holds nothing but dates is
void TableImport::guess_date(std::vector<Column>& columns) {
  std::vector<std::size_t> found;
  for (std::size_t i = 0; i < columns.size(); ++i) {
    if (columns[i].is == "date") return;
    if (!columns[i].kept.empty() && !is_kept_as_stated(i) && is_all_dates(i)) found.push_back(i);
  }
  if (found.size() != 1) return;
  columns[found.front()] = {"date", "", "", ""};
  say(fmt::format("the column \"{}\" is taken for date, as all its cells are dates.",
                  printable(table().header.cells[found.front()].text)));
}

// the same of readings: the one column of numbers whose head ends with a unit of force in brackets, "Kraft (N)"
void TableImport::guess_reading(std::vector<Column>& columns) {
  std::vector<std::size_t> found;
  for (std::size_t i = 0; i < columns.size(); ++i) {
    const Column& column = columns[i];
    if (is_measured_column(column.is) || !column.moment.empty()) return;
    if (column.kept.empty() || is_kept_as_stated(i) || first_number(table(), i).empty()) continue;
    const char last = column.kept.back();
    if ((last == ')' || last == ']') && !head_of(column.kept).unit.empty()) found.push_back(i);
  }
  if (found.size() != 1) return;
  const std::string unit = head_of(columns[found.front()].kept).unit;
  columns[found.front()] = {unit == "N" ? "reading_N" : "reading_gf", "", "", ""};
  say(fmt::format("the column \"{}\" is taken for {}, as no other head has a unit of force.",
                  printable(table().header.cells[found.front()].text), columns[found.front()].is));
}

bool TableImport::is_kept_as_stated(std::size_t column) const {
  const std::string* target = stated(form_.columns, table().header.cells[column].text);
  return target != nullptr && *target == "keep";
}

// without a column that names the edge, or one of what was read, there are no readings
void TableImport::check_needed(const std::vector<Column>& columns) {
  const auto               has = [&](auto&& is) { return std::any_of(columns.begin(), columns.end(), is); };
  std::vector<std::string> unknown;
  for (const Column& column : columns) {
    if (!column.kept.empty()) unknown.push_back("\"" + printable(column.kept) + "\"");
  }
  const auto need = [&](bool there, const char* what, const char* example) {
    if (there) return;
    add(table().header, nullptr,
        {.code  = "missing-column",
         .what  = what,
         .cause = unknown.empty() ? "" : fmt::format("Nothing is known of {}.", and_list(unknown)),
         .next  = unknown.empty() ? ""
                                  : fmt::format("State which it is under [readings]: columns = {{ \"…\" = "
                                                 "\"{0}\" }} (arris import --column \"…={0}\").",
                                                example)});
  };
  need(has([](const Column& c) {
         return c.is == "part" || c.is == "edge" || c.is == "code" || c.is == "specimen";
       }),
       "there is no column that names the edge", "edge");
  need(has([](const Column& c) { return is_measured_column(c.is) || !c.moment.empty(); }),
       "there is no column of readings", "reading_gf");
}

void TableImport::find_units(std::vector<Column>& columns) {
  for (std::size_t i = 0; i < columns.size(); ++i) {
    Column& column = columns[i];
    if (column.is != "reading" && column.moment.empty()) continue;
    std::string unit = column.unit.empty() ? form_.unit : column.unit;
    if (unit == "g") {
      unit = "gf";
      say(fmt::format("\"{}\": g is taken for gram-force.", printable(table().header.cells[i].text)));
    }
    if (unit.empty()) {
      add(table().header, &table().header.cells[i],
          {.code    = "missing-unit",
           .what    = "the readings have no unit",
           .allowed = "gf or N",
           .cause   = both_units(first_number(table(), i)),
           .next =
               "Write it into the head, \"reading (gf)\", or state unit = \"gf\" under [readings] (arris import --unit gf)."});
      return;
    }
    if (column.is == "reading") {
      column.is = unit == "N" ? "reading_N" : "reading_gf";
      say(fmt::format("the column \"{}\" is taken for {}{}.", printable(table().header.cells[i].text),
                      column.is, column.unit.empty() && !form_.unit.empty() ? ", as unit says" : ""));
    }
    column.unit = unit;
  }
}

// ---- wide tables ----

void TableImport::check_wide(const std::vector<Column>& columns) {
  const auto has      = [&](auto&& is) { return std::any_of(columns.begin(), columns.end(), is); };
  const bool wide     = has([](const Column& c) { return !c.moment.empty(); });
  const bool reading  = has([](const Column& c) { return is_reading_column(c.is); });
  const auto measure  = std::find_if(columns.begin(), columns.end(), [](const Column& c) {
    return is_number_column(c.is) && c.is != "replicate" && c.is != "reading_cv" && !is_reading_column(c.is);
  });
  const bool measured = measure != columns.end() && measure->is != "passes";
  if (wide && (reading || measure != columns.end() || has([](const Column& c) { return c.is == "step"; }))) {
    add(table().header, nullptr,
        {.code  = "ambiguous",
         .what  = "a table with a column for each moment has another column that says when, or what was read",
         .cause = measured ? fmt::format("Of which moment is {}?", measure->is)
                           : "A row is one reading, or one edge with all its moments; not both.",
         .next  = "Take it out, or give it a table of its own."});
  }
  const auto units = [&](const char* unit) {
    return has([&](const Column& c) { return !c.moment.empty() && c.unit == unit; });
  };
  if (units("gf") && units("N"))
    add(table().header, nullptr,
        {.code = "given-twice", .what = "the columns of moments are in two units", .next = "Keep gf or N."});
  if (wide || reading || measured) return;
  // columns of numbers under heads that nobody knows: a moment each, or something else
  std::vector<std::string> heads;
  for (std::size_t i = 0; i < columns.size(); ++i) {
    if (!columns[i].kept.empty() && !first_number(table(), i).empty())
      heads.push_back(printable(columns[i].kept));
  }
  if (heads.size() < 2) return;
  std::string stating;
  for (const std::string& head : heads)
    stating += fmt::format("{}\"{}\" = \"…\"", stating.empty() ? "" : ", ", head);
  add(table().header, nullptr,
      {.code = "wide-table",
       .what =
           fmt::format("the columns {} hold numbers: readings at a moment each, or notes", and_list(heads)),
       .cause =
           "A table with a column for each moment is turned into one with a row for each reading where it is stated which moment each is.",
       .next = fmt::format(
           "State it under [readings]: moments = {{ {} }}, each the name of a read step or \"60 passes\" "
           "(arris import --moment \"{}=…\").",
           stating, heads.front())});
}

void TableImport::turn_long(const std::vector<Column>& columns) {
  std::vector<std::size_t> moments, kept;
  bool                     by_step = false, by_passes = false;
  std::string              unit;
  for (std::size_t i = 0; i < columns.size(); ++i) {
    if (columns[i].moment.empty()) {
      if (!columns[i].is.empty()) kept.push_back(i);
      continue;
    }
    moments.push_back(i);
    unit                                                         = columns[i].unit;
    (passes_of(columns[i].moment).empty() ? by_step : by_passes) = true;
  }
  const auto row_of = [&](const CsvRow& row) {
    CsvRow out{{}, row.line, row.text, row.source};
    for (const std::size_t i : kept) out.cells.push_back(row.cells[i]);
    return out;
  };
  if (kept.size() == columns.size()) return name_columns(columns);
  is_changed_ = true;
  CsvTable out{row_of(table().header), {}, table().sources};
  for (std::size_t i = 0; i < kept.size(); ++i) out.header.cells[i].text = columns[kept[i]].is;
  if (by_step) out.header.cells.push_back({"step", 1});
  if (by_passes) out.header.cells.push_back({"passes", 1});
  if (!moments.empty()) out.header.cells.push_back({"reading_" + unit, 1});
  for (const CsvRow& row : table().rows) {
    if (moments.empty()) out.rows.push_back(row_of(row));
    for (const std::size_t i : moments) {
      const CsvCell& reading = row.cells[i];
      if (reading.text.empty()) continue;
      CsvRow            one    = row_of(row);
      const std::string passes = passes_of(columns[i].moment);
      if (by_step)
        one.cells.push_back({passes.empty() ? columns[i].moment : "", reading.column, reading.sheet_column});
      if (by_passes) one.cells.push_back({passes, reading.column, reading.sheet_column});
      one.cells.push_back(reading);
      out.rows.push_back(std::move(one));
    }
  }
  if (!moments.empty())
    say(fmt::format("{} of {} with a column for each moment became {}.",
                    counted(static_cast<long long>(table().rows.size()), "row"),
                    counted(static_cast<long long>(moments.size()), "moment"),
                    counted(static_cast<long long>(out.rows.size()), "reading")));
  table() = std::move(out);
}

void TableImport::name_columns(const std::vector<Column>& columns) {
  for (std::size_t i = 0; i < columns.size(); ++i) {
    CsvCell& head = table().header.cells[i];
    is_changed_ |= head.text != columns[i].is;
    head.text = columns[i].is;
  }
}

// ---- numbers ----

void TableImport::add_mixed_marks(const ColumnMarks& marks) {
  add(*marks.comma_row, marks.comma,
      {.code  = "ambiguous",
       .what  = fmt::format("\"{}\" has a comma, and \"{}\" in line {} of the same column a point",
                            printable(marks.comma->text), printable(marks.point->text), marks.point_row->line),
       .cause = "Either may be the mark before the decimals.",
       .next  = "Write all numbers of the column in one way."});
}

void TableImport::add_unclear_mark(const CsvRow& row, const CsvCell& cell) {
  const WrittenNumber number  = written_number(cell.text);
  const bool          comma   = number.mark == NumberMark::comma;
  std::string         joined  = cell.text;
  const std::size_t   mark_at = joined.find_first_of(".,");
  std::string         decimal = joined;
  decimal[mark_at]            = '.';
  joined.erase(mark_at, 1);
  add(row, &cell,
      {.code  = "ambiguous",
       .what  = fmt::format("\"{}\" may be {} with a decimal {}, or {} with a mark between thousands",
                            printable(cell.text), decimal, comma ? "comma" : "point", joined),
       .cause = "No other number of the file settles it.",
       .next  = fmt::format(
            "State decimal = \"{}\" under [readings] (arris import --decimal {}), or take the marks between thousands away.",
           comma ? "comma" : "point", comma ? "comma" : "point")});
}

void TableImport::read_decimals(const std::vector<Column>& columns) {
  std::map<std::size_t, ColumnMarks> marks;
  bool                               sure_of_comma = form_.decimal == "comma";
  bool sure_of_point = form_.decimal == "point" || separator_ == ',' || separator_ == 0;
  for (std::size_t i = 0; i < columns.size(); ++i) {
    if (columns[i].moment.empty() && !is_number_column(columns[i].is)) continue;
    marks[i] = marks_of(table().rows, i);
    sure_of_comma |= marks[i].is_sure_of_comma;
    sure_of_point |= marks[i].is_sure_of_point;
  }
  std::vector<std::string> with_comma;
  for (auto& [i, m] : marks) {
    if (m.both != nullptr)
      add(*m.both_row, m.both,
          {.code = "not-a-number",
           .what = fmt::format("\"{}\" has marks between thousands", printable(m.both->text)),
           .next = "Write numbers without them."});
    if (m.comma != nullptr && m.point != nullptr) {
      add_mixed_marks(m);
    } else if (m.comma != nullptr && form_.decimal == "point") {
      add(*m.comma_row, m.comma,
          {.code = "decimal-comma",
           .what = fmt::format("\"{}\" has a comma, and numbers are stated to have a point",
                               printable(m.comma->text)),
           .next = "State decimal = \"comma\", or correct it."});
    } else if (m.comma != nullptr && !sure_of_comma) {
      add_unclear_mark(*m.comma_row, *m.comma);
    } else if (m.point != nullptr && !m.is_sure_of_point && (sure_of_comma || !sure_of_point)) {
      add_unclear_mark(*m.point_row, *m.point);
    } else if (m.comma != nullptr) {
      for (CsvRow& row : table().rows) row.cells[i].text = with_point(row.cells[i].text);
      with_comma.push_back(printable(table().header.cells[i].text));
    }
  }
  if (with_comma.empty()) return;
  is_changed_ = true;
  say(fmt::format("numbers have a decimal comma ({}).", and_list(with_comma)));
}

// ---- dates ----

void TableImport::read_dates(const std::vector<Column>& columns) {
  for (std::size_t i = 0; i < columns.size(); ++i) {
    if (columns[i].is != "date") continue;
    const auto before = faults();
    const auto order  = order_of_dates(i);
    if (faults() == before) write_dates(i, order);
  }
}

// that which the whole column settles, or the form states; a fault where neither does
DateOrder TableImport::order_of_dates(std::size_t column) {
  if (const DateOrder order = stated_order(form_.dates); order != DateOrder::unstated) return order;
  const CsvRow *first_big = nullptr, *second_big = nullptr, *unclear = nullptr, *days = nullptr;
  bool          points = false;
  for (const CsvRow& row : table().rows) {
    const auto date = written_date(row.cells[column].text);
    if (!date || date->year_first) continue;
    if (date->is_days) {
      days = days == nullptr ? &row : days;
    } else if (date->has_points) {
      points = true;
    } else {
      if (date->first > 12) first_big = &row;
      if (date->second > 12) second_big = &row;
      if (date->first <= 12 && date->second <= 12 && date->first != date->second && unclear == nullptr)
        unclear = &row;
    }
  }
  const auto fault = [&](const CsvRow& row, std::string what, std::string cause, const char* way) {
    add(row, &row.cells[column],
        {.code  = "ambiguous",
         .what  = std::move(what),
         .cause = std::move(cause),
         .next  = fmt::format(
              "Write dates as 2025-06-03, or state dates = \"{0}\" under [readings] (arris import --dates \"{0}\").",
              way)});
  };
  const auto iso = [&](const CsvRow& row, DateOrder order) {
    return date_text(*written_date(row.cells[column].text), order, zero_day(order));
  };
  if (days != nullptr && !zero_day(DateOrder::unstated)) {
    const std::string &text = days->cells[column].text, one = iso(*days, DateOrder::days_since_1900),
                      other = iso(*days, DateOrder::days_since_1904);
    fault(*days,
          fmt::format("\"{}\" may be {} counted from 1900, or {} counted from 1904", printable(text),
                      one.empty() ? "no day" : one, other.empty() ? "no day" : other),
          "Spreadsheets keep dates as numbers of days, and count from one of two days.", "days since 1900");
  }
  if (first_big != nullptr && second_big != nullptr) {
    fault(*second_big,
          fmt::format("\"{}\" has the month first, and \"{}\" in line {} the day",
                      printable(second_big->cells[column].text), printable(first_big->cells[column].text),
                      first_big->line),
          "Both cannot be in one column.", "day first");
  } else if (unclear != nullptr && first_big == nullptr && second_big == nullptr) {
    fault(*unclear,
          fmt::format("\"{}\" may be {} with the day first, or {} with the month first",
                      printable(unclear->cells[column].text), iso(*unclear, DateOrder::day_first),
                      iso(*unclear, DateOrder::month_first)),
          "No other date of the column settles it.", "day first");
  }
  if (second_big != nullptr) return DateOrder::month_first;
  if (points || first_big != nullptr || unclear != nullptr) return DateOrder::day_first;
  return DateOrder::unstated;
}

std::optional<int> TableImport::zero_day(DateOrder order) const {
  if (order == DateOrder::days_since_1900) return zero_day_1900;
  if (order == DateOrder::days_since_1904) return zero_day_1904;
  return table().sources.front().zero_day;
}

void TableImport::write_dates(std::size_t column, DateOrder order) {
  bool changed = false, counted_days = false;
  for (CsvRow& row : table().rows) {
    CsvCell& cell = row.cells[column];
    if (cell.text.empty() || is_iso_date(cell.text)) continue;
    const auto date = written_date(cell.text);
    // a date with points has the day first, whatever others have
    const DateOrder own =
        date && date->has_points && order != DateOrder::month_first ? DateOrder::day_first : order;
    const std::string text = date ? date_text(*date, own, zero_day(order)) : std::string{};
    if (text.empty()) {
      add_no_date(row, cell);
      continue;
    }
    counted_days |= date->is_days;
    changed   = true;
    cell.text = text;
  }
  is_changed_ |= changed;
  if (!changed) return;
  const bool written = order == DateOrder::day_first || order == DateOrder::month_first;
  if (written)
    say(fmt::format("dates are read with the {} first.", order == DateOrder::day_first ? "day" : "month"));
  if (counted_days)
    say(fmt::format("dates that are numbers are read as days since {}.",
                    zero_day(order) == zero_day_1904 ? "1904" : "1900"));
}

// ---- what is no column of readings ----

void TableImport::keep_free_columns(std::vector<Column>& columns) {
  std::vector<std::string> names;
  std::vector<std::size_t> notes;
  for (std::size_t i = 0; i < columns.size(); ++i) {
    if (!columns[i].kept.empty()) names.push_back("\"" + printable(columns[i].kept) + "\"");
    if (columns[i].is == "note") notes.push_back(i);
  }
  if (names.empty() && notes.size() < 2) return;
  const bool is_new = notes.empty();
  if (is_new) {
    table().header.cells.push_back({"note", 1});
    columns.push_back({"note", "", "", ""});
  }
  for (CsvRow& row : table().rows) {
    std::string note;
    const auto  join = [&](const std::string& text) {
      if (!text.empty()) note += (note.empty() ? "" : "; ") + text;
    };
    for (const std::size_t i : notes) join(row.cells[i].text);
    for (std::size_t i = 0; i < row.cells.size(); ++i) {
      if (!columns[i].kept.empty() && !row.cells[i].text.empty())
        join(columns[i].kept + ": " + row.cells[i].text);
    }
    if (is_new) {
      row.cells.push_back({note, 1});
    } else {
      row.cells[notes.front()].text = note;
    }
  }
  for (std::size_t n = 1; n < notes.size(); ++n) columns[notes[n]] = {};
  is_changed_ = true;
  if (!names.empty())
    say(fmt::format("{} {} kept in the note.", and_list(names), names.size() == 1 ? "is" : "are"));
}

// months and years of dates as test days
void TableImport::add_test_days() {
  if (form_.day.empty() || form_.day == "date") return;
  std::size_t date = table().header.cells.size(), day = date;
  for (std::size_t i = 0; i < table().header.cells.size(); ++i) {
    if (table().header.cells[i].text == "date") date = i;
    if (table().header.cells[i].text == "test_day") day = i;
  }
  if (date == table().header.cells.size()) return;
  const bool is_new = day == table().header.cells.size();
  if (is_new) table().header.cells.push_back({"test_day", 1});
  for (CsvRow& row : table().rows) {
    if (is_new) row.cells.push_back({"", row.cells[date].column});
    if (row.cells[day].text.empty())
      row.cells[day].text = row.cells[date].text.substr(0, form_.day == "year" ? 4 : 7);
  }
  is_changed_ = true;
  say(fmt::format("the {} of a date is the test day, as stated.", form_.day));
}

}  // namespace arris
