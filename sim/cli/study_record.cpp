// SPDX-License-Identifier: MIT
#include "sim/cli/study_record.hpp"

#include <algorithm>
#include <fstream>
#include <sstream>
#include <system_error>

#include <fmt/format.h>
#include <nlohmann/json.hpp>
#include <toml++/toml.h>

#include "sim/input/files.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/sha1.hpp"

namespace arris::cli {
namespace {

namespace fs = std::filesystem;
using Json   = nlohmann::ordered_json;

// the commit alone would not do: a program can be built of sources that nobody has committed yet
std::string program_hash() {
  static const std::string hash = sha1_of_file("/proc/self/exe").value_or(sha1(build_facts()));
  return hash;
}

const char* clause(const std::string& part) {
  if (part == "program") return "the program is another";
  if (part == "configuration") return "the configuration has changed";
  if (part == "readings") return "the readings have changed";
  if (part == "command") return "it is asked with other options";
  return "an earlier stage was made anew";
}

}  // namespace

StageBasis basis_of(const Campaign& campaign, const std::string& command,
                    const std::vector<fs::path>& earlier_stages) {
  // the resolved configuration knows the order of edges, but not the materials that only a study names; what the files say
  // has these. What [computer] says decides nothing, and one who ran out of time may allow more of it.
  std::string texts = resolved_toml(campaign.loaded, false), earlier;
  for (const auto& [name, text] : campaign.loaded.texts) {
    toml::table table = toml::parse(text, name);
    table.erase("computer");
    std::ostringstream said;
    said << toml::toml_formatter(table);
    texts += name + "\n" + said.str();
  }
  for (const fs::path& file : earlier_stages)
    earlier += fmt::format("{} {}\n", file.string(), sha1_of_file(file).value_or("missing"));
  if (const std::string& from = campaign.loaded.fit.from; !from.empty()) {
    const fs::path file = fs::path(campaign.loaded.texts.front().first).parent_path() / from;
    texts += fmt::format("{} {}\n", file.string(), sha1_of_file(file).value_or("missing"));
  }
  StageBasis basis{{"program", program_hash()}, {"configuration", sha1(texts)}};
  if (!campaign.readings_path.empty()) basis.emplace_back("readings", sha1(campaign.readings_text));
  basis.emplace_back("command", command);
  if (!earlier_stages.empty()) basis.emplace_back("earlier stages", sha1(earlier));
  return basis;
}

void check_unchanged(const Campaign& campaign) {
  auto texts = campaign.loaded.texts;
  for (const auto& [name, bytes] : campaign.readings_files) texts.emplace_back(name, bytes);
  for (const auto& [name, text] : texts) {
    if (sha1_of_file(name) == sha1(text)) continue;
    throw Error(Exit::data, {.code  = "changed-meanwhile",
                             .what  = "this file was changed while the study was running",
                             .cause = "The stages before rest on it as it was.",
                             .next  = "Give the same command again: what rests on it is made anew.",
                             .file  = name});
  }
}

StudyRecord::StudyRecord(fs::path folder) : folder_(std::move(folder)) {
  std::ifstream stream(folder_ / file_name, std::ios::binary);
  const Json    all = Json::parse(stream, nullptr, false);
  // one that is not as write() left it says nothing about any stage, and all are made anew
  const auto words = [](const Json& object, auto&& put) {
    if (!object.is_object()) return false;
    return std::all_of(object.items().begin(), object.items().end(), [&](const auto& item) {
      if (!item.value().is_string()) return false;
      put(item.key(), item.value().template get<std::string>());
      return true;
    });
  };
  if (!all.is_object() || !all.contains("stages") || !all["stages"].is_object()) return;
  for (const auto& [name, json] : all["stages"].items()) {
    Stage stage;
    if (!json.is_object() || !json.contains("exit") || !json["exit"].is_number_integer() ||
        !json.contains("made") || !json["made"].is_string() || !json.contains("basis") ||
        !json.contains("files"))
      continue;
    stage.made = json["made"].get<std::string>();
    stage.exit = static_cast<Exit>(json["exit"].get<int>());
    if (words(json["basis"],
              [&](const auto& key, const auto& value) { stage.basis.emplace_back(key, value); }) &&
        words(json["files"], [&](const auto& key, const auto& value) { stage.files.emplace(key, value); }))
      stages_.emplace(name, std::move(stage));
  }
}

const StudyRecord::Stage* StudyRecord::find(const std::string& name, const StageBasis& basis,
                                            std::string& why) const {
  const auto found = stages_.find(name);
  if (found == stages_.end()) return nullptr;
  const Stage& stage = found->second;
  for (const auto& [part, value] : basis) {
    const auto was = std::find_if(stage.basis.begin(), stage.basis.end(),
                                  [&, p = &part](const auto& other) { return other.first == *p; });
    if (was != stage.basis.end() && was->second == value) continue;
    why = clause(part);
    return nullptr;
  }
  if (stage.basis.size() != basis.size()) {
    why = "it rested on more than now";
    return nullptr;
  }
  for (const auto& [file, hash] : stage.files) {
    const auto now = sha1_of_file(folder_ / file);
    if (now && *now == hash) continue;
    why = fmt::format("{} {}", file, now ? "was changed since" : "is no longer there");
    return nullptr;
  }
  return &stage;
}

void StudyRecord::put(const std::string& name, const StageBasis& basis, Exit exit,
                      const std::vector<std::string>& files) {
  Stage stage{basis, command_provenance("").started, exit, {}};
  for (const std::string& file : files) {
    // one that vanished meanwhile has no hash, and is not taken over
    if (const auto hash = sha1_of_file(folder_ / file))
      stage.files.emplace(file, *hash);
    else
      stage.files.emplace(file, "vanished");
  }
  stages_[name] = std::move(stage);
  write();
}

void StudyRecord::drop(const std::string& name, const std::vector<std::string>& files) {
  std::error_code error;
  for (const std::string& file : files) fs::remove(folder_ / file, error);
  if (stages_.erase(name) > 0) write();
}

void StudyRecord::write() const {
  Json all{
      {"about",
       "Stages of a study. arris study takes one over while its basis and its files are the same, and makes it anew otherwise."},
      {"stages", Json::object()}};
  for (const auto& [name, stage] : stages_) {
    Json& json = all["stages"][name] = {{"made", stage.made},
                                        {"exit", static_cast<int>(stage.exit)},
                                        {"files", stage.files},
                                        {"basis", Json::object()}};
    for (const auto& [part, value] : stage.basis) json["basis"][part] = value;
  }
  write_text((folder_ / file_name).string(), all.dump(2, ' ', false, Json::error_handler_t::replace) + "\n");
}

}  // namespace arris::cli
