// SPDX-License-Identifier: MIT
// Configurations that are valid by their making, each number within its range: the input chooses what stands in them. They load, or are
// refused because their numbers cannot be together; what check prints is the same campaign; and every edge ends as a blade can be, or says
// why it does not.
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>

#include <fmt/format.h>

#include "sim/input/loader.hpp"
#include "sim/simulate/simulate.hpp"

namespace {

/// The input, taken piece by piece; zeros behind its end.
class Choices {
 public:
  Choices(const std::uint8_t* data, std::size_t size) : at_(data), end_(data + size) {}
  std::size_t number() { return at_ < end_ ? *at_++ : 0U; }
  std::size_t below(std::size_t most) { return number() % most; }
  /// A number of a range, its ends among them: evenly, or by ratio where it begins above 0.
  double between(double low, double high) {
    const std::size_t kind = number();
    if (kind < 16) return kind % 2 == 0 ? low : high;
    const double share = static_cast<double>(256 * number() + number()) / 65535.0;
    return low > 0.0 && kind % 2 == 0 ? low * std::pow(high / low, share) : low + share * (high - low);
  }

 private:
  const std::uint8_t *at_, *end_;
};

constexpr std::string_view families[] = {"soft waterstone", "hard waterstone", "oilstone",
                                         "plated diamond",  "lapping film",    "vitrified ceramic"};
constexpr std::string_view pads[] = {"thin hide on wood", "thick hide", "soft hide", "felt", "MDF", "balsa"};
constexpr std::string_view compounds[] = {"none", "chromium oxide 0.5 µm", "alumina 1 µm", "diamond 0.25 µm"};
constexpr std::string_view woods[]     = {"teak", "white oak", "coast Douglas-fir", "lignumvitae",
                                          "northern white cedar"};
constexpr std::string_view steels[]    = {"O1", "A2", "D2", "W1", "52100"};

template <std::size_t N>
std::string_view one_of(const std::string_view (&list)[N], Choices& choose) {
  return list[choose.below(N)];
}

std::string medium(Choices& choose) {
  return fmt::format("{}, {:.3f} µm", one_of(families, choose), choose.between(0.1, 60.0));
}

std::string step(Choices& choose, std::size_t number) {
  switch (choose.below(7)) {
    case 0:
    case 1:
      return fmt::format("{{ hone = \"{}\", strokes = {}, after_burr = {}, force_N = {}, stroke_mm = {} }}",
                         medium(choose), choose.below(100), choose.below(2) == 0 ? "true" : "false",
                         choose.between(0.1, 500), choose.between(20, 200));
    case 2:
      return fmt::format("{{ back = \"{}\", strokes = {} }}", medium(choose), choose.below(100));
    case 3:
      return fmt::format("{{ strop = \"{}\", compound = \"{}\", laps = {}, force_N = {} }}",
                         one_of(pads, choose), one_of(compounds, choose), choose.below(100),
                         choose.between(0.1, 100));
    case 4:
      return fmt::format("{{ read = \"r{}\", replicates = {} }}", number, 1 + choose.below(9));
    default:
      return fmt::format("{{ cut = \"{}\", passes = {}, pass_m = {} }}", one_of(woods, choose),
                         choose.below(256) * choose.below(256), choose.between(0.01, 10));
  }
}

std::string configuration(Choices& choose) {
  const double bevel = choose.between(10, 40);
  std::string  text  = fmt::format(
        "[output]\npoints_per_step = {}\nreading_limit_gf = {}\n[numerics]\nmax_steps = 3000\n[tool.t]\nsteel = \"{}\"\nwidth_mm = {}\nthickness_mm = {}\nprimary_bevel_deg = {}\nmicro_bevel_deg = {}\nhoned_sides = {}\napex_radius_um = {}\nscratch_um = {}\nland_mm = {}\n",
        1 + choose.below(12), choose.between(20, 800), one_of(steels, choose), choose.between(3, 100),
        choose.between(0.5, 10), bevel, choose.below(2) == 0 ? bevel : bevel + choose.between(0.1, 20),
        1 + choose.below(2), choose.between(0.02, 100), choose.between(0.001, 5), choose.between(0.001, 2));
  const std::size_t edges = 1 + choose.below(2);
  for (std::size_t e = 0; e < edges; ++e) {
    text += fmt::format("[edge.\"e{}\"]\ntool = \"t\"\nsteps = [\n", e);
    const std::size_t steps = 1 + choose.below(8);
    for (std::size_t s = 0; s < steps; ++s) text += "  " + step(choose, s) + ",\n";
    text += "]\n";
  }
  return text;
}

[[noreturn]] void fail(const std::string& text, const std::string& why) {
  std::fprintf(stderr, "%s--- %s\n", text.c_str(), why.c_str());
  std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace arris;
  Choices           choose(data, size);
  const std::string text = configuration(choose);
  Loaded            loaded;
  try {
    loaded = load_scenario("c.toml", text);
  } catch (const Error& error) {
    for (const Diagnostic& d : error.diagnostics()) {
      // a text that is written right is refused for its meaning alone
      for (const char* code : {"syntax", "unknown-key", "wrong-type", "missing-key", "unknown-name"}) {
        if (d.code == code) fail(text, error.what());
      }
    }
    return 0;
  }
  try {
    (void)load_scenario("again.toml", resolved_toml(loaded, false));
  } catch (const Error& error) {
    fail(text, error.what());
  }
  const double half_um = 500.0 * loaded.scenario.model.tools.front().thickness_mm;
  for (const EdgeResult& edge : simulate(loaded.scenario, 1).edges) {
    if (!edge.status.usable() && edge.message.empty()) fail(text, "an edge that ends without a reason");
    for (const TrackPoint& p : edge.track) {
      const bool is_possible = p.apex_radius_um > 0.0 && p.apex_radius_um <= half_um && p.burr_um >= 0.0 &&
                               std::isfinite(p.reading_N) && p.reading_N > 0.0;
      if (!is_possible)
        fail(text, fmt::format("an apex of {} µm, a burr of {} µm, {} N", p.apex_radius_um, p.burr_um,
                               p.reading_N));
    }
  }
  return 0;
}
