// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <deque>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <unordered_set>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "sim/input/catalogue.hpp"
#include "sim/input/loader.hpp"

/// Loading of one configuration, step by step; what load_scenario does inside.
///
/// Files are opened first (loader.cpp), then the tables that stand once (and load_wear.cpp), materials as steps name them (load_materials.cpp),
/// tools, routes and edges (load_edges.cpp), prices and limits (load_workshop.cpp), and last what a fit may change
/// (load_fit.cpp). Every fault goes to the findings, and loading goes on, so that all of them are reported at once.
namespace arris {

/// A file stands relative to the one that names it, and is kept relative to the configuration that was given, `first`.
[[nodiscard]] std::string near_first(const std::string& file, const Document& names, const Document& first);

/// Where a table states a formula, or the function that stands in its place.
struct StatedRate {
  const Document*   document = nullptr;
  const toml::node* node     = nullptr;
  std::string       table    = "wear";  ///< or "formula.NAME"
};

/// Where a step is stated.
struct StepPlace {
  const Document&    document;
  const toml::table& table;
  const toml::node&  what;  ///< what its verb is done with
};

/// An edge whose steps are being read.
struct EdgeDraft {
  EdgePlan                        plan;
  std::unordered_set<std::string> moments;  ///< names of the read steps so far
};

class ScenarioLoader {
 public:
  ScenarioLoader(const Include& include, const std::vector<laws::ForeignRate>& functions)
      : include_(include), functions_(functions), reader_(findings_, loaded_.origins) {}

  Loaded load(const std::string& file, std::string_view text, const std::vector<NamedMaterial>& also);

 private:
  Scenario&      scenario() { return loaded_.scenario; }
  Model<double>& model() { return loaded_.scenario.model; }

  // ---- files ----
  // included files come before the one that includes them, so that the latter has the last word
  void open(const std::string& file, std::string_view text, std::vector<std::string> inside);
  void include_one(const Document& document, const toml::node& node, const std::vector<std::string>& inside);
  void check_top_level(const Document& document);

  // ---- tables that stand once ----
  // calls use(document, table) for `key` in each document that has it
  template <class Use>
  void each_layer(const std::string& key, Use&& use) {
    for (const Document& document : documents_) {
      const toml::node* node = document.root.get(key);
      if (node == nullptr) continue;
      if (const toml::table* table = node->as_table()) {
        use(document, *table);
      } else {
        findings_.add(document, *node,
                      {.code = "not-a-table",
                       .what = fmt::format("\"{}\" must be a table", key),
                       .next = fmt::format("Write [{}] and its keys below it.", key),
                       .key  = key});
      }
    }
  }
  template <class S>
  void read_single(const std::string& key, S& target) {
    each_layer(key, [&](const Document& d, const toml::table& t) {
      reader_.read({&d, &t, key + ".", {}}, target);
    });
  }
  void                    read_numerics();
  std::vector<StatedRate> named_rates_;  ///< of the formulas of the scenario, in their order
  // nothing where the law is no formula, or one with faults
  std::optional<StatedRate> read_wear();
  void                      choose_law();
  std::optional<StatedRate> read_formula();
  void                      read_formulas();
  bool check_formula_name(const Document& d, const toml::key& key, const toml::node& node);
  void check_formula(const laws::Formula<double>& law,
                     const StatedRate&            rate);  // needs the woods and tools it meets
  void check_formulas(const std::optional<StatedRate>& own);
  void read_tester();
  void read_readings();
  void read_readings_files(const Document& d, const toml::table& t);
  void read_pairs(const Document& d, const toml::table& t, const char* key, const char* example,
                  std::vector<std::pair<std::string, std::string>>& pairs);
  void read_title();

  // ---- pace, prices, limits ----
  void read_workshop();
  void check_prices();

  // ---- fitting: read last, when every number of the model is there ----
  void read_fit();
  void check_parameter(const Document& d, const toml::node& node, const std::string& path,
                       std::vector<std::string>* free);
  void check_law(const Document& d, const toml::node& node, const std::string& name);
  void check_anew(const Document& d, const toml::node& node, const std::string& name);
  void check_derived(const Document& d, const toml::node& node, const std::string& text);
  void read_priors();

