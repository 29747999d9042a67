// SPDX-License-Identifier: MIT
#include <boost/version.hpp>
#include <fmt/format.h>
#include <hdf5.h>
#include <nlohmann/json.hpp>

#include "build_facts.hpp"  // generated
#include "sim/output/provenance.hpp"

namespace arris {

std::string build_facts() {
  return fmt::format(
      "arris {} ({})\n{}, {} build, flags: {}\n{}\nBoost {}.{}.{}, fmt {}.{}.{}, HDF5 {}.{}.{}, JSON {}.{}.{}\n",
      build::version, build::commit(), build::compiler, build::type, build::flags, build::system,
      BOOST_VERSION / 100000, BOOST_VERSION / 100 % 1000, BOOST_VERSION % 100, FMT_VERSION / 10000,
      FMT_VERSION / 100 % 100, FMT_VERSION % 100, H5_VERS_MAJOR, H5_VERS_MINOR, H5_VERS_RELEASE,
      NLOHMANN_JSON_VERSION_MAJOR, NLOHMANN_JSON_VERSION_MINOR, NLOHMANN_JSON_VERSION_PATCH);
}

}  // namespace arris
