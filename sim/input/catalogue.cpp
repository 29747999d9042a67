// SPDX-License-Identifier: MIT
#include "sim/input/catalogue.hpp"

#include <algorithm>
#include <cctype>
#include <optional>
#include <set>
#include <sstream>
#include <tuple>

#include <fmt/format.h>

#include "materials_data.hpp"  // generated
#include "sim/read_number.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

// letters and digits only, lower case: "JIS #1000" and "jis 1000" are the same grit
std::string squeezed(std::string_view text) {
  std::string out;
  for (const char c : folded(text)) {
    if (c != ' ' && c != '#' && c != '-' && c != '_') out += c;
  }
  return out;
}

// blanks left out, lower case
std::string unspaced(std::string_view text) {
  std::string out = folded(text);
  out.erase(std::remove(out.begin(), out.end(), ' '), out.end());
  return out;
}

bool all_digits(std::string_view text) {
  return !text.empty() && std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
}

struct Standard {
  std::string                                       name;
  std::string                                       mark;
  std::vector<std::string>                          prefixes;
  std::string                                       source;
  std::vector<std::tuple<int, double, std::string>> grades;  ///< number, µm, status

  [[nodiscard]] std::string written(int number) const {
    std::string out = mark;
    return out.replace(out.find("{}"), 2, std::to_string(number));
  }
};

// an entry [grit.NAME] has no struct of fields: its faults are found here
void check_grit(const Document& document, const std::string& name, const toml::table& table,
                Findings& findings) {
  const auto wrong = [&](const toml::node& node, const char* what, const char* next) {
    findings.add(document, node,
                 {.code = "bad-grit-table",
                  .what = fmt::format("[grit.{}]: {}", name, what),
                  .next = next,
                  .key  = "grit." + name});
  };
  if (const toml::node* mark = table.get("mark")) {
    const auto text = mark->value<std::string>();
    if (!text || text->find("{}") == std::string::npos)
      wrong(*mark, "mark must be text that holds {} for the number", "Write mark = \"P{}\"");
  }
  const toml::node* grades = table.get("grades");
  if (grades == nullptr) return;
  if (!grades->is_array())
    return wrong(*grades, "grades must be a list", "Write grades = [ { number = 800, size_um = 21.8 }, … ]");
  for (const toml::node& grade : *grades->as_array()) {
    const auto*   g      = grade.as_table();
    const int64_t number = g == nullptr ? 0 : (*g)["number"].value<int64_t>().value_or(0);
    const double  size   = g == nullptr ? 0.0 : (*g)["size_um"].value<double>().value_or(0.0);
    if (number < 1 || number > 999999 || !(size >= 0.02 && size <= 6000.0)) {
      wrong(grade, "a grade must have a number of 1 … 999999 and a size_um of 0.02 … 6000",
            "Write { number = 800, size_um = 21.8 }");
    }
  }
}

std::vector<Standard> read_standards(const Catalogue& catalogue) {
  std::vector<Standard> out;
  for (const Entry& entry : catalogue.entries("grit")) {
    Standard s;
    s.name = entry.name;
    for (const auto& [document, table] : entry.layers) {
      if (auto mark = (*table)["mark"].value<std::string>(); mark && mark->find("{}") != std::string::npos)
        s.mark = *mark;
      if (auto id = (*table)["source"].value<std::string>()) {
        s.source = cited(*document, *id);
      }
      s.prefixes.push_back(squeezed(entry.name));
      if (const auto* also = (*table)["also"].as_array()) {
        for (const auto& name : *also) s.prefixes.push_back(squeezed(name.value_or(std::string{})));
      }
      if (const auto* grades = (*table)["grades"].as_array()) {
        for (const auto& grade : *grades) {
          const auto* g = grade.as_table();
          if (g == nullptr) continue;
          const auto number = (*g)["number"].value<int64_t>();
          const auto size   = (*g)["size_um"].value<double>();
          if (number && size)
            s.grades.emplace_back(static_cast<int>(*number), *size, (*g)["status"].value_or(std::string{}));
        }
      }
    }
    if (s.mark.empty()) continue;
    s.prefixes.push_back(squeezed(s.mark.substr(0, s.mark.find("{}"))));
    out.push_back(std::move(s));
  }
  return out;
}

