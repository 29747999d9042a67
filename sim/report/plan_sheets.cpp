// SPDX-License-Identifier: MIT
#include "sim/report/plan_sheets.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/figures/palette.hpp"
#include "sim/figures/poster.hpp"
#include "sim/figures/svg.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/report/html.hpp"
#include "sim/studies/answer.hpp"
#include "sim/studies/plan/plan.hpp"
#include "sim/wording.hpp"

namespace arris::report {
namespace {

using figures::Svg;

constexpr double sheet_margin = 56.0, sheet_right = figures::a4_width - sheet_margin;
constexpr double sheet_foot = figures::a4_height - 64.0;

/// A pile of sheets of one kind, each with its name below it.
class Pile {
 public:
  /// `id` is unlike that of any other pile.
  Pile(std::string name, std::string id) : name_(std::move(name)), id_(std::move(id)) {}

  /// A new sheet; what is drawn next is on it.
  Svg& begin() {
    sheets_.emplace_back(figures::a4_width, figures::a4_height, fmt::format("{}-{}", id_, sheets_.size() + 1),
                         name_, name_);
    return sheets_.back();
  }
  [[nodiscard]] bool is_empty() const { return sheets_.empty(); }

  void put_into(std::vector<PaperPage>& pages) {
    for (std::size_t i = 0; i < sheets_.size(); ++i) {
      sheets_[i].text(sheet_margin, figures::a4_height - 32.0, name_, Svg::Anchor::start, "small soft");
      sheets_[i].text(sheet_right, figures::a4_height - 32.0, fmt::format("{} of {}", i + 1, sheets_.size()),
                      Svg::Anchor::end, "small soft");
      pages.push_back({figures::standalone(sheets_[i].text_of(), figures::Ground::sheet),
                       i == 0 ? name_ : std::string()});
    }
  }

