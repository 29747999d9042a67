// SPDX-License-Identifier: MIT
#include "sim/history/materials.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/ask/arguments.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/loading.hpp"
#include "sim/cli/options.hpp"
#include "sim/input/catalogue.hpp"
#include "sim/input/files.hpp"
#include "sim/input/given_fields.hpp"
#include "sim/input/names.hpp"
#include "sim/input/table_reader.hpp"
#include "sim/output/terminal.hpp"
#include "sim/wording.hpp"

namespace arris::cli {
namespace {

/// Materials of the program and, if asked, of a configuration.
struct Shelf {
  explicit Shelf(const Arguments& arguments) {
    catalogue = shipped_catalogue();
    if (const auto path = arguments.text("config")) {
      (void)load_scenario_file(*path, {}, reach_of(arguments));  // its faults first, all of them
      own = parse_document(*path, read_text(*path, Exit::usage));
      catalogue.add(own, findings);
    }
    findings.throw_if_any();
  }
  Document  own;
  Findings  findings;
  Catalogue catalogue;
};

std::vector<std::string> other_names(const Entry& entry) {
  std::vector<std::string> names;
  for (const auto& [document, table] : entry.layers) {
    if (const auto* also = (*table)["also"].as_array()) {
      for (const auto& name : *also) names.push_back(name.value_or(std::string{}));
    }
  }
  return names;
}

bool matches(const Entry& entry, const std::string& word) {
  if (word.empty()) return true;
  const auto holds = [&](const std::string& text) {
    return folded(text).find(folded(word)) != std::string::npos;
  };
  const auto others = other_names(entry);
  if (holds(entry.name) || std::any_of(others.begin(), others.end(), holds)) return true;
  return std::any_of(entry.layers.begin(), entry.layers.end(), [&](const auto& layer) {
    const toml::table& table = *layer.second;
    return holds(table["note"].value_or(std::string{})) ||
           holds(table["botanical"].value_or(std::string{})) ||
           holds(table["carbide_type"].value_or(std::string{}));
  });
}

// on a line; empty where it has none
std::string other_names_text(const Entry& entry) {
  return fmt::format("{}", fmt::join(other_names(entry), "; "));
}

template <class S>
class Lister {
 public:
  Lister(Shelf& shelf, const std::string& kind, const std::string& word) : kind_(kind) {
    TableReader        reader(shelf.findings, origins_);
    const Entry* const exact = shelf.catalogue.find(kind, word);  // whose whole name is said is meant alone
    for (const Entry& entry : shelf.catalogue.entries(kind)) {
      if (exact != nullptr ? &entry != exact : !matches(entry, word)) continue;
      S item;
      item.name = entry.name;
      for (const auto& [document, table] : entry.layers)
        reader.read({document, table, kind + "." + entry.name + ".", {"also"}}, item);
      items_.push_back(item);
      entries_.push_back(&entry);
    }
    shelf.findings.throw_if_any();
  }
  [[nodiscard]] std::size_t size() const { return items_.size(); }

  void print() const {
    if (items_.size() == 1) return print_one(0);
    std::vector<std::string> head{kind_};
    std::vector<bool>        right{false};
    std::vector<const char*> keys;
    S::fields(
        [&](const Field& f, const auto& member) {
          if constexpr (std::is_same_v<std::remove_cvref_t<decltype(member)>, double>) {
            const bool any  = std::any_of(items_.begin(), items_.end(),
                                          [&](const S& item) { return !std::isnan(value(item, f.key)); });
            const bool same = std::all_of(items_.begin(), items_.end(), [&](const S& item) {
              return value(item, f.key) == value(items_.front(), f.key);
            });
            if (!any || same) return;
            keys.push_back(f.key.data());
            std::string name(f.key);
            if (const Unit* unit = unit_of(f.key))
              name = name.substr(0, name.size() - unit->suffix.size() - 1) + " " + std::string(unit->symbol);
            std::replace(name.begin(), name.end(), '_', ' ');
            head.push_back(name);
            right.push_back(true);
          }
        },
        items_.front());
    head.emplace_back("status");
    right.push_back(false);
    TextTable table(head, right);
    for (const S& item : items_) {
      std::vector<std::string> cells{item.name};
      std::set<std::string>    statuses;
      for (const char* key : keys) {
        cells.push_back(std::isnan(value(item, key)) ? "" : fmt::format("{:g}", value(item, key)));
        if (const auto o = origins_.find(kind_ + "." + item.name + "." + key);
            o != origins_.end() && !o->second.status.empty())
          statuses.insert(o->second.status);
      }
      cells.push_back(fmt::format("{}", fmt::join(statuses, ", ")));
      table.add(std::move(cells));
    }
    fmt::print("{}", table.text());
    fmt::print("\n{}",
               wrapped(fmt::format(
                   "{} shown. One alone is shown with its sources: arris materials {} --search \"{}\"",
                   items_.size(), kind_, items_.front().name)));
  }

