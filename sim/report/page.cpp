// SPDX-License-Identifier: MIT
#include "sim/report/page.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <string_view>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "page_texts.hpp"  // generated
#include "sim/figures/palette.hpp"
#include "sim/figures/svg.hpp"
#include "sim/read_number.hpp"

namespace arris::report {
namespace {

using figures::escaped;

constexpr double wide = 720.0, narrow = 350.0;

std::string_view text_of(std::string_view name) {
  for (const auto& [path, text] : page_texts) {
    if (path.size() >= name.size() && path.substr(path.size() - name.size()) == name) return text;
  }
  return {};
}

// a command inside a sentence, set as one
std::string with_command(const std::string& sentence) {
  const auto at = sentence.find(": arris ");
  if (at == std::string::npos) return escaped(sentence);
  const auto begin = at + 2, end = std::min(sentence.find(", then", begin), sentence.size());
  return fmt::format("{}<code>{}</code>{}", escaped(sentence.substr(0, begin)),
                     escaped(sentence.substr(begin, end - begin)), escaped(sentence.substr(end)));
}

std::string list(const std::vector<std::string>& sentences) {
  if (sentences.size() == 1) return "<p>" + with_command(sentences.front()) + "</p>\n";
  std::string out = "<ul>\n";
  for (const std::string& s : sentences) out += "<li>" + with_command(s) + "</li>\n";
  return out + "</ul>\n";
}

std::string cell(double value) {
  if (std::isnan(value)) return "";
  if (value == std::round(value) && std::fabs(value) < 1e7) return figures::figure_number(value, 8);
  return figures::figure_number(value, 3);
}

// rows of a table that is printed although it is folded up on the screen: a page of them
constexpr std::size_t longest_on_paper = 40;

std::string html_table(const AnswerTable& table) {
  const bool named = std::any_of(table.columns.begin(), table.columns.end(),
                                 [](const AnswerColumn& c) { return !c.head.empty(); });
  std::vector<std::pair<const AnswerColumn*, std::string>> columns;
  for (const AnswerColumn& c : table.columns) {
    if (named && c.head.empty()) continue;
    columns.emplace_back(&c, named ? c.head : (c.says.empty() ? c.name : c.says));
  }
  if (columns.empty()) return {};
  const std::string title = table.says.empty() ? table.name : table.says;
  std::string       out   = fmt::format(
              "<details class=\"table{}\"><summary>Table: {}</summary>\n<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"{}\"><table><caption>{}</caption>\n<thead><tr>",
      table.rows() <= longest_on_paper ? " paper" : "", escaped(title), escaped(title), escaped(title));
  for (const auto& [c, head] : columns)
    out += fmt::format("<th scope=\"col\"{}>{}</th>", c->is_text() ? "" : " class=\"n\"", escaped(head));
  out += "</tr></thead>\n<tbody>\n";
  for (std::size_t row = 0; row < table.rows(); ++row) {
    out += "<tr>";
    for (const auto& [c, head] : columns) {
      out += c->is_text() ? fmt::format("<td>{}</td>", escaped(c->texts[row]))
                          : fmt::format("<td class=\"n\">{}</td>", cell(c->numbers[row]));
    }
    out += "</tr>\n";
  }
  return out + "</tbody></table></div></details>\n";
}

// numbers for a chart: what the eye can tell and no more; null where there is none
nlohmann::json rounded(const std::vector<double>& values) {
  nlohmann::json out = nlohmann::json::array();
  for (const double v : values) {
    if (std::isfinite(v)) {
      const std::string text  = fmt::format("{:.5g}", v);
      double            shown = v;  // stays where the rounded one is beyond all numbers
      read_number(text.data(), text.data() + text.size(), shown);
      out.push_back(shown);
    } else {
      out.push_back(nullptr);
    }
  }
  return out;
}

// a chart cannot have two values at one place: what jumps does so in a hair's breadth
std::vector<double> apart(std::vector<double> xs) {
  if (xs.size() < 2) return xs;
  const double hair = 2e-4 * std::max(xs.back() - xs.front(), 1e-9);
  for (std::size_t i = 1; i < xs.size(); ++i) xs[i] = std::max(xs[i], xs[i - 1] + hair);
  return xs;
}

std::string html_live(const LiveChart& chart, const std::string& id) {
  nlohmann::json data{{"y_label", chart.y_label}, {"limit", std::isfinite(chart.limit) ? chart.limit : 0.0}};
  std::string    choices;
  for (const LiveLine& l : chart.lines) {
    nlohmann::json line{
        {"name", l.name}, {"x_label", l.x_label}, {"x", rounded(apart(l.x))}, {"y", rounded(l.y)}};
    if (!l.low.empty()) {
      line["low"]  = rounded(l.low);
      line["high"] = rounded(l.high);
    }
    // in the order of their places
    std::vector<std::pair<double, double>> points;
    for (std::size_t i = 0; i < l.point_x.size(); ++i) points.emplace_back(l.point_x[i], l.point_y[i]);
    std::stable_sort(points.begin(), points.end(),
                     [](const auto& a, const auto& b) { return a.first < b.first; });
    std::vector<double> xs, ys;
    for (const auto& [x, y] : points) {
      xs.push_back(x);
      ys.push_back(y);
    }
    line["point_x"] = rounded(apart(xs));
    line["point_y"] = rounded(ys);
    data["lines"].push_back(std::move(line));
    choices += "<option>" + escaped(l.name) + "</option>";
  }
  // inside <script> only "<" could end it
  std::string json = data.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  for (std::size_t at = json.find('<'); at != std::string::npos; at = json.find('<', at))
    json.replace(at, 1, "\\u003c");
  std::string out = fmt::format(
      "<div class=\"live\" hidden><button type=\"button\" aria-expanded=\"false\" aria-controls=\"{}-p\">Read the curves closely</button>\n<div class=\"panel\" id=\"{}-p\" hidden>",
      id, id);
  if (chart.lines.size() > 1)
    out += fmt::format("<p><label for=\"{}-c\">Curve</label><select id=\"{}-c\">{}</select></p>", id, id,
                       choices);
  return out +
         fmt::format(
             "<p>Drag across to enlarge, double-click for the whole.</p><div class=\"chart\" role=\"img\"></div></div>\n<script type=\"application/json\">{}</script></div>\n",
             json);
}

std::string html_figure(const Figure& f, const std::string& id) {
  std::string body = fmt::format("<figure id=\"{}\">\n", id);
  if (!f.folded) body += fmt::format("<h3>{}</h3>\n", escaped(f.title));
  if (f.pieces) {
    body += "<div class=\"row\">\n";
    for (const std::string& piece : f.pieces(id + "-s")) body += piece;
    body += "</div>\n";
  } else if (f.draw) {
    body += fmt::format("<div class=\"pic wide\">{}</div>\n<div class=\"pic narrow\">{}</div>\n",
                        f.draw(wide, id + "-w"), f.draw(narrow, id + "-n"));
  }
  body += fmt::format("<figcaption>{}</figcaption>\n", escaped(f.caption));
  int live = 0;
  for (const LiveChart& chart : f.live) body += html_live(chart, fmt::format("{}-l{}", id, live++));
  for (const AnswerTable& table : f.tables) body += html_table(table);
  body += "</figure>\n";
  if (!f.folded) return body;
  return fmt::format("<details class=\"part\"><summary>{}</summary>\n{}</details>\n", escaped(f.title), body);
}

// `alone`: it has the page to itself, so there is room for everything
std::string html_section(const Section& s, const std::string& id, bool alone) {
  std::string out = fmt::format(
      "<section aria-labelledby=\"{}-h\" id=\"{}\">\n<h2 id=\"{}-h\">{}</h2>\n<p class=\"answer\">{}</p>\n",
      id, id, id, escaped(s.heading), escaped(s.answer));
  int  n     = 0;
  bool first = true;
  // the figure of the answer, then how sure it is; others behind
  std::string others;
  for (const Figure& f : s.figures) {
    if (!f.on_page || (f.folded && !alone)) continue;
    const std::string figure = html_figure(f, fmt::format("{}-f{}", id, n++));
    (first ? out : others) += figure;
    first = false;
  }
  if (!s.certainty.empty()) out += "<h3>How sure is that?</h3>\n" + list(s.certainty);
  if (!s.rests_on.empty()) out += "<h3>What it rests on</h3>\n<p>" + escaped(s.rests_on) + "</p>\n";
  auto next = s.next;
  if (!alone && std::any_of(s.figures.begin(), s.figures.end(), [](const Figure& f) { return f.folded; }))
    next.push_back(fmt::format("See the rest of it, one by one: arris report {} -o {}.html", s.file, s.kind));
  if (!next.empty()) out += "<h3>What to do next</h3>\n" + list(next);
  if (!s.more.empty()) out += "<h3>More on it</h3>\n" + list(s.more);
  out += others;
  for (const AnswerTable& table : s.tables) out += html_table(table);
  return out + "</section>\n";
}

std::string html_repeat(const std::vector<Section>& sections) {
  std::string out =
      "<section aria-labelledby=\"repeat-h\" id=\"repeat\">\n<h2 id=\"repeat-h\">Where it comes from, and how to repeat it</h2>\n";
  std::set<std::string> told;
  for (const Section& s : sections) {
    std::string command, configuration, rows;
    for (const auto& [name, text] : s.provenance) {
      if (name == "command") command = text;
      if (name == "configuration") {
        configuration = text;
        continue;
      }
      if (text.empty() || name == "rests_on" || name == "command") continue;
      std::string shown = escaped(text);
      for (std::size_t at = shown.find('\n'); at != std::string::npos; at = shown.find('\n', at))
        shown.replace(at, 1, "<br>");
      rows += fmt::format("<tr><th scope=\"row\">{}</th><td>{}</td></tr>\n", escaped(name), shown);
    }
    out += fmt::format(
        "<h3>{}</h3>\n<pre tabindex=\"0\"><code>{}</code></pre>\n<details><summary>Version, inputs and time</summary>\n<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"Provenance of: "
        "{}\"><table><tbody>\n{}<tr><th scope=\"row\">result file</th><td>{}</td></tr>\n</tbody></table></div></details>\n",
        escaped(s.heading), escaped(command), escaped(s.heading), rows, escaped(s.file));
    if (configuration.empty() || !told.insert(configuration).second) continue;
    out += fmt::format(
        "<details><summary>The configuration, every value that was used</summary>\n<pre tabindex=\"0\"><code>{}</code></pre></details>\n",
        escaped(configuration));
  }
  return out + "</section>\n";
}

}  // namespace

std::string html_of(const Page& page) {
  std::string main;
  if (page.sections.size() > 1 || !page.notes.empty()) {
    main += "<nav aria-label=\"Answers\"><ol>\n";
    for (std::size_t i = 0; i < page.sections.size(); ++i)
      main += fmt::format("<li><a href=\"#s{}\">{}</a><p>{}</p></li>\n", i, escaped(page.sections[i].heading),
                          escaped(page.sections[i].answer));
    main += "</ol></nav>\n";
    if (!page.notes.empty()) {
      main += "<ul class=\"stages\">\n";
      for (const std::string& note : page.notes) main += "<li>" + escaped(note) + "</li>\n";
      main += "</ul>\n";
    }
  }
  std::vector<std::string> cautions;
  bool                     live = false;
  for (std::size_t i = 0; i < page.sections.size(); ++i) {
    const Section& s = page.sections[i];
    main += html_section(s, fmt::format("s{}", i), page.sections.size() == 1);
    for (const std::string& caution : s.cautions) {
      if (std::find(cautions.begin(), cautions.end(), caution) == cautions.end()) cautions.push_back(caution);
    }
    for (const Figure& f : s.figures) live |= !f.live.empty();
  }
  // the usual one, also where nothing but a number was asked for
  if (std::find(cautions.begin(), cautions.end(), usual_caution()) == cautions.end())
    cautions.push_back(usual_caution());
  main += "<section aria-labelledby=\"cautions-h\" id=\"cautions\">\n<h2 id=\"cautions-h\">Cautions</h2>\n" +
          list(cautions) + "</section>\n" + html_repeat(page.sections);

  const std::string title = page.title.empty() ? std::string("Results") : page.title;
  std::string       out   = fmt::format(
              "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{}</title>\n<link rel=\"icon\" href=\"data:,\">\n<style>\n{}{}{}{}</style>\n</head>\n",
              escaped(title), figures::palette_style(), figures::figure_style(), text_of("page.css"),
      live ? text_of("uPlot.min.css") : std::string_view{});
  out += fmt::format(
      "<body>\n<a class=\"skip\" href=\"#main\">To the answer</a>\n<header><p class=\"kind\">A report by arris</p><h1>{}</h1></header>\n<main id=\"main\">\n{}</main>\n<footer><p>A prediction is an estimate, not a promise: "
      "each section says on what it rests.{}</p></footer>\n",
      escaped(title), main,
      live ? " Charts that answer the pointer are drawn by uPlot, MIT licence, whose notice is in this file."
           : "");
  out += fmt::format("<script>\n{}</script>\n", text_of("paper.js"));
  if (live) {
    out += fmt::format("<script>\n/*\n{}*/\n{}\n</script>\n<script>\n{}</script>\n", text_of("uplot/LICENSE"),
                       text_of("uPlot.iife.min.js"), text_of("live.js"));
  }
  return out + "</body>\n</html>\n";
}

}  // namespace arris::report
