// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <string>
#include <string_view>
#include <vector>

#include "sim/figures/svg.hpp"

/// The one writer of HTML, for every page that is made here: elements with attributes around escaped text.
namespace arris::report {

/// A piece of a page. What is given as text becomes text, whatever it holds; only raw() takes markup as it stands.
class Html {
 public:
  Html() = default;
  /// Text, its marks escaped as figures::escaped does. Implicit, so that text can stand wherever a piece of a page can.
  template <std::convertible_to<std::string_view> Text>
  Html(const Text& text) : markup_(figures::escaped(text)) {}
  /// Markup of this program's own: a picture, a style sheet, a script. Never what a result or a configuration holds.
  [[nodiscard]] static Html raw(std::string_view markup);

  Html&                     operator+=(const Html& more);
  [[nodiscard]] friend Html operator+(Html piece, const Html& more) {
    piece += more;
    return piece;
  }
  [[nodiscard]] const std::string& markup() const { return markup_; }

 private:
  std::string markup_;
};

struct Attribute {
  std::string_view name;
  std::string      value;  ///< text; empty: the name stands alone, which in HTML is the same
};
using Attributes = std::vector<Attribute>;

/// `<name …>content</name>`.
[[nodiscard]] Html element(std::string_view name, const Attributes& attributes, const Html& content);
[[nodiscard]] Html element(std::string_view name, const Html& content);
/// An element that has neither content nor an end, such as br and meta.
[[nodiscard]] Html void_element(std::string_view name, const Attributes& attributes = {});

}  // namespace arris::report
