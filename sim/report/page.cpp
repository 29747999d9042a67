// SPDX-License-Identifier: MIT
#include "sim/report/page.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/figures/plot.hpp"
#include "sim/figures/svg.hpp"
#include "sim/misses_said.hpp"
#include "sim/output/answer_text.hpp"
#include "sim/read_number.hpp"
#include "sim/report/html.hpp"
#include "sim/report/sheet.hpp"
#include "sim/report/table_cells.hpp"
#include "sim/stop.hpp"

namespace arris::report {
namespace {

using Json = nlohmann::ordered_json;

constexpr double wide_picture = 720.0, narrow_picture = 350.0;

// a command inside a sentence, set as one
Html with_command(const std::string& sentence) {
  const auto at = sentence.find(": arris ");
  if (at == std::string::npos) return sentence;
  const auto begin = at + 2, end = std::min(sentence.find(", then", begin), sentence.size());
  return sentence.substr(0, begin) + element("code", sentence.substr(begin, end - begin)) +
         sentence.substr(end);
}

Html list(const std::vector<std::string>& sentences) {
  if (sentences.size() == 1) return element("p", with_command(sentences.front())) + "\n";
  Html items = "\n";
  for (const std::string& s : sentences) items += element("li", with_command(s)) + "\n";
  return element("ul", items) + "\n";
}

// a heading above what belongs to it
Html headed(const std::string& heading, const Html& content) {
  return element("h3", heading) + "\n" + content;
}

/// What a page has room for.
struct Room {
  std::size_t rows      = 500;      ///< of a table
  std::size_t text      = 200'000;  ///< bytes of a configuration
  bool        folded    = true;     ///< figures of less weight
  bool        live      = true;     ///< charts that answer the pointer
  std::size_t per_chart = 1000;     ///< strips of a chart, of each of which the eye tells four points apart
  std::string folder    = {};       ///< where tables lie that are shown in part; empty: nowhere
  std::vector<TableFile>* in_part = nullptr;  ///< these, where there is such a folder

