// SPDX-License-Identifier: MIT
#include "sim/studies/periods/periods.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/fit/confounding.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "sim/statistics/t_tests.hpp"
#include "sim/statistics/variance_components.hpp"
#include "sim/studies/readings/read_campaign.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

const std::array<std::string, 3> lengths{"years", "months", "days"};

std::string period_of(const Reading& r, PeriodLength length) {
  if (length == PeriodLength::day) return r.test_day;
  const std::size_t letters = length == PeriodLength::year ? 4 : 7;
  return r.date.substr(0, letters);
}

/// Readings that count and have a date, with what stands behind each.
struct Dated {
  std::vector<const Reading*> readings;
  std::vector<std::string>    period, kind, edge;  ///< by reading
  int                         undated = 0;
};

// kinds at a moment by edge and moment
std::map<std::pair<std::string, std::string>, std::string> kinds_by_cell(const ReadCampaign& campaign) {
  std::map<std::pair<std::string, std::string>, std::string> out;
  for (const ReadKind& kind : campaign.kinds) {
    for (const std::string& edge : kind.edges)
      out[{edge, kind.moment}] = fmt::format("{}, {}", kind.name, kind.moment);
  }
  return out;
}

Dated dated(const Scenario& scenario, const std::vector<Reading>& readings, PeriodLength length) {
  const auto kinds = kinds_by_cell(read_campaign(scenario, readings, nullptr, 1));
  Dated      out;
  for (const Reading& r : readings) {
    if (!r.excluded.empty() || std::isnan(r.reading_N)) continue;
    const std::string& edge   = scenario.edges[static_cast<std::size_t>(r.edge)].name;
    const std::string  period = period_of(r, length);
    const auto         kind   = kinds.find({edge, r.moment_name});
    if (period.empty() || kind == kinds.end()) {
      ++out.undated;
      continue;
    }
    out.readings.push_back(&r);
    out.period.push_back(period);
    out.kind.push_back(kind->second);
    out.edge.push_back(edge);
  }
  return out;
}

// the same levels in alphabetical order, in which dates are in theirs
Levels in_order(const Levels& levels) {
  Levels out = levels;
  std::sort(out.names.begin(), out.names.end());
  for (int& of : out.of) {
    const std::string& name = levels.names[static_cast<std::size_t>(of)];
    of = static_cast<int>(std::lower_bound(out.names.begin(), out.names.end(), name) - out.names.begin());
  }
  return out;
}

Eigen::MatrixXd indicators_of(const Levels& levels) {
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(std::ssize(levels.of), std::ssize(levels.names));
  for (std::size_t i = 0; i < levels.of.size(); ++i) out(static_cast<Eigen::Index>(i), levels.of[i]) = 1.0;
  return out;
}

/// The model of all readings; which column is that of a period.
struct PeriodModel {
  MixedModel                mixed;
  std::vector<Eigen::Index> column_of;  ///< by period; −1: the first, or one that cannot be told
};

// columns of kinds, operators and lots as far as they tell something; then those of the periods that can be told from the first
PeriodModel model_of_periods(const Dated& rows, const Levels& periods, const std::vector<Levels>& beside,
                             const std::vector<ReadPeriod>& told) {
  Eigen::MatrixXd fixed(std::ssize(rows.readings), 0);
  const auto      add = [&](const Eigen::VectorXd& column) {
    Eigen::MatrixXd wider(fixed.rows(), fixed.cols() + 1);
    wider << fixed, column;
    if (rank_of(wider) < wider.cols()) return false;
    fixed = std::move(wider);
    return true;
  };
  PeriodModel           out;
  const Eigen::MatrixXd of_period = indicators_of(periods);
  out.column_of.assign(periods.names.size(), -1);
  for (const Levels& levels : beside) {
    const Eigen::MatrixXd columns = indicators_of(levels);
    for (Eigen::Index j = 0; j < columns.cols(); ++j) add(columns.col(j));
  }
  for (std::size_t k = 1; k < periods.names.size(); ++k) {
    const bool is_in = add(of_period.col(static_cast<Eigen::Index>(k)));
    if (is_in && told[k].confounded.empty()) out.column_of[k] = fixed.cols() - 1;
  }
  const Eigen::MatrixXd edges = indicators_of(levels_of("edge", "edges", rows.edge, ""));
  MixedModel&           m     = out.mixed;
  m.design.resize(fixed.rows(), fixed.cols() + edges.cols());
  m.design << fixed, edges;
  m.response.resize(fixed.rows());
  for (Eigen::Index i = 0; i < fixed.rows(); ++i)
    m.response[i] = std::log(rows.readings[static_cast<std::size_t>(i)]->reading_N);
  m.weights  = Eigen::VectorXd::Ones(fixed.rows());
  m.known_sd = Eigen::VectorXd::Zero(fixed.rows());
  m.group.assign(static_cast<std::size_t>(fixed.cols()), MixedModel::flat);
  m.group.insert(m.group.end(), static_cast<std::size_t>(edges.cols()), 0);
  m.groups = 1;
  return out;
}

// what is left of readings and of edges once all fixed effects are taken out
bool leaves_scatter(const MixedModel& m) {
  const auto fixed = std::count(m.group.begin(), m.group.end(), MixedModel::flat);
  return rank_of(m.design) > fixed && m.design.rows() > rank_of(m.design);
}

