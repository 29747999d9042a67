// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <limits>
#include <regex>
#include <stdexcept>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/figures/curves.hpp"
#include "sim/figures/dots.hpp"
#include "sim/figures/edge_section.hpp"
#include "sim/figures/heat_map.hpp"
#include "sim/figures/intervals.hpp"
#include "sim/figures/lines.hpp"
#include "sim/figures/palette.hpp"
#include "sim/figures/plot.hpp"
#include "sim/figures/poster.hpp"
#include "sim/figures/svg.hpp"
#include "sim/laws/geometry.hpp"

using namespace arris;
using namespace arris::figures;

namespace {

// Relative luminance and contrast of two colours, WCAG 2 (definitions "relative luminance" and "contrast ratio").
double luminance(const std::string& colour) {
  const auto channel = [&](std::size_t at) {
    const double c = std::stoi(colour.substr(at, 2), nullptr, 16) / 255.0;
    return c <= 0.03928 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
  };
  return 0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5);
}

double contrast(const std::string& a, const std::string& b) {
  const double x = luminance(a), y = luminance(b);
  return (std::max(x, y) + 0.05) / (std::min(x, y) + 0.05);
}

std::string tone(const std::string& name, bool dark) {
  for (const Tone& t : tones) {
    if (name == t.name) return dark ? t.dark : t.light;
  }
  throw std::out_of_range(name);
}

// Points of the first path with this class.
Points path_of(const std::string& svg, const std::string& look) {
  const std::regex wanted("<path d=\"([^\"]*)\" class=\"" + look + "\"");
  std::smatch      found;
  if (!std::regex_search(svg, found, wanted)) return {};
  const std::string commands = found[1];
  Points            points;
  const std::regex  pair("[ML](-?[0-9.]+) (-?[0-9.]+)");
  for (std::sregex_iterator i(commands.begin(), commands.end(), pair), end; i != end; ++i)
    points.emplace_back(std::stod((*i)[1]), std::stod((*i)[2]));
  return points;
}

std::size_t count_of(const std::string& text, const std::string& part) {
  std::size_t n = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + part.size())) ++n;
  return n;
}

}  // namespace

TEST_CASE("text in a picture is text, whatever stands in it", "[figures]") {
  CHECK(escaped("<script>alert(\"1\")</script> & 'x'") ==
        "&lt;script&gt;alert(&quot;1&quot;)&lt;/script&gt; &amp; &#39;x&#39;");
  CHECK(escaped("µ 30° \x01\x7f") == "µ 30° \xEF\xBF\xBD\xEF\xBF\xBD");

  Svg svg(100, 50, "a", "<t>", "\"d\"");
  svg.text(1, 2, "<script>");
  svg.circle(1, 2, 3, "point-ink", "a & b");
  const std::string text = svg.text_of();
  CHECK(text.find("<script") == std::string::npos);
  CHECK(text.find("&lt;script&gt;") != std::string::npos);
  CHECK(text.find("a &amp; b") != std::string::npos);
  CHECK(text.find("role=\"img\" aria-labelledby=\"a-t a-d\"") != std::string::npos);
}

TEST_CASE("numbers in a picture are short, and numbers for people have no exponent", "[figures]") {
  CHECK(number(12.0) == "12");
  CHECK(number(12.345) == "12.35");
  CHECK(number(-0.001) == "0");
  CHECK(figure_number(0.0659) == "0.0659");
  CHECK(figure_number(4444) == "4444");
  CHECK(figure_number(120.0) == "120");
  CHECK(figure_number(0.5) == "0.5");
  CHECK(figure_number(-3.25) == "−3.25");
  CHECK(figure_number(std::nan("")) == "–");
  // without an exponent, which nobody at a bench reads
  CHECK(figure_number(0.00007) == "0.00007");
  CHECK(figure_number(2.5e-7) == "0.00000025");
  CHECK(figure_number(1.2e6) == "1200000");
}

