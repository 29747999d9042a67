// SPDX-License-Identifier: MIT
#include "sim/report/sheet.hpp"

#include <string_view>

#include "page_texts.hpp"  // generated
#include "sim/figures/palette.hpp"

namespace arris::report {
namespace {

// a file that is built in, by the end of its name
std::string built_in(std::string_view name) {
  for (const auto& [path, text] : page_texts) {
    if (path.size() >= name.size() && path.substr(path.size() - name.size()) == name)
      return std::string(text);
  }
  return {};
}

Html script(const std::string& text) { return element("script", Html::raw("\n" + text)) + "\n"; }

Html head_of(const Sheet& sheet) {
  const std::string style = figures::palette_style() + figures::figure_style() + built_in("page.css") +
                            (sheet.live ? built_in("uPlot.min.css") : "");
  return element("head", "\n" + void_element("meta", {{"charset", "utf-8"}}) + "\n" +
                             void_element("meta", {{"name", "viewport"},
                                                   {"content", "width=device-width, initial-scale=1"}}) +
                             "\n" + element("title", sheet.title) + "\n" +
                             void_element("link", {{"rel", "icon"}, {"href", "data:,"}}) + "\n" +
                             element("style", Html::raw("\n" + style)) + "\n");
}

Html scripts_of(const Sheet& sheet) {
  Html scripts = script(built_in("paper.js")) + script(built_in("history.js"));
  if (sheet.live) {
    scripts += script("/*\n" + built_in("uplot/LICENSE") + "*/\n" + built_in("uPlot.iife.min.js") + "\n");
    scripts += script(built_in("live.js"));
  }
  return scripts;
}

Html body_of(const Sheet& sheet) {
  const std::string notice =
      sheet.live
          ? " Charts that answer the pointer are drawn by uPlot, MIT licence, whose notice is in this file."
          : "";
  return element("body", "\n" + element("a", {{"class", "skip"}, {"href", "#main"}}, "To the answer") + "\n" +
                             element("header", element("p", {{"class", "kind"}}, "A report by arris") +
                                                   element("h1", sheet.title)) +
                             "\n" + element("main", {{"id", "main"}}, "\n" + sheet.main) + "\n" +
                             element("footer", element("p", sheet.footer + notice)) + "\n" +
                             scripts_of(sheet));
}

}  // namespace

std::string html_of(const Sheet& sheet) {
  const Html page = Html::raw("<!DOCTYPE html>\n") +
                    element("html", {{"lang", "en"}}, "\n" + head_of(sheet) + "\n" + body_of(sheet) + "\n") +
                    "\n";
  return page.markup();
}

Html titled_section(const std::string& id, const std::string& heading, const Html& content) {
  const std::string heading_id = id + "-h";
  return element("section", {{"aria-labelledby", heading_id}, {"id", id}},
                 "\n" + element("h2", {{"id", heading_id}}, heading) + "\n" + content) +
         "\n";
}

Html scrolling_table(const std::string& says, const Html& content) {
  return element("div", {{"class", "scroll"}, {"tabindex", "0"}, {"role", "group"}, {"aria-label", says}},
                 element("table", content));
}

Html folded(const std::string& look, const std::string& summary, const Html& content) {
  return element("details", look.empty() ? Attributes{} : Attributes{{"class", look}},
                 element("summary", summary) + "\n" + content) +
         "\n";
}

}  // namespace arris::report
