// SPDX-License-Identifier: MIT
#include <algorithm>

#include "sim/fit/derived.hpp"
#include "sim/fit/law_fits.hpp"
#include "sim/fit/wear_numbers.hpp"
#include "sim/input/scenario_loader.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

/// `[prior."PATH"]`
struct PriorTable {
  double      median = not_given, factor = not_given, mean = not_given, sd = not_given, shift = not_given;
  static void fields(auto&& v, auto&... s) {
    // clang-format off
    v(field("median").between(1e-12, 1e12).optional().says("median of a log-normal prior"), s.median...);
    v(field("factor").between(1.001, 1000).optional().says("its geometric standard deviation"), s.factor...);
    v(field("mean").between(-1e12, 1e12).optional().says("mean of a normal prior"), s.mean...);
    v(field("sd").between(1e-12, 1e12).optional().says("its standard deviation"), s.sd...);
    v(field("shift").between(1e-12, 1e12).optional().says("of a log-normal prior: value + shift is log-normal, so that 0 is no farther than other values"), s.shift...);
    // clang-format on
  }
};

}  // namespace

void ScenarioLoader::read_fit() {
  FitSettings& fit = loaded_.fit;
  // a law that is stated is meant; where none is, nobody knows which
  bool stated = false;
  each_layer("wear", [&](const Document&, const toml::table& t) { stated |= !t.empty(); });
  if (!stated) fit.laws = wear_law_names(scenario());
  each_layer("fit", [&](const Document& d, const toml::table& t) {
    reader_.read({&d, &t, "fit.", {"free", "derived", "laws", "anew"}}, fit);
    if (t.contains("from") && !fit.from.empty()) fit.from = near_first(fit.from, d, documents_.back());
    if (fit.noise != "log-normal" && fit.noise != "student-t") {
      findings_.add(d, node_or(t, "noise"),
                    {.code    = "unknown-noise",
                     .what    = fmt::format("there is no noise \"{}\"", printable(fit.noise)),
                     .allowed = "log-normal or student-t",
                     .key     = "fit.noise"});
    }
    const auto list_of = [&](const char* key, const char* example) -> const toml::array* {
      const toml::node* node = t.get(key);
      if (node == nullptr) return nullptr;
      const toml::array* list = node->as_array();
      if (list == nullptr) {
        findings_.add(d, *node,
                      {.code = "not-a-list",
                       .what = fmt::format("{} must be a list", key),
                       .next = fmt::format("Write {} = [\"{}\"]", key, example),
                       .key  = fmt::format("fit.{}", key)});
      }
      return list;
    };
    if (const toml::array* list = list_of("free", "tester.slope_N_per_um")) {
      fit.free.clear();
      for (const toml::node& item : *list) check_parameter(d, item, item.value_or(std::string{}), &fit.free);
    }
    if (const toml::array* list = list_of("laws", "shared-load")) {
      fit.laws.clear();
      for (const toml::node& item : *list) check_law(d, item, item.value_or(std::string{}));
    }
    if (const toml::array* list = list_of("derived", "reading of A1 ready")) {
      fit.derived.clear();
      for (const toml::node& item : *list) check_derived(d, item, item.value_or(std::string{}));
    }
    if (const toml::array* list = list_of("anew", "tester")) {
      fit.anew.clear();
      for (const toml::node& item : *list) check_anew(d, item, item.value_or(std::string{}));
    }
  });
}

void ScenarioLoader::check_law(const Document& d, const toml::node& node, const std::string& name) {
  auto&      laws  = loaded_.fit.laws;
  const auto known = wear_law_names(scenario());
  const bool twice = std::find(laws.begin(), laws.end(), name) != laws.end();
  if (!twice && std::find(known.begin(), known.end(), name) != known.end()) {
    laws.push_back(name);
    return;
  }
  findings_.add(d, node,
                {.code    = twice ? "given-twice" : "unknown-law",
                 .what    = twice ? fmt::format("\"{}\" is named twice", printable(name))
                                  : fmt::format("there is no wear law \"{}\"", printable(name)),
                 .allowed = twice ? std::string{} : or_list(known),
                 .next    = twice ? std::string{} : did_you_mean(name, known),
                 .key     = "fit.laws"});
}