// those that come with the program are read once
std::vector<Standard> standards(const Catalogue& catalogue) {
  const auto& entries = catalogue.entries("grit");
  const bool  shipped = std::all_of(entries.begin(), entries.end(), [](const Entry& entry) {
    return entry.layers.size() == 1 && entry.layers.front().first->is_shipped;
  });
  if (!shipped || entries.empty()) return read_standards(catalogue);
  static const std::vector<Standard> read = read_standards(shipped_catalogue());
  return read;
}

// micrometres, given directly; "2-4 µm" is no size
std::optional<GritSize> size_in_um(std::string_view text) {
  const std::string said   = unspaced(text);
  double            number = 0.0;
  const auto*       begin  = said.data();
  const auto*       end    = said.data() + said.size();
  const auto [rest, error] = read_number(begin, end, number);
  if (error != std::errc{}) return std::nullopt;
  const std::string_view unit(rest, static_cast<std::size_t>(end - rest));
  if (unit != "\xC2\xB5m" && unit != "um" && unit != "micron" && unit != "microns") return std::nullopt;
  if (!(number >= 0.02 && number <= 3000.0)) {
    throw Error(Exit::usage, {.code    = "out-of-range",
                              .what    = fmt::format("a grit of {:g} µm is out of range", number),
                              .allowed = "0.02 … 3000 µm"});
  }
  return GritSize{number, "", "", ""};
}

// the number of a grade; nothing where a word is no such number
std::optional<int> grade_number(const std::string& word) {
  return all_digits(word) && word.size() <= 6 ? std::optional(std::stoi(word)) : std::nullopt;
}

// a word that begins as a standard writes its grades is one of them, or a fault
std::optional<GritSize> size_by_standard(const std::string& word, const std::vector<Standard>& all) {
  for (const Standard& standard : all) {
    for (const std::string& prefix : standard.prefixes) {
      if (prefix.empty() || word.compare(0, prefix.size(), prefix) != 0) continue;
      const auto wanted = grade_number(word.substr(prefix.size()));
      if (!wanted) continue;
      std::vector<std::string> known;
      for (const auto& [grade, size, status] : standard.grades) {
        if (grade == *wanted)
          return GritSize{size, standard.name + " " + standard.written(grade), status, standard.source};
        known.push_back(standard.written(grade));
      }
      throw Error(Exit::usage,
                  {.code    = "unknown-grit",
                   .what    = fmt::format("{} has no grade {}", standard.name, standard.written(*wanted)),
                   .allowed = or_list(known, 60),
                   .cause   = "A number beyond the standard is its maker's own statement.",
                   .next    = "Give the size in micrometres instead: size_um = …, or \"3 µm\"."});
    }
  }
  return std::nullopt;
}

// a number without a standard, "1000" or "1000 grit"
std::optional<int> bare_number(std::string word) {
  for (const char* ending : {"grit", "mesh"}) {
    const auto at = word.find(ending);
    if (at != std::string::npos) word.erase(at, 4);
  }
  return grade_number(word);
}

// what such a number could mean
Diagnostic without_standard(const std::string& shown, int wanted, const std::vector<Standard>& all) {
  std::vector<std::string> meanings, ways;
  for (const Standard& standard : all) {
    for (const auto& [grade, size, status] : standard.grades) {
      if (grade == wanted)
        meanings.push_back(fmt::format("{} ({}) is {:g} µm", standard.written(grade), standard.name, size));
    }
    ways.push_back(standard.written(wanted));
  }
  return {.code    = "grit-without-standard",
          .what    = fmt::format("\"{}\" is a grit number without its standard", shown),
          .allowed = meanings.empty() ? or_list(ways) + ", or micrometres such as \"9 µm\"" : std::string{},
          .cause   = meanings.empty()
                         ? "No standard known here has that number; a maker's own number needs micrometres."
                         : "It could mean: " + or_list(meanings) + ".",
          .next    = meanings.empty() ? std::string{} : "Write one of these, or the size in micrometres."};
}

