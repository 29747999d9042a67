// SPDX-License-Identifier: MIT
#include "sim/laws/wear/formula_program.hpp"

#include <algorithm>
#include <atomic>
#include <cctype>
#include <cmath>
#include <utility>

#ifdef ARRIS_WITH_FORMULA
#include <muParser.h>
#endif

namespace arris::laws {

Field FormulaParameter::field() const {
  Field f{name};
  f.low          = low;
  f.high         = high;
  f.status       = status;
  f.doc          = says;
  f.prior_factor = factor;
  f.own_unit     = unit == "1" ? std::string_view{} : std::string_view{unit};
  return f;
}

FormulaProgram::FormulaProgram(std::string text, std::vector<FormulaParameter> parameters)
    : text_(std::move(text)), parameters_(std::move(parameters)) {
  static std::atomic<std::uint64_t> made{0};
  id_ = ++made;
}

double FormulaProgram::slope(double* values, std::size_t i, double step) const {
  const double v = values[i];
  const double h = v == 0.0 ? step : step * std::abs(v);

  const auto at = [&](double where) {
    values[i]      = where;
    const double f = rate(values);
    values[i]      = v;
    return f;
  };
  const double d = (8.0 * (at(v + h) - at(v - h)) - (at(v + 2.0 * h) - at(v - 2.0 * h))) / (12.0 * h);
  if (std::isfinite(d)) return d;
  return (-25.0 * at(v) + 48.0 * at(v + h) - 36.0 * at(v + 2.0 * h) + 16.0 * at(v + 3.0 * h) -
          3.0 * at(v + 4.0 * h)) /
         (12.0 * h);
}

double FormulaProgram::foreign_rate(const double* values) const {
  std::array<double, most_formula_values> given;
  for (std::size_t i = 0; i < order_.size(); ++i) given[i] = values[order_[i]];
  return foreign_(given.data());
}

namespace {

bool are_too_many(const std::vector<FormulaParameter>& parameters, FormulaFault& fault) {
  if (parameters.size() <= most_formula_parameters) return false;
  fault.code    = "too-many";
  fault.what    = std::to_string(parameters.size()) + " parameters are declared";
  fault.allowed = "up to " + std::to_string(most_formula_parameters);
  return true;
}

}  // namespace

#ifdef ARRIS_WITH_FORMULA

/// A parser and the numbers it reads, of one thread.
class FormulaProgram::Evaluator {
 public:
  explicit Evaluator(const std::string& text, const std::vector<FormulaParameter>& parameters) {
    parser_.DefineConst("pi", 3.14159265358979323846);
    // a parameter stands in the place of an input of the same name
    for (std::size_t i = 0; i < formula_inputs.size(); ++i) {
      const std::string name(formula_inputs[i].name);
      if (std::none_of(parameters.begin(), parameters.end(), [&](const auto& p) { return p.name == name; }))
        parser_.DefineVar(name, &values_[i]);
    }
    for (std::size_t i = 0; i < parameters.size(); ++i)
      parser_.DefineVar(parameters[i].name, &values_[formula_inputs.size() + i]);
    parser_.SetExpr(text);
  }
  Evaluator(const Evaluator&)            = delete;
  Evaluator& operator=(const Evaluator&) = delete;

  [[nodiscard]] double rate(const double* values, std::size_t count) {
    std::copy_n(values, count, values_.begin());
    return parser_.Eval();
  }
  [[nodiscard]] const mu::Parser& parser() const { return parser_; }

