// SPDX-License-Identifier: MIT
#include <atomic>
#include <cmath>
#include <functional>
#include <string>
#include <variant>
#include <vector>

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/fit/fit_report.hpp"
#include "sim/integrate/jet.hpp"
#include "sim/laws/wear/wear_law.hpp"
#include "sim/parallel.hpp"
#include "sim/studies/weigh/weigh.hpp"
#include "tests/desk.hpp"
#include "tests/fixture.hpp"

using namespace arris;
using namespace arris::desk;
using namespace arris::laws;
using bench::off;

namespace {

struct Named {
  std::string name;
  double      value;
};

Formula<double> formula(const std::string& text, const std::vector<Named>& numbers) {
  std::vector<FormulaParameter> parameters;
  for (const Named& n : numbers) {
    FormulaParameter p;
    p.name   = n.name;
    p.unit   = "1";
    p.low    = 0.0;
    p.factor = 2.0;
    parameters.push_back(p);
  }
  FormulaFault    fault;
  Formula<double> law;
  law.program = compile_formula(text, parameters, fault);
  INFO(text << ": " << fault.what);
  REQUIRE(law.program != nullptr);
  for (const auto& p : law.program->parameters()) {
    for (const Named& n : numbers) {
      if (n.name == p.name) law.values.push_back(n.value);
    }
  }
  return law;
}

// each built-in law beside the same written as a formula; the parameters are called as those of the law
std::vector<std::pair<WearLaw<double>, Formula<double>>> pairs() {
  const auto pair = [](const auto& law, const std::string& text) {
    std::vector<Named> numbers;
    law.fields(
        [&](const Field& f, const double& value) {
          numbers.push_back({std::string(f.key), value});
        },
        law);
    return std::make_pair(WearLaw<double>(law), formula(text, numbers));
  };
  return {
      pair(SharedLoad<double>{}, "severity*(0.5*parting_um2_per_m/r + crushing_um_per_m)"),
      pair(ConstantRate<double>{}, "rate_um_per_m*severity"),
      pair(SquareRoot<double>{}, "severity*section_um2_per_m/(2*r)"),
      pair(Power<double>{}, "severity*rate_um_per_m*r^(-exponent)"),
      pair(Settling<double>{}, "severity*(line_um_per_m + settle_um/settle_m*exp(-x/settle_m))"),
  };
}

// honed, used in two woods, stropped and used again
EdgePlan used() {
  return bench::plan(bench::tool::iron, {bench::hone(bench::medium::fine, 20),
                                         bench::cut(bench::wood::oak, 40), bench::cut(bench::wood::teak, 20),
                                         bench::strop(bench::backing::thin_hide, bench::compound::oxide, 10),
                                         bench::cut(bench::wood::maple, 30)});
}

}  // namespace

// the formula itself

TEST_CASE("a formula is read as mathematics is", "[formula]") {
  const auto at = [](const std::string& text, double r = 0.5, double x = 4.0) {
    return formula(text, {}).rate(r, x);
  };
  CHECK(at("-r^2") == -0.25);
  CHECK(at("2^3^2") == 512.0);
  CHECK(at("8/4/2") == 1.0);
  CHECK(at("1 - 2 - 3 + x*r") == -2.0);
  CHECK(at("1e-3*x") == 1e-3 * 4.0);
  CHECK(off(at("sin(pi/6) + ln(exp(2)) + log10(100) + sqrt(x)"), 6.5) < 1e-15);
  CHECK(at("r < 1 ? 7 : 8") == 7.0);
  CHECK(at("min(r, x, 3) + max(r, x) + abs(-1)") == 5.5);
  // what it is given where nothing else is said: radiata pine, O1 at 7.1 GPa and 30°
  CHECK(off(at("severity + hardness + wear_ratio + side_hardness + load + silica_pct + extractive_factor"),
            1 + 7.1 + 1 + 3150 + 31.5 + 0 + 1) < 1e-15);
  CHECK(off(at("sin(half_angle)"), std::sin(15 * degree)) < 1e-15);
  CHECK(std::isnan(Formula<double>{}.rate(1.0, 1.0)));
}

