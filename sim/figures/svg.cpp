// SPDX-License-Identifier: MIT
#include "sim/figures/svg.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

#include "sim/figures/palette.hpp"
#include "sim/read_number.hpp"
#include "sim/utf8.hpp"

namespace arris::figures {

std::string escaped(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    const std::size_t length = utf8_length(text);
    const char        c      = text.front();
    const auto        byte   = static_cast<unsigned char>(c);
    if (c == '&') {
      out += "&amp;";
    } else if (c == '<') {
      out += "&lt;";
    } else if (c == '>') {
      out += "&gt;";
    } else if (c == '"') {
      out += "&quot;";
    } else if (c == '\'') {
      out += "&#39;";
    } else if (length == 0 || (byte < 0x20 && c != '\n' && c != '\t') || byte == 0x7f) {
      out += "\xEF\xBF\xBD";
    } else {
      out += text.substr(0, length);
    }
    text.remove_prefix(std::max<std::size_t>(1, length));
  }
  return out;
}

std::string number(double value) {
  std::string text = fmt::format("{:.2f}", value);
  while (text.back() == '0') text.pop_back();
  if (text.back() == '.') text.pop_back();
  return text == "-0" ? "0" : text;
}

std::string figure_number(double value, int significant) {
  if (std::isnan(value)) return "–";
  if (std::isinf(value)) return value > 0.0 ? "∞" : "−∞";
  if (value == 0.0) return "0";
  const double size = std::fabs(value);
  std::string  text;
  if (size >= 1e15 || size < 1e-9) {
    text = fmt::format("{:.{}g}", value, significant);
  } else {
    // digits that count stay, also the zeros before the point
    const int places = significant - 1 - static_cast<int>(std::floor(std::log10(size)));
    text             = fmt::format("{:.{}f}", value, places > 0 ? places : 0);
    if (text.find('.') != std::string::npos) {
      while (text.back() == '0') text.pop_back();
      if (text.back() == '.') text.pop_back();
    }
  }
  if (text.front() == '-') text = "−" + text.substr(1);
  return text;
}

double text_width(std::string_view text, double size) {
  double wide = 0.0;
  for (const char c : text) {
    if ((c & 0xC0) == 0x80) continue;  // what follows in a character of several bytes
    if (c == ' ' || c == '.' || c == ',' || c == 'i' || c == 'l' || c == 'j' || c == '\'') {
      wide += 0.32;
    } else if (c == 'm' || c == 'w' || c == 'M' || c == 'W') {
      wide += 0.88;
    } else if (c >= 'A' && c <= 'Z') {
      wide += 0.68;
    } else {
      wide += 0.58;
    }
  }
  return wide * size;
}

std::vector<std::string> lines_of(std::string_view text, double width, double size) {
  std::vector<std::string> lines;
  std::string              line;
  std::size_t              at = 0;
  while (at < text.size()) {
    const std::size_t end = std::min(text.find(' ', at), text.size());
    const std::string word(text.substr(at, end - at));
    at = end + 1;
    if (word.empty()) continue;
    const std::string longer = line.empty() ? word : line + " " + word;
    if (!line.empty() && text_width(longer, size) > width) {
      lines.push_back(line);
      line = word;
    } else {
      line = longer;
    }
  }
  if (!line.empty()) lines.push_back(line);
  return lines;
}

Svg::Svg(double width, double height, std::string id, const std::string& title,
         const std::string& description)
    : width_(width), height_(height), id_(std::move(id)) {
  head_ = fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"fig\" viewBox=\"0 0 {} {}\" width=\"{}\" height=\"{}\" role=\"img\" aria-labelledby=\"{}-t {}-d\"><title id=\"{}-t\">{}</title><desc id=\"{}-d\">{}</desc>\n",
      number(width_), number(height_), number(width_), number(height_), id_, id_, id_, escaped(title), id_,
      escaped(description));
}

void Svg::line(double x1, double y1, double x2, double y2, std::string_view look) {
  body_ += fmt::format("<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" class=\"{}\"/>\n", number(x1),
                       number(y1), number(x2), number(y2), look);
}

