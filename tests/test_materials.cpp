// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/input/catalogue.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

const Catalogue& shipped() {
  static const Catalogue catalogue = [] {
    Catalogue c;
    Findings  findings;
    for (const Document& document : shipped_materials()) c.add(document, findings);
    findings.throw_if_any();
    return c;
  }();
  return catalogue;
}

const toml::table& table_of(const std::string& kind, const std::string& name) {
  const Entry* entry = shipped().find(kind, name);
  if (entry == nullptr) throw std::logic_error("there is no " + kind + " \"" + name + "\"");
  REQUIRE(entry->layers.size() == 1);
  return *entry->layers.front().second;
}

double value(const std::string& kind, const std::string& name, const std::string& key) {
  return table_of(kind, name)[key]["value"].value<double>().value();
}

std::string status(const std::string& kind, const std::string& name, const std::string& key) {
  return table_of(kind, name)[key]["status"].value<std::string>().value();
}

double size_um(const std::string& grit) { return parse_grit(shipped(), grit).size_um; }

// calls use(document, table) for every table of the shipped files, at any depth, in lists too
template <class Use>
void each_table(const Document& document, const toml::node& node, const Use& use) {
  if (const toml::table* table = node.as_table()) {
    use(document, *table);
    for (const auto& [key, value] : *table) each_table(document, value, use);
  } else if (const toml::array* array = node.as_array()) {
    for (const toml::node& item : *array) each_table(document, item, use);
  }
}

template <class Use>
void each_table(const Use& use) {
  for (const Document& document : shipped_materials()) each_table(document, document.root, use);
}

}  // namespace

TEST_CASE("the wood tables hold all species of the two handbook tables, and the reference wood",
          "[materials]") {
  std::map<std::string, int> by_table;
  for (const Entry& entry : shipped().entries("wood")) {
    const toml::table& wood = *entry.layers.front().second;
    for (const char* key : {"side_hardness_N", "shear_MPa"}) {  // balsa has only the second
      if (const auto source = wood[key]["source"].value<std::string>()) {
        ++by_table[*source];
        break;
      }
    }
  }
  CHECK(by_table == std::map<std::string, int>{
                        {"wood_handbook_5_3b", 53}, {"wood_handbook_5_5b", 28}, {"radiata_hardness", 1}});
}

// Side hardness in pound-force, specific gravity and shear strength in psi: Wood Handbook, FPL-GTR-282, Tables 5-3b and
// 5-5b (verified). Converted values are rounded to 1 N and 0.01 MPa, so half of that is allowed.
TEST_CASE("woods have the hardness, gravity and shear strength of the handbook", "[materials]") {
  struct Row {
    const char* name;
    double      side_hardness_lbf, specific_gravity, shear_psi;
  };
  for (const Row& row : {Row{"Alder, red", 590, 0.41, 1080},
                         Row{"Ash, white", 1320, 0.60, 1910},
                         Row{"Birch, yellow", 1260, 0.62, 1880},
                         Row{"Cherry, black", 950, 0.50, 1700},
                         Row{"Hickory, shagbark", 1880, 0.72, 2430},
                         Row{"Maple, sugar", 1450, 0.63, 2330},
                         Row{"Oak, northern red", 1290, 0.63, 1780},
                         Row{"Oak, white", 1360, 0.68, 2000},
                         Row{"Walnut, black", 1010, 0.55, 1370},
                         Row{"Yellow-poplar", 540, 0.42, 1190},
                         Row{"Redcedar, western", 350, 0.32, 990},
                         Row{"Douglas-fir, coast", 710, 0.48, 1130},
                         Row{"Pine, eastern white", 380, 0.35, 900},
                         Row{"Pine, longleaf", 870, 0.59, 1510},
                         Row{"Spruce, Sitka", 510, 0.40, 1150},
                         Row{"Afrormosia", 1560, 0.61, 2090},
                         Row{"Angelique", 1290, 0.60, 1660},
                         Row{"Azobe", 3350, 0.87, 2960},
                         Row{"Ipe", 3680, 0.92, 2060},
                         Row{"Iroko", 1260, 0.54, 1800},
                         Row{"Jarrah", 1910, 0.67, 2130},
                         Row{"Purpleheart", 1860, 0.67, 2220},
                         Row{"Teak", 1000, 0.55, 1890}}) {
    INFO(row.name);
    CHECK(std::abs(value("wood", row.name, "side_hardness_N") - 4.44822 * row.side_hardness_lbf) <= 0.5);
    CHECK(value("wood", row.name, "specific_gravity") == row.specific_gravity);
    // the handbook's shear in psi stands in the tables rounded to 0.01 MPa
    CHECK(std::abs(value("wood", row.name, "shear_MPa") - 0.00689476 * row.shear_psi) <= 0.005);
    CHECK(status("wood", row.name, "side_hardness_N") == "verified");
  }
  CHECK(table_of("wood", "balsa").get("side_hardness_N") == nullptr);         // the handbook has none
  CHECK(table_of("wood", "honeylocust").get("specific_gravity") == nullptr);  // nor this
}