TEST_CASE("derivatives of a formula are as good as differences of fourth order can be", "[formula]") {
  const auto law =
      formula("k*severity/r^q*exp(-x/L) + sqrt(s)", {{"k", 2e-3}, {"q", 0.7}, {"L", 20}, {"s", 0.0}});
  REQUIRE(law.program->parameters()[0].name == "k");  // in the order in which they are mentioned
  REQUIRE(law.program->parameters()[3].name == "s");
  std::vector<double> v(law.program->size(), 1.0);
  const std::size_t   k = formula_inputs.size(), q = k + 1, L = k + 2, s = k + 3;
  v[0] = 0.3, v[1] = 7.0, v[2] = 2.5, v[k] = 2e-3, v[q] = 0.7, v[L] = 20, v[s] = 0.04;
  const double f     = 2e-3 * 2.5 / std::pow(0.3, 0.7) * std::exp(-0.35);
  const auto   slope = [&](std::size_t i) { return law.program->slope(v.data(), i); };
  // of a power, step⁴·v⁵·f⁽⁵⁾/30 = 1e-12·1.7·2.7·3.7·4.7·0.7·f/30/v = 2e-12·f/v; rounding leaves 1.5·2e-16/1e-3 = 3e-13·f/v.
  // f here is the whole rate, √s = 0.2 with it, hundred times the first term.
  const double scale = std::sqrt(0.04) + f;
  CHECK(std::abs(slope(0) + 0.7 * f / 0.3) < 1e-12 * scale / 0.3);
  CHECK(std::abs(slope(1) + f / 20) < 1e-12 * scale / 7.0);
  CHECK(std::abs(slope(2) - f / 2.5) < 1e-12 * scale / 2.5);
  CHECK(std::abs(slope(k) - f / 2e-3) < 1e-12 * scale / 2e-3);
  CHECK(std::abs(slope(q) + std::log(0.3) * f) < 1e-12 * scale / 0.7);
  CHECK(std::abs(slope(L) - f * 7.0 / 400) < 1e-12 * scale / 20);
  CHECK(std::abs(slope(s) - 0.5 / 0.2) < 1e-11 * scale / 0.04);
  CHECK(v[0] == 0.3);  // put back
  // one side only has values: √(s − 1) at its end has none, but (s)^1.5 at 0 has the slope 0, to √(step) of the step
  const auto          one_sided = formula("s^1.5 + k*s", {{"s", 0.0}, {"k", 3.0}});
  std::vector<double> w(one_sided.program->size(), 0.0);
  w[k + 1] = 3.0;
  CHECK(std::abs(one_sided.program->slope(w.data(), k) - 3.0) < 2.0 * std::sqrt(1e-3));
}

TEST_CASE("what is no formula is told, with its place", "[formula]") {
  struct Case {
    std::string text, code, what, under;
  };
  for (const Case& c : {
           Case{"k*sevrity", "unknown-variable", "nothing is called \"sevrity\"", "sevrity"},
           Case{"k*foo(r)", "unknown-function", "there is no function \"foo\"", "foo"},
           Case{"k*sin", "formula-syntax", "sin is a function", "sin"},
           Case{"k*(r + 1", "formula-syntax", "a parenthesis is not closed", "1"},
           Case{"k*r)", "formula-syntax", "this parenthesis is out of place", ")"},
           Case{"k*r^", "formula-syntax", "the formula ends too early", "^"},
           Case{"2 k", "formula-syntax", "\"k\" stands where an operator is expected", "k"},
           Case{"k**r", "formula-syntax", "the operator \"*\" stands where a number or name is expected",
                "*"},
           Case{"k·r", "formula-syntax", "\"·\" is no sign of a formula", "·"},
           Case{"k = r", "formula-syntax", "a formula says what the rate is and sets nothing equal", "="},
           Case{"k*3,5", "formula-syntax", "the comma splits the formula in two", ","},
           Case{"k*sin(r, x)", "formula-syntax", "sin is given too many numbers", "sin"},
           Case{"k*max()", "formula-syntax", "max is given too few numbers", "max"},
           Case{"r > 1 ? k", "formula-syntax", "the choice is not complete", "?"},
           Case{"k*r!", "formula-syntax", "\"!\" is not understood", "!"},
           Case{"k*'r'", "formula-syntax", "\"'\" is no sign of a formula", "'"},
           Case{" ", "formula-syntax", "the formula is empty", ""},
           Case{std::string(3000, '-') + "k", "formula-syntax", "the formula is too long", ""},
           Case{"r", "unused-parameter", "the formula does not use \"k\"", ""},
       }) {
    FormulaFault     fault;
    FormulaParameter k;
    k.name = "k";
    INFO(c.text);
    CHECK(compile_formula(c.text, {k}, fault) == nullptr);
    CHECK(fault.code == c.code);
    CHECK(fault.what == c.what);
    CHECK((fault.at == std::string::npos ? "" : c.text.substr(fault.at, fault.size)) == c.under);
  }
  for (const char* name : {"r", "x", "exp", "pi", "2k", "a-b", ""}) {
    FormulaFault     fault;
    FormulaParameter p;
    p.name = name;
    INFO(name);
    CHECK(compile_formula("r", {p}, fault) == nullptr);
    CHECK(fault.code == "taken-name");
  }
}

