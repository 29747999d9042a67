// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string_view>
#include <variant>

#include "sim/history/stages.hpp"
#include "sim/input/scenario_loader.hpp"
#include "sim/laws/wear/formula.hpp"
#include "sim/laws/wear/law_names.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

/// `[wear.NAME]`, a parameter of a formula; `status` and `source` as of every value.
struct ParameterTable {
  double      value = not_given;
  std::string unit;
  double      low    = not_given;
  double      high   = not_given;
  double      factor = not_given;
  std::string says, status, source;

  static void fields(auto&& v, auto&... s) {
    // clang-format off
    v(field("value").between(-1e12, 1e12).says("its value, in its unit"), s.value...);
    v(field("unit").optional().says("its unit, such as \"µm²/m\"; \"1\" for a pure number"), s.unit...);
    v(field("low").between(-1e12, 1e12).optional().says("least value it may have"), s.low...);
    v(field("high").between(-1e12, 1e12).optional().says("largest value it may have"), s.high...);
    v(field("factor").between(1.001, 1000).optional().says("geometric standard deviation of its prior"), s.factor...);
    v(field("says").optional().says("what it is"), s.says...);
    v(field("status").optional().says("on what its value rests"), s.status...);
    v(field("source").optional().says("where its value is from"), s.source...);
    // clang-format on
  }
};

/// A parameter as it was declared, over all files.
struct Declared {
  ParameterTable    table;
  const Document*   document = nullptr;  ///< the last file that says something of it
  const toml::key*  key      = nullptr;
  const toml::node* node     = nullptr;
  bool              faulty   = false;  ///< reported already
};

// where the byte `at` of a text in quotes stands in its file, if it stands there as it is
toml::source_region place_in(const Document& d, const toml::node& node, const std::string& text,
                             std::size_t at) {
  toml::source_region where = node.source();
  const auto          index = static_cast<std::size_t>(where.begin.line) - 1;
  if (where.begin.line < 1 || index >= d.lines.size()) return where;
  const std::string& line = d.lines[index];
  std::size_t        byte = 0;  // of the opening quote
  for (int column = 1; byte < line.size() && column < static_cast<int>(where.begin.column); ++column) {
    do ++byte;
    while (byte < line.size() && (static_cast<unsigned char>(line[byte]) & 0xC0) == 0x80);
  }
  if (byte >= line.size() || line.compare(byte + 1, text.size(), text) != 0) return where;
  where.begin.column += static_cast<toml::source_index>(1 + characters(text.substr(0, at)));
  return where;
}

// what one more file says of a parameter
void read_declared(const std::string& table, const Document& d, const toml::key& key, const toml::node& node,
                   TableReader& reader, Findings& findings, Declared& p) {
  const std::string name(key.str());
  const auto        before = findings.count();
  p.document               = &d;
  p.key                    = &key;
  p.node                   = &node;
  if (const auto* rows = node.as_table(); rows != nullptr) {
    reader.read({&d, rows, table + "." + name + ".", {}}, p.table);
  } else if (node.is_number() && std::isfinite(as_double(node))) {
    p.table.value = as_double(node);  // of a parameter whose unit stands in another file, or in its name
  } else {
    findings.add(d, node,
                 {.code = "not-a-number",
                  .what = fmt::format("{} is a parameter of the formula, so it must be a number or a table",
                                      printable(name)),
                  .next = fmt::format("Write {} = {{ value = 1.5, unit = \"µm/m\" }}", printable(name)),
                  .key  = table + "." + name});
  }
  p.faulty |= findings.count() != before;
}

Origin stated_at(const Document& d, const toml::key& key) {
  return {d.file, static_cast<int>(key.source().begin.line), "", ""};
}

Origin origin_of(const Declared& p) {
  Origin origin = stated_at(*p.document, *p.key);
  origin.status = p.table.status;
  if (!p.table.source.empty()) origin.source = cited(*p.document, p.table.source);
  return origin;
}

/// What a table says of a formula, over all files.
struct StatedFormula {
  std::string                     table = "wear";
  std::optional<StatedRate>       rate;                ///< where the last file states it
  std::string                     text;                ///< of the formula
  const laws::ForeignRate*        function = nullptr;  ///< in its place
  std::map<std::string, Declared> declared;
};

