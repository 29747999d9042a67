// SPDX-License-Identifier: MIT
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>

#include "sim/input/catalogue.hpp"
#include "sim/input/given_fields.hpp"
#include "sim/input/loader.hpp"
#include "sim/input/toml_text.hpp"
#include "sim/laws/wear/formula.hpp"

namespace arris {
namespace {

class Writer {
 public:
  Writer(const Origins& origins, bool with_origins) : origins_(origins), with_origins_(with_origins) {}

  template <class S>
  void table(const std::string& heading, const std::string& path, const S& entry) {
    out += "\n[" + heading + "]\n";
    rows(path, entry);
  }

  template <class S>
  void rows(const std::string& path, const S& entry) {
    for_each_given(entry,
                   [&](const Field& field, const auto& member) { line(path, field, toml_value(member)); });
  }

  void line(const std::string& path, const Field& field, const std::string& value) {
    std::string text = fmt::format("{} = {}", field.key, value);
    // a fitted value says so in the file itself, so that whatever is made from it can say so too
    if (const auto found = origins_.find(path + std::string(field.key));
        found != origins_.end() && found->second.status.rfind("fitted", 0) == 0) {
      out += fmt::format("{} = {{ value = {}, status = {}, source = {} }}\n", field.key, value,
                         toml_string(found->second.status), toml_string(found->second.source));
      return;
    }
    remarked(std::move(text), path + std::string(field.key), field);
  }

  void wear(laws::HeldWearLaw<double> law) {
    out += fmt::format("\n[wear]\nlaw = {}\n", toml_string(law.name()));
    if (law.formula() != nullptr) return formula(*law.formula());
    law.for_each_number([&](const Field& field, const double& number) {
      if (is_given(number)) line("wear.", field, toml_value(number));
    });
  }

  void formula(const laws::Formula<double>& law, const std::string& prefix = "wear.") {
    if (law.program == nullptr) return;
    const char* const stated = law.program->is_foreign() ? "function" : "rate";
    remarked(fmt::format("{} = {}", stated, toml_string(law.program->text())), prefix + stated,
             field(stated));
    for (std::size_t i = 0; i < law.values.size(); ++i) {
      const laws::FormulaParameter& p    = law.program->parameters()[i];
      const std::string             path = prefix + p.name;
      std::string text = fmt::format("{} = {{ value = {}", p.name, toml_number(law.values[i]));
      const auto  put  = [&](const char* key, const std::string& value) {
        text += fmt::format(", {} = {}", key, value);
      };
      if (!p.unit.empty()) put("unit", toml_string(p.unit));
      if (std::isfinite(p.low)) put("low", toml_number(p.low));
      if (std::isfinite(p.high)) put("high", toml_number(p.high));
      if (p.factor > 0.0) put("factor", toml_number(p.factor));
      if (!p.says.empty()) put("says", toml_string(p.says));
      const auto found = origins_.find(path);
      const bool known = found != origins_.end();
      if (known && !found->second.status.empty()) put("status", toml_string(found->second.status));
      if (known && !found->second.source.empty()) put("source", toml_string(found->second.source));
      remarked(text + " }", path, p.field());
    }
  }

  std::string out;

 private:
  void remarked(std::string text, const std::string& path, const Field& field) {
    if (with_origins_)
      text = fmt::format("{:<43} # {}", text, printable(origin(path, field)));  // a remark has one line
    out += text + "\n";
  }

  [[nodiscard]] std::string origin(const std::string& path, const Field& field) const {
    const auto found = origins_.find(path);
    if (found == origins_.end()) {
      return field.status.empty() ? "default" : fmt::format("default, {}", field.status);
    }
    const Origin& o    = found->second;
    std::string   text = o.file.empty() ? std::string{} : fmt::format("{}:{}", o.file, o.line);
    if (!o.status.empty()) text += (text.empty() ? "" : ", ") + o.status;
    if (!o.source.empty()) text += (text.empty() ? "" : "; ") + o.source;
    return text;
  }

