// SPDX-License-Identifier: MIT
#include "sim/output/answer_hdf5.hpp"

#include <fmt/format.h>

#include "sim/output/answer_text.hpp"
#include "sim/output/simulation_hdf5.hpp"

namespace arris {

void write_root_attributes(const Hdf5Group& root, const std::string& kind, const std::string& title,
                           const Provenance& provenance) {
  root.attribute("Conventions", fmt::format("arris-{}", schema_version));
  root.attribute("title", title);
  root.attribute("history", provenance.started + " " + provenance.command);
  root.attribute("kind", kind);
  root.attribute("schema_version", static_cast<double>(schema_version));
  for (const auto& [name, text] : entries_of(provenance)) root.attribute(name, text);
}

void write_sentences(const Hdf5Group& root, const Answer& answer) {
  std::vector<std::string> about;
  for (std::size_t i = 0; i < answer.remarks.size(); ++i)
    about.emplace_back(name_of(i < answer.about.size() ? answer.about[i] : About::more));
  root.attribute("headline", answer.headline);
  root.attribute("remarks", fmt::format("{}", fmt::join(answer.remarks, "\n")));
  root.attribute("remarks_about", fmt::format("{}", fmt::join(about, "\n")));
  root.attribute("cautions", fmt::format("{}", fmt::join(answer.cautions, "\n")));
}

void write_answer_hdf5(const std::filesystem::path& path, const Answer& answer, const std::string& title,
                       const Provenance& provenance) {
  Hdf5Writer writer(path);
  {  // every group is closed before the file is
    const Hdf5Group& root   = writer.root();
    Provenance       origin = provenance;
    // a forecast rests on its fit, not on the configuration alone
    if (!answer.rests_on.empty()) origin.rests_on = answer.rests_on;
    write_root_attributes(root, answer.kind, title, origin);
    write_sentences(root, answer);
    for (const auto& [name, value] : answer.settings) root.attribute(name, value);
    for (const AnswerTable& table : answer.tables) put_table(root, table);
  }
  writer.finish();
}

}  // namespace arris
