// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/input/files.hpp"

namespace arris {
struct Arguments;
struct Ensemble;
}  // namespace arris

/// What a command reads: its configuration, and an earlier fit.
namespace arris::cli {

/// How far the configuration may reach: no further than its folder where --confined was said.
[[nodiscard]] Reach reach_of(const Arguments& arguments);

/// As load_campaign_file with the file FILE of a command, and from now on the program keeps to `[computer]` of that configuration.
/// `also` are materials beside those that its steps name.
[[nodiscard]] Campaign load_within_limits(const Arguments&                  arguments,
                                          const std::vector<NamedMaterial>& also = {});

/// Notes on standard error of what readings were taken for, unless --quiet is set.
void tell_said(const Arguments& arguments, const std::vector<std::string>& said);

/// Reads the file of --fit (ask::ReadFit); empty where it is not given.
[[nodiscard]] std::function<Ensemble(const Scenario&, int members)> fit_of(const Arguments& arguments);

/// A note on standard error where `--fit` is not given and a fit of this campaign lies beside it: fit.h5 in the folder of the
/// configuration, in that of its study, or here.
void note_unused_fit(const Arguments& arguments, const Campaign& campaign);

}  // namespace arris::cli