// (XᵀX/σ² + 1/τ²)⁻¹ and the coefficients: β of mixed-model equations
void estimate(const PeriodModel& model, PeriodComparison& out) {
  constexpr double         level = 0.9;
  const MixedModel&        m     = model.mixed;
  const VarianceComponents found = variance_components(m, {0.1, 0.1});
  if (!found.converged) return;
  out.reading_sd            = found.residual_sd;
  out.edge_sd               = found.group_sd[0];
  Eigen::MatrixXd precision = m.design.transpose() * m.design / (found.residual_sd * found.residual_sd);
  for (Eigen::Index j = 0; j < precision.cols(); ++j) {
    if (m.group[static_cast<std::size_t>(j)] == 0)
      precision(j, j) += 1.0 / (found.group_sd[0] * found.group_sd[0]);
  }
  const Eigen::MatrixXd covariance = inverse_symmetric(precision);
  const Eigen::VectorXd beta =
      covariance * (m.design.transpose() * m.response) / (found.residual_sd * found.residual_sd);
  for (std::size_t k = 0; k < out.periods.size(); ++k) {
    const Eigen::Index column = model.column_of[k];
    if (column < 0) continue;
    Eigen::MatrixXd along = Eigen::MatrixXd::Zero(m.design.cols(), 1);
    along(column, 0)      = 1.0;
    const double dof      = degrees_of_freedom(m, {found.residual_sd, found.group_sd[0]}, along)[0];
    const double se       = std::sqrt(covariance(column, column));
    if (!(se > 0.0) || !(dof >= 1.0)) continue;
    const TTest t        = t_test(beta[column], se, dof, level);
    out.periods[k].ratio = {std::exp(t.low), std::exp(t.difference), std::exp(t.high)};
    out.periods[k].p     = t.p;
  }
}

std::vector<ReadPeriod> counted_periods(const Dated& rows, const Levels& periods, const Levels& kinds,
                                        const std::vector<Levels>& beside) {
  std::vector<ReadPeriod> out;
  std::set<int>           of_first;
  for (std::size_t k = 0; k < periods.names.size(); ++k) {
    ReadPeriod            p{.name = periods.names[k]};
    std::set<int>         met;
    std::set<std::string> edges;
    for (std::size_t i = 0; i < rows.readings.size(); ++i) {
      if (periods.of[i] != static_cast<int>(k)) continue;
      ++p.readings;
      met.insert(kinds.of[i]);
      edges.insert(rows.edge[i]);
    }
    if (k == 0) of_first = met;
    p.edges = static_cast<int>(edges.size());
    p.kinds = static_cast<int>(
        std::count_if(met.begin(), met.end(), [&](int kind) { return of_first.count(kind) > 0; }));
    if (k > 0 && p.kinds == 0)
      p.confounded = fmt::format(
          "No way of sharpening was read at the same moment in {} and in {}, so that a change cannot be told from a difference of ways.",
          periods.names.front(), p.name);
    else if (k > 0)
      p.confounded = confounding_sentence(periods, 0, static_cast<int>(k), beside);
    out.push_back(std::move(p));
  }
  return out;
}

}  // namespace

PeriodLength period_length(const std::string& word) {
  const auto at = std::find(lengths.begin(), lengths.end(), word);
  if (at == lengths.end())
    throw Error(Exit::usage, {.code    = "bad-option",
                              .what    = fmt::format("\"{}\" is no length of a period", printable(word)),
                              .allowed = or_list({lengths.begin(), lengths.end()}),
                              .next    = did_you_mean(word, {lengths.begin(), lengths.end()}),
                              .key     = "between"});
  return static_cast<PeriodLength>(at - lengths.begin());
}

const std::string& name_of(PeriodLength length) { return lengths[static_cast<std::size_t>(length)]; }

PeriodComparison compare_periods(const Scenario& scenario, const std::vector<Reading>& readings,
                                 PeriodLength length) {
  const std::string& many = name_of(length);
  const std::string  one  = many.substr(0, many.size() - 1);
  const Dated        rows = dated(scenario, readings, length);
  if (rows.readings.empty())
    throw Error(Exit::data, {.code = "no-dates",
                             .what = fmt::format("no reading that counts has a {}",
                                                 length == PeriodLength::day ? "date or a test day" : "date"),
                             .next = "Give a column date (2026-05-30)."});
  const Levels periods = in_order(levels_of(one, many, rows.period, ""));
  if (periods.names.size() < 2)
    throw Error(Exit::data, {.code = "one-period",
                             .what = fmt::format("all {} with a date are of one {}, {}",
                                                 counted(std::ssize(rows.readings), "reading"), one,
                                                 printable(periods.names.front())),
                             .next = length == PeriodLength::day
                                         ? "Read again on another day."
                                         : "Ask for shorter periods: --between months, or days."});
  const Levels        kinds = in_order(levels_of("way and moment", "ways and moments", rows.kind, ""));
  std::vector<Levels> beside{kinds};
  PeriodComparison    out;
  out.length  = length;
  out.undated = rows.undated;
  for (Levels& levels : circumstances_of(rows.readings)) {
    if (levels.one == "test day") continue;
    out.allowed_for.push_back(levels.many);
    beside.push_back(std::move(levels));
  }
  out.periods             = counted_periods(rows, periods, kinds, beside);
  const PeriodModel model = model_of_periods(rows, periods, beside, out.periods);
  if (leaves_scatter(model.mixed)) estimate(model, out);
  return out;
}

}  // namespace arris
