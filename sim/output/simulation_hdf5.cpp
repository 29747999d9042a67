// SPDX-License-Identifier: MIT
#include "sim/output/simulation_hdf5.hpp"

#include "sim/input/loader.hpp"
#include "sim/output/answer_hdf5.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/output/root_attributes.hpp"
#include "sim/output/simulation_groups.hpp"
#include "sim/output/simulation_text.hpp"

namespace arris {
void write_hdf5(const std::filesystem::path& path, const Loaded& loaded, const SimulationResult& result,
                const std::optional<Comparison>& comparison, const std::vector<Reading>& readings,
                const Provenance& provenance) {
  Hdf5Writer writer(path);
  {  // every group is closed before the file is
    const Hdf5Group& root = writer.root();
    put_root_attributes(root, "simulate", loaded.scenario.title, provenance);
    put_sentences(root, simulation_sentences(loaded, result, comparison));
    put_simulation(root, result, comparison, readings, wear_units_of(loaded.scenario));
  }
  writer.finish();
}

}  // namespace arris