  [[nodiscard]] nlohmann::ordered_json json() const {
    auto out = nlohmann::ordered_json::array();
    for (std::size_t i = 0; i < items_.size(); ++i) {
      nlohmann::ordered_json entry;
      entry["name"] = items_[i].name;
      if (const std::string also = other_names_text(*entries_[i]); !also.empty()) entry["also"] = also;
      for_each_given(items_[i], [&](const Field& f, const auto& member) {
        nlohmann::ordered_json cell;
        cell["value"]  = member;
        const auto o   = origins_.find(kind_ + "." + items_[i].name + "." + std::string(f.key));
        cell["status"] = o != origins_.end() ? o->second.status : std::string(f.status);
        if (o != origins_.end()) cell["source"] = o->second.source;
        entry[std::string(f.key)] = cell;
      });
      out.push_back(entry);
    }
    return out;
  }

 private:
  static double value(const S& item, std::string_view key) {
    double found = not_given;
    S::fields(
        [&](const Field& f, const auto& member) {
          if constexpr (std::is_same_v<std::remove_cvref_t<decltype(member)>, double>) {
            if (f.key == key) found = member;
          }
        },
        item);
    return found;
  }

  void print_one(std::size_t i) const {
    const S& item = items_[i];
    fmt::print("{} \"{}\"\n", kind_, item.name);
    if (const std::string also = other_names_text(*entries_[i]); !also.empty())
      fmt::print("also: {}\n", also);
    std::vector<std::string> sources;
    TextTable table({"key", "value", "unit", "status", "source"}, {false, true, false, false, true});
    std::vector<std::string> remarks;
    for_each_given(item, [&](const Field& f, const auto& member) {
      if constexpr (std::is_same_v<std::remove_cvref_t<decltype(member)>, std::string>) {
        remarks.push_back(fmt::format("{}: {}", f.key, printable(member)));
      } else {
        const auto  o      = origins_.find(kind_ + "." + item.name + "." + std::string(f.key));
        std::string status = o != origins_.end()
                                 ? o->second.status
                                 : fmt::format("default, {}", f.status.empty() ? "estimate" : f.status);
        std::string number;
        if (o != origins_.end() && !o->second.source.empty()) {
          auto found = std::find(sources.begin(), sources.end(), o->second.source);
          if (found == sources.end()) found = sources.insert(sources.end(), o->second.source);
          number = std::to_string(found - sources.begin() + 1);
        }
        table.add(
            {std::string(f.key), fmt::format("{:g}", member), std::string(f.unit_symbol()), status, number});
      }
    });
    fmt::print("\n{}\n", table.text());
    for (const std::string& remark : remarks) fmt::print("{}", wrapped(remark));
    for (std::size_t n = 0; n < sources.size(); ++n)
      fmt::print("{}", wrapped(fmt::format("[{}] {}", n + 1, sources[n])));
  }

