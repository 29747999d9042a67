// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "sim/report/stored_result.hpp"

/// A result as its file would hold it, kept in memory: what Hdf5Group is to a file. Reports are made of what stands here.
namespace arris::page {

class StoredSink {
 public:
  StoredSink() : kept_(std::make_shared<Kept>()) {}

  [[nodiscard]] StoredSink group(const std::string& name) const {
    StoredSink out = *this;
    out.path_      = path_.empty() ? name : path_ + "/" + name;
    return out;
  }

  void attribute(const std::string& name, const std::string& text) const {
    if (path_.empty())
      kept_->texts[name] = text;
    else if (name == "long_name")
      here().says = text;
    else if (name == "columns")
      here().columns = text;
    else if (name == "heads")
      here().heads = text;
  }
  void attribute(const std::string& name, double value) const {
    if (path_.empty()) kept_->numbers[name] = value;
  }

  void axis(const std::string& name, std::size_t size, const std::string& says) const {
    std::vector<double> rows(size);
    for (std::size_t i = 0; i < size; ++i) rows[i] = static_cast<double>(i);
    one(name, "1", says).numbers = std::move(rows);
  }
  void axis(const std::string& name, const std::vector<std::string>& labels, const std::string& says) const {
    one(name, {}, says).texts = labels;
  }
  void axis(const std::string& name, const std::vector<double>& values, const std::string& units,
            const std::string& says) const {
    one(name, units.empty() ? "1" : units, says).numbers = values;
  }
  void data(const std::string& name, const std::vector<double>& values, const std::string&,
            const std::string& units, const std::string& says) const {
    one(name, units.empty() ? "1" : units, says).numbers = values;
  }
  void data(const std::string& name, const std::vector<std::string>& values, const std::string&,
            const std::string& says) const {
    one(name, {}, says).texts = values;
  }
  void data(const std::string& name, const std::vector<double>& values, const std::string&,
            const std::string&, const std::string& units, const std::string& says) const {
    here().along_two.push_back(column(name, units.empty() ? "1" : units, says));
    here().along_two.back().numbers = values;
  }
  void marks(const std::string& name, const std::vector<double>& values,
             const std::vector<std::string>& along, const std::string& says) const {
    auto& columns = along.size() == 1 ? here().along_one : here().along_two;
    columns.push_back(column(name, "1", says));
    columns.back().numbers = values;
  }

  /// All that was put, as if read from a file of that name.
  [[nodiscard]] StoredResult result(const std::string& file) const {
    std::vector<StoredGroup> groups;
    for (const auto& [path, kept] : kept_->groups) {
      StoredGroup group = kept;
      for (auto* columns : {&group.along_one, &group.along_two}) {
        std::sort(columns->begin(), columns->end(),
                  [](const AnswerColumn& a, const AnswerColumn& b) { return a.name < b.name; });
      }
      groups.push_back(std::move(group));
    }
    return stored_result(file, kept_->texts, kept_->numbers, std::move(groups));
  }

 private:
  struct Kept {
    std::map<std::string, std::string> texts;
    std::map<std::string, double>      numbers;
    std::map<std::string, StoredGroup> groups;
  };

  [[nodiscard]] StoredGroup& here() const {
    StoredGroup& group = kept_->groups[path_];
    group.path         = path_;
    return group;
  }
  [[nodiscard]] static AnswerColumn column(const std::string& name, const std::string& units,
                                           const std::string& says) {
    AnswerColumn out;
    out.name = out.head = name;
    out.units           = units;
    out.says            = says;
    return out;
  }
  [[nodiscard]] AnswerColumn& one(const std::string& name, const std::string& units,
                                  const std::string& says) const {
    here().along_one.push_back(column(name, units, says));
    return here().along_one.back();
  }

  std::shared_ptr<Kept> kept_;
  std::string           path_;
};

}  // namespace arris::page