TEST_CASE("every text has a contrast of 4.5 on its paper, every line 3, by day and by night", "[figures]") {
  // WCAG 2.1: 4.5 for text (1.4.3), 3 for what carries meaning in a picture (1.4.11)
  for (const bool dark : {false, true}) {
    for (const char* paper : {"paper", "panel"}) {
      for (const char* words : {"text", "soft", "ink"}) {
        INFO(words << " on " << paper << (dark ? ", dark" : ", light"));
        CHECK(contrast(tone(words, dark), tone(paper, dark)) >= 4.5);
      }
      for (const char* line : {"ink", "ochre", "plum"}) {
        INFO(line << " on " << paper << (dark ? ", dark" : ", light"));
        CHECK(contrast(tone(line, dark), tone(paper, dark)) >= 3.0);
      }
    }
    // a burr beside the steel, words of a limit over it
    CHECK(contrast(tone("text", dark), tone("steel", dark)) >= 4.5);
  }
  // black on white is 21 by definition
  CHECK(contrast("#000000", "#ffffff") == Approx(21.0));
}

TEST_CASE("style sheets have every colour put in", "[figures]") {
  CHECK(plain_style().find("§") == std::string::npos);
  CHECK(plain_style().find("var(") == std::string::npos);
  CHECK(figure_style().find("§") == std::string::npos);
  for (const Tone& t : tones)
    CHECK(palette_style().find(std::string("--") + t.name + ":" + t.dark) != std::string::npos);
}

TEST_CASE("a cross-section is to scale", "[figures][section]") {
  EdgeSection s;
  s.blade              = {25.0, 30.0, 0.0, 3.2, false};
  s.now                = {0.4, 0.0, 0.0, 0.6, "worn"};
  s.view_um            = 4.0;
  s.width              = 400.0;
  const double um      = s.view_um / s.width;  // per unit of the picture
  const auto   outline = path_of(edge_section_svg(s), "steel");
  REQUIRE(outline.size() > 20);

  // the arc is what lies between the two straight faces: its points are r from one centre, which lies r above the back
  const double back = outline.front().second;
  const double half = 15.0 * laws::degree;
  // the ideal apex: the back meets the line of the bevel, 30° up, through the last point
  const double apex   = outline.back().first - (back - outline.back().second) / std::tan(2.0 * half);
  const double centre = apex + 0.4 / um / std::tan(half);
  double       tip    = 1e9;
  for (std::size_t i = 1; i + 1 < outline.size(); ++i) {
    const double dx = outline[i].first - centre, dy = outline[i].second - (back - 0.4 / um);
    // coordinates have two decimals, so a point is off by 0.007 at most, the apex by 0.02 (0.005 over tan 30°, twice)
    CHECK(std::hypot(dx, dy) * um == Approx(0.4).margin(0.03 * um));
    tip = std::min(tip, outline[i].first);
  }
  // the leftmost point is r left of the centre, to within a 24th of the arc: r·(1 − cos(150°/48)) = 0.0015 r
  CHECK((centre - tip) * um == Approx(0.4).margin(0.002 * 0.4 + 0.03 * um));

  // a scale bar says what it is long
  const std::string svg = edge_section_svg(s);
  std::smatch       bar;
  REQUIRE(std::regex_search(
      svg, bar,
      std::regex("<line x1=\"10\" y1=\"[0-9.]+\" x2=\"([0-9.]+)\" y2=\"[0-9.]+\" class=\"scale\"")));
  const double drawn = (std::stod(bar[1]) - 10.0) * um;
  CHECK(svg.find(">" + figure_number(drawn, 2) + " µm</text>") != std::string::npos);
}

TEST_CASE("an outline that is known is drawn point by point, by its tip", "[figures][section][outline]") {
  EdgeSection s;
  s.blade   = {25.0, 30.0, 0.0, 3.2, false};
  s.now     = {0.05, 0.02, 0.0, 0.6, "stropped"};
  s.view_um = 10.0;
  s.width   = 400.0;
  // off the bisector and into the blade: a tip 2 µm back from where the faces would meet
  s.now.points       = {{-3.0, 10.0}, {-0.8, 3.5}, {0.0, 2.0}, {0.8, 3.5}, {3.0, 10.0}};
  const double um    = s.view_um / s.width;
  const auto   drawn = path_of(edge_section_svg(s), "steel");
  REQUIRE(drawn.size() == s.now.points.size() + 2);  // the faces go on at both ends
  const double c = std::cos(15.0 * laws::degree), sine = std::sin(15.0 * laws::degree);
  for (std::size_t i = 0; i < s.now.points.size(); ++i) {
    const auto [x, y] = s.now.points[i];
    // from the tip: to the right and, as pictures have it, down
    CHECK((drawn[i + 1].first - drawn[3].first) * um == Approx((y - 2.0) * c - x * sine).margin(0.03 * um));
    CHECK((drawn[i + 1].second - drawn[3].second) * um ==
          Approx(-((y - 2.0) * sine + x * c)).margin(0.03 * um));
  }
  // wider than an arc of this radius would need
  EdgeSection arc = s;
  arc.now.points.clear();
  CHECK(section_view_um(s.blade, s.now) > 3.0 * section_view_um(arc.blade, arc.now));
  s.now.points[1].first = std::nan("");
  CHECK_THROWS_AS(edge_section_svg(s), std::invalid_argument);
}