 private:
  std::array<double, most_formula_values> values_{};
  mu::Parser                              parser_;
};

FormulaProgram::Evaluator& FormulaProgram::evaluator() const {
  using Kept = std::pair<std::uint64_t, std::unique_ptr<Evaluator>>;
  constexpr std::size_t most =
      8;  // programs that a thread works with at a time; more of them are parsed anew
  thread_local std::vector<Kept> kept;
  if (!kept.empty() && kept.front().first == id_) return *kept.front().second;
  const auto found = std::find_if(kept.begin(), kept.end(), [&](const Kept& k) { return k.first == id_; });
  if (found != kept.end()) {
    std::rotate(kept.begin(), found, found + 1);
  } else {
    if (kept.size() >= most) kept.pop_back();
    kept.emplace(kept.begin(), id_, std::make_unique<Evaluator>(text_, parameters_));
  }
  return *kept.front().second;
}

double FormulaProgram::rate(const double* values) const {
  return foreign_ ? foreign_rate(values) : evaluator().rate(values, size());
}

namespace {

bool begins_name(char c) { return std::isalpha(static_cast<unsigned char>(c)) != 0 || c == '_'; }
bool in_name(char c) { return begins_name(c) || std::isdigit(static_cast<unsigned char>(c)) != 0; }

std::vector<std::string> function_names() {
  const mu::Parser         parser;
  std::vector<std::string> out;
  for (const auto& [name, function] : parser.GetFunDef()) {
    if (name != "rint" && name != "avg" && name != "sum") out.push_back(name);
  }
  return out;
}
bool is_function(const std::string& name) { return mu::Parser().GetFunDef().count(name) > 0; }

// the first place where `name` stands as a name of its own; npos if nowhere
std::size_t place_of(const std::string& text, const std::string& name) {
  for (std::size_t at = text.find(name); at != std::string::npos; at = text.find(name, at + 1)) {
    if ((at == 0 || !in_name(text[at - 1])) &&
        (at + name.size() == text.size() || !in_name(text[at + name.size()])))
      return at;
  }
  return std::string::npos;
}

FormulaFault syntax(std::string what, std::size_t at, std::size_t size, std::string next) {
  FormulaFault f;
  f.code = "formula-syntax";
  f.what = std::move(what);
  f.at   = at;
  f.size = size;
  f.next = std::move(next);
  return f;
}

// what muParser would take, and nobody means
bool finds_fault(const std::string& text, FormulaFault& fault) {
  constexpr std::size_t longest = 2000;
  if (text.find_first_not_of(" \t\r\n") == std::string::npos) {
    fault = syntax("the formula is empty", std::string::npos, 1, "Write rate = \"k*severity/r^q\"");
    return true;
  }
  if (text.size() > longest) {
    fault         = syntax("the formula is too long", std::string::npos, 1, "");
    fault.allowed = "up to 2000 letters and signs";
    return true;
  }
  int depth = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if ((static_cast<unsigned char>(c) & 0x80) != 0) {
      std::size_t size = 1;
      while (i + size < text.size() && (static_cast<unsigned char>(text[i + size]) & 0xC0) == 0x80) ++size;
      fault = syntax(
          "\"" + text.substr(i, size) + "\" is no sign of a formula", i, size,
          "Write * for a product, / for a quotient, ^ for a power and - for minus; names have plain letters, digits and _.");
      return true;
    }
    if (c == '"' || c == '\'' || c == ';') {
      fault =
          syntax(std::string("\"") + c + "\" is no sign of a formula", i, 1, "A formula has numbers only.");
      return true;
    }
    if (c == '(') ++depth;
    if (c == ')') --depth;
    if (c == ',' && depth <= 0) {
      fault = syntax("the comma splits the formula in two", i, 1, "Numbers have a decimal point.");
      return true;
    }
    const char before = i > 0 ? text[i - 1] : ' ', after = i + 1 < text.size() ? text[i + 1] : ' ';
    if (c == '=' && after == '=') {
      ++i;
    } else if (c == '=' && before != '<' && before != '>' && before != '!') {
      fault = syntax("a formula says what the rate is and sets nothing equal", i, 1,
                     "Write what stands behind the = only; a comparison is ==.");
      return true;
    }
  }
  return false;
}

// The sign or word that muParser stumbled over, and where it stands.
struct Stumble {
  std::string token;
  std::size_t at;  // npos if nowhere
};

Stumble stumble_of(const mu::ParserError& error, const std::string& text) {
  std::string token = error.GetToken();
  while (!token.empty() && token.back() == ' ') token.pop_back();
  std::size_t at = error.GetPos() < 0 ? std::string::npos : static_cast<std::size_t>(error.GetPos());
  if (at != std::string::npos && text.compare(std::min(at, text.size()), token.size(), token) != 0) {
    const std::size_t earlier = text.rfind(token, at);
    if (earlier != std::string::npos) at = earlier;
  }
  if (at != std::string::npos && at >= text.size()) at = text.find_last_not_of(" \t\r\n");  // behind the end
  return {std::move(token), at};
}

FormulaFault syntax_at(const Stumble& over, const std::string& text, const std::string& what,
                       const std::string& next = "") {
  const std::size_t room = over.at == std::string::npos ? 1 : text.size() - over.at;
  return syntax(what, over.at, std::clamp<std::size_t>(over.token.size(), 1, room), next);
}

// "1e" or "!": up to where names and numbers end
FormulaFault not_understood(const Stumble& over, const std::string& text) {
  const std::string& token = over.token;
  std::size_t        size  = 0;
  while (size < token.size() && in_name(token[size])) ++size;
  FormulaFault f = syntax_at(over, text, "\"" + token + "\" is not understood");
  f.size         = std::max<std::size_t>(1, size);
  if (size < token.size()) f.what = "\"" + token.substr(0, f.size) + "\" is not understood";
  return f;
}

FormulaFault unknown_name(const Stumble& over, const std::string& text,
                          const std::vector<FormulaParameter>& parameters) {
  const auto& [token, at] = over;
  std::size_t behind      = at + token.size();
  while (behind < text.size() && text[behind] == ' ') ++behind;
  const bool called = behind < text.size() && text[behind] == '(';
  if (!called && is_function(token))
    return syntax_at(over, text, token + " is a function", "Write " + token + "(…)");
  const std::string quoted = "\"" + token + "\"";
  FormulaFault      f;
  f.code    = called ? "unknown-function" : "unknown-variable";
  f.what    = called ? "there is no function " + quoted : "nothing is called " + quoted;
  f.at      = at;
  f.size    = token.size();
  f.unknown = token;
  if (called) {
    f.known = function_names();
  } else {
    for (const auto& p : parameters) f.known.push_back(p.name);
    for (const auto& input : formula_inputs) f.known.emplace_back(input.name);
    f.known.emplace_back("pi");
  }
  if (token == "e") f.next = "The exponential is exp(…).";
  return f;
}

FormulaFault ends_too_early(const std::string& text) {
  const auto opened      = std::count(text.begin(), text.end(), '('),
             closed      = std::count(text.begin(), text.end(), ')');
  const std::size_t last = text.find_last_not_of(" \t\r\n");
  if (opened > closed) return syntax("a parenthesis is not closed", last, 1, "Add a \")\" where it ends.");
  return syntax("the formula ends too early", last, 1, "A number or name is missing behind this.");
}

FormulaFault wrong_arguments(mu::EErrorCodes code, Stumble over, const std::string& text) {
  const std::size_t name = place_of(text, over.token);
  if (name != std::string::npos && is_function(over.token)) over.at = name;
  return syntax_at(over, text,
                   code == mu::ecTOO_MANY_PARAMS  ? over.token + " is given too many numbers"
                   : code == mu::ecTOO_FEW_PARAMS ? over.token + " is given too few numbers"
                                                  : "the comma is out of place",
                   "Numbers have a decimal point; a comma stands between those of min and max.");
}

// a fault of muParser in plain words
FormulaFault plain(const mu::ParserError& error, const std::string& text,
                   const std::vector<FormulaParameter>& parameters) {
  const Stumble      over   = stumble_of(error, text);
  const std::string& token  = over.token;
  const std::string  quoted = "\"" + token + "\"";
  switch (error.GetCode()) {
    case mu::ecUNASSIGNABLE_TOKEN:
      return token.empty() || !begins_name(token.front()) ? not_understood(over, text)
                                                          : unknown_name(over, text, parameters);
    case mu::ecUNEXPECTED_OPERATOR:
      return syntax_at(over, text, "the operator " + quoted + " stands where a number or name is expected");
    case mu::ecUNEXPECTED_EOF:
    case mu::ecMISSING_PARENS:
      return ends_too_early(text);
    case mu::ecUNEXPECTED_VAL:
    case mu::ecUNEXPECTED_VAR:
    case mu::ecUNEXPECTED_FUN:
      return syntax_at(over, text, quoted + " stands where an operator is expected",
                       "Write products with *, as in 2*r.");
    case mu::ecUNEXPECTED_PARENS:
      return syntax_at(over, text, "this parenthesis is out of place",
                       token == ")" ? "Count them: each \")\" closes a \"(\"."
                                    : "Write products with *, as in 2*(r + 1).");
    case mu::ecTOO_MANY_PARAMS:
    case mu::ecTOO_FEW_PARAMS:
    case mu::ecUNEXPECTED_ARG_SEP:
      return wrong_arguments(error.GetCode(), over, text);
    case mu::ecMISSING_ELSE_CLAUSE:
    case mu::ecMISPLACED_COLON:
    case mu::ecUNEXPECTED_CONDITIONAL:
      return syntax_at({token, text.find_first_of("?:")}, text, "the choice is not complete",
                       "It is written condition ? this : that.");
    default:
      return syntax_at(over, text, "this is no formula: " + error.GetMsg());
  }
}

// a name that a parameter cannot have
bool finds_fault(const FormulaParameter& p, FormulaFault& fault) {
  const bool well_formed = !p.name.empty() && begins_name(p.name.front()) &&
                           std::all_of(p.name.begin(), p.name.end(), in_name) && p.name.size() <= 100;
  bool taken = p.name == "pi" || p.name == "_pi" || p.name == "_e" || is_function(p.name);
  for (std::size_t i = 0; i < formula_states; ++i) taken |= p.name == formula_inputs[i].name;
  if (well_formed && !taken) return false;
  fault.code    = "taken-name";
  fault.what    = well_formed ? "the name \"" + p.name + "\" means something else in a formula"
                              : "\"" + p.name + "\" is no name for a parameter of a formula";
  fault.allowed = well_formed ? "" : "letters a to z, digits and _, a letter first";
  fault.next    = well_formed ? "Give the parameter another name." : "";
  fault.unknown = p.name;
  return true;
}

}  // namespace

