// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "sim/input/loader.hpp"
#include "sim/input/readings_import.hpp"
#include "sim/simulate/readings.hpp"

/// Configurations and readings from files on disk.
namespace arris {

/// A configuration with the readings it names.
struct Campaign {
  Loaded      loaded;
  std::string readings_path;  ///< empty when there are none; of several, all with commas between them
  std::string readings_text;  ///< as a readings file: of what was imported, what it became
  std::vector<Reading>       readings;
  std::vector<ReadingsBytes> readings_files;  ///< each as it lies on disk
  std::vector<std::string>   readings_said;   ///< what of them was taken for what, a sentence each
};

/// Reads a whole text file. Throws Error (`exit`, "no-such-file", "too-large" above 200 MB).
[[nodiscard]] std::string read_text(const std::filesystem::path& path, Exit exit);

/// Where the files may lie that a configuration includes or takes its readings from. `own_folder` is for one that came from elsewhere:
/// the folder of the configuration and folders in it, links followed. A message about a fault shows a line of the file it is in, so
/// that with `anywhere` a configuration can have a line of any file shown to whoever loads it.
enum class Reach { anywhere, own_folder };

/// Where the earlier fit lies that `[fit] from` names. Throws Error (Exit::usage, "outside-folder").
[[nodiscard]] std::filesystem::path earlier_fit_path(const Loaded& loaded, Reach reach);

/// Loads a configuration file, what it includes, and the materials in `also` beside those that its steps name. Throws Error
/// (Exit::usage), "outside-folder" for a file beyond `reach`.
[[nodiscard]] Loaded load_scenario_file(const std::filesystem::path&      path,
                                        const std::vector<NamedMaterial>& also  = {},
                                        Reach                             reach = Reach::anywhere);

/// The same, and the readings it names.
[[nodiscard]] Campaign load_campaign_file(const std::filesystem::path&      path,
                                          const std::vector<NamedMaterial>& also  = {},
                                          Reach                             reach = Reach::anywhere);

/// Every text that a campaign is made of, so that it can be made again without the files.
struct CampaignTexts {
  std::vector<std::pair<std::string, std::string>> files;  ///< name and text, the configuration first
  std::string readings_path;  ///< empty when there are none, or they are read from disk
  std::string readings_text;
  Reach       reach = Reach::anywhere;
};

/// A campaign from texts. What the first of them includes or names and is not among them is read from disk, relative to its name, and
/// within `reach`.
[[nodiscard]] Campaign load_campaign_texts(const CampaignTexts&                  texts,
                                           const std::vector<NamedMaterial>&     also      = {},
                                           const std::vector<laws::ForeignRate>& functions = {});

}  // namespace arris
