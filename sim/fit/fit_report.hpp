// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "sim/fit/derived.hpp"
#include "sim/fit/discrepancy.hpp"
#include "sim/fit/fit.hpp"
#include "sim/fit/identifiability.hpp"
#include "sim/fit/lack_of_fit.hpp"
#include "sim/fit/law_draws.hpp"
#include "sim/statistics/ensemble_sampler.hpp"
#include "sim/statistics/importance_sampler.hpp"
#include "sim/statistics/profile.hpp"

/// Everything that is known after a fit, at three depths of uncertainty: Wald's intervals, profiles, posterior draws; of each
/// parameter, and of quantities that follow from them (derived.hpp).
///
/// Where several laws are fitted side by side (law_fits.hpp), the parameters are those of the law that answers rest on most, whichever the
/// configuration has; of its own law only where the settings free numbers of it by name. Derived quantities are told under all laws too.
///
/// Wald's intervals and profiles of 90 % take Student's t with the degrees of freedom behind the variance of each: P rises by
/// t² at an end of a profile. Profiles hold the standard deviations at their best values.
namespace arris {

struct ParameterProfile {
  bool                wanted = false;  ///< profiles were asked for
  bool                usable = false;  ///< false: a lower place was met, or the histories failed
  double              low = not_given, high = not_given;  ///< 90 % interval, on the scale of the parameter
  bool                low_open = false, high_open = false;
  std::vector<double> values;  ///< of the parameter, ascending
  std::vector<double> rises;   ///< of −2·log posterior there
};

/// A quantity that follows from the parameters, with its intervals of 90 %.
struct DerivedResult {
  DerivedQuantity quantity;
  double          value = not_given;  ///< at the optimum, in the unit of the quantity; may be infinite
  bool   moved = true;  ///< false: no free parameter changes it, so that the readings say nothing of it
  bool   has_standard_error = false;         ///< false: mostly undetermined, or not had
  double low = not_given, high = not_given;  ///< Wald, by the slopes of its logarithm (delta method)
  double prior_log_sd =
      not_given;  ///< of a length where none was measured, with all that has a prior open; its ends are then by that alone
  ParameterProfile profile;  ///< values in the unit of the quantity
  double
      drawn_low    = not_given,
      drawn_middle = not_given,
      drawn_high =
          not_given;  ///< 5 %, median and 95 % of posterior draws; infinite for edges that outlast what is seen
  std::vector<double>
         by_law;  ///< at the optimum under each law of FitReport::laws that is usable, in their order
  double laws_low = not_given, laws_middle = not_given,
         laws_high = not_given;  ///< 5 %, median and 95 % over all laws by their weights
};

struct FitReport {
  std::shared_ptr<const CampaignModel>
                  model;  ///< that was fitted: the one asked for, or of the heaviest of several laws
  FitResult       fit;
  Identifiability identifiability;
  LackOfFit       lack_of_fit;             ///< what the model misses
  Discrepancy     discrepancy;             ///< along the passes
  std::vector<ParameterProfile> profiles;  ///< P
  std::vector<DerivedResult>    derived;   ///< those asked for, or the usual ones
  Draws                         draws;     ///< of u and the logs of the standard deviations
  ImportanceDraws
                           importance;  ///< how they were made, without values: by importance where it is usable, else by the ensemble sampler
  std::vector<std::string> draw_names;  ///< of the columns of `draw_values`
  Eigen::MatrixXd
          draw_values;  ///< draws × columns: parameters, standard deviations of the logs, factors of ways
  bool    draws_wanted = false;
  LawFits laws;  ///< of settings.laws; none where the law is fixed
  std::vector<FittedLaw>
      law_draws;  ///< of those that are usable, in their order; normal ones without `draws`
};

struct FitReportOptions {
  bool profiles = true;
  int  draws    = 0;  ///< 0: none
  int  threads  = 0;
};

/// Fits `asked`, or its readings under the laws of its settings, then works out what was asked for. `progress(stage, done, all)` may be empty.
[[nodiscard]] FitReport fit_report(
    const CampaignModel& asked, const FitReportOptions& options,
    const std::function<void(const std::string&, std::size_t, std::size_t)>& progress = {});

/// The standard deviations that a campaign has, as columns of the draws are called: "sd of readings", "sd of edges" …
[[nodiscard]] std::vector<std::string> spread_names(const CampaignModel& model);

/// The standard deviation that a column of the draws holds; nullptr for a parameter.
[[nodiscard]] double Spread::*spread_member(const std::string& column);

/// Exact derivatives against central differences, at the priors' medians and at u (if not empty).
struct GradientCheck {
  struct Row {
    std::string parameter;
    double      worst = 0.0;  ///< largest difference over the largest slope of that parameter
  };
  std::vector<Row> rows;
  double allowed = 0.0;  ///< what the tolerance of the integration and the step of the differences permit
  [[nodiscard]] bool passed() const;
};
[[nodiscard]] GradientCheck check_gradient(const CampaignModel& model, const Eigen::VectorXd& u);

/// A sentence for each standard deviation that was found beyond the range of its field, so that `fitted_scenario` holds less than was found.
[[nodiscard]] std::vector<std::string> scatter_out_of_range(const CampaignModel& model,
                                                            const FitPoint&      point);

/// A scenario with the fitted numbers in it, scatter included; what of it lies beyond the range of its field is put at the end.
[[nodiscard]] Scenario fitted_scenario(const CampaignModel& model, const FitPoint& point);

}  // namespace arris
