// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>

/// Draws of an earlier fit, out of its HDF5 file.
namespace arris {

struct EarlierFit;
struct Ensemble;
struct Scenario;

/// At most `members` of the draws that `arris fit --draws N --out FILE` left in `path`, evenly taken. Throws Error
/// (Exit::data): "not-a-fit" for another kind of file, "no-draws" for a fit without draws, "another-campaign" when the fit
/// does not belong to this scenario: a parameter of it is none of the scenario's, the wear law is another, or a number that
/// both have and that the fit held fixed (tester, coefficients, a tool or a material of that name) differs. Edges, routes and
/// what is done to them may differ: a fit serves every edge of the same workshop.
[[nodiscard]] Ensemble read_ensemble(const std::filesystem::path& path, const Scenario& scenario,
                                     int members);

/// What an earlier fit knows, for `[fit] from`. Throws Error (Exit::data): "not-a-fit"; "old-fit" for one of an earlier version of the
/// model, or that does not say what a later fit can begin from.
[[nodiscard]] EarlierFit read_earlier(const std::filesystem::path& path);

}  // namespace arris