TEST_CASE("no text brings a formula down", "[formula][robustness]") {
  bench::Dice       dice(91);
  const std::string signs = "krxqe0123.,+-*/^()<>=?:&|! \"'\\#_%µ";
  int               taken = 0;
  for (int i = 0; i < 20000; ++i) {
    std::string text;
    for (int n = dice.below(12); n >= 0; --n)
      text += signs[static_cast<std::size_t>(dice.below(static_cast<int>(signs.size())))];
    FormulaFault fault;
    const auto   program = compile_formula(text, {}, fault);
    if (program == nullptr) {
      CHECK_FALSE(fault.what.empty());
      CHECK((fault.at == std::string::npos || fault.at < text.size()));
    } else {
      ++taken;
      const std::vector<double> v(program->size(), 1.0);
      (void)program->rate(v.data());
    }
  }
  CHECK(taken > 100);
}

TEST_CASE("many threads can use one formula, and several formulas, at a time", "[formula][threads]") {
  std::vector<Formula<double>> laws;
  for (int i = 0; i < 12; ++i)  // more than a thread keeps
    laws.push_back(formula("k*r^q + x", {{"k", 1.0 + i}, {"q", 0.5}}));
  const auto       expected = [](int i, double r) { return (1.0 + i) * std::pow(r, 0.5) + 2.0; };
  std::atomic<int> wrong{0};
  for_each_index(2000, 8, [&](std::size_t n) {
    const int    i = static_cast<int>(n % laws.size());
    const double r = 0.1 + 1e-3 * static_cast<double>(n);
    if (off(laws[static_cast<std::size_t>(i)].rate(r, 2.0), expected(i, r)) > 1e-15) ++wrong;
  });
  CHECK(wrong == 0);
}

// as a law of a model

TEST_CASE("a formula that says what a built-in law says gives the same histories", "[formula]") {
  for (const auto& [law, written] : pairs()) {
    auto model      = bench::workshop();
    model.wear->law = law;
    const auto a    = bench::run(model, used(), bench::at_tolerance(1e-12));
    model.wear->law = written;
    const auto b    = bench::run(model, used(), bench::at_tolerance(1e-12));
    REQUIRE(a.status.usable());
    REQUIRE(b.status.usable());
    // the same equation, rounded otherwise in the last place: far below the tolerance of both
    for (std::size_t i = 0; i < a.witness.after_step.size(); ++i) {
      CAPTURE(written.program->text(), i);
      CHECK(off(b.witness.after_step[i].apex_radius_um, a.witness.after_step[i].apex_radius_um) < 1e-9);
    }
    CHECK(off(b.ledger.steel_worn_um_mm, a.ledger.steel_worn_um_mm) < 1e-9);
  }
}

