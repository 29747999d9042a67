// SPDX-License-Identifier: MIT
#include "sim/report/html.hpp"

namespace arris::report {

Html Html::raw(std::string_view markup) {
  Html piece;
  piece.markup_ = markup;
  return piece;
}

Html& Html::operator+=(const Html& more) {
  markup_ += more.markup_;
  return *this;
}

Html void_element(std::string_view name, const Attributes& attributes) {
  std::string tag = "<" + std::string(name);
  for (const auto& [key, value] : attributes) {
    tag += " " + std::string(key);
    if (!value.empty()) tag += "=\"" + figures::escaped(value) + "\"";
  }
  return Html::raw(tag + ">");
}

Html element(std::string_view name, const Attributes& attributes, const Html& content) {
  return void_element(name, attributes) + content + Html::raw("</" + std::string(name) + ">");
}

Html element(std::string_view name, const Html& content) { return element(name, {}, content); }

}  // namespace arris::report
