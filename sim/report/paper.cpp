// SPDX-License-Identifier: MIT
#include "sim/report/paper.hpp"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "sim/figures/poster.hpp"
#include "sim/figures/svg.hpp"
#include "sim/report/page.hpp"
#include "sim/report/table_cells.hpp"
#include "sim/stop.hpp"

namespace arris::report {
namespace {

using figures::a4_height;
using figures::a4_width;

constexpr double paper_margin = 64.0, paper_inside = a4_width - 2.0 * paper_margin;
constexpr double paper_foot = a4_height - 56.0;  // below it stands the number of the sheet

/// How a text is set.
struct Setting {
  const char* look;
  double      size, line, before;
  bool        with_next = false;  ///< never the last on a sheet
};

constexpr Setting of_title{"title", 27.0, 32.0, 0.0, true}, of_heading{"head", 18.7, 22.0, 26.0, true},
    of_part{"strong", figures::bold_size, 16.0, 14.0, true}, of_answer{"lead", 15.0, 20.0, 8.0},
    of_text{"", 12.0, 16.0, 5.0}, of_caption{"small soft", 11.0, 14.0, 2.0},
    of_entry{"", 12.0, 16.0, 7.0, true}, of_code{"small", 11.5, 15.0, 3.0};

struct PaperColumn;

/// Sheets that fill from the top.
class Sheets {
 public:
  explicit Sheets(std::string title) : title_(std::move(title)) { begin(); }

  void text(const std::string& words, const Setting& set, const std::string& outline = {}) {
    const auto   lines = figures::lines_of(words, paper_inside, set.size);
    const double tall  = set.line * static_cast<double>(lines.size());
    // a heading takes some lines of what it heads along, and a paragraph stands on one sheet unless it is long
    constexpr std::size_t short_lines = 8;
    const double          together    = lines.size() <= short_lines ? tall : 3.0 * set.line;
    if (y_ > paper_margin) need(set.before + together + (set.with_next ? 90.0 : 0.0));
    if (y_ > paper_margin) y_ += set.before;
    if (!outline.empty()) {
      if (pages_.back().heading.empty()) pages_.back().heading = outline;
      begun_.push_back(sheets_.size());
    }
    for (const std::string& line : lines) {
      need(set.line);
      y_ += set.line;
      sheet().text(paper_margin, y_ - 4.0, line, figures::Svg::Anchor::start, set.look);
    }
  }

  // as wide as the text, or as high as a sheet allows, with its title on the same sheet
  void picture(const std::string& title, const std::string& svg, double tall) {
    const double room  = paper_foot - paper_margin - 80.0;
    const double scale = std::min(1.0, room / tall);
    need(scale * tall + 50.0);
    text(title, {of_part.look, of_part.size, of_part.line, of_part.before});
    y_ += 10.0;
    sheet().embed(paper_margin, y_, svg, scale);
    y_ += scale * tall;
  }

  // under its title, its heads anew on every sheet
  void table(const AnswerTable& table);

  /// The sheets on which what was outlined begins, from 1, in order.
  [[nodiscard]] const std::vector<std::size_t>& begun() const { return begun_; }

  [[nodiscard]] std::string picture_id() { return fmt::format("paper-{}", ++pictures_); }

  [[nodiscard]] std::vector<PaperPage> done() {
    const std::size_t all = sheets_.size();
    for (std::size_t i = 0; i < all; ++i) {
      sheets_[i].text(paper_margin, a4_height - 30.0, title_, figures::Svg::Anchor::start, "small soft");
      sheets_[i].text(a4_width - paper_margin, a4_height - 30.0, fmt::format("{} of {}", i + 1, all),
                      figures::Svg::Anchor::end, "small soft");
      pages_[i].svg = figures::standalone(sheets_[i].text_of(), figures::Ground::sheet);
    }
    return std::move(pages_);
  }

 private:
  figures::Svg& sheet() { return sheets_.back(); }
  void          begin() {
             sheets_.emplace_back(a4_width, a4_height, fmt::format("sheet-{}", sheets_.size() + 1), title_,
                                  fmt::format("Sheet {}", sheets_.size() + 1));
             pages_.emplace_back();
             y_ = paper_margin;
  }
  void heads(const std::vector<PaperColumn>& columns);
  // cells side by side, each of some lines
  void row(const std::vector<PaperColumn>& columns, const std::vector<std::vector<std::string>>& cells,
           const char* look);
  void need(double height) {
    if (y_ + height > paper_foot && y_ > paper_margin) begin();
  }