  // ---- materials ----
  // `where` stands in the message when the table or node that names it is not at hand
  const Entry* find(const std::string& kind, const std::string& name, const std::string& single);
  Diagnostic   unknown(const std::string& kind, const std::string& name);
  // reads all layers of an entry into `target`, whose values so far are its defaults, but for `key`, which the caller reads
  template <class S>
  void read_layers(const std::string& kind, const Entry& entry, const char* key, S& target) {
    for (const auto& [document, table] : entry.layers)
      reader_.read({document, table, kind + "." + entry.name + ".", {key}}, target);
  }
  template <class S>
  void require_all(const std::string& kind, const Entry& entry, const S& target) {
    const auto& [document, table] = entry.layers.back();
    reader_.require({document, table, kind + "." + entry.name + ".", {}}, target);
  }
  template <class S>
  void read_entry(const std::string& kind, const Entry& entry, S& target) {
    target.name = entry.name;
    read_layers(kind, entry, "also", target);
    require_all(kind, entry, target);
  }
  template <class S>
  void read_entries(const std::string& kind, std::vector<S>& list) {
    for (const Entry& entry : catalogue_.entries(kind)) {
      S target;
      read_entry(kind, entry, target);
      list.push_back(std::move(target));
    }
  }
  void derive(const std::string& path, double& target, double value, const std::string& from);
  // index of the material `name` in `list`, loading it first if need be; −1 after a fault
  template <class S>
  int material(const std::string& kind, std::vector<S>& list, const std::string& name, const Document& d,
               const toml::node& node) {
    const Entry* entry = catalogue_.find(kind, name);
    if (entry == nullptr) {
      if (name != TableReader::unreadable) findings_.add(d, node, unknown(kind, name));
      return -1;
    }
    for (std::size_t i = 0; i < list.size(); ++i) {
      if (list[i].name == entry->name) return static_cast<int>(i);
    }
    S target;
    read_entry(kind, *entry, target);
    list.push_back(std::move(target));
    return static_cast<int>(list.size()) - 1;
  }
  // whether the layers of an entry state every key that has no default, in whatever unit
  template <class S>
  static bool states_all(const Entry& entry) {
    bool    all = true;
    const S defaults;
    S::fields(
        [&]<class M>(const Field& field, const M& member) {
          if constexpr (std::is_same_v<M, double>) {
            if (field.is_derived || field.is_optional || !std::isnan(member)) return;
            const std::string wanted = TableReader::without_unit(field.key);
            all &= std::any_of(entry.layers.begin(), entry.layers.end(), [&](const auto& layer) {
              return std::any_of(layer.second->begin(), layer.second->end(), [&](const auto& item) {
                return TableReader::without_unit(item.first.str()) == wanted;
              });
            });
          }
        },
        defaults);
    return all;
  }
  // those that no step names, but a study asks for
  void add_materials(const std::vector<NamedMaterial>& also);
  int  add_material(const std::string& kind, const std::string& name, const Document& d,
                    const toml::node& node);
  int  steel(const Tool<double>& tool, const Document& d, const toml::node& node);
  // a medium is an entry [medium.NAME], or "FAMILY, GRIT" said on the spot
  int medium(const std::string& name, const Document& d, const toml::node& node);
  // each of these: nothing after a fault; a medium may still lack its size
  std::optional<Medium<double>> medium_of_entry(const Entry& entry);
  std::optional<Medium<double>> medium_on_the_spot(const std::string& name, const Document& d,
                                                   const toml::node& node);
  std::optional<double>         size_by_grit(const Medium<double>& m, const Entry* entry, const Document& d,
                                             const toml::node& node);
  void                          check_grit_node(const Document& d, const toml::node& grit);
  bool take_family(const std::string& family, const std::string& path, Medium<double>& m, const Document& d,
                   const toml::node& node);

  // ---- specimens (load_specimens.cpp) ----
  [[nodiscard]] bool has_specimens();
  void               read_specimens();
  void               refuse_tables_of_blades();
  void               settle_scatter_of_specimens();
  void               add_specimen(const Entry& entry);
  void               add_wear_step(const StepPlace& at, EdgeDraft& edge);
  // a fault where blades have no such step, or specimens
  bool is_step_of(const StepPlace& at, const std::string& verb);
  void settle_output_of_specimens();

  // ---- tools and edges ----
  void add_tool(const Entry& entry);
  // the last table that states `key`, or else the last table of the entry itself, with its document
  static std::pair<const Document*, const toml::node*> stated(const Entry& entry, const char* key);
  void                                                 add_edges(const std::string& file);
  void                                                 add_edge(const Entry& entry);
  void                     take_tool(const Entry& entry, const std::string& tool, EdgePlan& plan);
  void                     take_code(const Entry& entry, const std::string& code, EdgePlan& plan);
  static const toml::node& node_or(const toml::table& table, const char* key);
  void follow(const std::string& route, const Document& d, const toml::node& node, EdgeDraft& edge,
              std::vector<std::string> inside);
  void check_unused_routes();
  void add_steps(const Document& d, const toml::node& node, EdgeDraft& edge,
                 const std::vector<std::string>& inside);
  void add_step(const Document& d, const toml::table& table, EdgeDraft& edge,
                const std::vector<std::string>& inside);
  void follow_step(const StepPlace& at, EdgeDraft& edge, const std::vector<std::string>& inside);
  template <class S>
  void read_step(const StepPlace& at, EdgeDraft& edge);
  // each of these finds the materials of a step that was read, and checks it against what the edge went through before
  void        complete(HoneStep& step, const StepPlace& at, EdgeDraft& edge);
  void        complete(BackStep& step, const StepPlace& at, EdgeDraft& edge);
  void        complete(StropStep& step, const StepPlace& at, EdgeDraft& edge);
  void        complete(CutStep& step, const StepPlace& at, EdgeDraft& edge);
  void        complete(ReadStep& step, const StepPlace& at, EdgeDraft& edge);
  void        complete(DressStep& step, const StepPlace& at, EdgeDraft& edge);
  static bool used_before(const EdgePlan& plan, int medium);
  // going back to a coarse medium without wood in between is allowed, and seldom meant
  void warn_if_coarser(const HoneStep& step, const StepPlace& at, const EdgePlan& plan);

  const Include&                        include_;
  const std::vector<laws::ForeignRate>& functions_;
  Findings                              findings_;
  Loaded                                loaded_;
  TableReader                           reader_;
  Catalogue                             catalogue_;
  std::deque<Document>                  documents_;
  std::set<std::string>                 used_routes_;
  std::set<std::string>                 checked_routes_;
  int                                   followed_ = 0;
  int                                   steps_    = 0;  // of all edges
};

}  // namespace arris