TEST_CASE("a formula that says what a built-in law says has the same derivatives", "[formula]") {
  using Jet = ceres::Jet<double, 8>;
  for (const auto& [law, written] : pairs()) {
    const auto slopes = [&](const WearLaw<double>& wear) {
      auto model                    = bench::workshop();
      model.wear->law               = wear;
      auto                     jets = convert<Jet>(model);
      int                      slot = 0;
      std::vector<std::string> seeded;
      for_each_number(jets, [&](const std::string& path, const Field&, Jet& number) {
        if (path.rfind("wear.", 0) == 0 || path == "wood.white oak.side_hardness_N" ||
            path == "wood.teak.silica_pct" || path == "steel.O1.hardness_GPa" ||
            path == "tool.iron.micro_bevel_deg" || path == "tool.iron.apex_radius_um") {
          number.v[slot++] = number.a;  // relative
          seeded.push_back(path);
        }
      });
      REQUIRE(slot >= 6);
      const auto r = bench::run(jets, used(), bench::at_tolerance(1e-11));
      REQUIRE(r.status.usable());
      std::map<std::string, double> out;
      for (std::size_t i = 0; i < seeded.size(); ++i)
        out[seeded[i]] = r.state.apex_radius_um.v[static_cast<Eigen::Index>(i)] / r.state.apex_radius_um.a;
      return out;
    };
    const auto exact = slopes(law), differences = slopes(written);
    REQUIRE(exact.size() == differences.size());
    double largest = 0.0;
    for (const auto& [path, slope] : exact) largest = std::max(largest, std::abs(slope));
    CHECK(largest > 0.01);
    for (const auto& [path, slope] : exact) {
      CAPTURE(written.program->text(), path, slope);
      // differences are good to 1e-12 of the rate; the runs differ by some hundred steps of 1e-11
      CHECK(std::abs(differences.at(path) - slope) < 1e-7 * largest);
    }
  }
}

TEST_CASE("a formula sees wood, steel and angle as they are, and only what it mentions", "[formula]") {
  auto       model  = bench::workshop();
  const auto radius = [&](const std::string& text, int tool, int wood) {
    model.coefficients.collapse_load_N_per_m = 0.0;
    model.wear->law                          = formula(text, {{"k", 1e-3}});
    const auto r = bench::run(model, bench::plan(tool, {bench::cut(wood, 100)}), bench::at_tolerance(1e-10));
    REQUIRE(r.status.usable());
    return r.state.apex_radius_um - bench::tool_of(model, tool).apex_radius_um;
  };
  using namespace bench;
  const double path = 100 * cut(wood::oak, 1).pass_m;
  // a constant rate integrates exactly, but for rounding of the difference
  CHECK(off(radius("k", tool::iron, wood::oak), 1e-3 * path) < 1e-11);
  CHECK(radius("k", tool::iron, wood::oak) == radius("k", tool::knife, wood::teak));
  const auto& oak = model.woods[wood::oak];
  CHECK(off(radius("k*side_hardness/1000", tool::iron, wood::oak), 1e-6 * oak.side_hardness_N * path) <
        1e-11);
  CHECK(off(radius("k*load", tool::iron, wood::oak), 1e-5 * oak.side_hardness_N * path) < 1e-11);
  CHECK(off(radius("k*extractive_factor", tool::iron, wood::oak), 1e-3 * oak.extractive_factor * path) <
        1e-11);
  CHECK(off(radius("k*silica_pct", tool::iron, wood::teak),
            1e-3 * model.woods[wood::teak].silica_pct * path) < 1e-11);
  CHECK(off(radius("k*hardness", tool::knife, wood::oak),
            1e-3 * model.steels[steel::d2].hardness_GPa * path) < 1e-11);
  CHECK(off(radius("k*wear_ratio", tool::knife, wood::oak),
            1e-3 * model.steels[steel::d2].wear_ratio * path) < 1e-11);
  CHECK(off(radius("k*half_angle", tool::iron, wood::oak),
            1e-3 * 0.5 * degree * tool_of(model, tool::iron).micro_bevel_deg * path) < 1e-11);
  CHECK(off(radius("k*severity", tool::iron, wood::oak),
            1e-3 * severity(model, blade_of(model, tool::iron), oak) * path) < 1e-11);
}

// in a configuration

