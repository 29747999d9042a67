// SPDX-License-Identifier: MIT
#include "sim/output/sweep_definition.hpp"

#include <cmath>
#include <cstring>
#include <stdexcept>
#include <utility>

#include <nlohmann/json.hpp>

#include "sim/sha1.hpp"

namespace arris {
namespace {

using Json = nlohmann::ordered_json;

// null stands for NaN
Json   number(double value) { return std::isnan(value) ? Json(nullptr) : Json(value); }
double number(const Json& value) { return value.is_null() ? not_given : value.get<double>(); }

Json json_of(const SweepAxis& a) {
  Json axis{
      {"path", a.path},          {"name", a.name},       {"units", a.units},  {"says", a.says},
      {"head", a.head},          {"text", a.is_text()},  {"count", a.size()}, {"first", a.values.front()},
      {"last", a.values.back()}, {"own", number(a.own)}, {"sha1", hash_of(a)}};
  if (!a.amounts.empty()) axis["amounts"] = a.amounts;
  if (!a.sets.empty()) axis["sets"] = a.sets;
  return axis;
}

// without its values
SweepAxis axis_in(const Json& item) {
  SweepAxis axis;
  axis.path  = item["path"];
  axis.name  = item["name"];
  axis.units = item["units"];
  axis.says  = item["says"];
  axis.head  = item["head"];
  axis.own   = number(item["own"]);
  if (item.contains("amounts")) axis.amounts = item["amounts"].get<std::vector<double>>();
  if (item.contains("sets")) axis.sets = item["sets"].get<std::vector<std::vector<int>>>();
  axis.values.resize(item["count"].get<std::size_t>());
  if (item["text"].get<bool>()) axis.labels.resize(axis.values.size());
  return axis;
}

}  // namespace

std::string hash_of(const SweepAxis& axis) {
  std::string bytes(axis.values.size() * sizeof(double), '\0');
  if (!axis.values.empty()) std::memcpy(bytes.data(), axis.values.data(), bytes.size());
  for (const std::string& label : axis.labels) bytes += label + '\n';
  for (const auto& set : axis.sets) {
    for (const int step : set) bytes += std::to_string(step) + ' ';
    bytes += '\n';
  }
  return sha1(bytes);
}

std::string definition_text(const SweepDefinition& d) {
  Json out{{"edge", d.edge},
           {"question", d.question},
           {"about", d.about},
           {"moment", d.moment.text()},
           {"limit_gf", number(d.limit_gf)}};
  for (const SweepAxis& a : d.axes) out["axes"].push_back(json_of(a));
  if (!d.inputs.empty()) {
    out["design"] = d.design;
    for (const SweepAxis& a : d.inputs) out["inputs"].push_back(json_of(a));
  }
  for (const SweepOutput& o : d.outputs)
    out["outputs"].push_back({{"name", o.name}, {"units", o.units}, {"says", o.says}, {"life", !o.value}});
  out["row_is_one_history"] = d.row_is_one_history;
  out["rests_on"]           = d.rests_on;
  if (!d.misses.empty()) out["misses"] = d.misses;
  return out.dump();
}

// a definition back from its text, but for the values of its axes. Throws nlohmann::json::exception, std::logic_error.
SweepDefinition definition_in(const std::string& text) {
  SweepDefinition d;
  const Json      json     = Json::parse(text);
  d.edge                   = json["edge"];
  d.question               = json["question"];
  d.about                  = json["about"];
  d.limit_gf               = number(json["limit_gf"]);
  d.row_is_one_history     = json["row_is_one_history"];
  d.rests_on               = json["rests_on"];
  d.misses                 = json.value("misses", std::vector<std::string>{});
  const std::string moment = json["moment"];
  for (const Json& item : json["outputs"]) {
    SweepOutput output{item["name"], item["units"], item["says"], {}};
    if (!item["life"].get<bool>()) output.value = [](const TrackPoint&) { return not_given; };
    d.outputs.push_back(std::move(output));
  }
  for (const Json& item : json["axes"]) d.axes.push_back(axis_in(item));
  if (json.contains("inputs")) {
    d.design = json.value("design", "");
    for (const Json& item : json["inputs"]) d.inputs.push_back(axis_in(item));
    for (const SweepAxis& input : d.inputs) {
      if (d.axes.size() != 1 || input.size() != d.axes.front().size())
        throw std::invalid_argument("its inputs do not fit its rows");
    }
  }
  // "at the end", "after step 5", "after 100 passes": only to be shown again
  if (moment.rfind("after step ", 0) == 0) {
    d.moment = {SweepMoment::Kind::after_step, std::stoi(moment.substr(11)) - 1, 0.0};
  } else if (moment.rfind("after ", 0) == 0) {
    d.moment = {SweepMoment::Kind::after_passes, -1, std::stod(moment.substr(6))};
  }
  if (d.axes.empty()) throw std::invalid_argument("it has no inputs");
  return d;
}

}  // namespace arris
