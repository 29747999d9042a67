// SPDX-License-Identifier: MIT
#include "sim/input/files.hpp"

#include <algorithm>
#include <fstream>
#include <sstream>
#include <system_error>

#include <fmt/format.h>

#include "sim/input/readings_csv.hpp"
#include "sim/text.hpp"

namespace arris {

namespace fs = std::filesystem;

std::string read_text(const fs::path& path, Exit exit) {
  constexpr std::uintmax_t largest = 200'000'000;
  std::error_code          error;
  if (!fs::is_regular_file(path, error)) {
    const bool there = fs::exists(path, error);
    throw Error(exit, {.code = "no-such-file",
                       .what = fs::is_directory(path, error) ? "this is a folder, not a file"
                               : there                       ? "this is a pipe or a device, not a file"
                                                             : "there is no such file",
                       .next = there ? "Name a file."
                                     : "Check the path; it is relative to where the program was started.",
                       .file = path.string()});
  }
  if (fs::file_size(path, error) > largest) {
    throw Error(exit, {.code = "too-large", .what = "the file is larger than 200 MB", .file = path.string()});
  }
  std::ifstream      stream(path, std::ios::binary);
  std::ostringstream text;
  text << stream.rdbuf();
  if (!stream)
    throw Error(exit, {.code = "unreadable",
                       .what = "the file cannot be read",
                       .next = "Check its permissions.",
                       .file = path.string()});
  return std::move(text).str();
}

namespace {

// throws where a file that a configuration names lies beyond what it may reach; `from` is the file that names it
void check_reach(const CampaignTexts& texts, const std::string& from, const fs::path& named) {
  if (texts.reach == Reach::anywhere) return;
  const fs::path first     = fs::path(texts.files.front().first).parent_path();
  const fs::path folder    = fs::weakly_canonical(first.empty() ? fs::path(".") : first);
  const fs::path full      = fs::weakly_canonical(named);
  const auto [end, unused] = std::mismatch(folder.begin(), folder.end(), full.begin(), full.end());
  if (end == folder.end()) return;
  throw Error(
      Exit::usage,
      {.code = "outside-folder",
       .what = fmt::format("\"{}\" lies outside the folder of this configuration", printable(named.string())),
       .cause = "A configuration that came from elsewhere may read nothing but what lies beside it.",
       .next =
           "Put the file beside it; or, where you trust the configuration, load it from a file without --confined.",
       .file = from});
}

void read_readings(Campaign& campaign) {
  ImportedReadings imported = import_readings(campaign.readings_files, campaign.loaded.readings_form);
  campaign.readings_text =
      imported.is_plain ? campaign.readings_files.front().bytes : csv_text(imported.table);
  campaign.readings_said = std::move(imported.said);
  campaign.readings      = parse_readings(
           campaign.readings_path,
           without_check_edge(std::move(imported.table), campaign.loaded.readings_form, &campaign.readings_said),
           campaign.loaded.scenario);
}

// what is known first, then what lies on disk
Include includes(const CampaignTexts& texts) {
  return [&texts](const std::string& from,
                  const std::string& name) -> std::optional<std::pair<std::string, std::string>> {
    const fs::path full = (fs::path(from).parent_path() / name).lexically_normal();
    for (const auto& known : texts.files) {
      if (known.first == full.string()) return known;
    }
    check_reach(texts, from, full);
    std::error_code error;
    if (!fs::is_regular_file(full, error)) return std::nullopt;
    return std::make_pair(full.string(), read_text(full, Exit::usage));
  };
}

}  // namespace

fs::path earlier_fit_path(const Loaded& loaded, Reach reach) {
  const std::string& first = loaded.texts.front().first;
  fs::path           path  = fs::path(first).parent_path() / loaded.fit.from;
  check_reach({.files = {{first, {}}}, .reach = reach}, first, path);
  return path;
}

Loaded load_scenario_file(const fs::path& path, const std::vector<NamedMaterial>& also, Reach reach) {
  const CampaignTexts texts{.files = {{path.string(), read_text(path, Exit::usage)}}, .reach = reach};
  return load_scenario(path.string(), texts.files.front().second, includes(texts), also);
}

Campaign load_campaign_texts(const CampaignTexts& texts, const std::vector<NamedMaterial>& also,
                             const std::vector<laws::ForeignRate>& functions) {
  Campaign      campaign;
  const Include include    = includes(texts);
  const auto& [name, text] = texts.files.front();
  campaign.loaded          = load_scenario(name, text, include, also, functions);
  if (campaign.loaded.readings_files.empty()) return campaign;
  std::vector<fs::path> paths;
  for (const std::string& file : campaign.loaded.readings_files) {
    paths.push_back(fs::path(name).parent_path() / file);
    campaign.readings_path += (campaign.readings_path.empty() ? "" : ", ") + paths.back().string();
  }
  if (texts.readings_path == campaign.readings_path) {
    campaign.readings_files.push_back({campaign.readings_path, texts.readings_text});
  } else {
    for (const fs::path& path : paths) {
      check_reach(texts, name, path);
      campaign.readings_files.push_back({path.string(), read_text(path, Exit::data)});
    }
  }
  read_readings(campaign);
  return campaign;
}

Campaign load_campaign_file(const fs::path& path, const std::vector<NamedMaterial>& also, Reach reach) {
  return load_campaign_texts({.files = {{path.string(), read_text(path, Exit::usage)}}, .reach = reach},
                             also);
}

}  // namespace arris