  const Origins& origins_;
  bool           with_origins_;
};

std::string step_text(const Step& step) {
  std::string out;
  const auto  put = [&](const Field& field, const auto& member) {
    out += fmt::format("{}{} = {}", out.empty() ? "" : ", ", field.key, toml_value(member));
  };
  if (const auto* cut = std::get_if<CutStep>(&step); cut != nullptr && cut->wears_specimen())
    for_each_given(as_wear(*cut), put);
  else
    std::visit([&](const auto& s) { for_each_given(s, put); }, step);
  return "{ " + out + " }";
}

bool is_shipped_family(const std::string& name) {
  return shipped_catalogue().find("family", name) != nullptr;
}

// [readings], or nothing where no file is named
std::string readings_toml(const Loaded& loaded) {
  if (loaded.readings_files.empty()) return {};
  std::string out = "\n[readings]\nfile = ";
  if (loaded.readings_files.size() == 1) {
    out += toml_string(loaded.readings_files.front());
  } else {
    std::string list;
    for (const std::string& file : loaded.readings_files)
      list += (list.empty() ? "" : ", ") + toml_string(file);
    out += "[" + list + "]";
  }
  out += "\n";
  ReadingsForm::fields(
      [&](const Field& field, const std::string& value) {
        if (!value.empty()) out += fmt::format("{} = {}\n", field.key, toml_string(value));
      },
      loaded.readings_form);
  const auto pairs = [&](const char* key, const auto& all) {
    if (all.empty()) return;
    std::string list;
    for (const auto& [name, text] : all)
      list += fmt::format("{}{} = {}", list.empty() ? "" : ", ", toml_string(name), toml_string(text));
    out += fmt::format("{} = {{ {} }}\n", key, list);
  };
  pairs("columns", loaded.readings_form.columns);
  pairs("moments", loaded.readings_form.moments);
  return out;
}

std::string steps_toml(const EdgePlan& plan, std::size_t first, std::size_t last) {
  std::string out = "steps = [\n";
  for (std::size_t i = first; i < last; ++i) out += "  " + step_text(plan.steps[i]) + ",\n";
  return out + "]\n";
}

std::size_t steps_of_route(const EdgePlan& plan) {
  return plan.route.empty() ? 0 : static_cast<std::size_t>(plan.route_steps);
}

/// Routes that edges follow, by name, each with its steps as text. One of which edges have different steps, as those of a sweep along
/// a route's steps may, is left out: their steps stand with the edges.
std::map<std::string, std::string> followed_routes(const std::vector<EdgePlan>& edges) {
  std::map<std::string, std::string> routes;
  std::set<std::string>              differ;
  for (const EdgePlan& plan : edges) {
    if (steps_of_route(plan) == 0) continue;
    const std::string steps = steps_toml(plan, 0, steps_of_route(plan));
    if (routes.emplace(plan.route, steps).first->second != steps) differ.insert(plan.route);
  }
  for (const std::string& route : differ) routes.erase(route);
  return routes;
}

}  // namespace

std::string edge_toml(const EdgePlan& plan, bool by_route) {
  std::string out =
      fmt::format("\n[edge.{}]\ntool = {}\n", toml_string(plan.name), toml_string(plan.tool_name));
  if (!plan.route.empty())
    out += by_route ? fmt::format("route = {}\n", toml_string(plan.route))
                    : fmt::format("# its first steps are those of the route {}\n", toml_string(plan.route));
  if (!plan.code.empty()) out += fmt::format("code = {}\n", toml_string(plan.code));
  return out + steps_toml(plan, by_route ? steps_of_route(plan) : 0, plan.steps.size());
}

namespace {

void fit_toml(Writer& w, const Loaded& loaded) {
  w.table("fit", "fit.", loaded.fit);
  const auto list = [&w](const char* key, const std::vector<std::string>& texts) {
    if (texts.empty()) return;
    w.out += fmt::format("{} = [", key);
    for (std::size_t i = 0; i < texts.size(); ++i) w.out += (i > 0 ? ", " : "") + toml_string(texts[i]);
    w.out += "]\n";
  };
  list("free", loaded.fit.free);
  list("derived", loaded.fit.derived);
  list("laws", loaded.fit.laws);
  list("anew", loaded.fit.anew);
  for (const auto& [path, prior] : loaded.fit.priors) {
    const bool normal = prior.shape == PriorShape::normal;
    w.out += fmt::format("\n[prior.{}]\n{} = {}\n{} = {}\n", toml_string(path), normal ? "mean" : "median",
                         toml_number(prior.centre), normal ? "sd" : "factor", toml_number(prior.spread));
    if (prior.shift > 0.0) w.out += fmt::format("shift = {}\n", toml_number(prior.shift));
  }
}

// Materials, tools and counterfaces; of specimens the last two alone.
void items_toml(Writer& w, const Model<double>& model) {
  const bool specimens = model.specimen.in_use;
  // families of the user's own must be known by name; their numbers stand in their media
  std::set<std::string> families;
  for (const auto& medium : model.media) {
    if (!is_shipped_family(medium.family) && families.insert(medium.family).second)
      w.out += "\n[family." + toml_string(medium.family) + "]\n";
  }
  for_each_table(
      [&](const char* kind, const auto& table) {
        if (specimens && std::string_view(kind) != "counterface") return;
        for (std::size_t i = 0; i < table.size(); ++i) {
          using Item = std::remove_cvref_t<decltype(table[i])>;
          if constexpr (std::is_same_v<Item, Tool<double>>) {
            // a tool with a hardness of its own has a steel of its own
            Tool<double> tool = table[i];
            tool.steel        = model.steels[static_cast<std::size_t>(model.steel_of_tool[i])].name;
            tool.hardness_hrc = not_given;
            w.table("tool." + toml_string(tool.name), "tool." + tool.name + ".", tool);
          } else {
            w.table(std::string(kind) + "." + toml_string(table[i].name),
                    std::string(kind) + "." + table[i].name + ".", table[i]);
          }
        }
      },
      model);
  if (specimens) {
    for (const auto& tool : model.tools) {
      w.out += fmt::format("\n[tool.{}]\nkind = {}\n", toml_string(tool.name), toml_string(tool.kind));
      if (!tool.note.empty()) w.out += fmt::format("note = {}\n", toml_string(tool.note));
    }
  }
}

}  // namespace

std::string resolved_toml(const Loaded& loaded, bool origins) {
  const Scenario& scenario = loaded.scenario;
  Writer          w(loaded.origins, origins);
  if (!scenario.title.empty()) w.out += "title = " + toml_string(scenario.title) + "\n";
  const bool specimens = scenario.model.specimen.in_use;
  if (specimens)
    w.table("specimen", "specimen.", scenario.model.specimen);
  else
    w.table("coefficients", "coefficients.", scenario.model.coefficients);
  w.wear(scenario.model.wear);
  for (const NamedFormula& rival : scenario.formulas) {
    w.out += fmt::format("\n[formula.{}]\n", toml_string(rival.name));
    w.formula(*rival.law.formula(), "formula." + rival.name + ".");
  }
  if (!specimens) w.table("tester", "tester.", scenario.model.tester);
  w.table("scatter", "scatter.", scenario.model.scatter);
  w.table("numerics", "numerics.", scenario.numerics);
  Output output = scenario.output;
  if (specimens) output.reading_limit_gf = not_given;  // that of wear in another unit
  w.table("output", "output.", output);
  if (origins) w.table("computer", "computer.", loaded.computer);
  w.out += readings_toml(loaded);
  fit_toml(w, loaded);
  if (!specimens) {
    w.table("workshop", "workshop.", loaded.workshop.pace);
    for (const Price& price : loaded.workshop.prices)
      w.table("price." + toml_string(price.name), "price." + price.name + ".", price);
    for (const Limit& limit : loaded.workshop.limits)
      w.table("limit." + toml_string(limit.name), "limit." + limit.name + ".", limit);
  }
  for (const auto& filament : loaded.filaments)
    w.table("filament." + toml_string(filament.name), "filament." + filament.name + ".", filament);
  items_toml(w, scenario.model);
  const auto routes = followed_routes(scenario.edges);
  auto       shown  = routes;
  if (origins) {
    for (const EdgePlan& alone : loaded.unused_routes)
      shown.emplace(alone.route, steps_toml(alone, 0, steps_of_route(alone)));
  }
  for (const auto& [name, steps] : shown) w.out += fmt::format("\n[route.{}]\n{}", toml_string(name), steps);
  for (const EdgePlan& plan : scenario.edges) w.out += edge_toml(plan, routes.count(plan.route) > 0);
  return w.out;
}

}  // namespace arris
