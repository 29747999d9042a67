// SPDX-License-Identifier: MIT
#include "sim/input/table_reader.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <utility>

#include "sim/wording.hpp"

namespace arris {
namespace {

std::string base_of(std::string_view key) { return TableReader::without_unit(key); }

// whether only the unit tells two keys apart, as it does settle_um and settle_m: neither may then be given in another
bool has_rival(std::string_view key, const std::vector<std::string>& known) {
  const Unit* unit = unit_of(key);
  return unit != nullptr && std::any_of(known.begin(), known.end(), [&](const std::string& other) {
           const Unit* its = unit_of(other);
           return its != nullptr && other != key && its->kind == unit->kind && base_of(other) == base_of(key);
         });
}

// the ways a key may be written with other units of the same kind
std::vector<std::string> spellings(std::string_view key, const std::vector<std::string>& known) {
  const Unit* unit = unit_of(key);
  if (unit == nullptr) return {};
  std::vector<std::string> out{std::string(key)};
  if (has_rival(key, known)) {
    for (const std::string& other : known) {
      if (other != key && base_of(other) == base_of(key)) out.push_back(other);
    }
    return out;
  }
  if (unit->kind.empty()) return out;
  for (const Unit& other : known_units) {
    if (other.kind == unit->kind && other.suffix != unit->suffix) {
      out.push_back(base_of(key) + "_" + std::string(other.suffix));
    }
  }
  return out;
}

}  // namespace

std::string TableReader::range(const Field& field) {
  const std::string unit(field.unit_symbol());
  const std::string space = unit.empty() || unit == "°" ? "" : " ";
  const bool        low = std::isfinite(field.low), high = std::isfinite(field.high);
  if (low && high) return fmt::format("{:g} … {:g}{}{}", field.low, field.high, space, unit);
  if (low) return fmt::format("{:g}{}{} or more", field.low, space, unit);
  if (high) return fmt::format("{:g}{}{} or less", field.high, space, unit);
  return {};
}

std::string TableReader::describe(const std::string& path) {
  if (path.empty()) return "the file";
  const std::string inside = printable(path.substr(0, path.size() - 1));
  const auto        dot    = inside.find('.');
  const bool        bare =
      dot == std::string::npos ||
      std::all_of(inside.begin() + static_cast<std::ptrdiff_t>(dot) + 1, inside.end(), [](char c) {
        return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_' || c == '-';
      });
  return bare ? "[" + inside + "]" : "[" + inside.substr(0, dot + 1) + "\"" + inside.substr(dot + 1) + "\"]";
}

std::string TableReader::without_unit(std::string_view key) {
  const Unit* unit = unit_of(key);
  return std::string(unit == nullptr ? key : key.substr(0, key.size() - unit->suffix.size() - 1));
}

TableReader::Match TableReader::find(const Place& place, const Field& field,
                                     const std::vector<std::string>& known, std::set<std::string>& used) {
  Match       found;
  const Unit* unit = unit_of(field.key);
  const auto  take = [&](const std::string& spelling, double scale) {
    for (const auto& [key, node] : *place.table) {
      if (key.str() != spelling) continue;
      used.insert(spelling);
      if (found.node != nullptr) {
        findings_.add(*place.document, key,
                       {.code = "given-twice",
                        .what = fmt::format("{} is given twice, as {} and as {}", base_of(field.key),
                                            found.key->str(), spelling),
                        .next = "Keep one of them.",
                        .key  = place.path + spelling});
        return;
      }
      found = {&key, &node, scale};
    }
  };
  take(std::string(field.key), 1.0);
  if (unit != nullptr && !unit->kind.empty() && !has_rival(field.key, known)) {
    for (const Unit& other : known_units) {
      if (other.kind == unit->kind && other.suffix != unit->suffix) {
        take(base_of(field.key) + "_" + std::string(other.suffix), other.scale / unit->scale);
      }
    }
  }
  return found;
}

void TableReader::report_unknown(const Place& place, const std::set<std::string>& used,
                                 const std::vector<std::string>& known) {
  for (const auto& [key, node] : *place.table) {
    const std::string name(key.str());
    if (used.count(name) > 0) continue;
    const auto with_unit = std::find_if(known.begin(), known.end(), [&](const std::string& candidate) {
      return unit_of(candidate) != nullptr && base_of(candidate) == name;
    });
    if (with_unit != known.end()) {
      findings_.add(*place.document, key,
                    {.code    = "missing-unit",
                     .what    = fmt::format("\"{}\" has no unit", printable(name)),
                     .allowed = or_list(spellings(*with_unit, known)),
                     .cause = "Every quantity carries its unit in its name, so that nobody has to guess it.",
                     .next  = fmt::format("Write {} = …", *with_unit),
                     .key   = place.path + name});
    } else {
      const std::string meant = did_you_mean(name, known);
      findings_.add(*place.document, key,
                    {.code    = "unknown-key",
                     .what    = fmt::format("{} has no key \"{}\"", describe(place.path), printable(name)),
                     .allowed = meant.empty() ? or_list(known, 40) : std::string{},
                     .next    = meant,
                     .key     = place.path + name});
    }
  }
}

const toml::node& TableReader::unwrap(const Place& place, const Field& field, const Match& match) {
  Origin origin;
  origin.file             = place.document->file;
  origin.line             = static_cast<int>(match.key->source().begin.line);
  const toml::node* value = match.node;
  if (const toml::table* wrapped = match.node->as_table(); wrapped != nullptr && wrapped->contains("value")) {
    value = wrapped->get("value");
    for (const auto& [key, node] : *wrapped) {
      if (key.str() == "status" && node.is_string()) {
        origin.status = node.value_or(std::string{});
      } else if (key.str() == "source" && node.is_string()) {
        origin.source = cited(*place.document, node.value_or(std::string{}));
      } else if (key.str() == "status" || key.str() == "source") {
        findings_.add(*place.document, node,
                      {.code = "not-text",
                       .what = fmt::format("the {} of a value must be text in quotes", key.str()),
                       .key  = place.path + std::string(field.key)});
      } else if (key.str() != "value") {
        findings_.add(*place.document, key,
                      {.code = "unknown-key",
                       .what = fmt::format("a value with its source has no key \"{}\"", printable(key.str())),
                       .allowed = "value, status, source",
                       .key     = place.path + std::string(field.key)});
      }
    }
  }
  origins_[place.path + std::string(field.key)] = origin;
  return *value;
}

double TableReader::number(const Place& place, const Field& field, const Match& match) {
  const toml::node& node   = unwrap(place, field, match);
  const auto        refuse = [&](Diagnostic fault) {
    fault.allowed = range(field);
    fault.key     = place.path + std::string(field.key);
    findings_.add(*place.document, node, std::move(fault));
    return not_given;
  };
  if (node.is_string()) {
    return refuse(
        {.code = "not-a-number",
         .what = fmt::format("{} is text where a number is expected", match.key->str()),
         .next = fmt::format("Write it without quotes and without the unit: {} = 1.5", match.key->str())});
  }
  if (!node.is_number())
    return refuse({.code = "not-a-number", .what = fmt::format("{} must be a number", match.key->str())});
  const double written = as_double(node);
  if (!std::isfinite(written))
    return refuse(
        {.code = "not-finite", .what = fmt::format("{} must be a finite number", match.key->str())});
  const double value = match.scale == 1.0 ? written : written * match.scale;
  if (value < field.low || value > field.high) {
    const std::string unit(field.unit_symbol());
    return refuse({.code  = "out-of-range",
                   .what  = fmt::format("{} = {:g}{}{} is out of range", field.key, value,
                                       unit.empty() || unit == "°" ? "" : " ", unit),
                   .cause = fmt::format("{}: {}.", field.key, field.doc)});
  }
  return value;
}

void TableReader::store(const Place& place, const Field& field, const Match& match, double& member) {
  const double value = number(place, field, match);
  // after a fault any value in range will do: the findings stop the work, and nothing else is blamed for it
  member = std::isnan(value) ? (std::isfinite(field.low) ? field.low : 0.0) : value;
}

void TableReader::store(const Place& place, const Field& field, const Match& match, int& member) {
  const double value = number(place, field, match);
  if (std::isnan(value)) return;
  if (value != std::floor(value)) {
    findings_.add(*place.document, *match.node,
                  {.code    = "not-an-integer",
                   .what    = fmt::format("{} = {:g} must be a whole number", field.key, value),
                   .allowed = range(field),
                   .key     = place.path + std::string(field.key)});
    return;
  }
  member = static_cast<int>(value);
}

void TableReader::store(const Place& place, const Field& field, const Match& match, bool& member) {
  const toml::node& node = unwrap(place, field, match);
  if (!node.is_boolean()) {
    findings_.add(*place.document, node,
                  {.code    = "not-a-switch",
                   .what    = fmt::format("{} must be true or false, without quotes", match.key->str()),
                   .allowed = "true or false",
                   .key     = place.path + std::string(field.key)});
    return;
  }
  member = node.value<bool>().value();
}

void TableReader::store(const Place& place, const Field& field, const Match& match, std::string& member) {
  const toml::node& node = unwrap(place, field, match);
  if (!node.is_string()) {
    findings_.add(*place.document, node,
                  {.code = "not-text",
                   .what = fmt::format("{} must be text in quotes: {}", match.key->str(), field.doc),
                   .next = fmt::format("Write {} = \"…\"", match.key->str()),
                   .key  = place.path + std::string(field.key)});
    member = unreadable;
    return;
  }
  member = node.value<std::string>().value();
}

}  // namespace arris
