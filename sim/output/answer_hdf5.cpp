// SPDX-License-Identifier: MIT
#include "sim/output/answer_hdf5.hpp"

#include <fmt/format.h>

#include "sim/output/answer_text.hpp"
#include "sim/output/root_attributes.hpp"

namespace arris {

void write_answer_hdf5(const std::filesystem::path& path, const Answer& answer, const std::string& title,
                       const Provenance& provenance) {
  Hdf5Writer writer(path);
  {  // every group is closed before the file is
    const Hdf5Group& root   = writer.root();
    Provenance       origin = provenance;
    // a forecast rests on its fit, not on the configuration alone
    if (!answer.rests_on.empty()) origin.rests_on = answer.rests_on;
    put_root_attributes(root, answer.kind, title, origin);
    put_sentences(root, answer);
    for (const auto& [name, value] : answer.settings) root.attribute(name, value);
    for (const AnswerTable& table : answer.tables) put_table(root, table);
  }
  writer.finish();
}

}  // namespace arris
