// SPDX-License-Identifier: MIT
#include "sim/figures/palette.hpp"

#include <fmt/format.h>

namespace arris::figures {
namespace {

// classes of figures; §name stands for a colour
constexpr const char* classes = R"CSS(
.fig text{font-family:system-ui,DejaVu Sans,sans-serif;font-size:12px;fill:§text}
.fig text.small{font-size:11px}
.fig text.soft{fill:§soft}
.fig text.halo{paint-order:stroke;stroke:§paper;stroke-width:4px;stroke-linejoin:round}
.fig text.strong{font-weight:600}
.fig text.title{font-size:26px;font-weight:600}
.fig text.head{font-size:17px;font-weight:600}
.fig text.lead{font-size:15px}
.fig .paper{fill:§paper}
.fig .frame{fill:§paper;stroke:§rule;stroke-width:1}
.fig .axis{stroke:§soft;stroke-width:1;fill:none}
.fig .grid{stroke:§rule;stroke-width:1;fill:none}
.fig .limit{stroke:§text;stroke-width:1.2;stroke-dasharray:7 3 1 3;fill:none}
.fig .scale{stroke:§text;stroke-width:2;fill:none}
.fig .note{stroke:§soft;stroke-width:1;fill:none}
.fig .steel{fill:§steel;stroke:§text;stroke-width:1.4;stroke-linejoin:round}
.fig .burr{fill:§ochre;stroke:§ochre;stroke-width:1.2;stroke-linejoin:round}
.fig .before{fill:none;stroke:§plum;stroke-width:1.6;stroke-dasharray:5 3}
.fig .line-ink,.fig .line-ochre,.fig .line-plum,.fig .line-text{fill:none;stroke-width:2;stroke-linejoin:round}
.fig .line-ink{stroke:§ink}
.fig .line-ochre{stroke:§ochre;stroke-dasharray:7 3}
.fig .line-plum{stroke:§plum;stroke-dasharray:3 2.5}
.fig .line-text{stroke:§text;stroke-width:1.2}
.fig .bar-ink,.fig .bar-ochre,.fig .bar-plum,.fig .bar-soft{fill:none;stroke-width:2}
.fig .bar-ink{stroke:§ink}
.fig .bar-ochre{stroke:§ochre}
.fig .bar-plum{stroke:§plum}
.fig .bar-soft{stroke:§soft}
.fig .fill-ink{fill:§ink}
.fig .fill-ochre{fill:§ochre}
.fig .fill-plum{fill:§plum}
.fig .fill-soft{fill:§soft}
.fig .step-0{fill:§ink;fill-opacity:0.06}
.fig .step-1{fill:§ink;fill-opacity:0.16}
.fig .step-2{fill:§ink;fill-opacity:0.28}
.fig .step-3{fill:§ink;fill-opacity:0.4}
.fig .step-4{fill:§ink;fill-opacity:0.53}
.fig .step-5{fill:§ink;fill-opacity:0.66}
.fig .step-6{fill:§ink;fill-opacity:0.8}
.fig .step-7{fill:§ink;fill-opacity:0.95}
.fig .under{fill:none;stroke:§paper;stroke-width:5;stroke-linejoin:round}
.fig .over{fill:none;stroke:§ochre;stroke-width:2.5;stroke-linejoin:round}
.fig .ground-stone{fill:§ink;fill-opacity:.07}
.fig .ground-finer{fill:§ink;fill-opacity:.15}
.fig .ground-back{fill:§plum;fill-opacity:.13}
.fig .ground-strop{fill:§ochre;fill-opacity:.17}
.fig .band-ink{fill:§ink;fill-opacity:.2}
.fig .band-ink-twice{fill:§ink;fill-opacity:.36}
.fig .band-ochre{fill:§ochre;fill-opacity:.2}
.fig .band-plum{fill:§plum;fill-opacity:.2}
.fig .point-ink{fill:§paper;stroke:§ink;stroke-width:1.6}
.fig .point-ochre{fill:§paper;stroke:§ochre;stroke-width:1.6}
.fig .point-plum{fill:§paper;stroke:§plum;stroke-width:1.6}
)CSS";

template <class Colour>
std::string filled(const Colour& colour) {
  std::string text(classes);
  for (const Tone& tone : tones) {
    const std::string mark = std::string("§") + tone.name;
    const std::string with = colour(tone);
    for (std::size_t at = text.find(mark); at != std::string::npos; at = text.find(mark, at + with.size()))
      text.replace(at, mark.size(), with);
  }
  return text;
}

// in the dark the ink is the lighter of the two: its steps go the other way, so that light stays low
std::string map_steps_in_the_dark() {
  constexpr const char* opacities[] = {"0.95", "0.8", "0.66", "0.53", "0.4", "0.28", "0.16", "0.06"};
  std::string           rules;
  int                   step = 0;
  for (const char* opacity : opacities)
    rules += fmt::format(".fig .step-{}{{fill-opacity:{}}}", step++, opacity);
  return fmt::format("@media screen and (prefers-color-scheme:dark){{{}}}\n", rules);
}

}  // namespace

std::string figure_style() {
  return filled([](const Tone& tone) { return fmt::format("var(--{})", tone.name); }) +
         map_steps_in_the_dark();
}

std::string plain_style(Ground ground) {
  return filled([ground](const Tone& tone) {
    const bool is_white = ground == Ground::sheet && std::string_view(tone.name) == "paper";
    return std::string(is_white ? "#ffffff" : tone.light);
  });
}

std::string palette_style() {
  std::string light, dark;
  for (const Tone& tone : tones) {
    light += fmt::format("--{}:{};", tone.name, tone.light);
    dark += fmt::format("--{}:{};", tone.name, tone.dark);
  }
  return fmt::format(
      ":root{{color-scheme:light dark;{}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{}}}}}\n",
      light, dark);
}

}  // namespace arris::figures
