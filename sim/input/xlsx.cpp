// SPDX-License-Identifier: MIT
#ifdef ARRIS_WITH_WORKBOOKS

#include <charconv>
#include <filesystem>
#include <map>
#include <set>

#include <fmt/format.h>

#include "sim/input/dates.hpp"
#include "sim/input/workbook_parts.hpp"
#include "sim/read_number.hpp"

namespace arris {
namespace {

int whole_number(const char* text, int otherwise) {
  if (text == nullptr) return otherwise;
  const std::string_view all(text);
  int                    value = otherwise;
  const auto [end, error]      = std::from_chars(all.data(), all.data() + all.size(), value);
  return error == std::errc{} && end == all.data() + all.size() ? value : otherwise;
}

/// xl/workbook.xml: which sheets there are, and from which day dates are counted.
class XlsxContents : public XmlListener {
 public:
  struct Entry {
    std::string name, relation;
    bool        is_hidden = false;
  };
  std::vector<Entry> sheets;
  bool               from_1904 = false;

  void begin(std::string_view name, const char** attributes) override {
    if (name == "workbookPr") {
      const char* value = attribute(attributes, "date1904");
      from_1904 = value != nullptr && (std::string_view(value) == "1" || std::string_view(value) == "true");
    } else if (name == "sheet") {
      const char *title = attribute(attributes, "name"), *id = attribute(attributes, "id"),
                 *state = attribute(attributes, "state");
      if (title != nullptr && id != nullptr)
        sheets.push_back({title, id, state != nullptr && std::string_view(state) != "visible"});
    }
  }
  void end(std::string_view) override {}
  void text(std::string_view) override {}
};

/// xl/_rels/workbook.xml.rels: in which part of the archive each sheet stands.
class XlsxRelations : public XmlListener {
 public:
  std::map<std::string, std::string> targets;

  void begin(std::string_view name, const char** attributes) override {
    if (name != "Relationship") return;
    const char *id = attribute(attributes, "Id"), *target = attribute(attributes, "Target");
    if (id != nullptr && target != nullptr) targets[id] = target;
  }
  void end(std::string_view) override {}
  void text(std::string_view) override {}
};

/// xl/sharedStrings.xml: the texts that cells name by their number.
class XlsxStrings : public XmlListener {
 public:
  std::vector<std::string> strings;

  void begin(std::string_view name, const char**) override {
    if (name == "si") {
      if (static_cast<long long>(strings.size()) >= workbook_limits::cells)
        return stop(fmt::format("too large: there are more than {} texts", workbook_limits::cells));
      strings.emplace_back();
    }
    if (name == "rPh") in_phonetic_ = true;  // how it is spoken, which is no part of it
    if (name == "t") in_text_ = !in_phonetic_;
  }
  void end(std::string_view name) override {
    if (name == "rPh") in_phonetic_ = false;
    if (name == "t") in_text_ = false;
  }
  void text(std::string_view text) override {
    if (in_text_ && !strings.empty()) append_text(strings.back(), text, *this);
  }

 private:
  bool in_text_ = false, in_phonetic_ = false;
};

// whether a number format shows a day or a year
bool shows_date(std::string_view code) {
  bool quoted = false, bracketed = false;
  for (std::size_t i = 0; i < code.size(); ++i) {
    const char c = code[i];
    if (c == '"') quoted = !quoted;
    if (quoted) continue;
    if (c == '[') bracketed = true;
    if (c == ']') bracketed = false;
    if (c == '\\' || c == '_' || c == '*') {
      ++i;
      continue;
    }
    if (!bracketed && (c == 'y' || c == 'd' || c == 'Y' || c == 'D')) return true;
  }
  return false;
}

/// xl/styles.xml: which styles of cells show a number as a date.
class XlsxStyles : public XmlListener {
 public:
  std::vector<bool> is_date;  ///< by number of the style

  void begin(std::string_view name, const char** attributes) override {
    if (name == "numFmt") {
      const char* code = attribute(attributes, "formatCode");
      if (code != nullptr && shows_date(code))
        dates_.insert(whole_number(attribute(attributes, "numFmtId"), -1));
    }
    if (name == "cellXfs") in_cells_ = true;
    if (name == "xf" && in_cells_ && is_date.size() < 100'000)
      is_date.push_back(is_date_format(whole_number(attribute(attributes, "numFmtId"), 0)));
  }
  void end(std::string_view name) override {
    if (name == "cellXfs") in_cells_ = false;
  }
  void text(std::string_view) override {}

 private:
  // those that every spreadsheet knows by number; 18 to 21 and 45 to 47 are times of the day
  [[nodiscard]] bool is_date_format(int id) const {
    return (id >= 14 && id <= 17) || id == 22 || (id >= 27 && id <= 31) || id == 36 ||
           (id >= 50 && id <= 54) || id == 57 || id == 58 || dates_.count(id) > 0;
  }
  std::set<int> dates_;
  bool          in_cells_ = false;
};

/// What the cells of a sheet refer to.
struct XlsxShared {
  std::vector<std::string> strings;
  std::vector<bool>        is_date;
  int                      zero_day = zero_day_1900;
};

/// xl/worksheets/sheetN.xml
class XlsxSheet : public XmlListener {
 public:
  XlsxSheet(WorkbookSheet& sheet, WorkbookSize& size, const XlsxShared& shared)
      : builder_(sheet, size), shared_(shared) {}