  [[nodiscard]] static Room unlimited() {
    constexpr auto any = std::numeric_limits<std::size_t>::max();
    return {.rows = any, .text = any, .per_chart = any};
  }
};

// what stands for itself in the path of a link
std::string in_link(const std::string& path) {
  std::string out;
  for (const char c : path) {
    const bool is_plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                          std::string_view("-._~/").find(c) != std::string_view::npos;
    out += is_plain ? std::string(1, c) : fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  return out;
}

// a table that is shown in part, put beside the page, and a link to it
Html link_to_all(const AnswerTable& table, const Room& room) {
  if (room.in_part == nullptr) return {};
  std::string name;
  for (const char c : table.name) name += (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') ? c : '-';
  name = fmt::format("{:02}-{}.csv", room.in_part->size() + 1, name);
  Answer answer;
  answer.tables.push_back(table);
  room.in_part->push_back({name, answer_csv(answer)});
  return element("p", element("a", {{"href", in_link(room.folder + "/" + name)}},
                              fmt::format("all {} rows: {}", table.rows(), name))) +
         "\n";
}

Html html_table(const AnswerTable& table, const Room& room) {
  const auto columns = shown_columns(table);
  if (columns.empty()) return {};
  const Attributes of_numbers{{"class", "n"}};
  Html             heads, rows = "\n";
  for (const auto& [c, head] : columns) {
    Attributes attributes{{"scope", "col"}};
    if (!c->is_text()) attributes.push_back(of_numbers.front());
    heads += element("th", attributes, head);
  }
  const auto shown = shown_rows(table, room.rows);
  for (const std::size_t row : shown) {
    Html cells;
    for (const auto& [c, head] : columns)
      cells +=
          c->is_text() ? element("td", cell_text(*c, row)) : element("td", of_numbers, cell_text(*c, row));
    rows += element("tr", cells) + "\n";
  }
  const std::string title = title_of(table, shown.size());
  const Html        link  = shown.size() < table.rows() ? link_to_all(table, room) : Html{};
  return link + folded(table.rows() <= longest_on_paper ? "table paper" : "table", "Table: " + title,
                       scrolling_table(title, element("caption", title) + "\n" +
                                                  element("thead", element("tr", heads)) + "\n" +
                                                  element("tbody", rows)));
}

// numbers for a chart: what the eye can tell and no more; null where there is none
Json rounded(const std::vector<double>& values) {
  Json out = Json::array();
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

std::vector<double> chosen(const std::vector<double>& values, const std::vector<std::size_t>& which) {
  std::vector<double> out;
  for (const std::size_t i : which) {
    if (i < values.size()) out.push_back(values[i]);
  }
  return out;
}

// without points that the eye cannot tell apart
LiveLine thinned(const LiveLine& l, std::size_t strips) {
  if (l.x.size() <= strips) return l;
  const auto [first, last] = std::minmax_element(l.x.begin(), l.x.end());
  const auto kept =
      figures::seen_points(l.x, l.y, std::max(*last - *first, 1e-9) / static_cast<double>(strips));
  LiveLine out = l;
  out.x        = chosen(l.x, kept);
  out.y        = chosen(l.y, kept);
  out.low      = chosen(l.low, kept);
  out.high     = chosen(l.high, kept);
  return out;
}

Json json_of(const LiveLine& l) {
  // points in the order of their places
  std::vector<std::pair<double, double>> points;
  for (std::size_t i = 0; i < l.point_x.size(); ++i) points.emplace_back(l.point_x[i], l.point_y[i]);
  std::stable_sort(points.begin(), points.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<double> xs, ys;
  for (const auto& [x, y] : points) {
    xs.push_back(x);
    ys.push_back(y);
  }
  Json line;
  if (!l.low.empty()) {
    line["high"] = rounded(l.high);
    line["low"]  = rounded(l.low);
  }
  line["name"]    = l.name;
  line["point_x"] = rounded(apart(xs));
  line["point_y"] = rounded(ys);
  line["x"]       = rounded(apart(l.x));
  line["x_label"] = l.x_label;
  line["y"]       = rounded(l.y);
  return line;
}

// the numbers of a chart for its script
Html data_of(const LiveChart& chart, const Room& room) {
  Json lines = Json::array();
  for (const LiveLine& l : chart.lines) lines.push_back(json_of(thinned(l, room.per_chart)));
  const Json  data{{"limit", std::isfinite(chart.limit) ? chart.limit : 0.0},
                  {"lines", std::move(lines)},
                  {"y_label", chart.y_label}};
  std::string json = data.dump(-1, ' ', false, Json::error_handler_t::replace);
  // inside <script> only "<" could end it
  for (std::size_t at = json.find('<'); at != std::string::npos; at = json.find('<', at))
    json.replace(at, 1, "\\u003c");
  return element("script", {{"type", "application/json"}}, Html::raw(json));
}

Html html_live(const LiveChart& chart, const std::string& id, const Room& room) {
  const std::string panel_id = id + "-p", choice_id = id + "-c";
  const Html        button =
      element("button", {{"type", "button"}, {"aria-expanded", "false"}, {"aria-controls", panel_id}},
              "Read the curves closely");
  Html panel;
  if (chart.lines.size() > 1) {
    Html choices;
    for (const LiveLine& l : chart.lines) choices += element("option", l.name);
    panel += element("p", element("label", {{"for", choice_id}}, "Curve") +
                              element("select", {{"id", choice_id}}, choices));
  }
  panel += element("p", "Drag across to enlarge, double-click for the whole.") +
           element("div", {{"class", "chart"}, {"role", "img"}}, {});
  return element("div", {{"class", "live"}, {"hidden", ""}},
                 button + "\n" +
                     element("div", {{"class", "panel"}, {"id", panel_id}, {"hidden", ""}}, panel) + "\n" +
                     data_of(chart, room)) +
         "\n";
}

// the picture, for screens of any width
Html html_picture(const Figure& f, const std::string& id) {
  Html picture;
  if (f.pieces) {
    Html        pieces = "\n";
    std::size_t n      = 0;
    for (const std::string& piece : f.pieces(id + "-s")) {
      const Frame* frame = n < f.frames.size() ? &f.frames[n++] : nullptr;
      pieces += frame == nullptr ? Html::raw(piece)
                                 : element("div",
                                           {{"class", frame->on_paper ? "moment" : "moment between"},
                                            {"data-says", frame->says}},
                                           Html::raw(piece)) +
                                       "\n";
    }
    picture += element("div", {{"class", f.frames.empty() ? "row" : "row history"}}, pieces) + "\n";
  } else if (f.draw) {
    picture += element("div", {{"class", "pic wide"}}, Html::raw(f.draw(wide_picture, id + "-w"))) + "\n" +
               element("div", {{"class", "pic narrow"}}, Html::raw(f.draw(narrow_picture, id + "-n"))) + "\n";
  }
  return picture;
}

Html html_figure(const Figure& f, const std::string& id, const Room& room) {
  stop_if_wished();
  Html body = "\n";
  if (!f.folded) body += element("h3", f.title) + "\n";
  body += html_picture(f, id) + element("figcaption", f.caption) + "\n";
  int live = 0;
  for (const LiveChart& chart : f.live) {
    if (room.live) body += html_live(chart, fmt::format("{}-l{}", id, live++), room);
  }
  for (const AnswerTable& table : f.tables) body += html_table(table, room);
  const Html figure = element("figure", {{"id", id}}, body) + "\n";
  return f.folded ? folded("part", f.title, figure) : figure;
}

// `alone`: it has the page to itself, so there is room for everything
Html html_section(const Section& s, const std::string& id, bool alone, const Room& room) {
  // the figure of the answer, then how sure it is; others behind
  Html content = element("p", {{"class", "answer"}}, s.answer) + "\n", others;
  int  n       = 0;
  for (const Figure& f : s.figures) {
    if (!f.on_page || (f.folded && (!alone || !room.folded))) continue;
    const Html figure = html_figure(f, fmt::format("{}-f{}", id, n), room);
    (n++ == 0 ? content : others) += figure;
  }
  if (!s.certainty.empty()) content += headed("How sure is that?", list(s.certainty));
  if (!s.rests_on.empty()) content += headed("What it rests on", element("p", s.rests_on) + "\n");
  auto next = s.next;
  if (!alone && std::any_of(s.figures.begin(), s.figures.end(), [](const Figure& f) { return f.folded; }))
    next.push_back(fmt::format("See the rest of it, one by one: arris report {} -o {}.html", s.file, s.kind));
  if (!next.empty()) content += headed("What to do next", list(next));
  if (!s.more.empty()) content += headed("More on it", list(s.more));
  content += others;
  for (const AnswerTable& table : s.tables) content += html_table(table, room);
  return titled_section(id, s.heading, content);
}

Html code_block(const std::string& text) {
  return element("pre", {{"tabindex", "0"}}, element("code", text));
}

// a text of several lines in a cell
Html broken(const std::string& text) {
  Html        out;
  std::size_t begin = 0;
  for (std::size_t end = text.find('\n'); end != std::string::npos; end = text.find('\n', begin)) {
    out += text.substr(begin, end - begin) + void_element("br");
    begin = end + 1;
  }
  return out + text.substr(begin);
}

Html provenance_table(const Section& s) {
  const auto row = [](const std::string& name, const Html& text) {
    return element("tr", element("th", {{"scope", "row"}}, name) + element("td", text)) + "\n";
  };
  Html rows = "\n";
  for (const auto& [name, text] : s.provenance) {
    if (!text.empty() && name != "rests_on" && name != "command" && name != "configuration")
      rows += row(name, broken(text));
  }
  rows += row("result file", s.file);
  return scrolling_table("Provenance of: " + s.heading, element("tbody", rows));
}

// as much of it as there is room for, in whole lines
std::string beginning(const std::string& text, std::size_t most) {
  if (text.size() <= most) return text;
  const std::size_t end = text.rfind('\n', most);
  return text.substr(0, end == std::string::npos ? 0 : end + 1) +
         fmt::format("# … and so on: {} kB in all, in the result file", text.size() / 1000);
}

Html html_repeat(const std::vector<Section>& sections, const Room& room) {
  Html                  out;
  std::set<std::string> shown;  // configurations
  for (const Section& s : sections) {
    std::string command, configuration;
    for (const auto& [name, text] : s.provenance) {
      if (name == "command") command = text;
      if (name == "configuration") configuration = text;
    }
    out += headed(s.heading, code_block(command) + "\n");
    out += folded("", "Version, inputs and time", provenance_table(s));
    if (!configuration.empty() && shown.insert(configuration).second)
      out += folded("", "The configuration, every value that was used",
                    code_block(beginning(configuration, room.text)));
  }
  return titled_section("repeat", "Where it comes from, and how to repeat it", out);
}

// the question, one sentence, one picture, how sure, what to do
Html html_verdict(const Verdict& v, const Room& room) {
  Html content = element("p", {{"class", "answer"}}, v.sentence) + "\n";
  if (v.figure) content += html_figure(*v.figure, "verdict-f", room);
  if (!v.certainty.empty()) content += headed("How sure is that?", list(v.certainty));
  if (!v.next.empty()) content += headed("What to do next", list(v.next));
  return titled_section("verdict", v.question, content);
}

// where several results stand together: their answers, and what was left out
Html html_overview(const Page& page, const Room& room) {
  Html answers = "\n";
  for (std::size_t i = 0; i < page.sections.size(); ++i)
    answers += element("li", element("a", {{"href", fmt::format("#s{}", i)}}, page.sections[i].heading) +
                                 element("p", page.verdict ? in_short(page.sections[i].answer)
                                                           : page.sections[i].answer)) +
               "\n";
  Html overview = page.verdict ? html_verdict(*page.verdict, room) : Html{};
  overview += element("nav", {{"aria-label", "Answers"}}, element("ol", answers)) + "\n";
  if (!page.notes.empty()) {
    Html notes = "\n";
    for (const std::string& note : page.notes) notes += element("li", note) + "\n";
    overview += element("ul", {{"class", "stages"}}, notes) + "\n";
  }
  return overview;
}

std::string html_within(const Page& page, const Room& room, bool says_so) {
  Sheet sheet{.title  = page.title.empty() ? std::string("Results") : page.title,
              .main   = {},
              .footer = "A prediction is an estimate, not a promise: each section says on what it rests."};
  if (says_so)
    sheet.main +=
        element(
            "p",
            "This page shows a part of what there is, so that it stays below 3 MB: arris report --whole shows all of it.") +
        "\n";
  if (page.sections.size() > 1 || !page.notes.empty()) sheet.main += html_overview(page, room);
  for (std::size_t i = 0; i < page.sections.size(); ++i) {
    const Section& s = page.sections[i];
    sheet.main += html_section(s, fmt::format("s{}", i), page.sections.size() == 1, room);
    sheet.live |= room.live && std::any_of(s.figures.begin(), s.figures.end(),
                                           [](const Figure& f) { return !f.live.empty(); });
  }
  sheet.main += titled_section("cautions", "Cautions", list(cautions_of(page.sections)));
  sheet.main += html_repeat(page.sections, room);
  return html_of(sheet);
}

}  // namespace

std::vector<std::string> cautions_of(const std::vector<Section>& sections) {
  std::vector<std::string> cautions;
  const auto               add = [&](const std::string& caution) {
    if (std::find(cautions.begin(), cautions.end(), caution) == cautions.end()) cautions.push_back(caution);
  };
  for (const Section& s : sections) {
    for (const std::string& caution : s.cautions) add(caution);
  }
  constexpr std::size_t readable = 24, most = 12;
  if (const std::size_t all = cautions.size(); all > readable) {
    cautions.resize(most);
    cautions.push_back(fmt::format("… and {} more, in the result file.", all - most));
  }
  add(usual_caution());
  return cautions;
}

std::string in_short(const std::string& answer) {
  constexpr std::size_t telling = 60;  // letters; one that is shorter only counts what there is
  std::size_t           end     = answer.find(". ");
  while (end < telling) end = answer.find(". ", end + 2);
  return end == std::string::npos ? answer : answer.substr(0, end + 1);
}

namespace {

std::string html_as_large_as_may_be(const Page& page, const Room& room) {
  if (std::any_of(page.sections.begin(), page.sections.end(),
                  [](const Section& s) { return s.extent.whole; }))
    return html_within(page, Room::unlimited(), false);
  std::string html = html_within(page, room, false);
  for (Room less : {Room{.rows = 100, .text = 50'000},
                    Room{.rows = 40, .text = 20'000, .folded = false, .per_chart = 200},
                    Room{.rows = 10, .text = 5'000, .folded = false, .live = false}}) {
    if (html.size() <= most_of_a_page) break;
    less.folder = room.folder;
    if ((less.in_part = room.in_part) != nullptr) less.in_part->clear();
    html = html_within(page, less, true);
  }
  return html;
}

}  // namespace

void say_misses_once(Page& page) {
  if (std::none_of(page.sections.begin(), page.sections.end(),
                   [](const Section& s) { return s.kind == "fit"; }))
    return;
  const auto refer = [](std::string& text) {
    if (const auto at = text.find(misses_lead); at != std::string::npos)
      text.replace(at, std::string::npos, misses_elsewhere);
  };
  for (Section& s : page.sections) refer(s.answer);
  if (!page.verdict) return;
  for (std::string& sentence : page.verdict->certainty) refer(sentence);
}

std::string html_of(const Page& page) { return html_as_large_as_may_be(page, {}); }

PageAndTables html_and_tables(const Page& page, const std::string& folder) {
  PageAndTables out;
  Room          room;
  room.folder  = folder;
  room.in_part = &out.tables;
  out.html     = html_as_large_as_may_be(page, room);
  return out;
}

}  // namespace arris::report