namespace {

const std::string cuts =
    shop("{ read = \"new\" }, { cut = \"white oak\", passes = 100 }, { read = \"worn\" },");

std::string stated(const std::string& rate, const std::string& rows) {
  return cuts + "[wear]\nlaw = \"formula\"\nrate = \"" + rate + "\"\n" + rows;
}
const std::string k_and_q =
    "k = { value = 0.002, unit = \"µm²/m\", low = 1e-6, high = 1, factor = 3, says = \"how fast\" }\n"
    "q = { value = 0.7, unit = \"1\", low = 0, high = 4, factor = 1.5, status = \"estimate\" }\n";

std::vector<std::string> notes(const std::string& text) {
  std::vector<std::string> out;
  for (const Diagnostic& d : load(text).warnings) out.push_back(d.code);
  return out;
}

}  // namespace

TEST_CASE("a configuration states a law as a formula, with parameters that can be fitted",
          "[formula][config]") {
  const Loaded loaded = load(stated("k*load/(hardness*r^q)", k_and_q));
  const auto&  law    = std::get<Formula<double>>(loaded.scenario.model.wear->law);
  CHECK(law.values == std::vector<double>{0.002, 0.7});
  CHECK(loaded.warnings.empty());
  const auto known = fittable_parameters(loaded.scenario.model);
  CHECK(std::count(known.begin(), known.end(), "wear.k") == 1);
  CHECK(std::count(known.begin(), known.end(), "wear.q") == 1);
  const FreeParameter k = free_parameter(loaded.scenario.model, "wear.k");
  CHECK(k.unit == "µm²/m");
  CHECK(k.doc == "how fast");
  CHECK(k.low == 1e-6);
  CHECK(k.high == 1.0);
  CHECK(k.prior.centre == 0.002);
  CHECK(k.prior.spread == 3.0);
  CHECK(k.short_name() == "k");
  CHECK(free_parameter(loaded.scenario.model, "wear.q").unit.empty());
  // `rate` alone says that it is a formula, and a name can carry the unit
  const Loaded short_form =
      load(cuts + "[wear]\nrate = \"speed_um_per_m*severity\"\nspeed_um_per_m = 1e-3\n");
  CHECK(std::get<Formula<double>>(short_form.scenario.model.wear->law).values == std::vector<double>{1e-3});
  // a file that includes another has the last word on a value
  const Loaded layered =
      load("include = [\"law.toml\"]\n" + cuts + "[wear]\nk = 0.004\n",
           {{"law.toml", "[wear]\nrate = \"k*severity\"\nk = { value = 0.002, unit = \"µm/m\" }\n"}});
  CHECK(std::get<Formula<double>>(layered.scenario.model.wear->law).values == std::vector<double>{0.004});
  CHECK(layered.origins.at("wear.k").file == "shop.toml");
}

TEST_CASE("a formula comes back from what check prints", "[formula][config][round-trip]") {
  for (const std::string& text :
       {stated("k*severity/r^q", k_and_q), stated("r < 1 ? k*severity : k*q", k_and_q),
        cuts + "[wear]\nrate = '''speed_um_per_m*\n severity'''\nspeed_um_per_m = 1e-3\n"}) {
    const Loaded first = load(text);
    for (const bool origins : {false, true}) {
      const Loaded second = load(resolved_toml(first, origins));
      CHECK(same_text(resolved_toml(second, false), resolved_toml(first, false)));
      const auto &a = std::get<Formula<double>>(first.scenario.model.wear->law),
                 &b = std::get<Formula<double>>(second.scenario.model.wear->law);
      CHECK(a.program->text() == b.program->text());
      CHECK(a.values == b.values);
    }
  }
}