TEST_CASE("gravities on different bases are told apart", "[materials]") {
  for (const Entry& entry : shipped().entries("wood")) {
    INFO(entry.name);
    const toml::table& wood = *entry.layers.front().second;
    if (!wood.contains("specific_gravity")) continue;
    const auto source = wood["specific_gravity"]["source"].value<std::string>().value();
    CHECK(wood["gravity_basis"].value<std::string>() ==
          (source == "wood_handbook_5_3b" ? "12 % moisture" : "green volume"));
  }
}

// ASTM E140, non-austenitic steels (verified): HRC, HV.
TEST_CASE("Rockwell hardness is converted by ASTM E140", "[materials]") {
  const std::vector<std::pair<double, double>> points{{40, 392}, {45, 446}, {50, 513}, {54, 577}, {56, 613},
                                                      {58, 653}, {59, 674}, {60, 697}, {61, 720}, {62, 746},
                                                      {64, 800}, {66, 865}, {68, 940}};
  for (const auto& [hrc, hv] : points) {
    INFO(hrc);
    CHECK(hardness_GPa(hrc) == 9.80665e-3 * hv);
  }
  // between two points a straight line: 3/4 of the way from 60 to 61; one product and two sums rounded
  CHECK(hardness_GPa(60.75) == Approx(9.80665e-3 * (697 + 0.75 * 23)).epsilon(1e-15));
  for (double hrc = 40.0; hrc < 67.99; hrc += 0.1) CHECK(hardness_GPa(hrc) < hardness_GPa(hrc + 0.1));
}

TEST_CASE("steels name a working hardness, and wear relative to O1", "[materials]") {
  CHECK(shipped().names("steel") ==
        std::vector<std::string>{"440C", "52100", "A11", "A2", "D2", "M2", "M4", "O1", "W1"});
  CHECK(value("steel", "O1", "wear_ratio") == 1.0);
  CHECK(value("steel", "D2", "wear_ratio") == 0.5);  // Bourithis et al. 2006
  CHECK(status("steel", "D2", "wear_ratio") == "verified");
  CHECK(value("steel", "O1", "hardness_hrc") == 61.0);
}

TEST_CASE("the same grit number is another size in another standard", "[materials][grit]") {
  CHECK(size_um("F800") == 6.5);
  CHECK(size_um("P800") == 21.8);
  CHECK(size_um("JIS #800") == 14.0);
  CHECK(size_um("CAMI 800") == 12.6);
  CHECK(size_um("JIS #1000") == 11.5);
  CHECK(size_um("JIS #8000") == 1.2);
  CHECK(size_um("P2000") == 10.3);
  CHECK(size_um("D46") == 41.4);
}

TEST_CASE("every grade of every standard is understood, in several spellings", "[materials][grit]") {
  const std::map<std::string, std::vector<std::string>> spellings{
      {"FEPA P",
       {"P{}", "p{}", "P {}", "P-{}", "FEPA P{}", "fepa p {}", "FEPA-P {}", "ISO 6344 {}", " P{} "}},
      {"FEPA F", {"F{}", "f{}", "F {}", "FEPA F{}", "FEPA F {}", "ISO 8486 {}", "fepa_f_{}"}},
      {"JIS R 6001", {"JIS #{}", "JIS {}", "jis#{}", "JIS R 6001 #{}", "JIS R 6001 {}", "JIS-{}", "Jis {}"}},
      {"CAMI", {"CAMI {}", "cami{}", "CAMI #{}", "Cami-{}"}},
      {"ISO 6106", {"D{}", "d{}", "D {}", "ISO 6106 {}", "FEPA D{}"}}};
  std::size_t grades = 0;
  REQUIRE(shipped().entries("grit").size() == spellings.size());
  for (const Entry& entry : shipped().entries("grit")) {
    double before = 1e9;
    for (const toml::node& node : *(*entry.layers.front().second)["grades"].as_array()) {
      const toml::table& grade  = *node.as_table();
      const std::string  number = std::to_string(grade["number"].value<int64_t>().value());
      const double       size   = grade["size_um"].value<double>().value();
      for (const std::string& spelling : spellings.at(entry.name)) {
        const std::string text = with(spelling, "{}", number);
        INFO(text);
        const GritSize grit = parse_grit(shipped(), text);
        CHECK(grit.size_um == size);
        CHECK(grit.status == grade["status"].value<std::string>().value());
        CHECK(grit.standard.rfind(entry.name + " ", 0) == 0);
        CHECK_FALSE(grit.source.empty());
      }
      INFO(entry.name << " " << number);
      CHECK(size < before);  // from coarse to fine
      before = size;
      ++grades;
    }
  }
  CHECK(grades == 30 + 39 + 18 + 23 + 11);
}