std::shared_ptr<const FormulaProgram> compile_formula(const std::string&            text,
                                                      std::vector<FormulaParameter> parameters,
                                                      FormulaFault&                 fault) {
  fault = {};
  if (are_too_many(parameters, fault)) return nullptr;
  for (const FormulaParameter& p : parameters) {
    if (finds_fault(p, fault)) return nullptr;
  }
  if (finds_fault(text, fault)) return nullptr;
  std::stable_sort(parameters.begin(), parameters.end(), [&](const auto& a, const auto& b) {
    return place_of(text, a.name) < place_of(text, b.name);
  });
  try {
    std::shared_ptr<FormulaProgram> program(new FormulaProgram(text, parameters));
    const double                    zeros[most_formula_values] = {};
    (void)program->rate(zeros);  // parses
    const mu::Parser& parser = program->evaluator().parser();
    if (parser.GetNumResults() != 1) {
      fault = syntax("the formula gives more than one number", std::string::npos, 1, "");
      return nullptr;
    }
    FormulaProgram::Evaluator spare(text, parameters);
    const auto                used = spare.parser().GetUsedVar();
    for (std::size_t i = 0; i < parameters.size(); ++i) {
      program->used_[formula_inputs.size() + i] = used.count(parameters[i].name) > 0;
      if (used.count(parameters[i].name) > 0) continue;
      fault.code    = "unused-parameter";
      fault.what    = "the formula does not use \"" + parameters[i].name + "\"";
      fault.next    = "Use it, or take it out.";
      fault.unknown = parameters[i].name;
      return nullptr;
    }
    for (std::size_t i = 0; i < formula_inputs.size(); ++i) {
      const std::string name(formula_inputs[i].name);
      program->used_[i] = used.count(name) > 0 && std::none_of(parameters.begin(), parameters.end(),
                                                               [&](const auto& p) { return p.name == name; });
    }
    return program;
  } catch (const mu::ParserError& error) {
    fault = plain(error, text, parameters);
    return nullptr;
  }
}

