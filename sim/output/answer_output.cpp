// SPDX-License-Identifier: MIT
#include "sim/output/answer_output.hpp"

#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/input/csv.hpp"
#include "sim/output/simulation_hdf5.hpp"
#include "sim/output/terminal.hpp"

namespace arris {

std::string answer_text(const Answer& answer) {
  std::string out = wrapped(answer.headline);
  for (const AnswerTable& table : answer.tables) {
    if (!table.on_terminal || table.rows() == 0) continue;
    std::vector<std::string> head;
    std::vector<bool>        right;
    for (const AnswerColumn& c : table.columns) {
      if (c.head.empty()) continue;
      head.push_back(c.head);
      right.push_back(!c.is_text());
    }
    TextTable text(head, right);
    for (std::size_t row = 0; row < table.rows(); ++row) {
      std::vector<std::string> cells;
      for (const AnswerColumn& c : table.columns) {
        if (c.head.empty()) continue;
        cells.push_back(c.is_text()     ? printable(c.texts[row])
                        : c.places >= 0 ? decimals(c.numbers[row], c.places)
                                        : digits(c.numbers[row], c.significant));
      }
      text.add(std::move(cells));
    }
    out += "\n" + (table.says.empty() ? std::string{} : wrapped(table.says + ":", 100, 2)) + text.text(2);
  }
  for (const std::string& remark : answer.remarks) out += "\n" + wrapped(remark);
  if (!answer.rests_on.empty()) out += "\n" + wrapped(answer.rests_on + " An estimate, not a promise.");
  for (const std::string& caution : answer.cautions) out += "\n" + wrapped(caution);
  return out;
}

std::string answer_csv(const Answer& answer) {
  const AnswerTable&       table = answer.tables.front();
  std::vector<std::string> header;
  for (const AnswerColumn& c : table.columns) header.push_back(c.name);
  std::string out = csv_row(header);
  for (std::size_t row = 0; row < table.rows(); ++row) {
    std::vector<std::string> cells;
    for (const AnswerColumn& c : table.columns) {
      cells.push_back(c.is_text()                  ? c.texts[row]
                      : std::isnan(c.numbers[row]) ? std::string{}
                                                   : fmt::format("{}", c.numbers[row]));
    }
    out += csv_row(cells);
  }
  return out;
}

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
  for (const auto& [name, text] : listed(provenance)) root["provenance"][name] = text;
  return root.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

void write_root_attributes(const Hdf5Group& root, const std::string& kind, const std::string& title,
                           const Provenance& provenance) {
  root.attribute("Conventions", fmt::format("arris-{}", schema_version));
  root.attribute("title", title);
  root.attribute("history", provenance.started + " " + provenance.command);
  root.attribute("kind", kind);
  root.attribute("schema_version", static_cast<double>(schema_version));
  for (const auto& [name, text] : listed(provenance)) root.attribute(name, text);
}

void write_table(const Hdf5Group& parent, const AnswerTable& table) {
  const Hdf5Group group = parent.group(table.name);
  group.attribute("long_name", table.says);
  group.axis("row", table.rows(), fmt::format("{}, from 0", table.axis));
  for (const AnswerColumn& c : table.columns) {
    if (c.is_text()) {
      group.data(c.name, c.texts, "row", c.says);
    } else {
      group.data(c.name, c.numbers, "row", c.units, c.says);
    }
  }
}

void write_answer_hdf5(const std::filesystem::path& path, const Answer& answer, const std::string& title,
                       const Provenance& provenance) {
  Hdf5Writer writer(path);
  {  // every group is closed before the file is
    const Hdf5Group& root = writer.root();
    write_root_attributes(root, answer.kind, title, provenance);
    root.attribute("headline", answer.headline);
    root.attribute("remarks", fmt::format("{}", fmt::join(answer.remarks, "\n")));
    root.attribute("cautions", fmt::format("{}", fmt::join(answer.cautions, "\n")));
    for (const auto& [name, value] : answer.settings) root.attribute(name, value);
    for (const AnswerTable& table : answer.tables) write_table(root, table);
  }
  writer.finish();
}

}  // namespace arris
