// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>

namespace arris {
struct Answer;
struct Arguments;
struct Campaign;
struct Provenance;
}  // namespace arris

/// Where an answer goes: it is made into all texts that are asked for, these are written, and what is for people is printed.
namespace arris::cli {

/// Writes an answer where --out, --csv and --json say, and prints it unless --quiet is set or JSON or CSV goes to standard
/// output. `seed` is empty when nothing was drawn.
void deliver_answer(const Arguments& arguments, const Campaign& campaign, const Answer& answer,
                    const std::string& seed);

/// The same where the result is a file of its own kind: `write_result` writes it.
void deliver(const Arguments& arguments, const std::string& title, const Provenance& origin,
             const Answer& answer, const std::function<void()>& write_result);

}  // namespace arris::cli
