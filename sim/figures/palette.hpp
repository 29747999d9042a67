// SPDX-License-Identifier: MIT
#pragma once

#include <string>

/// The one palette of all pictures and pages: what each class of a figure looks like in daylight and in the dark.
///
/// Three colours carry meaning, ink, ochre and plum. They differ in lightness as much as in hue, so that eyes without the
/// long-wave or the middle-wave cones tell them apart and a print in grey does too; each has a dash of its own as well.
/// None of them says good or bad. Text and lines keep a contrast of 4.5 and 3 against the paper (tests/test_figures.cpp).
namespace arris::figures {

/// A colour by its use, `#rrggbb` on light and on dark paper.
struct Tone {
  const char* name;  ///< of the CSS variable, without its dashes
  const char* light;
  const char* dark;
};

inline constexpr Tone tones[] = {
    {"paper", "#fdfcf9", "#15191e"},  // what all is drawn on
    {"panel", "#f3f0e8", "#1e242b"},  // set off from it: heads of tables, code
    {"text", "#20262c", "#e4e2dc"},   // words, axes
    {"soft", "#5a6067", "#a6abb0"},   // words of less weight, ticks
    {"rule", "#d4cfc3", "#3a4149"},   // grids and rules: never the only carrier of meaning
    {"steel", "#b9c2cb", "#56616d"},  // the section of a blade
    {"ink", "#1b3a5c", "#8fbdea"},    // first series
    {"ochre", "#b06f0c", "#e5a93f"},  // second
    {"plum", "#8a5590", "#cf9fd3"},   // third
};

/// The style sheet of figures inside a page: classes that use the variables, for `:root` to set.
[[nodiscard]] std::string figure_style();

/// The variables for `:root`, in daylight and where the reader prefers the dark; paper to print on is always light.
[[nodiscard]] std::string palette_style();

/// What a picture that stands by itself lies on: the palette's light paper on a screen, or the sheet of a printer, which is white and takes
/// no ink.
enum class Ground { screen, sheet };

/// The same classes with the colours of daylight put in, for a picture that stands by itself.
[[nodiscard]] std::string plain_style(Ground ground = Ground::screen);

}  // namespace arris::figures
