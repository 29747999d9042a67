// SPDX-License-Identifier: MIT
// A result file: it is refused, or it makes a page, whatever stands in it.
//
// Bytes that are no sealed result are refused before the library sees them; that is tried with the input as it stands. What stands in a
// result that is sealed is another matter: so the input is also a list of changes to one of the results in the folder
// ARRIS_FUZZ_RESULTS, made by the library itself: objects, attributes and numbers taken away, renamed, of another type, size or value.
#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include <unistd.h>

#include "sim/diagnostic.hpp"
#include "sim/report/page.hpp"
#include "tests/fuzz/changed_result.hpp"

using namespace arris::fuzz;

namespace {

void read(const std::string& path) {
  try {
    arris::report::Page page;
    page.sections.push_back(arris::report::section_of(arris::read_result(path)));
    (void)arris::report::html_of(page);
  } catch (const arris::Error& error) {
    (void)error.what();
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const std::vector<Result> results = results_in("ARRIS_FUZZ_RESULTS");
  if (size == 0) return 0;
  // in memory, under a name of its own: the library finds no file by /proc/self/fd
  static const std::string path = "/dev/shm/arris-fuzz-" + std::to_string(::getpid()) + ".h5";
  write(path, {reinterpret_cast<const char*>(data), size});
  read(path);
  write_changed(path, results[data[0] % results.size()], Script(data + 1, size - 1));
  read(path);
  ::unlink(path.c_str());
  return 0;
}
