// SPDX-License-Identifier: MIT
#include "sim/output/terminal.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <sstream>

#include <fmt/format.h>
#include <unistd.h>

#include "sim/input/document.hpp"

namespace arris {
namespace {

std::string padded(const std::string& text, int width, bool right) {
  const auto blanks = static_cast<std::size_t>(std::max(0, width - characters(text)));
  return right ? std::string(blanks, ' ') + text : text + std::string(blanks, ' ');
}

double seconds_now() {
  return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

}  // namespace

TextTable::TextTable(std::vector<std::string> head, std::vector<bool> right_aligned)
    : head_(std::move(head)), right_(std::move(right_aligned)) {}

void TextTable::add(std::vector<std::string> cells) { rows_.push_back(std::move(cells)); }

std::string TextTable::text(int indent) const {
  std::vector<int> width(head_.size(), 0);
  const auto       measure = [&](const std::vector<std::string>& row) {
    for (std::size_t i = 0; i < row.size(); ++i) width[i] = std::max(width[i], characters(row[i]));
  };
  measure(head_);
  for (const auto& row : rows_) measure(row);
  const auto line = [&](const std::vector<std::string>& row) {
    std::string out(static_cast<std::size_t>(indent), ' ');
    for (std::size_t i = 0; i < row.size(); ++i)
      out += (i > 0 ? "  " : "") + padded(row[i], width[i], right_[i]);
    out.erase(out.find_last_not_of(' ') + 1);
    return out + "\n";
  };
  std::string out = line(head_);
  std::string rule(static_cast<std::size_t>(indent), ' ');
  for (std::size_t i = 0; i < width.size(); ++i) {
    if (i > 0) rule += "  ";
    for (int j = 0; j < width[i]; ++j) rule += "─";
  }
  out += rule + "\n";
  for (const auto& row : rows_) out += row.empty() ? "\n" : line(row);
  return out;
}

std::string wrapped(const std::string& text, int width, int indent) {
  std::istringstream words(text);
  std::string        out, line;
  const std::string  margin(static_cast<std::size_t>(indent), ' ');
  for (std::string word; words >> word;) {
    if (!line.empty() && characters(line) + 1 + characters(word) > width - indent) {
      out += margin + line + "\n";
      line.clear();
    }
    line += (line.empty() ? "" : " ") + word;
  }
  if (!line.empty()) out += margin + line + "\n";
  return out;
}

std::string digits(double value, int significant) {
  if (std::isnan(value)) return {};
  if (value == 0.0) return "0";
  const int magnitude = static_cast<int>(std::floor(std::log10(std::abs(value))));
  if (magnitude < -5 || magnitude > 9) return fmt::format("{:.{}g}", value, significant);
  return fmt::format("{:.{}f}", value, std::max(0, significant - 1 - magnitude));
}

std::string decimals(double value, int places) {
  if (std::isnan(value)) return {};
  const double whole = std::pow(10.0, places);
  return fmt::format("{:.{}f}", std::abs(value) * whole < 0.5 ? 0.0 : value, places);  // never "-0.0"
}

Progress::Progress(std::string what, bool quiet)
    : what_(std::move(what)), active_(!quiet && isatty(STDERR_FILENO) != 0), started_(seconds_now()) {}

Progress::~Progress() {
  if (drawn_) fmt::print(stderr, "\r\033[K");
}

void Progress::show(std::size_t done, std::size_t all) {
  if (!active_ || all == 0) return;
  const double now = seconds_now();
  if (now - started_ < 0.5 || now - last_ < 0.1) return;
  last_             = now;
  drawn_            = true;
  const auto  share = static_cast<double>(done) / static_cast<double>(all);
  const int   full  = static_cast<int>(30.0 * share);
  std::string bar;
  for (int i = 0; i < 30; ++i) bar += i < full ? "█" : "░";
  const double left = share > 0.0 ? (now - started_) * (1.0 - share) / share : 0.0;
  fmt::print(stderr, "\r{} {} {}/{}, {:.0f} s left\033[K", what_, bar, done, all, left);
  std::fflush(stderr);
}

}  // namespace arris