  std::string               title_;
  std::vector<figures::Svg> sheets_;
  std::vector<PaperPage>    pages_;
  std::vector<std::size_t>  begun_;
  double                    y_        = 0.0;
  int                       pictures_ = 0;
};

constexpr double of_cells = 11.0, cell_line = 14.0, cell_gap = 14.0;
// texts as wide as that, or narrower where the table then fits a sheet
constexpr double widest_texts[] = {170.0, 140.0, 115.0, 95.0};
constexpr double widest_number  = 84.0;

/// A column of a table as it is set on paper.
struct PaperColumn {
  const AnswerColumn*      column = nullptr;
  std::vector<std::string> head;
  double                   width = 0.0;

  [[nodiscard]] std::vector<std::string> lines(std::size_t row) const {
    return figures::lines_of(cell_text(*column, row), width, of_cells);
  }
};

PaperColumn paper_column(const HeadedColumn& headed, const std::vector<std::size_t>& rows,
                         double widest_text) {
  const double most   = headed.first->is_text() ? widest_text : widest_number;
  const auto   widest = [&](const std::string& text) {
    double wide = 0.0;
    for (const std::string& line : figures::lines_of(text, most, of_cells))
      wide = std::max(wide, figures::text_width(line, of_cells));
    return wide;
  };
  PaperColumn out{headed.first, {}, widest(headed.second)};
  for (const std::size_t row : rows) out.width = std::max(out.width, widest(cell_text(*headed.first, row)));
  out.head = figures::lines_of(headed.second, out.width, of_cells);
  return out;
}

// all of them, with texts as wide as lets them stand side by side on one sheet, if they can
std::vector<PaperColumn> paper_columns(const AnswerTable& table, const std::vector<std::size_t>& rows) {
  std::vector<PaperColumn> widest;
  for (const double most : widest_texts) {
    std::vector<PaperColumn> all;
    double                   wide = -cell_gap;
    for (const HeadedColumn& c : shown_columns(table)) {
      all.push_back(paper_column(c, rows, most));
      wide += all.back().width + cell_gap;
    }
    if (wide <= paper_inside) return all;
    if (widest.empty()) widest = std::move(all);
  }
  return widest;
}

// as many side by side as a sheet is wide; the first of all stands in each part, so that its rows are known
std::vector<std::vector<PaperColumn>> side_by_side(const std::vector<PaperColumn>& all) {
  std::vector<std::vector<PaperColumn>> parts(1);
  double                                wide = 0.0;
  for (const PaperColumn& c : all) {
    if (wide + c.width > paper_inside && parts.back().size() > 1) {
      parts.push_back({all.front()});
      wide = all.front().width + cell_gap;
    }
    parts.back().push_back(c);
    wide += c.width + cell_gap;
  }
  return parts;
}

using CellLines = std::vector<std::vector<std::string>>;

double height_of_row(const CellLines& cells) {
  std::size_t lines = 1;
  for (const auto& cell : cells) lines = std::max(lines, cell.size());
  return cell_line * static_cast<double>(lines) + 2.0;
}

void Sheets::row(const std::vector<PaperColumn>& columns, const CellLines& cells, const char* look) {
  double x = paper_margin;
  for (std::size_t i = 0; i < columns.size(); ++i) {
    const bool is_text = columns[i].column->is_text();
    double     y       = y_;
    for (const std::string& line : cells[i]) {
      y += cell_line;
      sheet().text(is_text ? x : x + columns[i].width, y - 3.0, line,
                   is_text ? figures::Svg::Anchor::start : figures::Svg::Anchor::end, look);
    }
    x += columns[i].width + cell_gap;
  }
  y_ += height_of_row(cells);
}

void Sheets::heads(const std::vector<PaperColumn>& columns) {
  CellLines cells;
  for (const PaperColumn& c : columns) cells.push_back(c.head);
  row(columns, cells, "small soft");
  sheet().line(paper_margin, y_, a4_width - paper_margin, y_, "grid");
  y_ += 2.0;
}

void Sheets::table(const AnswerTable& table) {
  const auto                     rows = shown_rows(table, longest_on_paper);
  const std::vector<PaperColumn> all  = paper_columns(table, rows);
  if (all.empty() || rows.empty()) return;
  std::string title = title_of(table, rows.size());
  for (const auto& columns : side_by_side(all)) {
    text(title, of_part);
    y_ += 4.0;
    heads(columns);
    for (const std::size_t r : rows) {
      CellLines cells;
      for (const PaperColumn& c : columns) cells.push_back(c.lines(r));
      const std::size_t before = sheets_.size();
      need(height_of_row(cells));
      if (sheets_.size() > before) heads(columns);
      row(columns, cells, "small");
    }
    title = "The same, further columns";
  }
}

void add_sentences(Sheets& sheets, const std::string& heading, const std::vector<std::string>& sentences) {
  if (sentences.empty()) return;
  sheets.text(heading, of_part);
  for (const std::string& s : sentences) sheets.text(s, of_text);
}

void add_figure(Sheets& sheets, const Figure& f) {
  if (!f.draw) return;
  stop_if_wished();
  const std::string picture = f.draw(paper_inside, sheets.picture_id());
  sheets.picture(f.title, picture, figures::height_of(picture));
  sheets.text(f.caption, of_caption);
  for (const AnswerTable& table : f.tables) sheets.table(table);
}

void add_verdict(Sheets& sheets, const Verdict& v) {
  sheets.text(v.question, of_heading, v.question);
  sheets.text(v.sentence, of_answer);
  if (v.figure) add_figure(sheets, *v.figure);
  add_sentences(sheets, "How sure is that?", v.certainty);
  add_sentences(sheets, "What to do next", v.next);
}

// the answers of all sections, and the sheet of each where that is known
void add_contents(Sheets& sheets, const std::vector<Section>& sections,
                  const std::vector<std::size_t>& sheet_of) {
  sheets.text("The answers", of_part);
  for (std::size_t i = 0; i < sections.size(); ++i) {
    const std::string where = i < sheet_of.size() ? std::to_string(sheet_of[i]) : std::string("00");
    sheets.text(fmt::format("{}. {} (sheet {})", i + 1, sections[i].heading, where), of_entry);
    sheets.text(in_short(sections[i].answer), of_text);
  }
}

void add_section(Sheets& sheets, const Section& s) {
  sheets.text(s.heading, of_heading, s.heading);
  sheets.text(s.answer, of_answer);
  bool first = true;
  for (const Figure& f : s.figures) {
    if (!f.on_page || f.folded) continue;
    add_figure(sheets, f);
    if (!std::exchange(first, false)) continue;
    add_sentences(sheets, "How sure is that?", s.certainty);
  }
  if (first) add_sentences(sheets, "How sure is that?", s.certainty);
  if (!s.rests_on.empty()) add_sentences(sheets, "What it rests on", {s.rests_on});
  add_sentences(sheets, "What to do next", s.next);
  add_sentences(sheets, "More on it", s.more);
  for (const AnswerTable& table : s.tables) sheets.table(table);
}

void add_commands(Sheets& sheets, const std::vector<Section>& sections) {
  const std::string heading = "Where it comes from, and how to repeat it";
  sheets.text(heading, of_heading, heading);
  for (const Section& s : sections) {
    for (const auto& [name, text] : s.provenance) {
      if (name != "command") continue;
      sheets.text(s.heading, of_part);
      sheets.text(text, of_code);
    }
  }
  sheets.text(
      "Further figures are on the page for the screen (arris report), and all rows of long tables in the result files.",
      of_text);
}

// `sheet_of`: on which sheet each section begins, where that is known
Sheets sheets_of(const Page& page, const std::vector<std::size_t>& sheet_of) {
  const std::string title = page.title.empty() ? std::string("Results") : page.title;
  Sheets            sheets(title);
  sheets.text(title, of_title);
  if (page.verdict) add_verdict(sheets, *page.verdict);
  if (page.sections.size() > 1) add_contents(sheets, page.sections, sheet_of);
  add_sentences(sheets, "What was left out", page.notes);
  for (const Section& s : page.sections) add_section(sheets, s);
  const auto cautions = cautions_of(page.sections);
  sheets.text("Cautions", of_heading, "Cautions");
  for (const std::string& caution : cautions) sheets.text(caution, of_text);
  add_commands(sheets, page.sections);
  return sheets;
}

}  // namespace

std::vector<PaperPage> paper_of(const Page& page) {
  std::vector<std::size_t> sheet_of;
  if (page.sections.size() > 1) {  // set once to learn where each begins
    sheet_of = sheets_of(page, {}).begun();
    if (page.verdict && !sheet_of.empty()) sheet_of.erase(sheet_of.begin());
  }
  return sheets_of(page, sheet_of).done();
}

}  // namespace arris::report