std::string formula_text(const std::string& table, const Document& d, const toml::node& node,
                         Findings& findings) {
  if (!node.is_string()) {
    findings.add(d, node,
                 {.code = "not-text",
                  .what = "rate must be a formula in quotes",
                  .next = "Write rate = \"k*severity/r^q\"",
                  .key  = table + ".rate"});
  }
  return node.value_or(std::string{});
}

// the function of the host program that a configuration names; nullptr after a fault
const laws::ForeignRate* foreign_rate(const Document& d, const toml::node& node,
                                      const std::vector<laws::ForeignRate>& functions, Findings& findings) {
  const std::string        name = node.value_or(std::string{});
  std::vector<std::string> known;
  for (const laws::ForeignRate& f : functions) {
    if (f.name == name) return &f;
    known.push_back(f.name);
  }
  findings.add(
      d, node,
      {.code    = "unknown-function",
       .what    = fmt::format("there is no function \"{}\" here", printable(name)),
       .allowed = known.empty() ? std::string{} : or_list(known),
       .cause   = "A wear law that is a function is handed over by the program that loads the configuration.",
       .next = "In Python: campaign.with_wear_law(function, …). A formula, rate = \"…\", goes anywhere.",
       .key  = "wear.function"});
  return nullptr;
}

// is everything there that a parameter needs?
void check_declared(const std::string& table, const std::string& name, const Declared& p, Findings& findings,
                    std::vector<laws::FormulaParameter>& parameters) {
  const ParameterTable& t    = p.table;
  const std::string     path = table + "." + name, shown = printable(name);
  if (p.faulty) return;
  if (std::isnan(t.value)) {
    findings.add(*p.document, *p.key,
                 {.code = "missing-key",
                  .what = fmt::format("the parameter {} has no value", shown),
                  .next = fmt::format("Write {} = {{ value = 1.5, unit = \"µm/m\" }}", shown),
                  .key  = path});
    return;
  }
  if (t.unit.empty() && unit_of(name) == nullptr) {
    findings.add(*p.document, *p.key,
                 {.code  = "missing-unit",
                  .what  = fmt::format("the parameter {} has no unit", shown),
                  .cause = "Every quantity carries its unit, so that nobody has to guess it.",
                  .next  = fmt::format(
                       "Write {} = {{ value = {:g}, unit = \"µm/m\" }}, or unit = \"1\" for a pure number.",
                       shown, t.value),
                  .key = path});
  }
  laws::FormulaParameter out;
  out.name   = name;
  out.unit   = t.unit;
  out.low    = std::isnan(t.low) ? out.low : t.low;
  out.high   = std::isnan(t.high) ? out.high : t.high;
  out.factor = std::isnan(t.factor) ? 0.0 : t.factor;
  out.says   = t.says;
  out.status = t.status;
  if (!(out.low < out.high)) {
    findings.add(*p.document, *p.node,
                 {.code = "impossible",
                  .what = fmt::format("the range of {} is empty: low = {:g} is not below high = {:g}", shown,
                                      out.low, out.high),
                  .key  = path});
  } else if (t.value < out.low || t.value > out.high) {
    findings.add(*p.document, *p.node,
                 {.code    = "out-of-range",
                  .what    = fmt::format("{} = {:g} is out of the range that it is given", shown, t.value),
                  .allowed = TableReader::range(out.field()),
                  .key     = path});
  } else if (out.factor > 0.0 && !(t.value > 0.0)) {
    findings.add(*p.document, *p.node,
                 {.code  = "bad-prior",
                  .what  = fmt::format("{} = {:g} has a factor, but is not above 0", shown, t.value),
                  .cause = "A factor is the spread of a prior on the log scale.",
                  .next  = fmt::format("Leave factor out and state [prior.\"{}\"] with mean and sd.", path),
                  .key   = path});
  }
  parameters.push_back(std::move(out));
}

