// SPDX-License-Identifier: MIT
// arris_closures cases: histories of the outline as CSV, on standard output.
// arris_closures fit CASES.csv HEADER RESULT: fits the reduced law to them, and writes its constants and how well it does.
#include <exception>
#include <fstream>
#include <iostream>
#include <iterator>
#include <stdexcept>
#include <string>

#include "sim/parallel.hpp"
#include "validation/closures/cases.hpp"
#include "validation/closures/report.hpp"

namespace {

using namespace arris::closures;

std::string text_of(const std::string& file) {
  std::ifstream in(file);
  if (!in) throw std::runtime_error("cannot read " + file);
  return {std::istreambuf_iterator<char>(in), {}};
}

void write(const std::string& file, const std::string& text) {
  std::ofstream out(file);
  if (!(out << text && out.flush())) throw std::runtime_error("cannot write " + file);
}

void print_cases() {
  auto cases = histories();
  arris::for_each_index(cases.size(), 0, [&](std::size_t i) { run_outline(cases[i]); });
  std::cout << csv_of(cases);
}

void fit_to(const std::string& cases_file, const std::string& header, const std::string& result) {
  const auto        cases  = cases_of(cases_file, text_of(cases_file));
  const Values      values = fit(cases);
  const std::string report = result_of(values, misses_of(cases, values));
  write(header, header_of(values));
  write(result, report);
}

}  // namespace

int main(int argc, char** argv) {
  const std::string what = argc > 1 ? argv[1] : "";
  try {
    if (what == "cases" && argc == 2) {
      print_cases();
    } else if (what == "fit" && argc == 5) {
      fit_to(argv[2], argv[3], argv[4]);
    } else {
      std::cerr << "usage: arris_closures cases; arris_closures fit CASES.csv HEADER RESULT\n";
      return 2;
    }
  } catch (const std::exception& wrong) {
    std::cerr << "arris_closures " << what << ": " << wrong.what() << '\n';
    return 1;
  }
  return 0;
}