  std::string               kind_;
  Origins                   origins_;
  std::vector<S>            items_;
  std::vector<const Entry*> entries_;
};

// grades that match; nothing is printed where none does
nlohmann::ordered_json list_grits(const Shelf& shelf, const std::string& word, bool as_json) {
  auto      out = nlohmann::ordered_json::array();
  TextTable table({"standard", "grade", "mean size µm", "status"}, {false, false, true, false});
  for (const Entry& entry : shelf.catalogue.entries("grit")) {
    std::string mark = "{}";
    for (const auto& [document, t] : entry.layers) {
      mark               = (*t)["mark"].value_or(mark);
      const auto* grades = (*t)["grades"].as_array();
      if (grades == nullptr) continue;
      for (const auto& grade : *grades) {
        const auto& g    = *grade.as_table();
        std::string name = mark;
        name.replace(name.find("{}"), 2, std::to_string(g["number"].value_or(int64_t{0})));
        if (!word.empty() && folded(entry.name + " " + name).find(folded(word)) == std::string::npos)
          continue;
        const double size = g["size_um"].value_or(0.0);
        table.add({entry.name, name, fmt::format("{:g}", size), g["status"].value_or(std::string{})});
        out.push_back({{"standard", entry.name},
                       {"grade", name},
                       {"size_um", size},
                       {"status", g["status"].value_or(std::string{})}});
      }
    }
  }
  if (!as_json && !out.empty()) {
    fmt::print(
        "{}\n{}", table.text(),
        wrapped("The same number means different sizes in different standards; micrometres need none."));
  }
  return out;
}

// prints what matches as text, unless JSON is asked for, and gives it as JSON
template <class S>
nlohmann::ordered_json list_entries(Shelf& shelf, const std::string& kind, const std::string& word,
                                    bool as_json) {
  const Lister<S> lister(shelf, kind, word);
  if (!as_json && lister.size() > 0) lister.print();
  return lister.json();
}

nlohmann::ordered_json list_kind(Shelf& shelf, const std::string& kind, const std::string& word,
                                 bool as_json) {
  if (kind == "steel") return list_entries<Steel<double>>(shelf, kind, word, as_json);
  if (kind == "family") return list_entries<Family<double>>(shelf, kind, word, as_json);
  if (kind == "backing") return list_entries<Backing<double>>(shelf, kind, word, as_json);
  if (kind == "compound") return list_entries<Compound<double>>(shelf, kind, word, as_json);
  if (kind == "wood") return list_entries<Wood<double>>(shelf, kind, word, as_json);
  if (kind == "filament") return list_entries<Filament<double>>(shelf, kind, word, as_json);
  if (kind == "limit") return list_entries<Limit>(shelf, kind, word, as_json);
  return list_grits(shelf, word, as_json);
}

void print_kinds(const Shelf& shelf) {
  TextTable table({"kind", "", "entries"}, {false, false, true});
  for (const auto& [name, what] : material_kinds())
    table.add({name, what, std::to_string(shelf.catalogue.entries(name).size())});
  fmt::print("{}\n{}", table.text(),
             wrapped("arris materials KIND lists one kind, --search WORD looks in all."));
}

void check_kind(const std::string& kind) {
  std::vector<std::string> known;
  for (const auto& [name, what] : material_kinds()) known.emplace_back(name);
  if (std::find(known.begin(), known.end(), kind) != known.end()) return;
  throw Error(Exit::usage, {.code    = "unknown-kind",
                            .what    = fmt::format("there is no kind of material \"{}\"", printable(kind)),
                            .allowed = or_list(known),
                            .next    = did_you_mean(kind, known)});
}

// names of these kinds that share a word with what was looked for, or are spelled nearly so: `Did you mean "white oak"? ` with what else
// there is to do
std::string nearest_of(const Shelf& shelf, const std::vector<std::string>& kinds, const std::string& word,
                       const std::string& else_do) {
  std::vector<std::string> near, known;
  for (const std::string& kind : kinds) {
    for (const std::string& name : shelf.catalogue.with_a_word_of(kind, word)) near.push_back(name);
    for (const std::string& name : shelf.catalogue.names(kind)) known.push_back(name);
  }
  return near.empty() ? did_you_mean(word, known, else_do)
                      : fmt::format("Did you mean {}? {}", or_list(near, 6), else_do);
}

void list_one_kind(Shelf& shelf, const std::string& kind, const std::string& word, bool as_json) {
  check_kind(kind);
  const auto found = list_kind(shelf, kind, word, as_json);
  if (as_json) {
    fmt::print("{}\n", found.dump(1));
  } else if (found.empty()) {
    throw Error(Exit::usage, {.code = "no-match",
                              .what = fmt::format("no {} matches \"{}\"", kind, printable(word)),
                              .next = nearest_of(shelf, {kind}, word,
                                                 fmt::format("arris materials {} lists all.", kind))});
  }
}

void list_all_kinds(Shelf& shelf, const std::string& word, bool as_json) {
  auto all = nlohmann::ordered_json::object();
  for (const auto& [name, what] : material_kinds()) {
    const auto found = list_kind(shelf, name, word, as_json);
    if (found.empty()) continue;
    if (!as_json) fmt::print("\n");
    all[name] = found;
  }
  if (as_json) {
    fmt::print("{}\n", all.dump(1));
  } else if (all.empty()) {
    std::vector<std::string> kinds;
    for (const auto& [name, what] : material_kinds()) kinds.emplace_back(name);
    throw Error(Exit::usage, {.code = "no-match",
                              .what = fmt::format("no material matches \"{}\"", printable(word)),
                              .next = nearest_of(shelf, kinds, word, "arris materials lists the kinds.")});
  }
}

}  // namespace

Exit materials(const Arguments& arguments) {
  Shelf             shelf(arguments);
  const std::string word    = arguments.text("search").value_or("");
  const bool        as_json = arguments.has("json");
  if (const auto kind = arguments.text("KIND")) {
    list_one_kind(shelf, *kind, word, as_json);
  } else if (word.empty() && !as_json) {
    print_kinds(shelf);
  } else {
    list_all_kinds(shelf, word, as_json);
  }
  return Exit::done;
}

}  // namespace arris::cli