  void begin(std::string_view name, const char** attributes) override {
    if (name == "row") {
      row_    = whole_number(attribute(attributes, "r"), row_ + 1);
      column_ = 0;
    } else if (name == "c") {
      begin_cell(attributes);
    } else if (name == "v" || name == "t") {
      in_value_ = in_cell_ && !in_phonetic_;
    } else if (name == "f") {
      has_formula_ = true;
    } else if (name == "rPh") {
      in_phonetic_ = true;
    } else if (name == "mergeCell") {
      if (const char* range = attribute(attributes, "ref")) note_merged(range);
    }
  }
  void end(std::string_view name) override {
    if (name == "c") end_cell();
    if (name == "v" || name == "t") in_value_ = false;
    if (name == "rPh") in_phonetic_ = false;
    if (name == "sheetData") builder_.finish();
  }
  void text(std::string_view text) override {
    if (in_value_) append_text(value_, text, *this);
  }

 private:
  void begin_cell(const char** attributes) {
    in_cell_     = true;
    has_formula_ = false;
    value_.clear();
    const char* type = attribute(attributes, "t");
    type_            = type == nullptr ? "n" : type;
    style_           = whole_number(attribute(attributes, "s"), 0);
    ++column_;
    if (const char* at = attribute(attributes, "r")) read_place(at);
  }

  struct Place {
    int row, column;  ///< column 0: none
  };
  // "AB12"
  static Place place_of(std::string_view at, int row) {
    long long column = 0;
    while (!at.empty() && at.front() >= 'A' && at.front() <= 'Z' && column <= workbook_limits::columns) {
      column = column * 26 + (at.front() - 'A' + 1);
      at.remove_prefix(1);
    }
    return {whole_number(std::string(at).c_str(), row), static_cast<int>(column)};
  }
  void read_place(std::string_view at) {
    const Place place = place_of(at, row_);
    if (place.column < 1) return stop(fmt::format("a cell of row {} has no place", row_));
    column_ = place.column;
    row_    = place.row;
  }
  // "A2:A5"
  void note_merged(std::string_view range) {
    const std::size_t colon = range.find(':');
    if (colon == std::string_view::npos) return;
    const Place first = place_of(range.substr(0, colon), 0), last = place_of(range.substr(colon + 1), 0);
    if (first.row >= 1 && first.column >= 1 && last.row >= first.row && last.column >= first.column)
      builder_.note_merged({first.row, last.row, first.column, last.column}, *this);
  }

  void end_cell() {
    in_cell_ = false;
    if (has_formula_) builder_.note_formula(row_, column_, !value_.empty());
    if (value_.empty()) return;
    builder_.put(row_, column_, shown(), *this);
  }

  std::string shown() {
    if (type_ == "s") {
      const int index = whole_number(value_.c_str(), -1);
      if (index >= 0 && static_cast<std::size_t>(index) < shared_.strings.size())
        return shared_.strings[static_cast<std::size_t>(index)];
      stop(fmt::format("row {} names a text that there is not", row_));
      return {};
    }
    if (type_ == "b") return value_ == "1" ? "true" : "false";
    if (type_ == "d") return date_or(value_);
    if (type_ != "n") return value_;
    const auto style = static_cast<std::size_t>(style_);
    if (style_ >= 0 && style < shared_.is_date.size() && shared_.is_date[style]) {
      double value            = 0.0;
      const auto [end, error] = read_number(value_.data(), value_.data() + value_.size(), value);
      std::string date        = error == std::errc{} && end == value_.data() + value_.size()
                                    ? date_of_days(value, shared_.zero_day)
                                    : "";
      if (!date.empty()) return date;
    }
    return shortest(value_);
  }

  static std::string date_or(const std::string& text) {
    const auto        date  = written_date(text);
    const std::string plain = date && date->year_first ? date_text(*date, DateOrder::unstated, {}) : "";
    return plain.empty() ? text : plain;
  }

  SheetBuilder      builder_;
  const XlsxShared& shared_;
  int               row_ = 0, column_ = 0, style_ = 0;
  std::string       type_, value_;
  bool              in_cell_ = false, in_value_ = false, in_phonetic_ = false, has_formula_ = false;
};

// "worksheets/sheet1.xml" beside xl/workbook.xml, or "/xl/worksheets/sheet1.xml"
std::string part_named(const std::string& target) {
  if (!target.empty() && target.front() == '/') return target.substr(1);
  return std::filesystem::path("xl/" + target).lexically_normal().generic_string();
}

}  // namespace

Workbook xlsx_workbook(ZipOfXml& zip) {
  XlsxContents contents;
  zip.read("xl/workbook.xml", contents);
  XlsxRelations relations;
  zip.read("xl/_rels/workbook.xml.rels", relations);
  XlsxShared shared;
  if (contents.from_1904) shared.zero_day = zero_day_1904;
  if (zip.has("xl/sharedStrings.xml")) {
    XlsxStrings strings;
    zip.read("xl/sharedStrings.xml", strings);
    shared.strings = std::move(strings.strings);
  }
  if (zip.has("xl/styles.xml")) {
    XlsxStyles styles;
    zip.read("xl/styles.xml", styles);
    shared.is_date = std::move(styles.is_date);
  }
  Workbook     book{{}, shared.zero_day};
  WorkbookSize size;
  for (const auto& [name, relation, is_hidden] : contents.sheets) {
    const auto target = relations.targets.find(relation);
    if (target == relations.targets.end() || !zip.has(part_named(target->second))) continue;
    book.sheets.push_back({name, is_hidden, {}, {}, {}});
    XlsxSheet sheet(book.sheets.back(), size, shared);
    zip.read(part_named(target->second), sheet);
  }
  if (book.sheets.empty()) zip.fail("not-a-workbook", "the workbook has no sheet");
  return book;
}

}  // namespace arris

#endif