// why it is no formula, at its place in the file
void report_fault(const laws::FormulaFault& fault, const StatedFormula& stated, Findings& findings) {
  Diagnostic out{.code    = fault.code,
                 .what    = fault.what,
                 .allowed = fault.allowed,
                 .next    = fault.next,
                 .key     = stated.table + ".rate"};
  if (const auto p = stated.declared.find(fault.unknown);
      p != stated.declared.end()) {  // it is the parameter that is at fault
    out.key = stated.table + "." + p->first;
    findings.add(*p->second.document, *p->second.key, std::move(out));
    return;
  }
  if (!fault.known.empty()) {
    const std::string close = did_you_mean(fault.unknown, fault.known, {}, "{}");
    out.allowed             = or_list(fault.known, 40);
    if (!close.empty()) out.next = close + " ";
    if (fault.code == "unknown-variable") {
      out.next += fmt::format("{}To declare it, write {} = {{ value = …, unit = … }} in [{}].",
                              fault.next.empty() || !close.empty() ? "" : " ", fault.unknown, stated.table);
    }
    while (!out.next.empty() && out.next.back() == ' ') out.next.pop_back();
  }
  const auto& [document, node, table] = *stated.rate;
  if (fault.at == std::string::npos) {
    findings.add(*document, *node, std::move(out));
    return;
  }
  const auto where = place_in(*document, *node, stated.text, fault.at);
  const bool found = where.begin.column != node->source().begin.column;
  findings.add(*document, where, found ? characters(stated.text.substr(fault.at, fault.size)) : 0,
               std::move(out));
}

// a parameter that is called as something of the model hides it from the formula
void warn_of_hidden_inputs(const std::string& table, const std::map<std::string, Declared>& declared,
                           Findings& findings) {
  for (const auto& input : laws::formula_inputs) {
    const auto taken = declared.find(std::string(input.name));
    if (taken == declared.end()) continue;
    findings.warn(
        *taken->second.document, *taken->second.node,
        {.code = "takes-the-place",
         .what = fmt::format("the parameter {} takes the place of what the model knows as {}: {}, {}",
                             input.name, input.name, input.says, input.unit),
         .next = "Give it another name if you did not mean that.",
         .key  = table + "." + taken->first});
  }
}

/// Where formulas are read.
struct FormulaDesk {
  TableReader&                          reader;
  Findings&                             findings;
  Origins&                              origins;
  const std::vector<laws::ForeignRate>& functions;
};

// what one more file says of a formula
void read_stated(const FormulaDesk& desk, const Document& d, const toml::table& t, StatedFormula& formula) {
  for (const auto& [key, node] : t) {
    const std::string name(key.str());
    if (name == "law") continue;
    Origin& origin = desk.origins[formula.table + "." + name];
    if (name == "rate") {
      formula.rate = {&d, &node, formula.table};
      formula.text = formula_text(formula.table, d, node, desk.findings);
      origin       = stated_at(d, key);
    } else if (name == "function") {
      formula.rate     = {&d, &node, formula.table};
      formula.function = foreign_rate(d, node, desk.functions, desk.findings);
      origin           = stated_at(d, key);
    } else {
      Declared& parameter = formula.declared[name];
      read_declared(formula.table, d, key, node, desk.reader, desk.findings, parameter);
      origin = origin_of(parameter);
    }
  }
}

// nothing where there are more faults than `before`
std::optional<StatedRate> compile(const StatedFormula& formula, std::size_t before, Findings& findings,
                                  laws::Formula<double>& law) {
  std::vector<laws::FormulaParameter> parameters;
  for (const auto& [name, p] : formula.declared) check_declared(formula.table, name, p, findings, parameters);
  if (findings.count() != before) return std::nullopt;

  laws::FormulaFault fault;
  law.program = formula.function != nullptr
                    ? laws::foreign_formula(*formula.function, std::move(parameters), fault)
                    : laws::compile_formula(formula.text, std::move(parameters), fault);
  if (law.program == nullptr) {
    report_fault(fault, formula, findings);
    return std::nullopt;
  }
  for (const auto& p : law.program->parameters())
    law.values.push_back(formula.declared.at(p.name).table.value);
  warn_of_hidden_inputs(formula.table, formula.declared, findings);
  return formula.rate;
}

