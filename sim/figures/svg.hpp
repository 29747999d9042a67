// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/figures/palette.hpp"

/// A picture as SVG text: a few marks with classes of the palette, a title and a description for those who cannot see it.
/// Needs no files and no network. What it returns can stand inside an HTML page (whose style sheet has palette_style() and
/// figure_style()), or, through standalone(), in a file of its own.
namespace arris::figures {

/// Text for HTML and SVG: & < > " ' as entities; control characters, which XML forbids, as U+FFFD.
[[nodiscard]] std::string escaped(std::string_view text);

/// A coordinate or size: at most two decimals.
[[nodiscard]] std::string number(double value);

/// A number for people: `significant` digits, no exponent where it can be helped; "–" for NaN.
[[nodiscard]] std::string figure_number(double value, int significant = 3);

/// About how wide a text is at this size of letters, in the units of the picture; for layout only.
[[nodiscard]] double text_width(std::string_view text, double size = 12.0);

/// The size at which bold letters of 12 are laid out: they are wider.
inline constexpr double bold_size = 13.2;

/// `text` broken at blanks into lines no wider than `width` (a longer word stays whole).
[[nodiscard]] std::vector<std::string> lines_of(std::string_view text, double width, double size = 12.0);

using Points = std::vector<std::pair<double, double>>;

class Svg {
 public:
  /// `id`: letters, digits and dashes, unlike any other of the page. `title` names the picture, `description` says in words
  /// what it shows.
  Svg(double width, double height, std::string id, const std::string& title, const std::string& description);

  [[nodiscard]] double             width() const { return width_; }
  [[nodiscard]] double             height() const { return height_; }
  [[nodiscard]] const std::string& id() const { return id_; }

  void line(double x1, double y1, double x2, double y2, std::string_view look);
  void rect(double x, double y, double width, double height, std::string_view look);
  /// `says`: what the reader sees when pointing at it; may be empty.
  void circle(double x, double y, double radius, std::string_view look, std::string_view says = {});
  /// Lines from point to point; `closed` joins the last to the first.
  void polyline(const Points& points, std::string_view look, bool closed = false);
  void path(std::string_view commands, std::string_view look);

  enum class Anchor { start, middle, end };
  void text(double x, double y, std::string_view words, Anchor anchor = Anchor::start,
            std::string_view look = {});
  /// Text that reads upwards, its middle at the point.
  void upright(double x, double y, std::string_view words, std::string_view look = {});

  /// Another picture (text_of) with its corner at a point, `scale` times its size.
  void embed(double x, double y, const std::string& picture, double scale = 1.0);

  /// What is drawn until `end()` is moved, or cut off outside a box.
  void begin_at(double x, double y);
  void begin_clipped(double x, double y, double width, double height);
  void end();

  /// The whole: an `<svg>` element.
  [[nodiscard]] std::string text_of() const;

 private:
  double      width_, height_;
  std::string id_, head_, body_;
  int         clips_ = 0;
};

/// The height that a picture (text_of) states, in its own units.
[[nodiscard]] double height_of(const std::string& picture);

/// The same picture for a file of its own: XML, with colours put in, on light paper or on the white of a sheet to print.
[[nodiscard]] std::string standalone(const std::string& svg, Ground ground = Ground::screen);

}  // namespace arris::figures