TEST_CASE("scratches are as deep and a burr as long as they are said to be", "[figures][section]") {
  EdgeSection s;
  s.blade                   = {25.0, 30.0, 0.0, 3.2, false};
  s.now                     = {0.2, 0.1, 1.5, 0.6, "off the stone"};
  s.view_um                 = 6.0;
  s.width                   = 600.0;
  const std::string svg     = edge_section_svg(s);
  const double      um      = s.view_um / s.width;
  const auto        outline = path_of(svg, "steel");
  // depth below the line of the bevel, through the last point at 30°
  const double slope   = std::tan(30.0 * laws::degree);
  double       deepest = 0.0;
  for (std::size_t i = outline.size() / 2; i < outline.size(); ++i) {
    const double above =
        (outline.back().second - outline[i].second) + slope * (outline.back().first - outline[i].first);
    if (outline[i].first > outline.front().first * 0.5)
      deepest = std::max(deepest, -above * std::cos(30.0 * laws::degree));
  }
  CHECK(deepest * um == Approx(0.1).margin(0.03 * um));

  const auto foil   = path_of(svg, "burr");
  double     length = 0.0;
  REQUIRE(foil.size() > 30);
  const std::size_t n      = foil.size() / 2;  // one side there, the other back
  const auto        middle = [&](std::size_t i) {
    return std::pair{0.5 * (foil[i].first + foil[foil.size() - 1 - i].first),
                     0.5 * (foil[i].second + foil[foil.size() - 1 - i].second)};
  };
  for (std::size_t i = 1; i < n; ++i)
    length += std::hypot(middle(i).first - middle(i - 1).first, middle(i).second - middle(i - 1).second);
  // twenty pieces, each end off by 0.007 units
  CHECK(length * um == Approx(1.5).margin(20 * 0.014 * um));

  s.now.burr_um = 0.0;
  CHECK(path_of(edge_section_svg(s), "burr").empty());
  CHECK(edge_section_svg(s).find("no burr") != std::string::npos);
}

TEST_CASE("a cross-section refuses what no edge is", "[figures][section]") {
  EdgeSection s;
  CHECK_NOTHROW(edge_section_svg(s));
  s.now.apex_radius_um = 0.0;
  CHECK_THROWS_AS(edge_section_svg(s), std::invalid_argument);
  s                         = {};
  s.blade.micro_bevel_deg   = 20.0;
  s.blade.primary_bevel_deg = 25.0;
  CHECK_THROWS_AS(edge_section_svg(s), std::invalid_argument);
  s             = {};
  s.now.burr_um = -1.0;
  CHECK_THROWS_AS(edge_section_svg(s), std::invalid_argument);
}

TEST_CASE("several cross-sections stand side by side where there is room", "[figures][section]") {
  EdgeSection a, b;
  a.now.label              = "as it was";
  b.now.label              = "<stropped>";
  const std::string wide   = edge_sections_svg({a, b}, 720.0, "x"),
                    narrow = edge_sections_svg({a, b}, 350.0, "x");
  CHECK(wide.find("viewBox=\"0 0 720 ") != std::string::npos);
  CHECK(count_of(wide, "class=\"steel\"") == count_of(narrow, "class=\"steel\""));
  const auto height = [](const std::string& svg) {
    std::smatch found;
    return std::regex_search(svg, found, std::regex("viewBox=\"0 0 [0-9.]+ ([0-9.]+)\""))
               ? std::stod(found[1])
               : 0.0;
  };
  CHECK(height(narrow) > 1.5 * height(edge_sections_svg({a}, 350.0, "x")));
  CHECK(wide.find("&lt;stropped&gt;") != std::string::npos);
}

