// SPDX-License-Identifier: MIT
#include "sim/report/paper.hpp"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

#include "sim/figures/poster.hpp"
#include "sim/figures/svg.hpp"
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
    of_code{"small", 11.5, 15.0, 3.0};

/// Sheets that fill from the top.
class Sheets {
 public:
  explicit Sheets(std::string title) : title_(std::move(title)) { begin(); }

  void text(const std::string& words, const Setting& set, const std::string& outline = {}) {
    const auto   lines = figures::lines_of(words, paper_inside, set.size);
    const double tall  = set.line * static_cast<double>(lines.size());
    // a heading takes some lines of what it heads along
    if (y_ > paper_margin) need(set.before + std::min(tall, 3.0 * set.line) + (set.with_next ? 90.0 : 0.0));
    if (y_ > paper_margin) y_ += set.before;
    if (!outline.empty() && pages_.back().heading.empty()) pages_.back().heading = outline;
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

  [[nodiscard]] std::string picture_id() { return fmt::format("paper-{}", ++pictures_); }

  [[nodiscard]] std::vector<PaperPage> done() {
    const std::size_t all = sheets_.size();
    for (std::size_t i = 0; i < all; ++i) {
      sheets_[i].text(paper_margin, a4_height - 30.0, title_, figures::Svg::Anchor::start, "small soft");
      sheets_[i].text(a4_width - paper_margin, a4_height - 30.0, fmt::format("{} of {}", i + 1, all),
                      figures::Svg::Anchor::end, "small soft");
      pages_[i].svg = figures::standalone(sheets_[i].text_of());
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
  void need(double height) {
    if (y_ + height > paper_foot && y_ > paper_margin) begin();
  }

  std::string               title_;
  std::vector<figures::Svg> sheets_;
  std::vector<PaperPage>    pages_;
  double                    y_        = 0.0;
  int                       pictures_ = 0;
};

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
}

void add_verdict(Sheets& sheets, const Verdict& v) {
  sheets.text(v.question, of_heading, v.question);
  sheets.text(v.sentence, of_answer);
  if (v.figure) add_figure(sheets, *v.figure);
  add_sentences(sheets, "How sure is that?", v.certainty);
  add_sentences(sheets, "What to do next", v.next);
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
      "Tables and further figures stand in the page for the screen (arris report) and in the result files.",
      of_text);
}

}  // namespace

std::vector<PaperPage> paper_of(const Page& page) {
  const std::string title = page.title.empty() ? std::string("Results") : page.title;
  Sheets            sheets(title);
  sheets.text(title, of_title);
  if (page.verdict) add_verdict(sheets, *page.verdict);
  add_sentences(sheets, "What was left out", page.notes);
  for (const Section& s : page.sections) add_section(sheets, s);
  const auto cautions = cautions_of(page.sections);
  sheets.text("Cautions", of_heading, "Cautions");
  for (const std::string& caution : cautions) sheets.text(caution, of_text);
  add_commands(sheets, page.sections);
  return sheets.done();
}

}  // namespace arris::report