TEST_CASE("faults of a formula in a configuration are told at their place", "[formula][config]") {
  const Error unknown = load_error(stated("k*sevrity/r^q", k_and_q));
  CHECK(
      std::string(unknown.what()) ==
      "shop.toml:14:11: nothing is called \"sevrity\" (allowed: k, q, r, x, severity, hardness, wear_ratio, half_angle, side_hardness, load, silica_pct, extractive_factor or pi) [unknown-variable]\n"
      "  14 | rate = \"k*sevrity/r^q\"\n"
      "     |           ^^^^^^^\n"
      "  Did you mean severity? To declare it, write sevrity = { value = …, unit = … } in [wear].\n");
  CHECK(
      std::string(load_error(stated("k·severity", "k = { value = 1, unit = \"1\" }\n")).what()) ==
      "shop.toml:14:10: \"·\" is no sign of a formula [formula-syntax]\n"
      "  14 | rate = \"k·severity\"\n"
      "     |          ^\n"
      "  Write * for a product, / for a quotient, ^ for a power and - for minus; names have plain letters, digits and _.\n");
  CHECK(
      std::string(load_error(stated("severity/r^q", k_and_q)).what()) ==
      "shop.toml:15:1: the formula does not use \"k\" [unused-parameter]\n"
      "  15 | k = { value = 0.002, unit = \"µm²/m\", low = 1e-6, high = 1, factor = 3, says = \"how fast\" }\n"
      "     | ^\n"
      "  Use it, or take it out.\n");
  CHECK(std::string(load_error(stated("k*severity", "k = 3\n")).what()) ==
        "shop.toml:15:1: the parameter k has no unit [missing-unit]\n"
        "  15 | k = 3\n"
        "     | ^\n"
        "  Every quantity carries its unit, so that nobody has to guess it.\n"
        "  Write k = { value = 3, unit = \"µm/m\" }, or unit = \"1\" for a pure number.\n");
  CHECK(
      std::string(load_error(stated("k - 1e-3*r", "k = { value = 0.002, unit = \"µm/m\" }\n")).what()) ==
      "shop.toml:14:8: the rate is -3.67e-06 µm/m at r = 2 µm and x = 0 m, in white oak with iron (allowed: 0 µm/m or more for r = 0.02 … 20 µm and x = 0 … 100 m) [negative-rate]\n"
      "  14 | rate = \"k - 1e-3*r\"\n"
      "     |        ^^^^^^^^^^^^\n"
      "  Wood blunts an edge; it does not sharpen it.\n");
  const auto code = [](const std::string& rate, const std::string& rows) {
    return codes(load_error(stated(rate, rows)));
  };
  using Codes = std::vector<std::string>;
  CHECK(code("severity*sqrt(r - 0.1)", "") == Codes{"not-finite"});
  CHECK(code("severity*x^(-0.5)", "") == Codes{"not-finite"});
  CHECK(code("severity*k", "k = { unit = \"1\" }\n") == Codes{"missing-key"});
  CHECK(code("severity*k", "k = { value = 1, unit = \"1\", low = 2 }\n") == Codes{"out-of-range"});
  CHECK(code("severity*k", "k = { value = 1, unit = \"1\", low = 2, high = 2 }\n") == Codes{"impossible"});
  CHECK(code("severity*(1 + k)", "k = { value = 0, unit = \"1\", factor = 2 }\n") == Codes{"bad-prior"});
  CHECK(code("severity*k", "k = \"3\"\n") == Codes{"not-a-number"});
  CHECK(code("severity*k", "k = nan\n") == Codes{"not-a-number"});
  CHECK(code("severity*k", "k = { value = inf, unit = \"1\" }\n") == Codes{"not-finite"});
  CHECK(code("severity*k", "k = { value = 1, units = \"1\" }\n") == Codes{"unknown-key"});
  CHECK(code("severity*exp", "exp = { value = 1, unit = \"1\" }\n") == Codes{"taken-name"});
  CHECK(codes(load_error(cuts + "[wear]\nlaw = \"formula\"\n")) == Codes{"missing-key"});
  CHECK(codes(load_error(cuts + "[wear]\nlaw = \"formula\"\nrate = 3\n")) == Codes{"not-text"});
  CHECK(codes(load_error(cuts + "[wear]\nlaw = \"power\"\nrate = \"r\"\n")) == Codes{"unknown-key"});
}

