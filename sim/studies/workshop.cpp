// SPDX-License-Identifier: MIT
#include "sim/studies/workshop.hpp"

#include <boost/algorithm/string/predicate.hpp>

namespace arris {
namespace {

template <class Entry>
const Entry* find_named(const std::vector<Entry>& entries, const std::string& name) {
  for (const Entry& entry : entries) {
    if (boost::algorithm::iequals(entry.name, name)) return &entry;
  }
  return nullptr;
}

}  // namespace

const Price* Workshop::price_of(const std::string& material, const std::string& family) const {
  const Price* own = find_named(prices, material);
  return own != nullptr || family.empty() ? own : find_named(prices, family);
}

const Limit* Workshop::limit_named(const std::string& name) const { return find_named(limits, name); }

}  // namespace arris