#else

class FormulaProgram::Evaluator {};

double FormulaProgram::rate(const double* values) const {
  return foreign_ ? foreign_rate(values) : not_given;
}

std::shared_ptr<const FormulaProgram> compile_formula(const std::string&, std::vector<FormulaParameter>,
                                                      FormulaFault& fault) {
  fault      = {};
  fault.code = "no-formula";
  fault.what = "this program was built without formulas";
  fault.next = "Name one of its own wear laws, or build it with ARRIS_FORMULA switched on.";
  return nullptr;
}

#endif

std::shared_ptr<const FormulaProgram> foreign_formula(const ForeignRate&            function,
                                                      std::vector<FormulaParameter> parameters,
                                                      FormulaFault&                 fault) {
  fault = {};
  if (are_too_many(parameters, fault)) return nullptr;
  const auto place_of_argument = [&](const std::string& name) {
    return std::find(function.arguments.begin(), function.arguments.end(), name) - function.arguments.begin();
  };
  for (const FormulaParameter& p : parameters) {
    fault.unknown = p.name;
    for (std::size_t i = 0; i < formula_states; ++i) {
      if (p.name != formula_inputs[i].name) continue;
      fault.code = "taken-name";
      fault.what = "the name \"" + p.name + "\" means something else in a wear law";
      fault.next = "Give the parameter another name.";
      return nullptr;
    }
    if (place_of_argument(p.name) < std::ssize(function.arguments)) continue;
    fault.code = "unused-parameter";
    fault.what = "the function " + function.name + " has no argument \"" + p.name + "\"";
    fault.next = "Give it one, or take the parameter out.";
    return nullptr;
  }
  fault.unknown.clear();
  std::stable_sort(parameters.begin(), parameters.end(), [&](const auto& a, const auto& b) {
    return place_of_argument(a.name) < place_of_argument(b.name);
  });
  std::shared_ptr<FormulaProgram> program(new FormulaProgram(function.name, parameters));
  for (const std::string& name : function.arguments) {
    const auto own =
        std::find_if(parameters.begin(), parameters.end(), [&](const auto& p) { return p.name == name; });
    const auto given = std::find_if(formula_inputs.begin(), formula_inputs.end(),
                                    [&](const auto& i) { return i.name == name; });
    if (own == parameters.end() && given == formula_inputs.end()) {
      fault.code = "unknown-variable";
      fault.what =
          "the function " + function.name + " wants \"" + name + "\", which is neither known nor a parameter";
      fault.unknown = name;
      for (const auto& i : formula_inputs) fault.known.emplace_back(i.name);
      for (const auto& p : parameters) fault.known.push_back(p.name);
      return nullptr;
    }
    const auto place = own != parameters.end()
                           ? formula_inputs.size() + static_cast<std::size_t>(own - parameters.begin())
                           : static_cast<std::size_t>(given - formula_inputs.begin());
    program->order_.push_back(place);
    program->used_[place] = true;
  }
  program->foreign_ = function.rate;
  return program;
}