TEST_CASE("a formula that may not be meant is taken, with a note", "[formula][config]") {
  using Codes = std::vector<std::string>;
  CHECK(notes(stated("k*severity/r^q", k_and_q)).empty());
  CHECK(notes(stated("k*r^(-q)", k_and_q)) == Codes{"same-in-any-wood"});
  CHECK(notes(stated("load*severity", "load = { value = 1e-3, unit = \"µm/m\" }\n")) ==
        Codes{"takes-the-place"});
  // kinks and jumps wherever they are, not only at round numbers
  for (const char* rate :
       {"severity*(abs(r - 0.2345) + 1e-3)", "severity*min(1/r, 3.21)", "severity*(x > 17.17 ? 1 : 2)",
        "severity*(r > 7.7 ? 1 : 1.1)", "severity*max(0.5, exp(-x/23))", "side_hardness > 6050 ? 1 : 2"}) {
    INFO(rate);
    CHECK(notes(stated(rate, "")) == Codes{"kink"});
  }
  // smooth, though steep
  for (const char* rate :
       {"severity/r^4", "severity*exp(-r/0.05)", "severity*exp(-x/0.5)", "severity*(1 + tanh(20*(r - 1)))",
        "severity/(1 + x)^3", "severity*sqrt((r - 0.5)^2 + 0.01)", "severity*(r + x^2)",
        "severity*ln(1 + 50*r)"}) {
    INFO(rate);
    CHECK(notes(stated(rate, "")).empty());
  }
  const Loaded loaded = load(stated("severity*min(1/r, 2)", ""));
  REQUIRE(loaded.warnings.size() == 1);
  CHECK(loaded.warnings[0].what.find("near r = 0.5 µm") != std::string::npos);
}

// fitted and weighed

namespace {

const std::string bench_of_edges = [] {
  std::string text = iron + "apex_radius_um = 0.4\n[scatter]\nreading_cv = 0.02\nedge_cv = 0.01\n";
  for (int e = 1; e <= 5; ++e) {
    text += fmt::format(
        "[edge.E{}]\ntool = \"iron\"\nsteps = [ {{ read = \"new\", replicates = 2 }}, {{ cut = \"sugar maple\", passes = {} }}, {{ read = \"worn\", replicates = 2 }}, {{ cut = \"white oak\", passes = 80 }}, {{ read = \"well worn\", replicates = 2 }} ]\n",
        e, 20 * e);
  }
  return text;
}();

Loaded campaign(double k) {
  return load(
      bench_of_edges +
      fmt::format(
          "[wear]\nrate = \"k*severity/(2*r)\"\nk = {{ value = {}, unit = \"µm²/m\", low = 1e-6, high = 10, factor = 3 }}\n",
          k));
}

}  // namespace

TEST_CASE("a fit finds the parameter of a formula that readings were drawn from", "[formula][fit]") {
  const Loaded truth = campaign(4.2e-3), guess = campaign(2e-3);
  FitSettings  settings;
  settings.starts              = 2;
  const auto          readings = invent_readings(truth.scenario, 3, {"A"}, {"lot"}, 1);
  const CampaignModel model(guess.scenario, readings, {free_parameter(guess.scenario.model, "wear.k")},
                            settings);
  const FitResult     result = fit(model);
  REQUIRE(result.converged);
  const auto fate = identifiability(model, result).parameters[0];
  CHECK(fate.log_sd < 0.05);
  CHECK(std::abs(std::log(fate.value / 4.2e-3)) < 3.0 * fate.log_sd);  // one draw in 400 lies farther off
  const GradientCheck check = check_gradient(model, Eigen::VectorXd::Constant(1, 0.3));
  CHECK(check.passed());
  // and without noise it is found to what the integration leaves: 1e-6 over slopes of about a half
  Scenario exact      = truth.scenario;
  exact.model.scatter = {0.0, 0.0, 0.0, 0.0};
  const CampaignModel clean(guess.scenario, invent_readings(exact, 3, {"A"}, {"lot"}, 1),
                            {free_parameter(guess.scenario.model, "wear.k")}, settings);
  const FitResult     found = fit(clean);
  REQUIRE(found.converged);
  CHECK(clean.parameters()[0].value(found.best.u[0]) == Approx(4.2e-3).epsilon(1e-4));
  CHECK(usual_parameters(guess.scenario).back() == "wear.k");
}