 private:
  std::string      name_, id_;
  std::vector<Svg> sheets_;
};

// lines of a text at the size of a look; the height below them
double put_lines(Svg& sheet, double x, double y, const std::string& text, double width, double size,
                 const char* look) {
  for (const std::string& line : figures::lines_of(text, width, size)) {
    y += size * 1.35;
    sheet.text(x, y, line, Svg::Anchor::start, look);
  }
  return y;
}

// large letters: pictures have none, so that they are ordinary ones enlarged
void put_large(Svg& sheet, double x, double y, const std::string& text, double scale) {
  Svg small(figures::text_width(text, figures::bold_size) + 8.0, 20.0, "large", text, text);
  small.text(0.0, 15.0, text, Svg::Anchor::start, "strong");
  sheet.embed(x, y, small.text_of(), scale);
}

std::vector<const EdgePlan*> planned_edges(const Plan& plan) {
  std::vector<const EdgePlan*> out;
  for (std::size_t i = static_cast<std::size_t>(plan.first_edge); i < plan.scenario.edges.size(); ++i)
    out.push_back(&plan.scenario.edges[i]);
  return out;
}

// in the order of the codes, which says nothing of the groups
void put_labels(std::vector<std::string> codes, std::vector<PaperPage>& pages) {
  std::sort(codes.begin(), codes.end());
  constexpr std::size_t across = 4, down = 10;
  constexpr double      wide = (sheet_right - sheet_margin) / across, tall = 92.0;
  Pile                  pile("Labels: cut out, one to an edge", "labels");
  Svg*                  sheet = nullptr;
  std::size_t           at    = 0;
  for (const std::string& code : codes) {
    if (at % (across * down) == 0) sheet = &pile.begin();
    const std::size_t row = at % (across * down) / across;
    const double      x   = sheet_margin + wide * static_cast<double>(at % across);
    const double      y   = sheet_margin + tall * static_cast<double>(row);
    sheet->rect(x, y, wide, tall, "frame");
    put_large(*sheet, x + 18.0, y + 14.0, code, 3.0);
    ++at;
  }
  pile.put_into(pages);
}

// a row of the run sheet: x of its columns
constexpr double row_x[] = {sheet_margin, 100.0, 170.0, 260.0, 330.0, 470.0};

void put_row_heads(Svg& sheet, double y) {
  const char* heads[] = {"no.", "code", "moment", "reading", "gf", "note"};
  for (std::size_t i = 0; i < 6; ++i) sheet.text(row_x[i], y, heads[i], Svg::Anchor::start, "small soft");
}

void put_run_sheet(const Plan& plan, std::vector<PaperPage>& pages) {
  constexpr double row = 27.0;
  Pile             pile("Run sheet: for the one who reads", "run-sheet");
  Svg*             sheet = nullptr;
  double           y     = sheet_foot;
  std::string      who;
  for (std::size_t i = 0; i < plan.sheet.size(); ++i) {
    const Reading&    r   = plan.sheet[i];
    const std::string now = fmt::format("{}: read by {}, filaments of {}", r.note.substr(0, r.note.find(',')),
                                        r.operator_name, r.filament_lot);
    const bool        head = now != who;
    if (sheet == nullptr || y + row + (head ? 2.0 * row : 0.0) > sheet_foot) {
      const bool is_first = sheet == nullptr;
      sheet               = &pile.begin();
      y                   = sheet_margin;
      if (is_first)
        y = put_lines(*sheet, sheet_margin, y,
                      fmt::format("{} readings, in this order. A new filament for each; leave a box empty "
                                  "where there is none, and say why under note. {}",
                                  plan.sheet.size(), usual_caution()),
                      sheet_right - sheet_margin, 12.0, "") +
            8.0;
      y += 16.0;
      put_row_heads(*sheet, y);
      y += 6.0;
    }
    if (head) {
      y += row;
      sheet->text(sheet_margin, y - 6.0, now, Svg::Anchor::start, "strong");
      who = now;
    }
    const double base = y + row - 9.0;
    sheet->text(row_x[0], base, std::to_string(i + 1));
    sheet->text(row_x[1], base, plan.scenario.edges[static_cast<std::size_t>(r.edge)].code,
                Svg::Anchor::start, "strong");
    sheet->text(row_x[2], base, r.moment_name);
    sheet->text(row_x[3], base, std::to_string(r.replicate));
    sheet->rect(row_x[4], y + 2.0, 120.0, row - 5.0, "frame");
    sheet->rect(row_x[5], y + 2.0, sheet_right - row_x[5], row - 5.0, "frame");
    y += row;
  }
  pile.put_into(pages);
}

void put_key(const Plan& plan, std::vector<PaperPage>& pages) {
  Pile   pile("Key: not for the one who reads", "key");
  Svg*   sheet = nullptr;
  double y     = sheet_foot;
  for (const EdgePlan* edge : planned_edges(plan)) {
    if (y + 20.0 > sheet_foot) {
      sheet = &pile.begin();
      y     = sheet_margin + 20.0;
      sheet->text(sheet_margin, y, "Which code is which edge", Svg::Anchor::start, "head");
      y += 10.0;
    }
    y += 20.0;
    sheet->text(sheet_margin, y, edge->code, Svg::Anchor::start, "strong");
    sheet->text(sheet_margin + 80.0, y, edge->name);
    sheet->text(sheet_margin + 400.0, y, edge->tool_name, Svg::Anchor::start, "soft");
  }
  pile.put_into(pages);
}

// "strop on felt with diamond 1 µm: 20 laps"
std::string work_text(const Step& step) {
  std::string       out   = step_said(verb_of(step), subject_of(step));
  const auto        count = std::llround(count_of(step));
  const auto* const hone  = std::get_if<HoneStep>(&step);
  if (const auto* strop = std::get_if<StropStep>(&step)) {
    if (!strop->compound.empty() && strop->compound != "none") out += " with " + strop->compound;
    return out + ": " + counted(count, "lap");
  }
  if (std::holds_alternative<CutStep>(step)) return out + ": " + counted(count, "pass", "passes");
  if (hone == nullptr && !std::holds_alternative<BackStep>(step)) return out;
  return out + ": " + counted(count, "stroke") +
         (hone != nullptr && hone->after_burr ? " after the burr" : "");
}

// for the wall: read from two metres. `name` is the head, `foot` stands below.
void put_steps(const std::string& name, const std::string& foot, const std::string& id,
               const std::vector<Step>& steps, std::vector<PaperPage>& pages) {
  Pile   pile(foot, id);
  Svg*   sheet = &pile.begin();
  double y     = sheet_margin;
  for (const std::string& line :
       figures::lines_of(name, (sheet_right - sheet_margin) / 2.4, figures::bold_size)) {
    put_large(*sheet, sheet_margin, y, line, 2.4);
    y += 44.0;
  }
  y += 22.0;
  int n = 0;
  for (const Step& step : steps) {
    constexpr double scale = 1.6;
    const auto       lines = figures::lines_of(fmt::format("{}  {}", ++n, work_text(step)),
                                               (sheet_right - sheet_margin) / scale, figures::bold_size);
    if (y + 30.0 * static_cast<double>(lines.size()) > sheet_foot) {
      sheet = &pile.begin();
      y     = sheet_margin;
    }
    for (const std::string& line : lines) {
      put_large(*sheet, sheet_margin, y, line, scale);
      y += 30.0;
    }
    y += 10.0;
    sheet->line(sheet_margin, y, sheet_right, y, "grid");
    y += 12.0;
  }
  pile.put_into(pages);
}

void put_routes(const Plan& plan, std::vector<PaperPage>& pages) {
  const auto edges = planned_edges(plan);
  for (const PlannedGroup& group : plan.groups) {
    const auto found = std::find_if(edges.begin(), edges.end(), [&](const EdgePlan* e) {
      return e->name.rfind(group.name + " ", 0) == 0;
    });
    if (found == edges.end()) continue;
    put_steps(group.name, fmt::format("{}: for the wall, not for the one who reads", group.name),
              fmt::format("wall-{}", &group - plan.groups.data() + 1), (*found)->steps, pages);
  }
}

}  // namespace

std::vector<PaperPage> sheets_of(const Plan& plan) {
  std::vector<PaperPage>   pages;
  std::vector<std::string> codes;
  for (const EdgePlan* edge : planned_edges(plan)) codes.push_back(edge->code);
  put_labels(std::move(codes), pages);
  put_run_sheet(plan, pages);
  put_key(plan, pages);
  put_routes(plan, pages);
  return pages;
}

std::vector<PaperPage> wall_sheets_of(const EdgePlan& edge) {
  std::vector<PaperPage> pages;
  put_steps(edge.name, fmt::format("{}: what is done, in order", edge.name), "wall", edge.steps, pages);
  return pages;
}

std::vector<PaperPage> label_sheets_of(std::vector<std::string> codes) {
  std::vector<PaperPage> pages;
  put_labels(std::move(codes), pages);
  return pages;
}

std::string printable_html(const std::vector<PaperPage>& pages, const std::string& title) {
  const std::string style =
      "@page{size:A4;margin:0}body{margin:0;background:#ddd}h1{position:absolute;left:-99rem}"
      "svg{display:block;width:210mm;height:297mm;margin:0 auto 1rem;background:#fff;break-after:page}"
      "@media print{body{background:none}h1{display:none}svg{margin:0}}";
  Html sheets;
  for (const PaperPage& page : pages) sheets += Html::raw(page.svg.substr(page.svg.find("<svg")) + "\n");
  const Html head = void_element("meta", {{"charset", "utf-8"}}) +
                    void_element("meta", {{"name", "viewport"}, {"content", "width=device-width"}}) +
                    element("title", title) + void_element("link", {{"rel", "icon"}, {"href", "data:,"}}) +
                    element("style", Html::raw(style));
  const Html whole =
      Html::raw("<!DOCTYPE html>\n") +
      element("html", {{"lang", "en"}},
              element("head", head) + element("body", element("main", element("h1", title) + sheets)));
  return whole.markup();
}

}  // namespace arris::report
