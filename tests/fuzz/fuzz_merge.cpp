// SPDX-License-Identifier: MIT
// Shares of a sweep, one of them changed as in fuzz_result: they are refused, or all of the whole can be read.
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include <unistd.h>

#include "sim/diagnostic.hpp"
#include "sim/output/sweep_file.hpp"
#include "sim/studies/sweep/sweep.hpp"
#include "tests/fuzz/changed_result.hpp"

using namespace arris::fuzz;

namespace {

// the shares as they are, under names of this process
std::vector<std::filesystem::path> share_files(const std::vector<Result>& shares) {
  std::vector<std::filesystem::path> files;
  for (std::size_t i = 0; i < shares.size(); ++i)
    files.emplace_back("/dev/shm/arris-fuzz-" + std::to_string(::getpid()) + "-" + std::to_string(i) + ".h5");
  return files;
}

void merge(const std::vector<std::filesystem::path>& files) {
  const auto whole = files.front().string() + ".whole";
  try {
    const arris::SweepShards shards(files);
    const auto               get    = [&](std::size_t chunk) { return shards.get(chunk); };
    const arris::Answer      answer = arris::sweep_answer(shards.definition(), {}, shards.failures(), get);
    shards.copy(whole, answer, "arris merge");
    shards.link(whole, answer, "arris merge");
  } catch (const arris::Error& error) {
    (void)error.what();
  }
  ::unlink(whole.c_str());
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const std::vector<Result> shares = results_in("ARRIS_FUZZ_SHARES");
  static const auto                files  = share_files(shares);
  if (size == 0) return 0;
  for (std::size_t i = 0; i < shares.size(); ++i) {
    if (i == data[0] % shares.size()) {
      write_changed(files[i], shares[i], Script(data + 1, size - 1));
    } else {
      write(files[i], shares[i].bytes);
      arris::seal(files[i]);
    }
  }
  merge(files);
  for (const auto& file : files) ::unlink(file.c_str());
  return 0;
}
