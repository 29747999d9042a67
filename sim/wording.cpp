// SPDX-License-Identifier: MIT
#include "sim/wording.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/text.hpp"

namespace arris {
namespace {

// zeros behind the point say nothing
std::string without_zeros(std::string text) {
  if (text.find('.') == std::string::npos) return text;
  text.erase(text.find_last_not_of('0') + 1);
  if (text.back() == '.') text.pop_back();
  return text == "-0" ? "0" : text;
}

// the first of many, and how many more there are
std::string first_of(const std::vector<std::string>& items, std::size_t most) {
  std::string out;
  for (std::size_t i = 0; i < most; ++i) out += (i > 0 ? ", " : "") + items[i];
  return out + fmt::format(" … and {} more", items.size() - most);
}

std::string joined(const std::vector<std::string>& items, std::string_view before_last) {
  std::string out;
  for (std::size_t i = 0; i < items.size(); ++i) {
    if (i > 0) out += i + 1 == items.size() ? before_last : ", ";
    out += items[i];
  }
  return out;
}

}  // namespace

std::string and_list(const std::vector<std::string>& items) {
  constexpr std::size_t readable = 24, most = 12;
  return items.size() <= readable ? joined(items, " and ") : first_of(items, most);
}

std::string or_list(const std::vector<std::string>& items, std::size_t most) {
  return items.size() <= most ? joined(items, " or ") : first_of(items, most);
}

std::string did_you_mean(std::string_view word, const std::vector<std::string>& known,
                         std::string_view else_do, std::string_view written) {
  const std::string close = nearest(word, known);
  if (close.empty()) return std::string(else_do);
  return fmt::format("Did you mean {}?{}{}", fmt::format(fmt::runtime(written), close),
                     else_do.empty() ? "" : " ", else_do);
}

std::string counted(long long n, std::string_view one, std::string_view many) {
  if (n == 1) return fmt::format("1 {}", one);
  return many.empty() ? fmt::format("{} {}s", n, one) : fmt::format("{} {}", n, many);
}

std::string plain(double value, int significant) {
  if (std::isnan(value)) return {};
  if (value == 0.0 || std::isinf(value)) return fmt::format("{:g}", value);
  const int before = static_cast<int>(std::floor(std::log10(std::abs(value)))) + 1;
  return without_zeros(fmt::format("{:.{}f}", value, std::max(0, significant - before)));
}

std::string short_number(double value) {
  if (std::isnan(value)) return {};
  const double size   = std::abs(value);
  const int    places = size < 0.995 ? 2 : size < 9.95 || (size > 99.0 && size < 99.95) ? 1 : 0;
  return without_zeros(fmt::format("{:.{}f}", value, places));
}

std::string percent(double share) { return short_number(100.0 * share) + " %"; }

}  // namespace arris