TEST_CASE("a grit may be given in micrometres", "[materials][grit]") {
  for (const char* text :
       {"9 µm", "9 μm", "9um", "9 UM", "9.0 µm", "9 micron", "9 microns", "09 µm", " 9µm ", "9e0 µm"}) {
    INFO(text);
    const GritSize grit = parse_grit(shipped(), text);
    CHECK(grit.size_um == 9.0);
    CHECK(grit.standard.empty());
  }
  CHECK(size_um("0.02 µm") == 0.02);
  CHECK(size_um("3000 µm") == 3000.0);
}

TEST_CASE("what is no grit is refused, and says why", "[materials][grit]") {
  const auto refused = [](const std::string& text) {
    const Error error = error_of([&] { (void)parse_grit(shipped(), text); });
    CHECK(error.exit() == Exit::usage);
    REQUIRE(error.diagnostics().size() == 1);
    return error.diagnostics().front();
  };
  for (const char* text : {"800", "#800", "800 grit", "grit 800", "800-grit", "800 mesh"}) {
    INFO(text);
    const Diagnostic d = refused(text);
    CHECK(d.code == "grit-without-standard");
    for (const char* size : {"F800 (FEPA F) is 6.5 µm", "P800 (FEPA P) is 21.8 µm",
                             "JIS #800 (JIS R 6001) is 14 µm", "CAMI 800 (CAMI) is 12.6 µm"}) {
      CHECK(d.cause.find(size) != std::string::npos);
    }
  }
  for (const char* text : {"JIS #30000", "P801", "F3", "D45", "CAMI 1"}) {
    INFO(text);
    CHECK(refused(text).code == "unknown-grit");
  }
  // a range, a decimal comma, another unit, a number too long
  for (const char* text :
       {"2-4 µm", "0,5 µm", "9 mm", "9", "µm", "", "P", "P1e3", "P8000000000", "fine", "D46 µm"}) {
    INFO(text);
    const std::string code = refused(text).code;
    CHECK((code == "unknown-grit" || code == "grit-without-standard"));
  }
  for (const char* text : {"0.01 µm", "3001 µm", "inf µm", "nan µm", "0 µm", "-9 µm"}) {
    INFO(text);
    CHECK(refused(text).code == "out-of-range");
  }
}

TEST_CASE("every status is one of the known words, and every source is cited", "[materials]") {
  const std::set<std::string> allowed{"verified", "computed", "from memory", "estimate", "common practice"};
  std::size_t                 statuses = 0, sources = 0;
  std::set<std::string>       used;
  each_table([&](const Document& document, const toml::table& table) {
    const int line = static_cast<int>(table.source().begin.line);
    if (const toml::node* word = table.get("status")) {
      INFO(document.file << ":" << line);
      CHECK(allowed.count(word->value_or(std::string("no text"))) == 1);
      ++statuses;
    }
    if (&table == &document.root) return;
    if (const toml::node* id = table.get("source"); id != nullptr && id->is_string()) {
      INFO(document.file << ":" << line << " cites " << id->value_or(std::string{}));
      const std::string key  = id->value_or(std::string{});
      const auto        text = document.root.at_path("source." + key + ".text").value<std::string>();
      CHECK(text.value_or("").size() > 10);
      used.insert(document.file + " " + key);
      ++sources;
    }
    // a number with a status of its own says where it comes from
    if (table.contains("value")) {
      INFO(document.file << ":" << line);
      CHECK(table.contains("status"));
      CHECK(table.contains("source"));
    }
  });
  CHECK(statuses > 500);
  CHECK(sources > 500);
  for (const Document& document : shipped_materials()) {
    const toml::table* list = document.root["source"].as_table();
    if (list == nullptr) continue;
    for (const auto& [key, node] : *list) {
      INFO(document.file << " [source." << key.str() << "] is cited nowhere");
      CHECK(used.count(document.file + " " + std::string(key.str())) == 1);
    }
  }
}

TEST_CASE("every number of a material carries its status", "[materials]") {
  for (const char* kind : {"steel", "family", "backing", "compound", "wood", "filament"}) {
    for (const Entry& entry : shipped().entries(kind)) {
      for (const auto& [key, node] : *entry.layers.front().second) {
        INFO(kind << " " << entry.name << ": " << key.str());
        CHECK(
            (node.is_string() || node.is_array() || (node.is_table() && node.as_table()->contains("value"))));
      }
    }
  }
}

TEST_CASE("no two materials of a kind share a name", "[materials]") {
  for (const std::string& kind : Catalogue::kinds()) {
    std::map<std::string, std::string> owner;
    for (const Entry& entry : shipped().entries(kind)) {
      std::vector<std::string> names{entry.name};
      if (const auto* also = (*entry.layers.front().second)["also"].as_array()) {
        for (const auto& name : *also) names.push_back(name.value_or(std::string{}));
      }
      for (const std::string& name : names) {
        INFO(kind << " \"" << name << "\": " << entry.name << " and " << owner[folded(name)]);
        CHECK(owner[folded(name)].empty());
        owner[folded(name)] = entry.name;
        CHECK(shipped().find(kind, name) == &entry);
      }
    }
  }
}