TEST_CASE("the words of a narrow cross-section stand above its picture, however many lines they take",
          "[figures][section]") {
  EdgeSection a;
  a.now.label           = "after the last of very many stones, with the burr still standing on the back";
  a.now.land_mm         = 0.4;
  a.earlier             = {a.now};
  const std::string svg = edge_sections_svg({a, a}, 450.0, "x", 200.0);
  // every line of words above what is moved down for the picture
  const std::regex moved("<g transform=\"translate\\(0 ([0-9.]+)\\)\"");
  const std::regex line("<text x=\"8\" y=\"([0-9.]+)\"");
  double           lowest = 0.0, picture = HUGE_VAL;
  for (std::sregex_iterator i(svg.begin(), svg.end(), line), end; i != end; ++i)
    lowest = std::max(lowest, std::stod((*i)[1]));
  for (std::sregex_iterator i(svg.begin(), svg.end(), moved), end; i != end; ++i) {
    if (std::stod((*i)[1]) > 0.0) picture = std::min(picture, std::stod((*i)[1]));
  }
  CHECK(lowest > 66.0);
  CHECK(picture > lowest);
}

TEST_CASE("grounds lie under the strokes of their steps", "[figures]") {
  CurveFigure f;
  CurvePanel  p;
  p.x                   = {0.0, 50.0, 100.0};
  p.y                   = {300.0, 200.0, 100.0};
  p.grounds             = {{0.0, 50.0, "stone"}, {50.0, 100.0, "strop"}};
  f.panels              = {p};
  f.ground_says         = {{"stone", "a medium"}, {"strop", "strop"}};
  const std::string svg = curves_svg(f, 400.0, "x");
  const std::regex  ground(
       "<rect x=\"([0-9.]+)\" y=\"[0-9.]+\" width=\"([0-9.]+)\" height=\"([0-9.]+)\" class=\"ground-(stone|strop)\"");
  std::vector<double> ends, wide;
  for (std::sregex_iterator i(svg.begin(), svg.end(), ground), end; i != end; ++i) {
    if (std::stod((*i)[3]) < 100.0) continue;  // in the key
    ends.push_back(std::stod((*i)[1]) + std::stod((*i)[2]));
    wide.push_back(std::stod((*i)[2]));
  }
  REQUIRE(wide.size() == 2);
  CHECK(wide[0] == Approx(wide[1]).margin(0.02));
  CHECK(ends[0] == Approx(ends[1] - wide[1]).margin(0.02));
  CHECK(svg.find(">a medium</text>") != std::string::npos);
}

TEST_CASE("a poster is a sheet of A4, whatever its width, with all that it is given", "[figures][poster]") {
  Poster p;
  p.title = "The life of edge A";
  p.lead  = "iron, stones, in oak";
  p.facts = {"It reads 100 gf."};
  CurvePanel panel;
  panel.x        = {0.0, 10.0};
  panel.y        = {200.0, 100.0};
  p.curve.panels = {panel};
  EdgeSection section;
  section.now.label = "stropped";
  p.sections        = {section, section, section};
  p.steps           = {"1. hone: stone, 30 strokes: 120 gf"};
  p.source          = "Drawn from a.h5.";
  for (const double width : {a4_width, 500.0}) {
    const std::string svg = poster_svg(p, width, "x");
    CHECK(height_of(svg) == Approx(width * std::sqrt(2.0)).epsilon(1e-3));
    for (const char* words : {">The life of edge A<", ">It reads 100 gf.<",
                              ">1. hone: stone, 30 strokes: 120 gf<", ">Drawn from a.h5.<"})
      CHECK(svg.find(words) != std::string::npos);
    std::size_t stropped = 0;
    for (auto at = svg.find(">stropped<"); at != std::string::npos; at = svg.find(">stropped<", at + 1))
      ++stropped;
    CHECK(stropped == 3);
  }
}

