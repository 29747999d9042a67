// SPDX-License-Identifier: MIT
#include "sim/fit/free_parameters.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"

namespace arris {
namespace {

double transform(const Prior& prior, double value) {
  switch (prior.shape) {
    case PriorShape::log_normal:
      return std::log(value + prior.shift);
    case PriorShape::logit_normal:
      return std::log(value / (1.0 - value));
    case PriorShape::normal:
      break;
  }
  return value;
}

double spread_of(const Prior& prior) {
  return prior.shape == PriorShape::log_normal ? std::log(prior.spread) : prior.spread;
}

}  // namespace

double FreeParameter::value(double u) const {
  const double t = transform(prior, prior.centre) + spread_of(prior) * u;
  switch (prior.shape) {
    case PriorShape::log_normal:
      return prior.shift > 0.0 ? std::max(std::exp(t) - prior.shift, low) : std::exp(t);
    case PriorShape::logit_normal:
      return 1.0 / (1.0 + std::exp(-t));
    case PriorShape::normal:
      break;
  }
  return t;
}

double FreeParameter::scaled(double v) const {
  return (transform(prior, v) - transform(prior, prior.centre)) / spread_of(prior);
}

double FreeParameter::slope(double u) const {
  const double v = value(u);
  switch (prior.shape) {
    case PriorShape::log_normal:
      return spread_of(prior) * (v + prior.shift);
    case PriorShape::logit_normal:
      return spread_of(prior) * v * (1.0 - v);
    case PriorShape::normal:
      break;
  }
  return spread_of(prior);
}

namespace {

// from the scaled end inwards, by rounding errors, until the value lies within the range
double inwards(double u, double sign, const std::function<bool(double)>& within) {
  if (!std::isfinite(u)) return u;
  double step = 0.0;
  while (!within(u + sign * step)) step = step == 0.0 ? 1e-15 * std::max(1.0, std::abs(u)) : 2.0 * step;
  return u + sign * step;
}

}  // namespace

double FreeParameter::lowest() const {
  const bool reached = prior.shape == PriorShape::normal ? std::isfinite(low) : low + prior.shift > 0.0;
  if (!reached) return -std::numeric_limits<double>::infinity();
  return inwards(scaled(low), 1.0, [this](double u) { return value(u) >= low; });
}

double FreeParameter::highest() const {
  const bool reached = std::isfinite(high) && (prior.shape != PriorShape::logit_normal || high < 1.0);
  if (!reached) return std::numeric_limits<double>::infinity();
  return inwards(scaled(high), -1.0, [this](double u) { return value(u) <= high; });
}

bool FreeParameter::is_at_bound(double u) const {
  const auto near = [u](double end) {
    return std::isfinite(end) && std::abs(u - end) <= 1e-8 * std::max(1.0, std::abs(end));
  };
  return near(lowest()) || near(highest());
}

std::string FreeParameter::short_name() const {
  std::string name = path;
  const auto  last = name.rfind('.');
  std::string key  = name.substr(last + 1);
  if (const Unit* u = unit_of(key)) key.resize(key.size() - u->suffix.size() - 1);
  std::replace(key.begin(), key.end(), '_', ' ');
  const auto first = name.find('.');
  if (first == last) return key;
  return key + " of " + name.substr(first + 1, last - first - 1);
}

std::string FreeParameter::says() const {
  const auto        first = path.find('.'), last = path.rfind('.');
  const std::string what = doc.empty() ? short_name() : doc;
  return first == last ? what : what + ", " + path.substr(first + 1, last - first - 1);
}

FreeParameter free_parameter(const Model<double>& model, const std::string& path) {
  return free_parameter(model, path, {});
}

FreeParameter free_parameter(const Model<double>& model, const std::string& path,
                             const std::map<std::string, Prior>& stated) {
  FreeParameter found;
  Model<double> copy = model;
  bool          seen = false;
  for_each_number(copy, [&](const std::string& at, const Field& field, double& number) {
    if (at != path) return;
    seen                 = true;
    found.path           = path;
    found.doc            = std::string(field.doc);
    found.unit           = std::string(field.unit_symbol());
    found.low            = field.low;
    found.high           = field.high;
    found.prior_rests_on = field.status.empty() ? "the value stated" : std::string(field.status);
    const bool share     = field.low == 0.0 && field.high == 1.0;
    if (const auto prior = stated.find(path); prior != stated.end()) {
      found.prior          = prior->second;
      found.prior_rests_on = "stated";
    } else if (field.prior_factor > 1.0 && number > 0.0) {
      found.prior = {PriorShape::log_normal, number, field.prior_factor};
    } else if (share && number > 0.0 && number < 1.0) {
      found.prior = {PriorShape::logit_normal, number, 1.0};
    } else {
      throw Error(Exit::usage,
                  {.code = "not-fittable",
                   .what = fmt::format("\"{}\" has no prior, so it cannot be free", path),
                   .next = fmt::format("Give it one: [prior.\"{}\"] median = …, factor = …", path),
                   .key  = path});
    }
  });
  if (!seen) {
    throw Error(Exit::usage,
                {.code  = "unknown-parameter",
                 .what  = fmt::format("the model has no parameter \"{}\"", path),
                 .cause = "Only materials and tools that the configuration uses have parameters.",
                 .next  = "`arris check` prints all of them: TABLE.KEY, or TABLE.NAME.KEY.",
                 .key   = path});
  }
  return found;
}

std::vector<std::string> fittable_parameters(const Model<double>& model) {
  std::vector<std::string> out;
  Model<double>            copy = model;
  for_each_number(copy, [&](const std::string& path, const Field& field, double& number) {
    const bool share = field.low == 0.0 && field.high == 1.0 && number > 0.0 && number < 1.0;
    if ((field.prior_factor > 1.0 && number > 0.0) || share) out.push_back(path);
  });
  return out;
}

Model<double> with_parameters(const Model<double>& model, const std::vector<FreeParameter>& parameters,
                              const Eigen::VectorXd& u) {
  Model<double> out  = model;
  const auto    here = places(out, parameters);
  for (std::size_t i = 0; i < parameters.size(); ++i)
    *here[i] = parameters[i].value(u[static_cast<Eigen::Index>(i)]);
  return out;
}

}  // namespace arris