// ---- a formula tried out ----

/// Where the edges of a scenario cut.
struct CutWoods {
  std::map<std::pair<int, int>, std::string> pairs;  ///< wood and tool that meet, with a name for messages
  double longest_m = 100.0;                          ///< path of the edge that cuts farthest, or 100 m
};

CutWoods cut_woods(const Scenario& scenario) {
  CutWoods out;
  for (const EdgePlan& plan : scenario.edges) {
    double path_m = 0.0;
    for (const Step& step : plan.steps) {
      const auto* cut = std::get_if<CutStep>(&step);
      if (cut == nullptr) continue;
      path_m += cut->passes * cut->pass_m;
      out.pairs.emplace(std::pair(cut->wood, plan.tool), fmt::format("{} with {}", cut->cut, plan.tool_name));
    }
    out.longest_m = std::max(out.longest_m, path_m);
  }
  return out;
}

/// What came of a formula in a wood.
struct TriedFormula {
  laws::FormulaProbe found;
  std::string        wood;  ///< and tool, for messages
};

// in every wood that is cut with every tool
std::vector<TriedFormula> try_out(const laws::Formula<double>& law, const Model<double>& model,
                                  const CutWoods& cuts) {
  const auto probe = [&](const laws::WearConditions<double>& c) {
    std::vector<double> values{0.5,
                               1.0,
                               c.severity,
                               c.hardness_GPa,
                               c.wear_ratio,
                               c.half_angle,
                               c.side_hardness_N,
                               0.01 * c.side_hardness_N,
                               c.silica_pct,
                               c.extractive_factor};
    values.insert(values.end(), law.values.begin(), law.values.end());
    return laws::probe_formula(*law.program, std::move(values), cuts.longest_m);
  };
  std::vector<TriedFormula> out;
  if (cuts.pairs.empty()) out.push_back({probe({}), "the reference wood"});
  for (const auto& [indices, name] : cuts.pairs) {
    if (model.specimen.in_use) {
      const auto&                  face = model.counterfaces[static_cast<std::size_t>(indices.first)];
      laws::WearConditions<double> here;
      here.severity = face.wear_factor;
      out.push_back({probe(here), name});
      continue;
    }
    const auto  tool  = static_cast<std::size_t>(indices.second);
    const auto& steel = model.steels[static_cast<std::size_t>(model.steel_of_tool[tool])];
    const auto  blade = assemble_blade(model.tools[tool], steel.hardness_GPa, steel.carbide_um,
                                       model.coefficients.carbide_share, steel.wear_ratio);
    const auto& wood  = model.woods[static_cast<std::size_t>(indices.first)];
    out.push_back({probe(wear_conditions(model, blade, wood)), name});
  }
  return out;
}

// it must be a rate
void report_unusable(const TriedFormula& tried, double longest_m, const StatedRate& rate,
                     Findings& findings) {
  const laws::FormulaProbe& found  = tried.found;
  const bool                finite = std::isfinite(found.rate);
  findings.add(*rate.document, *rate.node,
               {.code = finite ? "negative-rate" : "not-finite",
                .what = fmt::format("the rate is {} at r = {:.3g} µm and x = {:.3g} m, in {}",
                                    finite ? fmt::format("{:.3g} µm/m", found.rate) : "not a finite number",
                                    found.r_um, found.path_m, printable(tried.wood)),
                .allowed = fmt::format("0 µm/m or more for r = 0.02 … 20 µm and x = 0 … {:.4g} m", longest_m),
                .cause = finite ? "Wood blunts an edge; it does not sharpen it."
                                : "A division by zero, or a root, power or logarithm of what is below zero.",
                .key   = rate.table + ".rate"});
}

