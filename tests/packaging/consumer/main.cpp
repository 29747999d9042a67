// SPDX-License-Identifier: MIT
#include <cstdio>
#include <fstream>
#include <iostream>
#include <sstream>

#include "sim/diagnostic.hpp"
#include "sim/input/loader.hpp"
#include "sim/simulate/simulate.hpp"

// consumer FILE: the last reading of every edge of a configuration, in newton
int main(int count, char** words) {
  if (count != 2) return 2;
  std::ostringstream text;
  text << std::ifstream(words[1]).rdbuf();
  try {
    const arris::Loaded loaded = arris::load_scenario(words[1], text.str());
    for (const arris::EdgeResult& edge : arris::simulate(loaded.scenario).edges)
      std::printf("%s\t%.17g\n", edge.name.c_str(), edge.steps.back().after.reading_N);
  } catch (const arris::Error& error) {
    std::cerr << error.what();
    return 1;
  }
  return 0;
}
