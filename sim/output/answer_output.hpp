// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "sim/output/answer_text.hpp"
#include "sim/output/provenance.hpp"
#include "sim/studies/answer.hpp"

/// An answer as JSON.
namespace arris {

/// `rests_on` is that of the answer.
[[nodiscard]] std::string answer_json(const Answer& answer, const std::string& title,
                                      const Provenance& provenance);

}  // namespace arris