// and it should be smooth
void warn_of_kinks(const laws::FormulaProbe& found, const StatedRate& rate, Findings& findings) {
  const auto kink = [&](const std::string& where) {
    findings.warn(
        *rate.document, *rate.node,
        {.code = "kink",
         .what =
             fmt::format("the rate has a kink or a jump {}: derivatives at two step sizes disagree", where),
         .cause = "abs, min, max, sign and choices have them. A simulation copes; a fit may stall there.",
         .next  = "A smooth form, such as sqrt((r - a)^2 + b^2) for abs(r - a), helps the fit.",
         .key   = rate.table + ".rate"});
  };
  const auto list = [](const std::vector<double>& places) {
    std::vector<std::string> out;
    for (const double v : places) out.push_back(fmt::format("{:.3g}", v));
    return fmt::format(
        "{}", fmt::join(out.begin(), out.begin() + std::min<std::ptrdiff_t>(5, std::ssize(out)), ", "));
  };
  if (!found.kinks_r_um.empty()) kink(fmt::format("near r = {} µm", list(found.kinks_r_um)));
  if (!found.kinks_path_m.empty()) kink(fmt::format("near x = {} m", list(found.kinks_path_m)));
  if (!found.rough.empty()) kink(fmt::format("where {} is what it is", found.rough));
}

void warn_if_blind_to_wood(const laws::FormulaProgram& program, const StatedRate& rate, Findings& findings) {
  static const std::set<std::string_view> of_wood = {"severity", "side_hardness", "load", "silica_pct",
                                                     "extractive_factor"};
  for (std::size_t i = 0; i < laws::formula_inputs.size(); ++i) {
    if (program.uses(i) && of_wood.count(laws::formula_inputs[i].name) > 0) return;
  }
  findings.warn(
      *rate.document, *rate.node,
      {.code = "same-in-any-wood",
       .what = "the formula mentions nothing of the wood, so every wood wears an edge alike",
       .next = "Multiply it by severity to scale it by wood, steel and angle as the other laws are.",
       .key  = rate.table + ".rate"});
}

// ---- laws ----

/// The law of a model as a table that can be read.
struct LawTable {
  laws::HeldWearLaw<double>& law;
  const Specimen<double>&    specimen;

  static void fields(const std::function<void(const Field&, double&)>& v, const LawTable& s) {
    s.law.for_each_number([&](const Field& f, double& number) { v(wear_field(f, s.specimen), number); });
  }
};

std::vector<std::string> law_names() {
  auto names = laws::built_in_wear_laws();
  names.emplace_back(laws::Formula<double>::law_name);
  return names;
}

}  // namespace

std::optional<StatedRate> ScenarioLoader::read_wear() {
  choose_law();
  if (model().wear.formula() != nullptr) return read_formula();
  each_layer("wear", [&](const Document& d, const toml::table& t) {
    std::vector<std::string> extra{"law"};
    for (const char* key : {"rate", "function"}) {
      const toml::node* rate = t.get(key);
      if (rate == nullptr) continue;
      extra.emplace_back(key);
      findings_.add(d, *rate,
                    {.code = "unknown-key",
                     .what = fmt::format("a law that the program has needs no {}",
                                         *key == 'r' ? "formula" : "function"),
                     .next = "Write law = \"formula\" to use this one.",
                     .key  = fmt::format("wear.{}", key)});
    }
    LawTable law{model().wear, model().specimen};
    reader_.read({&d, &t, "wear.", extra}, law);
  });
  return std::nullopt;
}

// by its name; where none is named, a rate that is stated makes it a formula
void ScenarioLoader::choose_law() {
  bool named  = false;
  bool stated = false;
  each_layer("wear", [&](const Document& d, const toml::table& t) {
    stated |= t.contains("rate") || t.contains("function");
    const toml::node* law = t.get("law");
    if (law == nullptr) return;
    named                  = true;
    const std::string name = law->value_or(std::string{});
    if (model().wear.take(name)) return;
    findings_.add(d, *law,
                  {.code    = "unknown-law",
                   .what    = "there is no such wear law",
                   .allowed = or_list(law_names()),
                   .next    = did_you_mean(name, law_names()),
                   .key     = "wear.law"});
  });
  if (stated && !named) model().wear.take(laws::Formula<double>::law_name);
}

