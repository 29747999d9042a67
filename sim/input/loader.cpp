// SPDX-License-Identifier: MIT
#include "sim/input/loader.hpp"

#include <algorithm>
#include <deque>
#include <set>

#include <fmt/format.h>

#include "sim/input/catalogue.hpp"
#include "sim/laws/geometry.hpp"
#include "sim/laws/tester.hpp"

namespace arris {
namespace {

constexpr double      coarsest_um   = 3000.0;  // as in the range of a medium's size_um
constexpr std::size_t most_includes = 64;
constexpr std::size_t most_edges    = 100000;
constexpr std::size_t most_steps    = 1000000;

/// `[readings]`
struct ReadingsTable {
  std::string file, note;
  static void fields(auto&& v, auto&... s) {
    // clang-format off
    v(field("file").says("readings file, relative to this one"), s.file...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// `[edge.NAME]`, beside its steps
struct EdgeTable {
  std::string tool, route, note;
  static void fields(auto&& v, auto&... s) {
    // clang-format off
    v(field("tool").says("tool it is the edge of"), s.tool...);
    v(field("route").optional().says("route it follows first"), s.route...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// `[route.NAME]`, beside its steps
struct RouteTable {
  std::string note;
  static void fields(auto&& v, auto&... s) { v(field("note").optional().says("remark"), s.note...); }
};

/// `[prior."PATH"]`
struct PriorTable {
  double      median = not_given, factor = not_given, mean = not_given, sd = not_given;
  static void fields(auto&& v, auto&... s) {
    // clang-format off
    v(field("median").between(1e-12, 1e12).optional().says("median of a log-normal prior"), s.median...);
    v(field("factor").between(1.001, 1000).optional().says("its geometric standard deviation"), s.factor...);
    v(field("mean").between(-1e12, 1e12).optional().says("mean of a normal prior"), s.mean...);
    v(field("sd").between(1e-12, 1e12).optional().says("its standard deviation"), s.sd...);
    // clang-format on
  }
};

class Loader {
 public:
  explicit Loader(const Include& include) : include_(include), reader_(findings_, loaded_.origins) {}

  Loaded load(const std::string& file, std::string_view text) {
    for (const Document& document : shipped_materials()) catalogue_.add(document, findings_);
    open(file, text, {});
    for (const Document& document : documents_) {
      check_top_level(document);
      catalogue_.add(document, findings_);
    }
    read_single("coefficients", model().coefficients);
    read_wear();
    read_single("scatter", model().scatter);
    read_single("numerics", scenario().numerics);
    read_single("output", scenario().output);
    read_tester();
    read_readings();
    for (const Document& document : documents_) {
      if (auto title = document.root["title"].value<std::string>()) scenario().title = *title;
      for (const char* key : {"title", "note"}) {
        const toml::node* node = document.root.get(key);
        if (node != nullptr && !node->is_string()) {
          findings_.add(document, *node,
                        {.code = "not-text",
                         .what = fmt::format("{} must be text in quotes", key),
                         .next = fmt::format("Write {} = \"…\"", key),
                         .key  = key});
        }
      }
    }
    for (const Entry& entry : catalogue_.entries("tool")) add_tool(entry);
    const auto& edges = catalogue_.entries("edge");
    if (edges.size() > most_edges) {
      throw Error(Exit::usage, {.code    = "too-many",
                                .what    = fmt::format("{} edges", edges.size()),
                                .allowed = fmt::format("up to {}", most_edges)});
    }
    for (const Entry& entry : edges) add_edge(entry);
    check_unused_routes();
    read_priors();
    read_fit();
    if (edges.empty() && !findings_.any()) {
      findings_.add(documents_.back(), documents_.back().root,
                    {.code = "no-edge",
                     .what = "no edge is described, so there is nothing to simulate",
                     .next = "Add [edge.\"A1\"] with its tool and steps."});
    }
    findings_.throw_if_any();
    loaded_.warnings = findings_.warnings();
    return std::move(loaded_);
  }

 private:
  Scenario&      scenario() { return loaded_.scenario; }
  Model<double>& model() { return loaded_.scenario.model; }

  // ---- files ----------------------------------------------------------------------------------------------------

  // included files come before the one that includes them, so that the latter has the last word
  void open(const std::string& file, std::string_view text, std::vector<std::string> inside) {
    if (loaded_.texts.size() >= most_includes) {
      throw Error(Exit::usage, {.code = "too-many",
                                .what = fmt::format("more than {} included files", most_includes),
                                .file = file});
    }
    loaded_.texts.emplace_back(file, text);
    Document document = parse_document(file, text);
    inside.push_back(file);
    if (const toml::node* list = document.root.get("include"); list != nullptr) {
      const toml::array* names = list->as_array();
      if (names == nullptr ||
          !std::all_of(names->begin(), names->end(), [](const auto& n) { return n.is_string(); })) {
        findings_.add(document, *list,
                      {.code = "not-text",
                       .what = "include must be a list of file names",
                       .next = "Write include = [\"my-materials.toml\"]",
                       .key  = "include"});
      } else {
        for (const toml::node& node : *names) include_one(document, node, inside);
      }
    }
    documents_.push_back(std::move(document));
  }

  void include_one(const Document& document, const toml::node& node, const std::vector<std::string>& inside) {
    const std::string name = node.value_or(std::string{});
    const auto        got  = include_ ? include_(document.file, name) : std::nullopt;
    if (!got) {
      findings_.add(document, node,
                    {.code = "no-such-file",
                     .what = fmt::format("the included file \"{}\" cannot be read", printable(name)),
                     .next = "Paths are relative to the file that includes them.",
                     .key  = "include"});
      return;
    }
    if (std::find(inside.begin(), inside.end(), got->first) != inside.end()) {
      findings_.add(document, node,
                    {.code  = "include-cycle",
                     .what  = fmt::format("\"{}\" includes itself, in the end", printable(name)),
                     .cause = "Chain: " + listed(inside, 64) + ".",
                     .key   = "include"});
      return;
    }
    const bool known = std::any_of(loaded_.texts.begin(), loaded_.texts.end(),
                                   [&](const auto& t) { return t.first == got->first; });
    if (!known) open(got->first, got->second, inside);
  }

  void check_top_level(const Document& document) {
    static const std::vector<std::string> singles = {
        "title",   "note",     "include", "source",   "coefficients", "wear", "tester",
        "scatter", "numerics", "output",  "readings", "fit",          "prior"};
    std::vector<std::string> known = singles;
    known.insert(known.end(), Catalogue::kinds().begin(), Catalogue::kinds().end());
    for (const auto& [key, node] : document.root) {
      const std::string name(key.str());
      if (std::find(known.begin(), known.end(), name) != known.end()) continue;
      const std::string close = nearest(name, known);
      findings_.add(document, key,
                    {.code    = "unknown-key",
                     .what    = fmt::format("there is no table or key \"{}\"", printable(name)),
                     .allowed = close.empty() ? listed(known, 40) : std::string{},
                     .next    = close.empty() ? std::string{} : fmt::format("Did you mean \"{}\"?", close),
                     .key     = name});
    }
  }

  // ---- tables that stand once -----------------------------------------------------------------------------------

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

  void read_wear() {
    std::vector<std::string> names;
    const auto               with_law = [&](const std::string& name) {
      bool found = false;
      [&]<class... Law>(std::variant<Law...>*) {
        names = {std::string(Law::law_name)...};
        ((Law::law_name == name ? (model().wear = Law{}, found = true) : false), ...);
      }(static_cast<laws::WearLaw<double>*>(nullptr));
      return found;
    };
    each_layer("wear", [&](const Document& d, const toml::table& t) {
      if (const toml::node* law = t.get("law"); law != nullptr && !with_law(law->value_or(std::string{}))) {
        findings_.add(d, *law,
                      {.code    = "unknown-law",
                       .what    = "there is no such wear law",
                       .allowed = listed(names),
                       .next    = suggestion(law->value_or(std::string{}), names),
                       .key     = "wear.law"});
      }
    });
    each_layer("wear", [&](const Document& d, const toml::table& t) {
      std::visit([&](auto& law) { reader_.read({&d, &t, "wear.", {"law"}}, law); }, model().wear);
    });
  }

  void read_tester() {
    auto&      tester = model().tester;
    const auto before = findings_.count();
    read_single("tester", tester);
    const auto* entry = find("filament", tester.filament, "tester");
    if (entry == nullptr) return;
    Filament<double> filament;
    read_entry("filament", *entry, filament);
    if (std::isnan(tester.cut_resistance_N))
      derive("tester.cut_resistance_N", tester.cut_resistance_N, filament.cut_resistance_N,
             "filament." + filament.name + ".cut_resistance_N");
    if (std::isnan(tester.slope_N_per_um))
      derive("tester.slope_N_per_um", tester.slope_N_per_um, filament.slope_N_per_um,
             "filament." + filament.name + ".slope_N_per_um");
    if (std::isnan(tester.saturation_N))
      derive("tester.saturation_N", tester.saturation_N,
             laws::filament_saturation_N(filament.shear_strength_MPa, filament.diameter_mm),
             "filament." + filament.name + ".shear_strength_MPa");
    if (findings_.count() == before && !(tester.saturation_N > tester.cut_resistance_N)) {
      each_layer("tester", [&](const Document& d, const toml::table& t) {
        findings_.add(d, t,
                      {.code  = "impossible",
                       .what  = fmt::format("saturation_N = {:g} N is not above cut_resistance_N = {:g} N",
                                            tester.saturation_N, tester.cut_resistance_N),
                       .cause = "A blunt bar cannot part the filament with less force than a perfect edge.",
                       .key   = "tester.saturation_N"});
      });
    }
    loaded_.filaments.push_back(filament);
  }

  void read_readings() {
    ReadingsTable table;
    read_single("readings", table);
    loaded_.readings_file = table.file;
  }

  // ---- fitting: read last, when every number of the model is there ----------------------------------------------

  void read_fit() {
    FitSettings& fit = loaded_.fit;
    each_layer("fit", [&](const Document& d, const toml::table& t) {
      reader_.read({&d, &t, "fit.", {"free"}}, fit);
      if (fit.noise != "log-normal" && fit.noise != "student-t") {
        findings_.add(d, node_or(t, "noise"),
                      {.code    = "unknown-noise",
                       .what    = fmt::format("there is no noise \"{}\"", printable(fit.noise)),
                       .allowed = "log-normal or student-t",
                       .key     = "fit.noise"});
      }
      const toml::node* free = t.get("free");
      if (free == nullptr) return;
      fit.free.clear();
      const toml::array* list = free->as_array();
      if (list == nullptr) {
        findings_.add(d, *free,
                      {.code = "not-a-list",
                       .what = "free must be a list of parameters",
                       .next = "Write free = [\"tester.slope_N_per_um\"]",
                       .key  = "fit.free"});
        return;
      }
      for (const toml::node& item : *list) check_parameter(d, item, item.value_or(std::string{}), &fit.free);
    });
  }

  void check_parameter(const Document& d, const toml::node& node, const std::string& path,
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
    const std::string close = nearest(path, known);
    findings_.add(d, node,
                  {.code  = there ? "not-fittable" : "unknown-parameter",
                   .what  = there ? fmt::format("\"{}\" has no prior, so it cannot be free", printable(path))
                                  : fmt::format("the model has no parameter \"{}\"", printable(path)),
                   .cause = there ? "" : "Only materials and tools that the edges use have parameters.",
                   .next  = (close.empty() ? std::string{} : fmt::format("Did you mean \"{}\"? ", close)) +
                           "`arris check` prints all: TABLE.KEY, or TABLE.NAME.KEY.",
                   .key = path});
  }

  void read_priors() {
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
        if (log_normal == normal) {
          findings_.add(d, key,
                        {.code    = "bad-prior",
                         .what    = fmt::format("the prior of \"{}\" is not clear", printable(path)),
                         .allowed = "median and factor, or mean and sd",
                         .key     = path});
          continue;
        }
        double present = not_given;
        for_each_number(model(), [&](const std::string& at, const Field&, double& number) {
          present = at == path ? number : present;
        });
        if (std::isnan(present)) {
          check_parameter(d, node, path, nullptr);
          continue;
        }
        loaded_.fit.priors[path] = log_normal ? Prior{PriorShape::log_normal, prior.median, prior.factor}
                                              : Prior{PriorShape::normal, prior.mean, prior.sd};
      }
    });
  }

  // ---- materials ------------------------------------------------------------------------------------------------

  [[nodiscard]] static std::string suggestion(const std::string&              word,
                                              const std::vector<std::string>& known) {
    const std::string close = nearest(word, known);
    return close.empty() ? std::string{} : fmt::format("Did you mean \"{}\"?", close);
  }

  // `where` is told in the message when the table or node that names it is not at hand
  const Entry* find(const std::string& kind, const std::string& name, const std::string& single) {
    if (const Entry* entry = catalogue_.find(kind, name)) return entry;
    if (name == TableReader::unreadable) return nullptr;
    each_layer(single, [&](const Document& d, const toml::table& t) {
      const toml::node* node = t.get(kind);
      findings_.add(d, node != nullptr ? *node : static_cast<const toml::node&>(t), unknown(kind, name));
    });
    return nullptr;
  }

  Diagnostic unknown(const std::string& kind, const std::string& name) {
    const auto        known = catalogue_.names(kind);
    const std::string close = nearest(name, known);
    // a configuration's own tables are in no listing
    const bool shipped = kind != "tool" && kind != "route" && kind != "medium";
    return {.code    = "unknown-" + kind,
            .what    = fmt::format("there is no {} \"{}\"", kind, printable(name)),
            .allowed = close.empty() ? listed(known, 20) : std::string{},
            .next    = (close.empty() ? std::string{} : fmt::format("Did you mean \"{}\"? ", close)) +
                    (shipped ? fmt::format("`arris materials {}` lists all; a", kind) : std::string("A")) +
                    fmt::format(" table [{}.\"{}\"] adds it.", kind, printable(name)),
            .key = kind};
  }

  // reads all layers of an entry into `target`, whose values so far are its defaults
  template <class S>
  void read_entry(const std::string& kind, const Entry& entry, S& target) {
    target.name = entry.name;
    for (const auto& [document, table] : entry.layers) {
      reader_.read({document, table, kind + "." + entry.name + ".", {"also"}}, target);
    }
    const auto& [document, table] = entry.layers.back();
    reader_.require({document, table, kind + "." + entry.name + ".", {}}, target);
  }

  void derive(const std::string& path, double& target, double value, const std::string& from) {
    target = value;
    Origin origin;
    if (const auto found = loaded_.origins.find(from); found != loaded_.origins.end()) origin = found->second;
    origin.source         = origin.source.empty() ? "from " + from : "from " + from + "; " + origin.source;
    loaded_.origins[path] = origin;
  }

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

  int steel(const Tool<double>& tool, const Document& d, const toml::node& node) {
    const Entry* entry = catalogue_.find("steel", tool.steel);
    if (entry == nullptr) {
      if (tool.steel != TableReader::unreadable) findings_.add(d, node, unknown("steel", tool.steel));
      return -1;
    }
    const bool        own = !std::isnan(tool.hardness_hrc);
    const std::string name =
        own ? fmt::format("{} at {:g} HRC", entry->name, tool.hardness_hrc) : entry->name;
    auto& list = model().steels;
    for (std::size_t i = 0; i < list.size(); ++i) {
      if (list[i].name == name) return static_cast<int>(i);
    }
    Steel<double> target;
    read_entry("steel", *entry, target);
    const std::string from = "steel." + entry->name + ".";
    target.name            = name;
    if (own) {
      for (const char* key :
           {"carbide_um", "wear_ratio", "youngs_modulus_GPa", "carbide_pct", "carbide_type", "composition"}) {
        if (const auto o = loaded_.origins.find(from + key); o != loaded_.origins.end())
          loaded_.origins["steel." + name + "." + key] = o->second;
      }
      target.hardness_hrc = tool.hardness_hrc;
      target.hardness_GPa = not_given;
      loaded_.origins["steel." + name + ".hardness_hrc"] =
          loaded_.origins["tool." + tool.name + ".hardness_hrc"];
    }
    if (std::isnan(target.hardness_GPa)) {
      if (std::isnan(target.hardness_hrc)) {
        findings_.add(
            d, node,
            {.code = "missing-key",
             .what = fmt::format("the steel \"{}\" has no hardness", name),
             .next = fmt::format("Give hardness_hrc in [steel.\"{}\"] or in the tool.", entry->name)});
        return -1;
      }
      derive("steel." + name + ".hardness_GPa", target.hardness_GPa, hardness_GPa(target.hardness_hrc),
             "steel." + name + ".hardness_hrc");
      loaded_.origins["steel." + name + ".hardness_GPa"].source = "from hardness_hrc by ASTM E140";
    }
    list.push_back(std::move(target));
    return static_cast<int>(list.size()) - 1;
  }

  // a medium is an entry [medium.NAME], or "FAMILY, GRIT" said on the spot
  int medium(const std::string& name, const Document& d, const toml::node& node) {
    if (name == TableReader::unreadable) return -1;
    auto&        list  = model().media;
    const Entry* entry = catalogue_.find("medium", name);
    const auto   same  = [&](const Medium<double>& m) {
      return folded(m.name) == folded(entry != nullptr ? entry->name : name);
    };
    if (const auto found = std::find_if(list.begin(), list.end(), same); found != list.end())
      return static_cast<int>(found - list.begin());

    Medium<double> m;
    if (entry != nullptr) {
      // `grit = 1000` without quotes is the commonest way to leave the standard out
      for (const auto& [document, table] : entry->layers) {
        if (const toml::node* grit = table->get("grit"); grit != nullptr && grit->is_integer()) {
          check_grit_node(*document, *grit);
          return -1;
        }
      }
      // the family first, so that the entry's own numbers have the last word
      std::string family;
      for (const auto& [document, table] : entry->layers)
        family = (*table)["family"].value<std::string>().value_or(family);
      if (!family.empty() && !take_family(family, "medium." + entry->name + ".", m,
                                          *entry->layers.back().first, *entry->layers.back().second))
        return -1;
      const auto before = findings_.count();
      read_entry("medium", *entry, m);
      if (findings_.count() > before) return -1;
      if (const Entry* own = catalogue_.find("family", m.family)) m.family = own->name;
    } else {
      const auto comma = name.rfind(',');
      if (comma == std::string::npos) {
        auto diagnostic = unknown("medium", name);
        diagnostic.allowed.clear();
        diagnostic.next =
            "Add [medium.\"" + printable(name) +
            "\"] with family and grit, or say both on the spot: \"soft waterstone, JIS #1000\". Families: " +
            listed(catalogue_.names("family")) + ".";
        if (const std::string close = nearest(name, catalogue_.names("medium")); !close.empty())
          diagnostic.next = fmt::format("Did you mean \"{}\"? ", close) + diagnostic.next;
        findings_.add(d, node, diagnostic);
        return -1;
      }
      const auto trim = [](std::string s) {
        s.erase(0, s.find_first_not_of(' '));
        s.erase(s.find_last_not_of(' ') + 1);
        return s;
      };
      m.name = name;
      m.grit = trim(name.substr(comma + 1));
      if (!take_family(trim(name.substr(0, comma)), "medium." + name + ".", m, d, node)) return -1;
    }
    if (std::isnan(m.size_um)) {
      if (m.grit.empty()) {
        findings_.add(d, node,
                      {.code = "missing-key",
                       .what = fmt::format("the medium \"{}\" has no grit", printable(name)),
                       .next = "Give grit = \"JIS #1000\" or size_um = 14."});
        return -1;
      }
      try {
        const GritSize grit = parse_grit(catalogue_, m.grit);
        m.size_um           = grit.size_um;
        Origin origin;
        origin.file   = d.file;
        origin.line   = static_cast<int>(node.source().begin.line);
        origin.status = grit.status;
        origin.source = grit.standard.empty() ? std::string{} : grit.standard + "; " + grit.source;
        loaded_.origins["medium." + m.name + ".size_um"] = origin;
        if (grit.size_um > coarsest_um) {
          throw Error(Exit::usage, {.code    = "out-of-range",
                                    .what    = fmt::format("{} is {:g} µm, coarser than any medium here",
                                                           printable(m.grit), grit.size_um),
                                    .allowed = fmt::format("up to {:g} µm", coarsest_um)});
        }
      } catch (const Error& error) {
        const auto [document, grit] = entry != nullptr
                                          ? stated(*entry, "grit")
                                          : std::pair<const Document*, const toml::node*>(&d, &node);
        findings_.add(*document, *grit, error.diagnostics().front());
        return -1;
      }
    }
    list.push_back(std::move(m));
    return static_cast<int>(list.size()) - 1;
  }

  void check_grit_node(const Document& d, const toml::node& grit) {
    try {
      (void)parse_grit(catalogue_, std::to_string(grit.value<int64_t>().value()));
    } catch (const Error& error) {
      findings_.add(d, grit, error.diagnostics().front());
    }
  }

  bool take_family(const std::string& family, const std::string& path, Medium<double>& m, const Document& d,
                   const toml::node& node) {
    const Entry* entry = catalogue_.find("family", family);
    if (entry == nullptr) {
      findings_.add(d, node, unknown("family", family));
      return false;
    }
    const std::string name = m.name;
    read_entry("family", *entry, static_cast<Family<double>&>(m));
    m.name   = name;
    m.family = entry->name;
    m.note.clear();
    Family<double>::fields(
        [&](const Field& f, auto&) {
          if (const auto o = loaded_.origins.find("family." + entry->name + "." + std::string(f.key));
              o != loaded_.origins.end())
            loaded_.origins[path + std::string(f.key)] = o->second;
        },
        static_cast<Family<double>&>(m));
    return true;
  }

  // ---- tools and edges ------------------------------------------------------------------------------------------

  void add_tool(const Entry& entry) {
    Tool<double> tool;
    const auto   before = findings_.count();
    read_entry("tool", entry, tool);
    const bool        faulty = findings_.count() > before;  // then its values are not all the user's
    const std::string path   = "tool." + tool.name + ".";
    if (std::isnan(tool.micro_bevel_deg))
      derive(path + "micro_bevel_deg", tool.micro_bevel_deg, tool.primary_bevel_deg,
             path + "primary_bevel_deg");

    const auto impossible = [&](const char* key, std::string what, std::string cause, std::string next) {
      if (faulty) return;
      const auto [document, node] = stated(entry, key);
      findings_.add(*document, *node,
                    {.code  = "impossible-geometry",
                     .what  = std::move(what),
                     .cause = std::move(cause),
                     .next  = std::move(next),
                     .key   = path + key});
    };
    if (tool.micro_bevel_deg < tool.primary_bevel_deg) {
      impossible("micro_bevel_deg",
                 fmt::format("the micro-bevel of {:g}° lies below the primary bevel of {:g}°",
                             tool.micro_bevel_deg, tool.primary_bevel_deg),
                 "A micro-bevel is steeper than the bevel it stands on, or it never touches the stone.",
                 fmt::format("Give at least {:g}, or leave micro_bevel_deg out to hone the whole bevel.",
                             tool.primary_bevel_deg));
    } else if (tool.micro_bevel_deg > tool.primary_bevel_deg &&
               tool.micro_bevel_deg - tool.primary_bevel_deg < 0.1) {
      impossible("micro_bevel_deg",
                 fmt::format("the micro-bevel is only {:.2g}° steeper than the primary bevel",
                             tool.micro_bevel_deg - tool.primary_bevel_deg),
                 "No jig holds that, and the land would be wider than the bevel.",
                 "Make it at least 0.1° steeper, or equal.");
    }
    if (tool.micro_bevel_deg + tool.back_bevel_deg >= 90.0) {
      impossible("back_bevel_deg",
                 fmt::format("the edge would be {:g}° wide", tool.micro_bevel_deg + tool.back_bevel_deg),
                 "Bevel and back bevel together must stay below 90°.", "");
    }
    if (tool.honed_sides == 2 && tool.back_bevel_deg > 0.0) {
      impossible("back_bevel_deg", "a blade honed on two sides has no back to put a back bevel on", "",
                 "Set honed_sides = 1, or leave back_bevel_deg out.");
    }
    const double full =
        laws::full_bevel_land(tool.thickness_mm * (tool.honed_sides == 2 ? 0.5 : 1.0),
                              tool.primary_bevel_deg * laws::degree * (tool.honed_sides == 2 ? 0.5 : 1.0));
    if (tool.micro_bevel_deg > tool.primary_bevel_deg && tool.land_mm > full) {
      impossible(
          "land_mm",
          fmt::format("a land of {:g} mm is wider than the whole bevel, {:.3g} mm", tool.land_mm, full), "",
          "Check land_mm and thickness_mm.");
    }
    model().tools.push_back(tool);
    const auto [document, node] = stated(entry, "steel");
    model().steel_of_tool.push_back(tool.steel.empty() ? -1 : steel(tool, *document, *node));
  }

  // the last table that states `key`, or else the last table of the entry itself, with its document
  static std::pair<const Document*, const toml::node*> stated(const Entry& entry, const char* key) {
    for (auto layer = entry.layers.rbegin(); layer != entry.layers.rend(); ++layer) {
      if (const toml::node* node = layer->second->get(key); node != nullptr) return {layer->first, node};
    }
    return {entry.layers.back().first, entry.layers.back().second};
  }

  void add_edge(const Entry& entry) {
    EdgeTable table;
    for (const auto& [document, t] : entry.layers)
      reader_.read({document, t, "edge." + entry.name + ".", {"steps"}}, table);
    const auto& [document, t] = entry.layers.back();
    reader_.require({document, t, "edge." + entry.name + ".", {}}, table);

    EdgePlan plan;
    plan.name         = entry.name;
    plan.route        = table.route;
    const auto& tools = model().tools;
    for (std::size_t i = 0; i < tools.size(); ++i) {
      if (folded(tools[i].name) == folded(table.tool)) plan.tool = static_cast<int>(i);
    }
    if (plan.tool < 0) {
      const auto [where, node] = stated(entry, "tool");
      if (!table.tool.empty() && table.tool != TableReader::unreadable)
        findings_.add(*where, *node, unknown("tool", table.tool));
      return;
    }
    plan.tool_name = tools[static_cast<std::size_t>(plan.tool)].name;
    if (const auto [where, node] = stated(entry, "route");
        !table.route.empty() && table.route != TableReader::unreadable)
      follow(table.route, *where, *node, plan, {});
    if (const auto [where, steps] = stated(entry, "steps"); steps != entry.layers.back().second)
      add_steps(*where, *steps, plan, {});
    if (plan.steps.empty() && !findings_.any()) {
      findings_.add(*document, *t,
                    {.code = "no-steps",
                     .what = fmt::format("the edge \"{}\" has no steps", plan.name),
                     .next = "Give it a route or steps.",
                     .key  = "edge." + entry.name});
    }
    scenario().edges.push_back(std::move(plan));
  }

  static const toml::node& node_or(const toml::table& table, const char* key) {
    const toml::node* node = table.get(key);
    return node != nullptr ? *node : static_cast<const toml::node&>(table);
  }

  void follow(const std::string& route, const Document& d, const toml::node& node, EdgePlan& plan,
              std::vector<std::string> inside) {
    const Entry* entry = catalogue_.find("route", route);
    if (entry == nullptr) {
      findings_.add(d, node, unknown("route", route));
      return;
    }
    if (std::find(inside.begin(), inside.end(), entry->name) != inside.end()) {
      findings_.add(d, node,
                    {.code = "route-cycle",
                     .what = fmt::format("the route \"{}\" follows itself, in the end", entry->name)});
      return;
    }
    inside.push_back(entry->name);
    used_routes_.insert(entry->name);
    if (++followed_ > most_steps) {
      throw Error(Exit::usage, {.code = "too-many",
                                .what = fmt::format(
                                    "routes that follow routes are followed more than {} times", most_steps),
                                .file = d.file});
    }
    RouteTable own;
    if (checked_routes_.insert(entry->name).second) {
      for (const auto& [document, table] : entry->layers)
        reader_.read({document, table, "route." + entry->name + ".", {"steps"}}, own);
    }
    if (const auto [document, steps] = stated(*entry, "steps"); steps != entry->layers.back().second) {
      add_steps(*document, *steps, plan, inside);
    } else {
      findings_.add(*document, *steps,
                    {.code = "missing-key",
                     .what = fmt::format("the route \"{}\" has no steps", entry->name),
                     .next = "Add steps = [ { hone = …, strokes = … } ]"});
    }
  }

  void check_unused_routes() {
    for (const Entry& entry : catalogue_.entries("route")) {
      if (used_routes_.count(entry.name) > 0) continue;
      // read it all the same, so that its faults are told; the edge it is read into is thrown away
      if (model().tools.empty()) continue;
      EdgePlan scratch;
      scratch.tool = 0;
      follow(entry.name, *entry.layers.back().first, *entry.layers.back().second, scratch, {});
      findings_.warn(
          *entry.layers.back().first, *entry.layers.back().second,
          {.code = "unused-route", .what = fmt::format("no edge follows the route \"{}\"", entry.name)});
    }
  }

  void add_steps(const Document& d, const toml::node& node, EdgePlan& plan,
                 const std::vector<std::string>& inside) {
    const toml::array* steps = node.as_array();
    if (steps == nullptr) {
      findings_.add(d, node,
                    {.code = "not-a-list",
                     .what = "steps must be a list",
                     .next = "Write steps = [ { hone = \"…\", strokes = 20 }, … ]"});
      return;
    }
    for (const toml::node& item : *steps) {
      const toml::table* table = item.as_table();
      if (plan.steps.size() >= most_steps) {
        throw Error(Exit::usage,
                    {.code = "too-many",
                     .what = fmt::format("the edge \"{}\" has more than {} steps", plan.name, most_steps),
                     .file = d.file});
      }
      if (table == nullptr) {
        findings_.add(d, item,
                      {.code = "not-a-step",
                       .what = "a step must be a table in braces",
                       .next = "Write { hone = \"…\", strokes = 20 }"});
        continue;
      }
      add_step(d, *table, plan, inside);
    }
  }

  void add_step(const Document& d, const toml::table& table, EdgePlan& plan,
                const std::vector<std::string>& inside) {
    static const std::vector<std::string> verbs = {"hone", "back", "strop", "cut", "read", "dress", "follow"};
    std::vector<std::string>              found;
    for (const std::string& verb : verbs) {
      if (table.contains(verb)) found.push_back(verb);
    }
    if (found.size() != 1) {
      std::vector<std::string> keys;
      for (const auto& [key, value] : table) keys.emplace_back(key.str());
      std::string hint;
      for (const std::string& key : keys) {
        if (const std::string close = nearest(key, verbs); found.empty() && !close.empty() && hint.empty())
          hint = fmt::format("Did you mean \"{}\"?", close);
      }
      findings_.add(d, table,
                    {.code    = "not-a-step",
                     .what    = found.empty() ? "this step does not say what is done"
                                              : "this step says two things at once: " + listed(found),
                     .allowed = listed(verbs),
                     .next    = hint});
      return;
    }
    const std::string& verb = found.front();
    const toml::node&  what = *table.get(verb);
    if (verb == "follow") {
      for (const auto& [key, value] : table) {
        if (key.str() != "follow")
          findings_.add(d, key,
                        {.code = "unknown-key",
                         .what = fmt::format("a follow step has no key \"{}\"", printable(key.str()))});
      }
      if (!what.is_string()) {
        findings_.add(d, what, {.code = "not-text", .what = "follow must name a route"});
        return;
      }
      return follow(what.value_or(std::string{}), d, what, plan, inside);
    }
    const auto read = [&]<class S>(S step) {
      const Place place{&d, &table, "step.", {}};
      reader_.read(place, step);
      reader_.require(place, step);
      return step;
    };
    const Tool<double>& tool = model().tools[static_cast<std::size_t>(plan.tool)];
    if (verb == "hone") {
      HoneStep step = read(HoneStep{});
      step.medium   = medium(step.hone, d, what);
      warn_if_coarser(step, plan, d, what);
      plan.steps.emplace_back(step);
    } else if (verb == "back") {
      BackStep step = read(BackStep{});
      step.medium   = medium(step.back, d, what);
      if (tool.honed_sides == 2) {
        findings_.add(d, what,
                      {.code = "impossible",
                       .what = fmt::format("\"{}\" is honed on both sides and has no back", tool.name),
                       .next = "Hone both sides with hone, or set honed_sides = 1 in its tool."});
      }
      plan.steps.emplace_back(step);
    } else if (verb == "strop") {
      StropStep step = read(StropStep{});
      step.backing   = material("backing", model().backings, step.strop, d, what);
      step.compound_index =
          material("compound", model().compounds, step.compound, d, node_or(table, "compound"));
      plan.steps.emplace_back(step);
    } else if (verb == "cut") {
      CutStep step = read(CutStep{});
      step.wood    = material("wood", model().woods, step.cut, d, what);
      plan.steps.emplace_back(step);
    } else if (verb == "read") {
      ReadStep step = read(ReadStep{});
      if (step.read != TableReader::unreadable &&
          (step.read != printable(step.read) || characters(step.read) > 80)) {
        findings_.add(d, what,
                      {.code    = "bad-name",
                       .what    = fmt::format("\"{}\" cannot name a reading", printable(step.read)),
                       .allowed = "1 … 80 printable characters",
                       .cause   = "The readings file matches its rows by this name."});
      }
      for (const Step& before : plan.steps) {
        const auto* r = std::get_if<ReadStep>(&before);
        if (r != nullptr && r->read == step.read) {
          findings_.add(d, what,
                        {.code  = "given-twice",
                         .what  = fmt::format("the edge \"{}\" is read twice at \"{}\"", plan.name,
                                              printable(step.read)),
                         .cause = "Readings are matched by this name, so it must be unique within an edge.",
                         .next  = "Give the second one a name of its own."});
        }
      }
      plan.steps.emplace_back(step);
    } else {
      DressStep step = read(DressStep{});
      step.medium    = medium(step.dress, d, what);
      if (!used_before(plan, step.medium) && step.medium >= 0) {
        findings_.add(
            d, what,
            {.code  = "step-order",
             .what  = fmt::format("\"{}\" is dressed before this edge has touched it", printable(step.dress)),
             .cause = "Every history begins with freshly dressed media, so this step can do nothing here.",
             .next  = "Move it behind a hone or back step on that medium, or leave it out."});
      }
      plan.steps.emplace_back(step);
    }
  }

  static bool used_before(const EdgePlan& plan, int medium) {
    return std::any_of(plan.steps.begin(), plan.steps.end(), [&](const Step& step) {
      const auto* hone = std::get_if<HoneStep>(&step);
      const auto* back = std::get_if<BackStep>(&step);
      return (hone != nullptr && hone->medium == medium) || (back != nullptr && back->medium == medium);
    });
  }

  // going back to a coarse medium without wood in between is allowed, and seldom meant
  void warn_if_coarser(const HoneStep& step, const EdgePlan& plan, const Document& d,
                       const toml::node& node) {
    if (step.medium < 0) return;
    for (auto before = plan.steps.rbegin(); before != plan.steps.rend(); ++before) {
      if (std::holds_alternative<CutStep>(*before)) return;
      const auto* hone = std::get_if<HoneStep>(&*before);
      if (hone == nullptr || hone->medium < 0) continue;
      const double last = model().media[static_cast<std::size_t>(hone->medium)].size_um;
      const double now  = model().media[static_cast<std::size_t>(step.medium)].size_um;
      if (now > 1.05 * last) {
        findings_.warn(
            d, node,
            {.code = "coarser-after-finer",
             .what = fmt::format("{:g} µm after {:g} µm, with no wood cut in between, blunts the edge again",
                                 now, last)});
      }
      return;
    }
  }

  const Include&        include_;
  Findings              findings_;
  Loaded                loaded_;
  TableReader           reader_;
  Catalogue             catalogue_;
  std::deque<Document>  documents_;
  std::set<std::string> used_routes_;
  std::set<std::string> checked_routes_;
  std::size_t           followed_ = 0;
};

}  // namespace

Loaded load_scenario(const std::string& file, std::string_view text, const Include& include) {
  return Loader(include).load(file, text);
}

}  // namespace arris