void Svg::rect(double x, double y, double width, double height, std::string_view look) {
  body_ += fmt::format("<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" class=\"{}\"/>\n", number(x),
                       number(y), number(width), number(height), look);
}

void Svg::circle(double x, double y, double radius, std::string_view look, std::string_view says) {
  body_ += fmt::format("<circle cx=\"{}\" cy=\"{}\" r=\"{}\" class=\"{}\"", number(x), number(y),
                       number(radius), look);
  body_ += says.empty() ? "/>\n" : fmt::format("><title>{}</title></circle>\n", escaped(says));
}

void Svg::polyline(const Points& points, std::string_view look, bool closed) {
  if (points.size() < 2) return;
  std::string commands;
  std::string last;
  for (const auto& [x, y] : points) {
    const std::string here = number(x) + " " + number(y);
    if (here == last) continue;
    commands += (commands.empty() ? "M" : "L") + here;
    last = here;
  }
  if (closed) commands += "Z";
  path(commands, look);
}

void Svg::path(std::string_view commands, std::string_view look) {
  body_ += fmt::format("<path d=\"{}\" class=\"{}\"/>\n", commands, look);
}

void Svg::text(double x, double y, std::string_view words, Anchor anchor, std::string_view look) {
  static constexpr const char* names[] = {"start", "middle", "end"};
  body_ += fmt::format("<text x=\"{}\" y=\"{}\"{}{}>{}</text>\n", number(x), number(y),
                       anchor == Anchor::start
                           ? std::string{}
                           : fmt::format(" text-anchor=\"{}\"", names[static_cast<int>(anchor)]),
                       look.empty() ? std::string{} : fmt::format(" class=\"{}\"", look), escaped(words));
}

void Svg::upright(double x, double y, std::string_view words, std::string_view look) {
  body_ += fmt::format(
      "<text transform=\"translate({} {}) rotate(-90)\" text-anchor=\"middle\"{}>{}</text>\n", number(x),
      number(y), look.empty() ? std::string{} : fmt::format(" class=\"{}\"", look), escaped(words));
}

void Svg::begin_at(double x, double y) {
  body_ += fmt::format("<g transform=\"translate({} {})\">\n", number(x), number(y));
}

void Svg::begin_clipped(double x, double y, double width, double height) {
  const int clip = clips_++;
  body_ += fmt::format(
      "<clipPath id=\"{}-c{}\"><rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/></clipPath><g clip-path=\"url(#{}-c{})\">\n",
      id_, clip, number(x), number(y), number(width), number(height), id_, clip);
}

void Svg::embed(double x, double y, const std::string& picture, double scale) {
  body_ += fmt::format("<g transform=\"translate({} {}) scale({})\">\n{}</g>\n", number(x), number(y),
                       fmt::format("{:.4g}", scale), picture);
}

void Svg::end() { body_ += "</g>\n"; }

std::string Svg::text_of() const { return head_ + body_ + "</svg>\n"; }

double height_of(const std::string& picture) {
  const std::string mark = "\" height=\"";
  const auto        at   = picture.find(mark);
  if (at == std::string::npos) throw std::invalid_argument("no picture of Svg::text_of");
  const char* begin  = picture.data() + at + mark.size();
  double      height = 0.0;
  read_number(begin, picture.data() + picture.find('"', at + mark.size()), height);
  return height;
}

std::string standalone(const std::string& svg, Ground ground) {
  // behind the description, where the picture begins
  const std::string mark = "</desc>\n";
  const auto        at   = svg.find(mark);
  if (at == std::string::npos) throw std::invalid_argument("no picture of Svg::text_of");
  std::string text  = svg;
  std::string begin = fmt::format("<style>{}</style>\n", escaped(plain_style(ground)));
  if (ground == Ground::screen) begin += "<rect width=\"100%\" height=\"100%\" class=\"paper\"/>\n";
  text.insert(at + mark.size(), begin);
  return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n" + text;
}

}  // namespace arris::figures