TEST_CASE("axes hold their values and have round numbers", "[figures]") {
  const Axis a = axis_over("gf", {68.9, 131.0, 357.0}, false, true);
  CHECK(a.low == 0.0);
  CHECK(a.high >= 357.0);
  const auto ticks = ticks_of(a, 6);
  CHECK(ticks.size() >= 3);
  CHECK(ticks.size() <= 7);
  CHECK(std::is_sorted(ticks.begin(), ticks.end()));

  const Axis log = axis_over("gf", {70.0, 560.0}, true);
  CHECK(log.low < 70.0);
  CHECK(log.high > 560.0);
  for (const double t : ticks_of(log, 8)) {
    CHECK(t >= log.low);
    CHECK(t <= log.high * (1 + 1e-9));
  }
  // nothing to hold, and one value
  CHECK(axis_over("", {}).high > axis_over("", {}).low);
  CHECK(axis_over("", {std::nan("")}, true).low > 0.0);
  CHECK(axis_over("", {5.0}).high > axis_over("", {5.0}).low);
}

TEST_CASE("an axis says two numbers at least, or it has no scale", "[figures]") {
  for (const auto& [low, high] :
       {std::pair{2.35, 3.9}, {0.1, 0.13}, {0.0021, 0.0034}, {1.2, 1.9}, {99.0, 101.0}}) {
    INFO(low << " to " << high);
    for (const bool log : {false, true}) CHECK(ticks_of({"", low, high, log}, 3).size() >= 2);
  }
}

TEST_CASE("an axis of equal ratios over less than a decade says four numbers or more", "[figures]") {
  // readings from 108 to 350 gf had two
  for (const auto& [low, high] : {std::pair{105.0, 360.0}, {103.0, 145.0}, {0.21, 0.9}}) {
    INFO(low << " to " << high);
    CHECK(ticks_of({"", low, high, true}, 9).size() >= 4);
    CHECK(ticks_of({"", low, high, true}, 5).size() >= 3);
  }
}

TEST_CASE("a row of dots has its whole name", "[figures]") {
  DotFigure f;
  f.x_label             = "reading, gf";
  f.groups              = {{"stropped",
                            {{"P2",
                              "plates then vitrified ceramic, 1 µm + thin hide on wood",
                              {131.0, 140.0},
                              {},
                              135.0,
                              std::nan("")}}}};
  const std::string svg = dots_svg(f, 720.0, "d");
  CHECK(svg.find("hide on wood") != std::string::npos);
}

TEST_CASE("what was measured stands beside an interval, where there is something", "[figures]") {
  IntervalFigure f;
  f.rows    = {"stones", "film"};
  f.columns = {{.label = "gf", .value = {140.0, 120.0}, .low = {130.0, 110.0}, .high = {150.0, 130.0}}};
  const auto measured = [&](std::vector<double> beside) {
    f.columns.front().beside = std::move(beside);
    const std::string svg    = intervals_svg(f, 720.0, "i");
    int               n      = 0;
    for (auto at = svg.find("\"point-ochre\""); at != std::string::npos;
         at      = svg.find("\"point-ochre\"", at + 1))
      ++n;
    return n;
  };
  CHECK(measured({}) == 0);
  CHECK(measured({95.0, std::nan("")}) == 1);
}

TEST_CASE("a curve goes through its points and stays in its box", "[figures]") {
  Svg  svg(300, 200, "p", "t", "d");
  Plot plot(svg, {50, 20, 200, 100}, {"passes", 0, 100}, {"gf", 0, 50});
  // exact: the scale is linear between the corners of the box
  CHECK(plot.x(0) == 50.0);
  CHECK(plot.x(100) == 250.0);
  CHECK(plot.y(0) == 120.0);
  CHECK(plot.y(50) == 20.0);
  CHECK(plot.x(25) == Approx(100.0));
  plot.curve({0, 50, 100}, {10, std::nan(""), 20}, "ink");
  CHECK(path_of(svg.text_of(), "line-ink").empty());  // a gap leaves no line of two points
  plot.point(500, 10, "ochre", "outside");
  CHECK(svg.text_of().find("outside") == std::string::npos);
  plot.point(50, 10, "ochre", "inside");
  CHECK(svg.text_of().find("inside") != std::string::npos);
}

