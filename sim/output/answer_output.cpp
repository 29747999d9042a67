// SPDX-License-Identifier: MIT
#include "sim/output/answer_output.hpp"

#include <nlohmann/json.hpp>

#include "sim/output/root_attributes.hpp"

namespace arris {

std::string answer_json(const Answer& answer, const std::string& title, const Provenance& provenance) {
  using Json = nlohmann::ordered_json;
  Json root;
  root["kind"]           = answer.kind;
  root["schema_version"] = schema_version;
  root["title"]          = title;
  root["headline"]       = answer.headline;
  root["remarks"]        = answer.remarks;
  root["rests_on"]       = answer.rests_on;
  root["cautions"]       = answer.cautions;
  root["settings"]       = Json::object();
  for (const auto& [name, value] : answer.settings) root["settings"][name] = value;
  for (const AnswerTable& table : answer.tables) {
    Json rows = Json::array();
    for (std::size_t row = 0; row < table.rows(); ++row) {
      Json item = Json::object();
      for (const AnswerColumn& c : table.columns) {
        if (c.is_text()) {
          item[c.name] = c.texts[row];
        } else {
          item[c.name] = c.numbers[row];  // NaN and infinity are written as null
        }
      }
      rows.push_back(std::move(item));
    }
    root[table.name] = std::move(rows);
  }
  for (const auto& [name, text] : entries_of(provenance)) root["provenance"][name] = text;
  return root.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace arris
