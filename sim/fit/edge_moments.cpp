// SPDX-License-Identifier: MIT
#include "sim/fit/edge_moments.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

#include "sim/simulate/way.hpp"

namespace arris {
Phase phase_at(const EdgePlan& plan, const Moment& moment) {
  bool  worked = false;
  Phase out{"as they came", passes_since_sharpened(plan, moment)};
  for (std::size_t i = 0; i < plan.steps.size() && static_cast<int>(i) <= moment.step; ++i) {
    const Step& step = plan.steps[i];
    if (const auto* cut = std::get_if<CutStep>(&step)) {
      const bool here = static_cast<int>(i) == moment.step && !std::isnan(moment.count);
      worked          = worked || (here ? moment.count : cut->passes) > 0.0;
    } else if (std::holds_alternative<StropStep>(step)) {
      out.says = worked ? "touched up" : "after the strop";
    } else if (std::holds_alternative<HoneStep>(step) || std::holds_alternative<BackStep>(step)) {
      out.says = worked ? "touched up" : "off the stones";
    }
  }
  return out;
}

namespace {

// at most five classes of passes, with about as many moments in each
std::vector<double> class_ends(const std::vector<EdgeMoment>& moments) {
  std::vector<double> passes;
  for (const EdgeMoment& m : moments) {
    if (m.phase.passes > 0.0) passes.push_back(m.phase.passes);
  }
  std::sort(passes.begin(), passes.end());
  const std::vector<double> all = passes;
  std::vector<double>       ends;
  constexpr std::size_t     most = 5;
  passes.erase(std::unique(passes.begin(), passes.end()), passes.end());
  if (passes.size() <= most + 1) return passes;
  for (std::size_t k = 1; k <= most; ++k) ends.push_back(all[k * all.size() / most - 1]);
  ends.erase(std::unique(ends.begin(), ends.end()), ends.end());
  return ends;
}

void put_into_classes(std::vector<EdgeMoment>& moments) {
  const std::vector<double>                   ends = class_ends(moments);
  std::map<double, std::pair<double, double>> spans;
  const auto class_of = [&](double passes) { return *std::lower_bound(ends.begin(), ends.end(), passes); };
  for (const EdgeMoment& m : moments) {
    if (!(m.phase.passes > 0.0)) continue;
    auto& span  = spans.try_emplace(class_of(m.phase.passes), m.phase.passes, m.phase.passes).first->second;
    span.first  = std::min(span.first, m.phase.passes);
    span.second = std::max(span.second, m.phase.passes);
  }
  for (EdgeMoment& m : moments) {
    m.when = m.phase.says;
    if (!(m.phase.passes > 0.0)) continue;
    const auto& [from, to] = spans.at(class_of(m.phase.passes));
    m.when                 = from == to ? fmt::format("after {:.0f} passes", from)
                                        : fmt::format("after {:.0f} to {:.0f} passes", from, to);
  }
}

// whether an effect is of the edge or of how it was sharpened, not of who read it and with what
bool is_of_edge(EffectKind kind) {
  return kind == EffectKind::edge || kind == EffectKind::rate || kind == EffectKind::way ||
         kind == EffectKind::way_wear || kind == EffectKind::wood;
}

// whether it is luck of one edge alone
bool is_luck(EffectKind kind) { return kind == EffectKind::edge || kind == EffectKind::rate; }

// log of measured over what the model says without effects of these kinds
Eigen::VectorXd residuals_without(bool (*left_out)(EffectKind), const CampaignModel& model,
                                  const FitPoint& point) {
  Eigen::VectorXd effects = point.effects, f;
  for (Eigen::Index j = 0; j < effects.size(); ++j) {
    if (left_out(model.effects()[static_cast<std::size_t>(j)].kind)) effects[j] = 0.0;
  }
  model.observe(model.apex(point.u, false), effects, f, nullptr, nullptr);
  return model.measured() - f;
}

}  // namespace

std::vector<EdgeMoment> edge_moments(const CampaignModel& model, const FitPoint& point,
                                     const Information& information) {
  const Eigen::VectorXd             of_mean = residuals_without(is_of_edge, model, point);
  const Eigen::VectorXd             of_kind = residuals_without(is_luck, model, point);
  const Eigen::VectorXd             of_edge = model.measured() - information.predicted;
  std::map<std::size_t, EdgeMoment> by_moment;
  for (Eigen::Index i = 0; i < model.size(); ++i) {
    const Observation& o = model.observations()[static_cast<std::size_t>(i)];
    if (o.kind != Observation::Kind::reading) continue;
    EdgeMoment& m = by_moment[model.flat_moment(o)];
    if (m.readings == 0) {
      m.edge   = o.edge;
      m.moment = o.moment;
      m.first  = o.reading;
      m.phase  = phase_at(model.scenario().edges[static_cast<std::size_t>(o.edge)], model.moment_of(o));
    }
    ++m.readings;
    m.of_mean += of_mean[i];
    m.of_kind += of_kind[i];
    m.of_edge += of_edge[i];
    m.measured += o.log_value;
  }
  std::vector<EdgeMoment> out;
  for (auto& [place, m] : by_moment) {
    m.of_mean /= m.readings;
    m.of_kind /= m.readings;
    m.of_edge /= m.readings;
    m.measured /= m.readings;
    out.push_back(std::move(m));
  }
  put_into_classes(out);
  return out;
}

}  // namespace arris