TEST_CASE("panels show every measured point that lies within", "[figures]") {
  CurveFigure f;
  f.title = "t";
  f.limit = 180.0;
  for (int i = 0; i < 5; ++i) {
    CurvePanel p;
    p.title  = "edge " + std::to_string(i);
    p.x      = {0, 100, 200};
    p.y      = {80, 120, 190};
    p.bands  = {{{70, 100, 150}, {90, 140, 240}, "ink"}};
    p.points = {{0, 78, 78, 78, "a"}, {150, 150, 150, 150, "b"}, {900, 150, 150, 150, "beyond"}};
    f.panels.push_back(p);
  }
  for (const double width : {350.0, 720.0}) {
    const std::string svg = curves_svg(f, width, "c");
    CHECK(count_of(svg, "class=\"point-ochre\"") == 10);
    CHECK(count_of(svg, "class=\"line-ink\"") == 5);
    CHECK(count_of(svg, "class=\"band-ink\"") == 5);
    CHECK(count_of(svg, "class=\"limit\"") == 5);
  }
}

TEST_CASE("intervals lie where their numbers are", "[figures]") {
  IntervalFigure f;
  f.title   = "routes";
  f.rows    = {"a", "b", "none"};
  f.columns = {{"gf", {100, 150, std::nan("")}, {80, 120, std::nan("")}, {130, 190, std::nan("")}}};
  const std::string svg = intervals_svg(f, 720.0, "i");
  CHECK(count_of(svg, "class=\"point-ink\"") == 2);
  CHECK(count_of(svg, "class=\"bar-ink\"") == 2);
  CHECK(svg.find(">–<") != std::string::npos);
  // (150 − 100) of the axis is as far as the bar of b from 120 to 170 would be: positions are linear
  std::vector<double> x;
  const std::regex    centre("<circle cx=\"([0-9.]+)\"[^>]*class=\"point-ink\"");
  for (std::sregex_iterator i(svg.begin(), svg.end(), centre), end; i != end; ++i)
    x.push_back(std::stod((*i)[1]));
  REQUIRE(x.size() == 2);
  std::smatch      bar;
  const std::regex first(
      "<line x1=\"([0-9.]+)\" y1=\"[0-9.]+\" x2=\"([0-9.]+)\" y2=\"[0-9.]+\" class=\"bar-ink\"");
  REQUIRE(std::regex_search(svg, bar, first));
  CHECK(std::stod(bar[2]) - std::stod(bar[1]) ==
        Approx(x[1] - x[0]).margin(0.03));  // four roundings of 0.005
}

TEST_CASE("a map has a step for every value and refuses a table that does not fit", "[figures]") {
  HeatMap m;
  m.title               = "map";
  m.x                   = {0, 10, 20, 30};
  m.y                   = {1, 10, 100};
  m.y_log               = true;
  m.z                   = {1, 2, 3, 4, 2, 3, 4, 5, 3, 4, 5, std::nan("")};
  m.line                = {5, 10, 20};
  const std::string svg = heat_map_svg(m, 720.0, "m");
  // the least is in the first step, the largest in the last; the key has all eight
  for (int s = 0; s < 8; ++s) CHECK(count_of(svg, "class=\"step-" + std::to_string(s) + "\"") >= 1);
  CHECK(count_of(svg, "class=\"point-ochre\"") == 3);
  m.z.pop_back();
  CHECK_THROWS_AS(heat_map_svg(m, 720.0, "m"), std::invalid_argument);
}

TEST_CASE("agreement, profiles and lines draw what they are given", "[figures]") {
  AgreementFigure a{"t", "d", "gf", {100, 200}, {110, 190}, {"x", "y"}, 0.1};
  CHECK(count_of(agreement_svg(a, 720.0, "a"), "class=\"point-ochre\"") == 2);

  ProfileFigure p{
      "t",
      "d",
      {{"force per apex radius, of a filament with a long name", "N/µm", {2, 3, 4}, {3, 0, 3}, 3.0}}};
  const std::string profile = profiles_svg(p, 720.0, "p");
  CHECK(count_of(profile, "class=\"line-ink\"") == 1);
  // the whole name, in as many lines as it needs
  CHECK(profile.find(">force per apex radius, of") != std::string::npos);
  CHECK(profile.find("long name<") != std::string::npos);
  CHECK(profile.find("…") == std::string::npos);

  LineFigure l{"t", "d", "edges", "%"};
  l.series                = {{"one", {1, 2, 3}, {10, 20, 30}}, {"three", {1, 2, 3}, {15, 30, 45}, true}};
  const std::string lines = lines_svg(l, 720.0, "l");
  CHECK(lines.find(">one<") != std::string::npos);
  CHECK(count_of(lines, "class=\"point-ochre\"") == 3);
}

