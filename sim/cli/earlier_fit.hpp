// SPDX-License-Identifier: MIT
#pragma once

#include <functional>

#include "sim/input/files.hpp"

namespace arris {
struct Arguments;
struct Ensemble;
}  // namespace arris

/// The earlier fit that an answer rests on.
namespace arris::cli {

/// Reads the file of --fit (ask::ReadFit); empty where it is not given.
[[nodiscard]] std::function<Ensemble(const Scenario&, int members)> fit_of(const Arguments& arguments);

/// Reads the earlier fit that `[fit] from` names into the settings of the campaign's fit; nothing where it names none. Throws as read_earlier,
/// and "outside-folder" where --confined was said.
void take_earlier(const Arguments& arguments, Campaign& campaign);

/// What a plan rests on: the file of --fit; else, where `[fit] from` names an earlier fit, its posterior as the prior of a fit to the readings so
/// far (take_earlier), or its draws where nothing was read yet. Empty where the plan's own fit or the priors tell. Throws as take_earlier.
[[nodiscard]] ask::ReadFit fit_of_plan(const Arguments& arguments, Campaign& campaign);

/// A note on standard error where `--fit` is not given and a fit of this campaign lies beside it: fit.h5 in the folder of the
/// configuration, in that of its study, or here, or one that `[fit] from` names.
void note_unused_fit(const Arguments& arguments, const Campaign& campaign);

/// A campaign with the best values of the fit in place of its own (ask::at_fit); a fit that is not used is noted.
[[nodiscard]] Campaign at_earlier_fit(const Arguments& arguments, Campaign campaign);

}  // namespace arris::cli