TEST_CASE("a formula is weighed as the law that it spells out", "[formula][weigh]") {
  const Loaded truth = campaign(4.2e-3);
  const Loaded guess = campaign(3.5e-3);  // the default of the square-root law
  FitSettings  settings;
  settings.starts     = 1;
  settings.free       = {"tester.slope_N_per_um"};
  const auto readings = invent_readings(truth.scenario, 5, {"A"}, {"lot"}, 1);
  const auto laws = weigh(guess.scenario, readings, settings, {"square-root", "formula", "constant-rate"});
  REQUIRE(laws.size() == 3);
  for (const WeighedLaw& law : laws) REQUIRE(law.usable);
  CHECK(laws[2].name == "constant-rate");
  // the same law with the same prior: apart by what the integration leaves in thirty readings of 2 %
  CHECK(laws[0].log_likelihood == Approx(laws[1].log_likelihood).margin(0.01));
  CHECK(laws[0].elpd == Approx(laws[1].elpd).margin(0.01));
  CHECK(laws[0].parameters == laws[1].parameters);

  const Answer answer = weigh_answer(laws, "readings.csv");
  CHECK(answer.headline.find("cannot tell it from") != std::string::npos);
  CHECK_FALSE(laws[1].ruled_out);
  CHECK(answer.rests_on == "Rests on: readings.csv and the priors of the parameters.");
  const auto& table = answer.table("laws");
  CHECK(table.rows() == 3);
  CHECK(column(table, "law").texts[2] == "constant-rate");
  CHECK(column(table, "elpd").numbers[0] == laws[0].elpd);
  CHECK(answer.table("misfits").rows() == laws[0].misfits.size() * 3);

  CHECK(wear_law_names(guess.scenario.model).back() == "formula");
  const Loaded without = load(bench_of_edges);
  CHECK(wear_law_names(without.scenario.model).size() == std::variant_size_v<BuiltInWearLaw<double>>);
  CHECK(codes(error_of([&] { (void)weigh(without.scenario, readings, settings, {"formula"}); })) ==
        std::vector<std::string>{"no-formula"});
}

TEST_CASE("what is weighed is told by how much is known", "[weigh]") {
  const auto law = [](const char* name, std::size_t edges, bool ruled_out = false) {
    WeighedLaw l;
    l.name         = name;
    l.usable       = true;
    l.elpd_by_edge = std::vector<double>(edges, -1.0);
    l.elpd         = -static_cast<double>(edges);
    l.ruled_out    = ruled_out;
    return l;
  };
  WeighedLaw failed;
  failed.name     = "settling";
  failed.failure  = "no start converged";
  const auto says = [](const std::vector<WeighedLaw>& laws) { return weigh_answer(laws, "r.csv").headline; };
  CHECK(says({law("power", 8), law("square-root", 8, true)}) ==
        "power predicts edges that it has not seen better than the others, by more than chance explains.");
  CHECK(
      says({law("power", 8), law("square-root", 8), law("settling", 8)}) ==
      "power predicts edges that it has not seen best, but these readings cannot tell it from square-root or settling.");
  CHECK(
      says({law("power", 8), law("square-root", 8), law("settling", 8, true)}) ==
      "power predicts edges that it has not seen best, but these readings cannot tell it from square-root; they speak against settling.");
  CHECK(
      says({law("power", 3), law("square-root", 3, true)}) ==
      "power predicts edges that it has not seen better than the others: each edge is at least 20 times less likely under them.");
  CHECK(
      says({law("power", 0), law("square-root", 0, true)}) ==
      "Only one edge has readings, so no law can be tried on an edge that it has not seen; its own readings are more than 150 times less likely under square-root than under the best.");
  CHECK(says({law("power", 8)}) == "power was fitted alone; name a second law to weigh it against.");
  CHECK(says({law("power", 8), failed}) ==
        "Only power could be fitted, so there is nothing to weigh it against.");
  CHECK(says({failed}) == "None of the laws could be fitted.");
  const Answer answer = weigh_answer({law("power", 8), failed}, "r.csv");
  CHECK(answer.remarks.back() == "settling could not be fitted: no start converged.");
  CHECK(std::isnan(column(answer.table("laws"), "elpd").numbers[1]));
  CHECK(column(answer.table("laws"), "usable").numbers == std::vector<double>{1.0, 0.0});
}
