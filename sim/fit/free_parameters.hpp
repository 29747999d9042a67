// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/history/model.hpp"

/// The parameters that a fit may change, on a scale on which every prior is a standard normal.
///
///     u = ( t(value) − t(median) )/s,    t = log, logit or identity
///
/// t is log for quantities that are positive (log-normal prior, s = log of the geometric standard deviation), logit for
/// shares between 0 and 1, and the identity where a prior is stated as mean and standard deviation. Of a quantity that may be 0 t is
/// log(value + shift), so that 0 is no farther than other values; what lies below the range counts as the end of it.
namespace arris {

enum class PriorShape { log_normal, logit_normal, normal };

struct Prior {
  PriorShape shape  = PriorShape::log_normal;
  double     centre = 1.0;  ///< median (or mean)
  double     spread =
      2.0;  ///< geometric standard deviation, standard deviation of the logit, or standard deviation
  double shift = 0.0;  ///< of a log-normal prior: value + shift is log-normal; in units of the value, ≥ 0
};

struct FreeParameter {
  std::string path;  ///< as a configuration writes it, "tester.slope_N_per_um"
  std::string doc;
  std::string unit;  ///< symbol, may be empty
  double      low  = 0.0;
  double      high = 0.0;
  Prior       prior;
  std::string prior_rests_on;

  [[nodiscard]] double value(double u) const;
  [[nodiscard]] double scaled(double value) const;
  /// d value/d u at u.
  [[nodiscard]] double slope(double u) const;
  /// The scaled values at the ends of the range, so that value() lies within it there; infinite where there is no end, or
  /// none that the prior's shape can reach.
  [[nodiscard]] double lowest() const;
  [[nodiscard]] double highest() const;
  /// Whether a scaled value lies at an end of the range, but for rounding.
  [[nodiscard]] bool is_at_bound(double u) const;
  /// A short name for sentences: the last part of the path with blanks, "slope".
  [[nodiscard]] std::string short_name() const;
  /// What it is, for people: its explanation, and of which tool or medium, "apex radius at the start, jack iron".
  [[nodiscard]] std::string says() const;
};

/// The free parameter `path` of `model` with its default prior: centred on the present value with the factor of its
/// field; shares without a factor get a logit-normal prior of spread 1. Throws Error (Exit::usage): "unknown-parameter"
/// with a suggestion, "not-fittable" for one without any prior.
[[nodiscard]] FreeParameter free_parameter(const Model<double>& model, const std::string& path);

/// As above, with stated priors (by path) in the place of default ones.
[[nodiscard]] FreeParameter free_parameter(const Model<double>& model, const std::string& path,
                                           const std::map<std::string, Prior>& stated);

/// All paths that can be free.
[[nodiscard]] std::vector<std::string> fittable_parameters(const Model<double>& model);

/// Places of the free parameters in a model over T; stays valid while the model is not resized or moved.
template <class T>
std::vector<T*> places(Model<T>& model, const std::vector<FreeParameter>& parameters) {
  std::vector<T*> out(parameters.size(), nullptr);
  for_each_number(model, [&](const std::string& path, const Field&, T& number) {
    for (std::size_t i = 0; i < parameters.size(); ++i) {
      if (parameters[i].path == path) out[i] = &number;
    }
  });
  return out;
}

/// `model` with the parameters set to scaled values u (one per parameter).
[[nodiscard]] Model<double> with_parameters(const Model<double>&              model,
                                            const std::vector<FreeParameter>& parameters,
                                            const Eigen::VectorXd&            u);

}  // namespace arris
