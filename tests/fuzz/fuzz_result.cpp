// SPDX-License-Identifier: MIT
// A result file: it is refused, or it makes a page, whatever stands in it.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>

#include <sys/mman.h>
#include <unistd.h>

#include "sim/diagnostic.hpp"
#include "sim/report/page.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const int file = ::memfd_create("result.h5", 0);
  if (file < 0 || ::write(file, data, size) != static_cast<ssize_t>(size)) std::abort();
  try {
    arris::report::Page page;
    page.sections.push_back(
        arris::report::section_of(arris::read_result("/proc/self/fd/" + std::to_string(file))));
    (void)arris::report::html_of(page);
  } catch (const arris::Error& error) {
    (void)error.what();
  }
  ::close(file);
  return 0;
}
