// SPDX-License-Identifier: MIT
// A wear law that a configuration states as a formula, with two parameters: refused with a place within it, or a number.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <vector>

#include "sim/laws/wear/formula_program.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace arris::laws;
  const std::string text(reinterpret_cast<const char*>(data), size);
  for (const bool declared : {true, false}) {
    std::vector<FormulaParameter> parameters(declared ? 2 : 0);
    if (declared) {
      parameters[0].name = "k";
      parameters[1].name = "q";
    }
    FormulaFault fault;
    const auto   program = compile_formula(text, parameters, fault);
    if (program == nullptr) {
      if (fault.code.empty() || fault.what.empty()) std::abort();
      if (fault.at != std::string::npos && fault.at + fault.size > text.size()) std::abort();
      continue;
    }
    std::vector<double> values(most_formula_values, 0.5);
    (void)program->rate(values.data());
    for (std::size_t i = 0; i < program->size(); ++i) (void)program->slope(values.data(), i);
    if (size % 8 == 0) (void)probe_formula(*program, values, 10.0);  // some hundred thousand evaluations
  }
  return 0;
}