// whether a name can stand for an entry, and for a group in a result file
bool names_entry(const std::string& name) {
  return !name.empty() && is_printable_name(name) && name.find_first_of("/\"") == std::string::npos &&
         name != "." && name != "..";
}

}  // namespace

std::string folded(std::string_view name) {
  std::string out;
  for (std::size_t i = 0; i < name.size(); ++i) {
    if (name.compare(i, 2, "\xCE\xBC") == 0) {  // Greek mu, where the micro sign is meant
      out += "\xC2\xB5";
      ++i;
    } else {
      out += static_cast<char>(std::tolower(static_cast<unsigned char>(name[i])));
    }
  }
  return out;
}

const std::vector<std::string>& Catalogue::kinds() {
  static const std::vector<std::string> list = {"steel", "family",   "medium", "backing",    "compound",
                                                "wood",  "filament", "grit",   "limit",      "price",
                                                "tool",  "route",    "edge",   "counterface"};
  return list;
}

void Catalogue::add(const Document& document, Findings& findings) {
  for (const std::string& kind : kinds()) {
    const toml::node* node = document.root.get(kind);
    if (node == nullptr) continue;
    const toml::table* tables = node->as_table();
    if (tables == nullptr) {
      findings.add(document, *node,
                   {.code = "not-a-table",
                    .what = fmt::format("\"{}\" must hold named tables", kind),
                    .next = fmt::format("Write [{}.\"a name\"]", kind),
                    .key  = kind});
      continue;
    }
    for (const auto& [key, value] : *tables) {
      const std::string name(key.str());
      if (!names_entry(name)) {
        findings.add(document, key,
                     {.code    = "bad-name",
                      .what    = fmt::format("\"{}\" cannot be a name", printable(name)),
                      .allowed = fmt::format("{}, without / and \"", printable_names),
                      .cause   = "Names become names of tables and of groups in result files.",
                      .key     = kind});
      } else if (!value.is_table()) {
        findings.add(document, key,
                     {.code = "not-a-table",
                      .what = fmt::format("[{}] must hold named tables, and \"{}\" is none", kind, name),
                      .next = fmt::format("Write [{}.\"{}\"]", kind, name),
                      .key  = kind});
      } else {
        add_entry(document, kind, key, *value.as_table(), findings);
      }
    }
  }
}

// a new one, or a further layer of one that an earlier document has
void Catalogue::add_entry(const Document& document, const std::string& kind, const toml::key& key,
                          const toml::table& table, Findings& findings) {
  const std::string name(key.str());
  auto&             index = index_[kind];
  auto&             list  = entries_[kind];
  auto              found = index.find(folded(name));
  if (found == index.end()) {
    list.push_back({name, {}});
    found = index.emplace(folded(name), list.size() - 1).first;
  }
  Entry& entry = list[found->second];
  if (!entry.layers.empty() && entry.layers.back().first == &document) {
    findings.add(
        document, key,
        {.code = "given-twice",
         .what =
             fmt::format("[{}.\"{}\"] names what \"{}\" names already in this file", kind, name, entry.name),
         .cause = "Names are the same whatever the case of their letters, and other names (also) count.",
         .next  = "Give one of them another name.",
         .key   = kind});
    return;
  }
  entry.layers.emplace_back(&document, &table);
  if (kind == "grit") check_grit(document, name, table, findings);
  const toml::node* also = table.get("also");
  if (also == nullptr) return;
  const toml::array* others = as_texts(*also);
  if (others == nullptr) {
    findings.add(document, *also,
                 {.code = "not-text",
                  .what = "also must be a list of other names",
                  .next = "Write also = [\"another name\"]",
                  .key  = kind + "." + name});
    return;
  }
  for (const toml::node& other : *others) index.emplace(folded(other.value_or(std::string{})), found->second);
}

