// SPDX-License-Identifier: MIT
#include "sim/certainty.hpp"

#include <cmath>
#include <iterator>

#include <fmt/format.h>

#include "sim/wording.hpp"

namespace arris {
namespace {

struct Likelihood {
  double      from;  ///< least share
  const char* word;
};

// strongest first
constexpr Likelihood likelihoods[] = {
    {0.99, "virtually certain"},      {0.90, "very likely"}, {0.66, "likely"},
    {0.33, "about as likely as not"}, {0.10, "unlikely"},    {0.01, "very unlikely"},
    {0.00, "exceptionally unlikely"}};

}  // namespace

std::string likelihood_word(double share) {
  if (std::isnan(share)) return "not known";
  for (const Likelihood& l : likelihoods) {
    if (share >= l.from) return l.word;
  }
  return std::rbegin(likelihoods)->word;
}

std::string likelihood(double share) {
  if (std::isnan(share)) return "not known";
  const std::string number = share >= 0.99 ? "over 99 %" : share < 0.01 ? "below 1 %" : percent(share);
  // the word is that of the number as it is printed
  const double steps = share < 0.1 ? 1000.0 : 100.0;
  return fmt::format("{} ({})", likelihood_word(std::round(steps * share) / steps), number);
}

std::string by_chance(double p) {
  return p < 1e-3 ? std::string("by chance less than once in 1000 times")
                  : fmt::format("by chance once in {:.0f} times", 1.0 / p);
}

const std::string& likelihood_scale() {
  static const std::string scale = [] {
    std::string text = "Words for how likely something is have fixed bounds: ";
    for (std::size_t i = 0; i < std::size(likelihoods); ++i) {
      const Likelihood& l = likelihoods[i];
      if (i + 1 < std::size(likelihoods)) {
        text += fmt::format("{} from {:.0f} %, ", l.word, 100.0 * l.from);
      } else {
        text += fmt::format("and {} below that", l.word);
      }
    }
    return text +
           " (the scale of Mastrandrea et al. 2010 for the reports on climate; unlikely things by the same steps).";
  }();
  return scale;
}

}  // namespace arris
