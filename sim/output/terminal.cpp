// SPDX-License-Identifier: MIT
#include "sim/output/terminal.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <sstream>

#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "sim/text.hpp"

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

int terminal_width() {
  for (const int descriptor : {STDOUT_FILENO, STDERR_FILENO}) {
    winsize size = {};
    if (::ioctl(descriptor, TIOCGWINSZ, &size) == 0 && size.ws_col > 0)
      return std::max(20, static_cast<int>(size.ws_col));
  }
  return 0;
}

int text_width() {
  constexpr int readable = 100;
  const int     width    = terminal_width();
  return width > 0 ? std::min(width, readable) : readable;
}

void tell(std::string_view text) {
  std::fwrite(text.data(), 1, text.size(), stderr);
  std::fflush(stderr);
}

TextTable::TextTable(std::vector<std::string> head, std::vector<bool> right_aligned)
    : head_(std::move(head)), right_(std::move(right_aligned)) {}

void TextTable::add(std::vector<std::string> cells) {
  for (std::string& cell : cells) cell = printable(cell);
  rows_.push_back(std::move(cells));
}

std::vector<int> TextTable::widths() const {
  std::vector<int> width(head_.size(), 0);
  const auto       measure = [&](const std::vector<std::string>& row) {
    for (std::size_t i = 0; i < row.size(); ++i) width[i] = std::max(width[i], characters(row[i]));
  };
  measure(head_);
  for (const auto& row : rows_) measure(row);
  return width;
}

std::string TextTable::text(int indent, int width) const {
  const std::vector<int>                wide = widths();
  std::vector<std::vector<std::size_t>> parts{{0}};
  int                                   used = indent + wide.front();
  for (std::size_t i = 1; i < head_.size(); ++i) {
    if (width > 0 && used + 2 + wide[i] > width) {
      if (parts.back().size() == 1) return list_text(indent, width);
      parts.push_back({0});
      used = indent + wide.front();
      if (used + 2 + wide[i] > width) return list_text(indent, width);
    }
    parts.back().push_back(i);
    used += 2 + wide[i];
  }
  if (width > 0 && used > width && head_.size() == 1) return list_text(indent, width);
  std::string out;
  for (const auto& columns : parts) out += (out.empty() ? "" : "\n") + columns_text(columns, wide, indent);
  return out;
}

std::string TextTable::columns_text(const std::vector<std::size_t>& columns, const std::vector<int>& width,
                                    int indent) const {
  const std::string margin(static_cast<std::size_t>(indent), ' ');
  const auto        line = [&](const std::vector<std::string>& row) {
    std::string out = margin;
    for (const std::size_t i : columns) {
      if (i < row.size()) out += (i == columns.front() ? "" : "  ") + padded(row[i], width[i], right_[i]);
    }
    out.erase(out.find_last_not_of(' ') + 1);
    return out + "\n";
  };
  std::string out = line(head_), rule = margin;
  for (const std::size_t i : columns) {
    if (i != columns.front()) rule += "  ";
    for (int j = 0; j < width[i]; ++j) rule += "─";
  }
  out += rule + "\n";
  for (const auto& row : rows_) out += row.empty() ? "\n" : line(row);
  return out;
}

std::string TextTable::list_text(int indent, int width) const {
  std::string out;
  for (const auto& row : rows_) {
    if (row.empty()) continue;
    if (!out.empty()) out += "\n";
    for (std::size_t i = 0; i < row.size(); ++i) {
      if (!row[i].empty())
        out += wrapped(head_[i].empty() ? row[i] : head_[i] + ": " + row[i], width, indent);
    }
  }
  return out;
}

std::string wrapped(const std::string& text, int width, int indent) {
  std::istringstream words(text);
  std::string        out, line;
  const std::string  margin(static_cast<std::size_t>(indent), ' ');
  for (std::string word; words >> word;) {
    word = printable(word);
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
  if (drawn_) tell("\r\033[K");
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
  // a line that is longer than the terminal would be drawn again below itself each time
  const int   room = terminal_width() - 1;
  std::string line = fmt::format("{} {} {}/{}, {:.0f} s left", what_, bar, done, all, left);
  if (characters(line) > room) line = fmt::format("{} {:.0f} %", what_, 100.0 * share);
  if (characters(line) > room) line = fmt::format("{:.0f} %", 100.0 * share);
  tell("\r" + line + "\033[K");
}

}  // namespace arris