void ScenarioLoader::check_anew(const Document& d, const toml::node& node, const std::string& name) {
  FitSettings& fit   = loaded_.fit;
  const bool   twice = std::find(fit.anew.begin(), fit.anew.end(), name) != fit.anew.end();
  if (!twice && !name.empty() && !fit.from.empty()) {
    fit.anew.push_back(name);
    return;
  }
  findings_.add(
      d, node,
      {.code = twice          ? "given-twice"
               : name.empty() ? "not-a-name"
                              : "no-earlier-fit",
       .what = twice          ? fmt::format("\"{}\" is named twice", printable(name))
               : name.empty() ? "anew must name parameters or tables of them"
                              : "anew says what an earlier fit is not asked about, and there is none",
       .next = twice ? "" : "Write from = \"last-year.h5\" and anew = [\"tester\"]",
       .key  = "fit.anew"});
}

void ScenarioLoader::check_derived(const Document& d, const toml::node& node, const std::string& text) {
  auto& derived = loaded_.fit.derived;
  if (std::find(derived.begin(), derived.end(), text) != derived.end()) {
    findings_.add(d, node,
                  {.code = "given-twice",
                   .what = fmt::format("\"{}\" is asked for twice", printable(text)),
                   .key  = "fit.derived"});
    return;
  }
  try {
    (void)derived_quantity(scenario(), text);
    derived.push_back(text);
  } catch (const Error& error) {
    for (const Diagnostic& fault : error.diagnostics()) findings_.add(d, node, fault);
  }
}

void ScenarioLoader::check_parameter(const Document& d, const toml::node& node, const std::string& path,
                                     std::vector<std::string>* free) {
  const auto known = fittable_parameters(model());
  if (std::find(known.begin(), known.end(), path) != known.end()) {
    if (free != nullptr && std::find(free->begin(), free->end(), path) != free->end()) {
      findings_.add(
          d, node,
          {.code = "given-twice", .what = fmt::format("\"{}\" is free twice", path), .key = "fit.free"});
    } else if (free != nullptr) {
      free->push_back(path);
    }
    return;
  }
  bool there = false;
  for_each_number(model(), [&](const std::string& at, const Field&, double&) { there |= at == path; });
  if (there && loaded_.fit.priors.count(path) > 0) {
    if (free != nullptr) free->push_back(path);
    return;
  }
  findings_.add(d, node,
                {.code  = there ? "not-fittable" : "unknown-parameter",
                 .what  = there ? fmt::format("\"{}\" has no prior, so it cannot be free", printable(path))
                                : fmt::format("the model has no parameter \"{}\"", printable(path)),
                 .cause = there ? "" : "Only materials and tools that the edges use have parameters.",
                 .next = did_you_mean(path, known, "`arris check` prints all: TABLE.KEY, or TABLE.NAME.KEY."),
                 .key  = path});
}

void ScenarioLoader::read_priors() {
  each_layer("prior", [&](const Document& d, const toml::table& t) {
    for (const auto& [key, node] : t) {
      const std::string path(key.str());
      const auto*       table = node.as_table();
      if (table == nullptr) {
        findings_.add(d, key,
                      {.code = "not-a-table",
                       .what = "a prior must be a table",
                       .next = fmt::format("Write [prior.\"{}\"]", printable(path))});
        continue;
      }
      PriorTable prior;
      reader_.read({&d, table, "prior." + path + ".", {}}, prior);
      const bool log_normal = !std::isnan(prior.median) && !std::isnan(prior.factor),
                 normal     = !std::isnan(prior.mean) && !std::isnan(prior.sd);
      if (log_normal == normal || (normal && !std::isnan(prior.shift))) {
        findings_.add(d, key,
                      {.code    = "bad-prior",
                       .what    = fmt::format("the prior of \"{}\" is not clear", printable(path)),
                       .allowed = "median and factor, with or without a shift, or mean and sd",
                       .key     = path});
        continue;
      }
      double present = not_given;
      for_each_number(model(), [&](const std::string& at, const Field&, double& number) {
        present = at == path ? number : present;
      });
      if (std::isnan(present) && !is_rival_path(path, scenario().formulas)) {
        check_parameter(d, node, path, nullptr);
        continue;
      }
      const double shift       = std::isnan(prior.shift) ? 0.0 : prior.shift;
      loaded_.fit.priors[path] = log_normal ? Prior{PriorShape::log_normal, prior.median, prior.factor, shift}
                                            : Prior{PriorShape::normal, prior.mean, prior.sd};
    }
  });
}

}  // namespace arris