const Entry* Catalogue::find(std::string_view kind, std::string_view name) const {
  const auto index = index_.find(kind);
  if (index == index_.end()) return nullptr;
  const auto found = index->second.find(folded(name));
  return found == index->second.end() ? nullptr : &entries_.find(kind)->second[found->second];
}

const std::deque<Entry>& Catalogue::entries(const std::string& kind) const {
  static const std::deque<Entry> none;
  const auto                     found = entries_.find(kind);
  return found == entries_.end() ? none : found->second;
}

std::vector<std::string> Catalogue::names(const std::string& kind) const {
  std::vector<std::string> out;
  for (const Entry& entry : entries(kind)) out.push_back(entry.name);
  return out;
}

std::vector<std::string> Catalogue::with_a_word_of(const std::string& kind, const std::string& name) const {
  const auto index = index_.find(kind);
  if (index == index_.end() || name.size() > 200) return {};
  std::set<std::size_t> found;
  std::istringstream    words(folded(name));
  for (std::string word; words >> word;) {
    if (word.size() < 3) continue;
    for (const auto& [known, place] : index->second) {
      if (known.find(word) != std::string::npos) found.insert(place);
    }
  }
  std::vector<std::string> out;
  for (const std::size_t place : found)
    out.push_back(fmt::format("\"{}\"", entries_.find(kind)->second[place].name));
  return out;
}

const std::deque<Document>& shipped_materials() {
  static const std::deque<Document> documents = [] {
    std::deque<Document> list;
    for (const auto& [file, text] : materials_data) {
      list.push_back(parse_document(std::string(file), text));
      list.back().is_shipped = true;
    }
    return list;
  }();
  return documents;
}

const Catalogue& shipped_catalogue() {
  static const Catalogue shipped = [] {
    Catalogue catalogue;
    Findings  none;  // the tests load the tables as a configuration's own, and find nothing
    for (const Document& document : shipped_materials()) catalogue.add(document, none);
    return catalogue;
  }();
  return shipped;
}

GritSize parse_grit(const Catalogue& catalogue, std::string_view text) {
  if (const auto size = size_in_um(text)) return *size;
  const auto        all  = standards(catalogue);
  const std::string word = squeezed(text);
  if (const auto size = size_by_standard(word, all)) return *size;
  if (const auto number = bare_number(word))
    throw Error(Exit::usage, without_standard(printable(text), *number, all));
  std::vector<std::string> ways;
  for (const Standard& standard : all)
    ways.push_back(standard.written(
        standard.grades.empty() ? 1 : std::get<0>(standard.grades[standard.grades.size() / 2])));
  throw Error(Exit::usage, {.code    = "unknown-grit",
                            .what    = fmt::format("\"{}\" is not a grit", printable(text)),
                            .allowed = or_list(ways) + ", \"9 µm\""});
}

double hardness_GPa(double hrc) {
  struct Table {
    std::vector<double> hrc, hv;
  };
  static const Table table = [] {
    Table t;
    for (const Document& document : shipped_materials()) {
      const auto* scale = document.root["hardness"].as_table();
      if (scale == nullptr) continue;
      for (const auto& v : *(*scale)["hrc"].as_array()) t.hrc.push_back(v.value<double>().value());
      for (const auto& v : *(*scale)["hv"].as_array()) t.hv.push_back(v.value<double>().value());
    }
    return t;
  }();
  const auto above = std::clamp<std::ptrdiff_t>(
      std::upper_bound(table.hrc.begin(), table.hrc.end(), hrc) - table.hrc.begin(), 1,
      static_cast<std::ptrdiff_t>(table.hrc.size()) - 1);
  const auto   i     = static_cast<std::size_t>(above);
  const double share = (hrc - table.hrc[i - 1]) / (table.hrc[i] - table.hrc[i - 1]);
  return 9.80665e-3 * (table.hv[i - 1] + share * (table.hv[i] - table.hv[i - 1]));
}

}  // namespace arris