namespace {

// evenly on a log scale from low to at least high, by a factor of 1.01
std::vector<double> fine_grid(double low, double high) {
  std::vector<double> out;
  for (double v = low; v < 1.01 * high; v *= 1.01) out.push_back(v);
  return out;
}

}  // namespace

FormulaProbe probe_formula(const FormulaProgram& program, std::vector<double> values, double longest_path_m) {
  constexpr std::size_t r = 0, x = 1;
  constexpr double      thinnest_um = 0.02, bluntest_um = 20.0, first_m = 0.01;
  FormulaProbe          probe;
  const auto            at = [&](double r_um, double path_m) {
    values[r]         = r_um;
    values[x]         = path_m;
    const double rate = program.rate(values.data());
    if (probe.usable && !(std::isfinite(rate) && rate >= 0.0)) {
      probe.usable = false;
      probe.r_um   = r_um;
      probe.path_m = path_m;
      probe.rate   = rate;
    }
    return rate;
  };
  const auto radii = fine_grid(thinnest_um, bluntest_um), paths = fine_grid(first_m, longest_path_m);

  // derivatives at two step sizes; where the formula has died away next to its largest value nothing is asked of them
  const auto scan = [&](std::size_t i, const std::vector<double>& grid, std::vector<double>& kinks) {
    std::vector<double> rates;
    for (const double v : grid) rates.push_back(i == r ? at(v, values[x]) : at(values[r], v));
    if (!program.uses(i) || !probe.usable) return;
    const double largest = *std::max_element(rates.begin(), rates.end());
    double       first = 0.0, last = 0.0;  // points of the grid that were found before, in one run
    for (std::size_t k = 0; k < grid.size(); ++k) {
      const double v = values[i] = grid[k];
      const double wide          = program.slope(values.data(), i, 1e-2),
                   narrow        = program.slope(values.data(), i, 5e-3);
      const double scale         = std::abs(rates[k]) + std::abs(narrow) * v + 1e-6 * largest;
      if (std::abs(wide - narrow) * v < 1e-3 * scale) continue;
      if (first > 0.0 && v < 1.05 * last) {
        kinks.back() = std::sqrt(first * v);  // the middle of the run
      } else {
        kinks.push_back(first = v);
      }
      last = v;
    }
  };
  for (const double path_m : {0.0, 1.0, longest_path_m}) {
    values[x] = path_m;
    std::vector<double> found;
    scan(r, radii, found);
    if (probe.kinks_r_um.empty()) probe.kinks_r_um = found;
    if (!probe.usable) return probe;
  }
  for (const double r_um : {0.1, 0.5, 3.0}) {
    values[r] = r_um;
    std::vector<double> found;
    scan(x, paths, found);
    if (probe.kinks_path_m.empty()) probe.kinks_path_m = found;
    if (!probe.usable) return probe;
  }
  if (!probe.kinks_r_um.empty() || !probe.kinks_path_m.empty()) return probe;
  // the others at their values, at the steps that derivatives are made with, and beside them, so that a kink right at a
  // value is not taken for a slope
  values[r] = 0.5;
  values[x] = 1.0;
  for (std::size_t i = formula_states; i < program.size() && probe.rough.empty(); ++i) {
    if (!program.uses(i)) continue;
    const double stated = values[i], size = stated == 0.0 ? 1.0 : std::abs(stated);
    for (const double beside : {0.0, 0.7e-3}) {
      values[i]           = stated + beside * size;
      const double rate   = program.rate(values.data());
      const double wide   = program.slope(values.data(), i, 1e-3);
      const double narrow = program.slope(values.data(), i, 5e-4);
      if (std::abs(wide - narrow) * size < 1e-6 * (std::abs(rate) + std::abs(narrow) * size)) continue;
      probe.rough = i < formula_inputs.size() ? std::string(formula_inputs[i].name)
                                              : program.parameters()[i - formula_inputs.size()].name;
    }
    values[i] = stated;
  }
  return probe;
}

}  // namespace arris::laws