TEST_CASE("numbers that no scale shows end in a picture all the same", "[figures]") {
  const double big = std::numeric_limits<double>::max(), tiny = std::numeric_limits<double>::denorm_min(),
               nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();
  const std::vector<std::vector<double>> all{{1e20, std::nextafter(1e20, inf)},
                                             {-big, big},
                                             {tiny, 3.0 * tiny},
                                             {0.0, tiny},
                                             {-0.0, 0.0},
                                             {1.0, 1.0 + 1e-15},
                                             {nan, nan},
                                             {-inf, inf},
                                             {1.0, big}};
  for (const auto& numbers : all) {
    CAPTURE(numbers);
    for (const bool log : {false, true}) {
      const LineFigure l{.title     = "t",
                         .x_log     = log,
                         .y_log     = log,
                         .from_zero = false,
                         .series    = {{.name = "n", .x = numbers, .y = numbers, .points = true}}};
      CHECK(lines_svg(l, 720.0, "l").size() < 20'000);
      // a number without a logarithm is below all that have one; where there is none, nothing is drawn
      HeatMap m{.x = numbers, .y = {1.0, 2.0}, .z = {0.0, numbers[0], numbers[1], -1.0}, .z_log = log};
      CHECK(heat_map_svg(m, 720.0, "m").size() < 20'000);
    }
  }
}

TEST_CASE("lines without a curve are an empty picture", "[figures]") {
  LineFigure l{.title = "t", .level = 2.0, .level_says = "wanted"};
  CHECK(lines_svg(l, 720.0, "l").size() > 100);
  l.series.push_back({.name = "n"});
  CHECK(lines_svg(l, 350.0, "l").size() > 100);
}

TEST_CASE("a picture for a file has its colours in it", "[figures]") {
  Svg svg(100, 50, "a", "t", "d");
  svg.line(0, 0, 10, 10, "axis");
  const std::string file = standalone(svg.text_of());
  CHECK(file.rfind("<?xml", 0) == 0);
  CHECK(file.find("<style>") != std::string::npos);
  CHECK(file.find("var(--") == std::string::npos);
  // the sheet of a printer is white, and takes no ink
  const std::string paper = std::string("fill:") + tones[0].light;
  CHECK(std::string_view(tones[0].name) == "paper");
  CHECK(file.find(paper) != std::string::npos);
  const std::string sheet = standalone(svg.text_of(), Ground::sheet);
  CHECK(sheet.find(paper) == std::string::npos);
  CHECK(sheet.find("class=\"paper\"") == std::string::npos);
  CHECK_THROWS_AS(standalone("<svg/>"), std::invalid_argument);
}

TEST_CASE("points that the eye cannot tell apart are left out of a curve, and none that it can",
          "[figures]") {
  const double              none = std::numeric_limits<double>::quiet_NaN();
  const std::vector<double> xs{0.0, 0.1, 0.2, 0.3, 0.4, 1.0, 2.0, 2.1}, ys{0, 5, -5, 1, 2, 3, none, 4};
  CHECK(seen_points(xs, ys, 0.5) == std::vector<std::size_t>{0, 1, 2, 4, 5, 6, 7});
  CHECK(seen_points(xs, ys, 0.01).size() == xs.size());
  CHECK(seen_points({}, {}, 1.0).empty());
  // of a hundred thousand a picture has what fits on it
  std::vector<double> x, y;
  for (int i = 0; i < 100000; ++i) {
    x.push_back(i);
    y.push_back(i % 7);
  }
  CurveFigure many;
  many.panels.push_back({.title = "many", .x_label = "passes", .x = x, .y = y});
  CHECK(curves_svg(many, 720.0, "m").size() < 100'000);
}
