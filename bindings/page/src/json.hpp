// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include "sim/diagnostic.hpp"
#include "sim/input/given_fields.hpp"
#include "sim/laws/field.hpp"
#include "tree.hpp"

/// What goes to the page as JSON. A number that is missing is null; one that is beyond what was looked at is "beyond".
namespace arris::page {

[[nodiscard]] inline Json number(double value) {
  if (std::isnan(value)) return nullptr;
  if (std::isinf(value)) return "beyond";
  return value;
}

[[nodiscard]] inline Json numbers(const std::vector<double>& values) {
  Json out = Json::array();
  for (const double value : values) out.push_back(number(value));
  return out;
}

[[nodiscard]] inline Json diagnostic_json(const Diagnostic& d) {
  return {{"code", d.code}, {"what", d.what}, {"allowed", d.allowed}, {"cause", d.cause}, {"next", d.next},
          {"file", d.file}, {"line", d.line}, {"column", d.column},   {"key", d.key},     {"text", d.text()}};
}

/// The fields of a table or step, those that have a value.
template <class S>
[[nodiscard]] Json fields_json(const S& table) {
  Json out = Json::object();
  for_each_given(table, [&](const Field& f, const auto& member) { out[std::string(f.key)] = member; });
  return out;
}

/// A result as JSON: what Hdf5Group is to a file. A node has `attributes`, `axes`, `data` and `groups`; data along two axes are
/// row by row.
class JsonGroup {
 public:
  explicit JsonGroup(Json& node) : node_(&node) {}

  [[nodiscard]] JsonGroup group(const std::string& name) const { return JsonGroup((*node_)["groups"][name]); }
  void                    attribute(const std::string& name, const std::string& text) const {
                       (*node_)["attributes"][name] = text;
  }
  void attribute(const std::string& name, double value) const {
    (*node_)["attributes"][name] = number(value);
  }

  void axis(const std::string& name, std::size_t size, const std::string&) const {
    (*node_)["axes"][name] = size;
  }
  void axis(const std::string& name, const std::vector<std::string>& labels, const std::string&) const {
    (*node_)["axes"][name] = labels;
  }
  void axis(const std::string& name, const std::vector<double>& values, const std::string&,
            const std::string&) const {
    (*node_)["axes"][name] = numbers(values);
  }
  void data(const std::string& name, const std::vector<double>& values, const std::string&,
            const std::string& units, const std::string& long_name) const {
    (*node_)["data"][name] = {{"values", numbers(values)}, {"units", units}, {"says", long_name}};
  }
  void data(const std::string& name, const std::vector<std::string>& values, const std::string&,
            const std::string& long_name) const {
    (*node_)["data"][name] = {{"values", values}, {"units", ""}, {"says", long_name}};
  }
  void data(const std::string& name, const std::vector<double>& values, const std::string&,
            const std::string&, const std::string& units, const std::string& long_name) const {
    (*node_)["data"][name] = {{"values", numbers(values)}, {"units", units}, {"says", long_name}};
  }
  void marks(const std::string& name, const std::vector<double>& values, const std::vector<std::string>&,
             const std::string& long_name) const {
    (*node_)["data"][name] = {{"values", numbers(values)}, {"units", ""}, {"says", long_name}};
  }

 private:
  Json* node_;
};

}  // namespace arris::page