std::optional<StatedRate> ScenarioLoader::read_formula() {
  const auto    before = findings_.count();
  StatedFormula formula;
  each_layer("wear", [&](const Document& d, const toml::table& t) {
    read_stated({reader_, findings_, loaded_.origins, functions_}, d, t, formula);
  });
  if (!formula.rate) {
    each_layer("wear", [&](const Document& d, const toml::table& t) {
      if (t.contains("law"))
        findings_.add(d, *t.get("law"),
                      {.code = "missing-key",
                       .what = "[wear] has no rate: the formula, in µm per metre",
                       .next = "Write rate = \"k*severity/r^q\"",
                       .key  = "wear.rate"});
    });
  }
  return compile(formula, before, findings_, *model().wear.formula());
}

// whether [formula.NAME] can be read under that name; says why not
bool ScenarioLoader::check_formula_name(const Document& d, const toml::key& key, const toml::node& node) {
  const std::string name(key.str());
  const auto        taken  = law_names();
  const auto        refuse = [&](const char* code, const std::string& what, const std::string& next) {
    findings_.add(d, key, {.code = code, .what = what, .next = next, .key = "formula." + name});
    return false;
  };
  if (!node.is_table())
    return refuse("not-a-table", "a formula must be a table",
                  fmt::format("Write [formula.\"{}\"] and rate = \"…\" below it.", printable(name)));
  if (std::find(taken.begin(), taken.end(), name) != taken.end())
    return refuse("given-twice", fmt::format("\"{}\" is the name of another wear law", printable(name)),
                  "Give the formula a name of its own.");
  if (name.find('/') != std::string::npos || name.empty())
    return refuse("bad-name", fmt::format("a formula cannot be called \"{}\"", printable(name)),
                  "Results keep it under its name: write one without a slash.");
  return true;
}

// [formula.NAME]: laws beside that of the model
void ScenarioLoader::read_formulas() {
  std::map<std::string, StatedFormula>                                 stated;
  std::map<std::string, std::pair<const Document*, const toml::node*>> places;
  each_layer("formula", [&](const Document& d, const toml::table& t) {
    for (const auto& [key, node] : t) {
      const std::string name(key.str());
      if (!check_formula_name(d, key, node)) continue;
      StatedFormula& formula = stated[name];
      formula.table          = "formula." + name;
      places[name]           = {&d, &node};
      read_stated({reader_, findings_, loaded_.origins, functions_}, d, *node.as_table(), formula);
    }
  });
  for (const auto& [name, formula] : stated) {
    const auto before = findings_.count();
    if (!formula.rate) {
      findings_.add(*places.at(name).first, *places.at(name).second,
                    {.code = "missing-key",
                     .what = fmt::format("the formula \"{}\" has no rate, in µm per metre", printable(name)),
                     .next = "Write rate = \"k*severity/r^q\"",
                     .key  = formula.table + ".rate"});
      continue;
    }
    NamedFormula law{name, {}};
    law.law.take(laws::Formula<double>::law_name);
    if (const auto rate = compile(formula, before, findings_, *law.law.formula())) {
      scenario().formulas.push_back(std::move(law));
      named_rates_.push_back(*rate);
    }
  }
}

// tries the formula in every wood that is cut with every tool: it must be a rate, and should be smooth
void ScenarioLoader::check_formula(const laws::Formula<double>& law, const StatedRate& rate) {
  if (findings_.any()) return;
  const CutWoods cuts  = cut_woods(scenario());
  const auto     tried = try_out(law, model(), cuts);
  const auto     bad =
      std::find_if(tried.begin(), tried.end(), [](const TriedFormula& t) { return !t.found.usable; });
  if (bad != tried.end()) return report_unusable(*bad, cuts.longest_m, rate, findings_);
  for (const TriedFormula& t : tried) warn_of_kinks(t.found, rate, findings_);
  warn_if_blind_to_wood(*law.program, rate, findings_);
}

void ScenarioLoader::check_formulas(const std::optional<StatedRate>& own) {
  if (own) check_formula(*model().wear.formula(), *own);
  for (std::size_t i = 0; i < named_rates_.size(); ++i)
    check_formula(*scenario().formulas[i].law.formula(), named_rates_[i]);
}

}  // namespace arris
