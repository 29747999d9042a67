// SPDX-License-Identifier: MIT
#include "sim/studies/gauge/gauge.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/fit/confounding.hpp"
#include "sim/statistics/distributions.hpp"
#include "sim/statistics/power.hpp"
#include "sim/studies/gauge/gauge_components.hpp"

namespace arris {
namespace {

Eigen::MatrixXd beside(const Eigen::MatrixXd& left, const Eigen::MatrixXd& right) {
  Eigen::MatrixXd both(left.rows(), left.cols() + right.cols());
  both.leftCols(left.cols())   = left;
  both.rightCols(right.cols()) = right;
  return both;
}

// p of |t|, two-sided
double chance_of(double t, double df) { return 2.0 * t_above(std::abs(t), df); }

GaugeEffect effect(double value, double se, double df, double risk) {
  const double reach = se * t_quantile_above(0.5 * risk, df);
  return {value, {value - reach, value + reach}, se > 0.0 ? chance_of(value / se, df) : not_given};
}

// Effects of all levels from the coefficients of sum_to_zero columns first … first + levels − 2.
std::vector<GaugeEffect> effects_of(const WithinFit& fit, Eigen::Index first, int levels, double variance,
                                    double df, double risk) {
  std::vector<GaugeEffect> out;
  const Eigen::Index       m = levels - 1;
  for (int level = 0; level < levels; ++level) {
    Eigen::VectorXd a = Eigen::VectorXd::Zero(fit.coefficient.size());
    if (level + 1 < levels) {
      a[first + level] = 1.0;
    } else {
      a.segment(first, m).setConstant(-1.0);
    }
    out.push_back(effect(a.dot(fit.coefficient), std::sqrt(variance * a.dot(fit.unscaled * a)), df, risk));
  }
  return out;
}

// The readings that count, and the names behind their numbers.
struct Table {
  std::vector<std::size_t> reading;  // index into the readings given
  GaugeDesign              design;
  std::vector<std::string> parts, persons, lots;
  std::vector<int>         lot;
  std::vector<double>      order;  // number of the reading among all
};

int number_of(std::vector<std::string>& names, std::map<std::string, int>& numbers, const std::string& name) {
  const auto [at, is_new] = numbers.emplace(name, static_cast<int>(names.size()));
  if (is_new) names.push_back(name);
  return at->second;
}

Table table_of(const std::vector<GaugeReading>& readings, GaugeScale scale) {
  Table                              t;
  std::map<std::string, int>         parts, persons, lots;
  std::map<std::pair<int, int>, int> cells;
  std::vector<double>                y;
  std::set<std::string>              people, filaments;  // listed in the order of their names
  for (const GaugeReading& r : readings) {
    if (!r.excluded.empty() || std::isnan(r.reading_gf)) continue;
    people.insert(r.operator_name);
    filaments.insert(r.filament_lot);
  }
  for (const std::string& name : people) number_of(t.persons, persons, name);
  for (const std::string& name : filaments) number_of(t.lots, lots, name);
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const GaugeReading& r = readings[i];
    if (!r.excluded.empty() || std::isnan(r.reading_gf)) continue;
    if (scale == GaugeScale::logarithm && !(r.reading_gf > 0.0)) {
      throw Error(Exit::data,
                  {.code = "negative-force",
                   .what = fmt::format("the reading in line {} is not above 0 and has no logarithm", r.line),
                   .allowed = "above 0",
                   .next    = "Correct it, or judge on the linear scale."});
    }
    t.reading.push_back(i);
    t.order.push_back(static_cast<double>(i));
    y.push_back(scale == GaugeScale::logarithm ? std::log(r.reading_gf) : r.reading_gf);
    t.design.part.push_back(number_of(t.parts, parts, r.part()));
    t.design.person.push_back(number_of(t.persons, persons, r.operator_name));
    t.lot.push_back(number_of(t.lots, lots, r.filament_lot));
    t.design.cell.push_back(cells
                                .emplace(std::make_pair(t.design.part.back(), t.design.person.back()),
                                         static_cast<int>(cells.size()))
                                .first->second);
  }
  t.design.y       = Eigen::Map<Eigen::VectorXd>(y.data(), static_cast<Eigen::Index>(y.size()));
  t.design.parts   = static_cast<int>(t.parts.size());
  t.design.persons = static_cast<int>(t.persons.size());
  t.design.cells   = static_cast<int>(cells.size());
  return t;
}

void check(const std::vector<GaugeReading>& readings, const Table& t, const GaugeSettings& settings) {
  const auto fault = [&](const char* code, std::string what, std::string cause, std::string next) {
    return Error(Exit::data, {.code  = code,
                              .what  = std::move(what),
                              .cause = std::move(cause),
                              .next  = std::move(next),
                              .file  = settings.source});
  };
  if (t.reading.empty())
    throw fault("no-readings", "there is no tester reading that counts", "All are missing or excluded.", "");
  if (t.design.parts < 2) {
    throw fault("one-part", fmt::format("all readings are of one edge, {}", t.parts.front()),
                "Whether the tester tells edges apart cannot be judged from one.",
                "Read a second edge, better ten between keen and dull.");
  }
  if (!settings.repeatability_only) {
    if (t.persons.size() > 1) {
      for (const std::size_t i : t.reading) {
        if (!readings[i].operator_name.empty()) continue;
        throw fault("missing-operator",
                    fmt::format("the reading in line {} does not say who took it", readings[i].line),
                    "Other readings do.", "Name the operator, or ask for --repeatability alone.");
      }
    }
    if (t.persons.size() == 1) {
      const std::string& name = t.persons.front();
      throw fault(
          "one-operator",
          name.empty()
              ? std::string("the readings do not say who took them, so that operators cannot be compared")
              : fmt::format("all readings are by one operator, {}, so that operators cannot be compared",
                            name),
          "", "Let a second operator read the same edges, or ask for --repeatability alone.");
    }
  }
  if (t.design.size() == t.design.cells) {
    throw fault(
        "one-replicate",
        "no edge was read twice by the same operator, so that nothing tells how far a reading repeats", "",
        "Read each edge at least twice, better three times.");
  }
  if (t.design.y.maxCoeff() == t.design.y.minCoeff())
    throw fault("no-scatter", "all readings are equal",
                "The tester does not answer, or a number was copied down.",
                "Check the tester on a keen and a dull edge.");
}

void count(const Table& t, GaugeResult& result) {
  std::vector<int> in_cell(static_cast<std::size_t>(t.design.cells), 0);
  for (const int cell : t.design.cell) ++in_cell[static_cast<std::size_t>(cell)];
  result.readings         = static_cast<int>(t.design.size());
  result.parts            = t.design.parts;
  result.operators        = t.design.persons;
  result.cells            = t.design.cells;
  result.least_replicates = *std::min_element(in_cell.begin(), in_cell.end());
  result.most_replicates  = *std::max_element(in_cell.begin(), in_cell.end());
  result.balanced         = result.least_replicates == result.most_replicates &&
                    (!result.crossed || t.design.cells == t.design.parts * t.design.persons);
}

// Operators: means, effects on equal edges, and how far each repeats.
void judge_operators(const Table& t, const WithinFit& additive, double variance, double df, double risk,
                     GaugeResult& result) {
  const GaugeDesign&  d = t.design;
  std::vector<double> squares(t.persons.size(), 0.0), free(t.persons.size(), 0.0);
  const WithinFit     apart = within_fit(d.y, d.cell, d.cells, Eigen::MatrixXd(d.size(), 0));
  result.operator_rows.resize(t.persons.size());
  for (Eigen::Index i = 0; i < d.size(); ++i) {
    const auto     person = static_cast<std::size_t>(d.person[static_cast<std::size_t>(i)]);
    GaugeOperator& row    = result.operator_rows[person];
    ++row.readings;
    row.mean += d.y[i];
    squares[person] += apart.residual[i] * apart.residual[i];
    free[person] += 1.0 - apart.leverage[i];  // of a cell with n readings: n − 1 in all
  }
  for (std::size_t o = 0; o < t.persons.size(); ++o) {
    GaugeOperator& row = result.operator_rows[o];
    row.name           = t.persons[o];
    row.mean /= row.readings;
    if (free[o] > 0.5) row.own_sd = std::sqrt(squares[o] / free[o]);
  }
  if (!result.crossed || !additive.full_rank) return;
  const auto effects = effects_of(additive, 0, d.persons, variance, df, risk);
  for (std::size_t o = 0; o < effects.size(); ++o) result.operator_rows[o].effect = effects[o];
  const WithinFit without = within_fit(d.y, d.part, d.parts, Eigen::MatrixXd(d.size(), 0));
  const double    F =
      (without.sum_squares - additive.sum_squares) / static_cast<double>(d.persons - 1) / variance;
  result.operators_p = f_above(std::max(0.0, F), d.persons - 1, df);
}

// Filament lots beside the edges and operators; returns their columns where they can be compared.
Eigen::MatrixXd judge_lots(const Table& t, const std::vector<int>& group, int groups,
                           const Eigen::MatrixXd& columns, const WithinFit& base, double risk,
                           GaugeResult& result) {
  const Eigen::Index n    = t.design.size();
  const int          lots = static_cast<int>(t.lots.size());
  result.lots.resize(t.lots.size());
  for (Eigen::Index i = 0; i < n; ++i) {
    GaugeLot& row = result.lots[static_cast<std::size_t>(t.lot[static_cast<std::size_t>(i)])];
    ++row.readings;
    row.mean += t.design.y[i];
  }
  for (std::size_t l = 0; l < t.lots.size(); ++l) {
    result.lots[l].name = t.lots[l];
    result.lots[l].mean /= result.lots[l].readings;
  }
  if (lots < 2) return {n, 0};
  Eigen::MatrixXd of_lots = sum_to_zero(t.lot, lots);
  const WithinFit fit     = within_fit(t.design.y, group, groups, beside(of_lots, columns));
  if (fit.rank != base.rank + lots - 1 || !fit.full_rank || fit.df < 1.0) return {n, 0};
  const auto effects = effects_of(fit, 0, lots, fit.mean_square(), fit.df, risk);
  for (std::size_t l = 0; l < effects.size(); ++l) result.lots[l].effect = effects[l];
  const double F = (base.sum_squares - fit.sum_squares) / (lots - 1) / fit.mean_square();
  result.lots_p  = f_above(std::max(0.0, F), lots - 1, fit.df);
  return of_lots;
}

void judge_drift(const Table& t, const std::vector<int>& group, int groups, const Eigen::MatrixXd& columns,
                 double risk, GaugeResult& result) {
  const Eigen::MatrixXd hundreds = 0.01 * Eigen::Map<const Eigen::VectorXd>(t.order.data(), t.design.size());
  const WithinFit       fit      = within_fit(t.design.y, group, groups, beside(hundreds, columns));
  if (!fit.full_rank || fit.df < 1.0) return;
  result.drift = effect(fit.coefficient[0], std::sqrt(fit.mean_square() * fit.unscaled(0, 0)), fit.df, risk);
}

void judge_residuals(const std::vector<GaugeReading>& readings, const Table& t, const WithinFit& base,
                     const std::vector<int>& group, int groups, const Eigen::MatrixXd& columns, double risk,
                     GaugeScale scale, GaugeResult& result) {
  result.residuals.resize(readings.size());
  for (std::size_t i = 0; i < readings.size(); ++i) {
    result.residuals[i].reading  = i;
    result.residuals[i].excluded = !readings[i].excluded.empty();
  }
  std::map<std::pair<std::string, std::string>, std::pair<double, int>> cells;
  std::vector<Eigen::Index>                                             judged;
  for (Eigen::Index i = 0; i < t.design.size(); ++i) {
    GaugeResidual& row = result.residuals[t.reading[static_cast<std::size_t>(i)]];
    row.fitted         = t.design.y[i] - base.residual[i];
    row.residual       = base.residual[i];
    const auto& r      = readings[row.reading];
    auto&       cell   = cells[{r.part(), r.operator_name}];
    cell.first += t.design.y[i];
    ++cell.second;
    if (1.0 - base.leverage[i] > 1e-9 && base.df >= 2.0) judged.push_back(i);
  }
  std::vector<Eigen::Index> kept;
  for (const Eigen::Index i : judged) {
    GaugeResidual& row   = result.residuals[t.reading[static_cast<std::size_t>(i)]];
    const double   room  = 1.0 - base.leverage[i];
    const double   share = row.residual * row.residual / room / base.sum_squares;  // of all squares, up to 1
    row.others           = t.design.y[i] - row.residual / room;
    double p             = 0.0;  // where nothing else scatters at all
    if (share < 1.0 - 1e-12) {
      row.studentised = std::copysign(std::sqrt(share * (base.df - 1.0) / (1.0 - share)), row.residual);
      p               = chance_of(row.studentised, base.df - 1.0);
    }
    row.p       = std::min(1.0, p * static_cast<double>(judged.size()));
    row.outlier = row.p < risk;
  }
  // what was excluded stands beside the mean of those of its kind that were not
  for (GaugeResidual& row : result.residuals) {
    if (!row.excluded) continue;
    const auto found = cells.find({readings[row.reading].part(), readings[row.reading].operator_name});
    if (found != cells.end()) row.others = found->second.first / found->second.second;
    const double gf = readings[row.reading].reading_gf;
    if (std::isnan(row.others) || std::isnan(gf) || (scale == GaugeScale::logarithm && !(gf > 0.0))) continue;
    row.residual = (scale == GaugeScale::logarithm ? std::log(gf) : gf) - row.others;
  }
  // how far a reading repeats without the outliers; groups that lose all their readings go
  std::vector<Eigen::Index> rest;
  for (Eigen::Index i = 0; i < t.design.size(); ++i) {
    if (!result.residuals[t.reading[static_cast<std::size_t>(i)]].outlier) rest.push_back(i);
  }
  if (rest.size() == static_cast<std::size_t>(t.design.size())) return;
  std::vector<int>   numbers(static_cast<std::size_t>(groups), -1), fewer;
  int                left = 0;
  const Eigen::Index m    = static_cast<Eigen::Index>(rest.size());
  Eigen::VectorXd    y(m);
  Eigen::MatrixXd    x(m, columns.cols());
  for (Eigen::Index k = 0; k < m; ++k) {
    const Eigen::Index i  = rest[static_cast<std::size_t>(k)];
    int&               at = numbers[static_cast<std::size_t>(group[static_cast<std::size_t>(i)])];
    if (at < 0) at = left++;
    fewer.push_back(at);
    y[k]     = t.design.y[i];
    x.row(k) = columns.row(i);
  }
  const WithinFit without = within_fit(y, fewer, left, x);
  if (without.df >= 1.0) result.sd_without = std::sqrt(without.mean_square());
}

void judge_bias(const std::vector<GaugeReading>& readings, const Table& t, const GaugeSettings& settings,
                double sd, GaugeResult& result) {
  // a part by its whole name, or an edge that is one part
  std::vector<std::string> meant;
  for (const std::string& part : t.parts) {
    if (part == settings.reference) meant = {part};
  }
  if (meant.empty()) {
    std::set<std::string> found;
    for (const std::size_t i : t.reading) {
      if (readings[i].edge == settings.reference) found.insert(readings[i].part());
    }
    meant.assign(found.begin(), found.end());
  }
  if (meant.size() != 1) {
    const auto& choice = meant.empty() ? t.parts : meant;
    throw Error(
        Exit::usage,
        {.code = "unknown-edge",
         .what = meant.empty() ? fmt::format("no reading is of the reference edge \"{}\"", settings.reference)
                               : fmt::format("the reference edge \"{}\" was read at several moments",
                                             settings.reference),
         .allowed =
             fmt::format("{}", fmt::join(choice.begin(),
                                         choice.begin() + static_cast<std::ptrdiff_t>(
                                                              std::min<std::size_t>(12, choice.size())),
                                         "; ")) +
             (choice.size() > 12 ? " …" : ""),
         .next = meant.empty() ? "Name the edge as the readings do." : "Name the edge with its moment."});
  }
  result.reference = meant.front();
  const double truth =
      settings.scale == GaugeScale::logarithm ? std::log(settings.reference_gf) : settings.reference_gf;
  std::vector<int>    number(t.persons.size(), 0);
  std::vector<double> sum(t.persons.size(), 0.0);
  for (Eigen::Index i = 0; i < t.design.size(); ++i) {
    if (t.parts[static_cast<std::size_t>(t.design.part[static_cast<std::size_t>(i)])] != result.reference)
      continue;
    const auto person = static_cast<std::size_t>(t.design.person[static_cast<std::size_t>(i)]);
    ++number[person];
    sum[person] += t.design.y[i];
  }
  double mean = 0.0, inverse = 0.0, who = 0.0;
  int    all = 0;
  for (std::size_t o = 0; o < number.size(); ++o) {
    if (number[o] == 0) continue;
    const double own = sum[o] / number[o];
    mean += own;
    inverse += 1.0 / number[o];
    all += number[o];
    who += 1.0;
    result.bias.push_back({t.persons[o], number[o], own,
                           effect(own - truth, sd / std::sqrt(number[o]), result.df, settings.risk)});
  }
  mean /= who;
  const GaugeBias row{"all", all, mean,
                      effect(mean - truth, sd * std::sqrt(inverse) / who, result.df, settings.risk)};
  if (result.bias.size() == 1) result.bias.clear();
  result.bias.push_back(row);
}

void judge_replicates(const GaugeSettings& settings, double mean, const GaugeComponent& repeatability,
                      GaugeResult& result) {
  const double sd     = std::sqrt(repeatability.variance);
  const double lambda = noncentrality_for_power(result.df, settings.risk, settings.power);
  for (const int n : {1, 2, 3, 5, 10, 20}) {
    GaugeReplicates row{n, lambda * sd * std::sqrt(2.0 / n), not_given};
    if (n > 1)
      row.detectable_alone =
          noncentrality_for_power(2.0 * (n - 1), settings.risk, settings.power) * sd * std::sqrt(2.0 / n);
    result.replicates.push_back(row);
  }
  const double share      = 0.01 * settings.difference_pct;
  const double difference = settings.scale == GaugeScale::logarithm ? std::log1p(share) : share * mean;
  if (!(difference > 0.0)) return;  // percent of nothing
  const auto needed = [&](double variance) {
    return std::max(1.0, std::ceil(2.0 * variance * std::pow(lambda / difference, 2)));
  };
  result.needed = needed(repeatability.variance);
  if (!std::isnan(repeatability.interval.high)) result.needed_high = needed(repeatability.interval.high);
  // beyond a million, by the normal approximation, nobody counts them
  const bool countable =
      2.0 * std::pow(noncentrality_for_power(1e6, settings.risk, settings.power) * sd / difference, 2) < 1e6;
  result.needed_alone =
      countable
          ? std::max(2.0, std::ceil(per_group_two_sample_t(difference / sd, settings.power, settings.risk)))
          : std::numeric_limits<double>::infinity();
}

// why operators cannot be told from lots or days; empty where they can
std::string confounding_of_operators(const std::vector<GaugeReading>& readings) {
  std::vector<std::string> operators, lots, days;
  for (const GaugeReading& r : readings) {
    if (!r.excluded.empty()) continue;
    operators.push_back(r.operator_name);
    lots.push_back(r.filament_lot);
    days.push_back(r.test_day.empty() ? r.date : r.test_day);
  }
  std::vector<Levels> beside{levels_of("filament lot", "filament lots", lots, "nobody named"),
                             levels_of("test day", "test days", days, "nobody named")};
  std::erase_if(beside, [](const Levels& levels) { return levels.names.size() < 2; });
  return first_confounding(levels_of("operator", "operators", operators, "nobody named"), beside);
}

}  // namespace

const GaugeComponent* GaugeResult::component(const std::string& name) const {
  const auto found = std::find_if(components.begin(), components.end(),
                                  [&](const GaugeComponent& c) { return c.name == name; });
  return found == components.end() ? nullptr : &*found;
}

GaugeResult gauge(const std::vector<GaugeReading>& readings, const GaugeSettings& settings) {
  const Table t = table_of(readings, settings.scale);
  check(readings, t, settings);
  const GaugeDesign& d = t.design;

  GaugeResult result;
  result.excluded = static_cast<int>(std::count_if(
      readings.begin(), readings.end(), [](const GaugeReading& r) { return !r.excluded.empty(); }));
  const Eigen::MatrixXd none(d.size(), 0);
  const Eigen::MatrixXd persons  = sum_to_zero(d.person, d.persons);
  const WithinFit       apart    = within_fit(d.y, d.cell, d.cells, none);
  const WithinFit       additive = within_fit(d.y, d.part, d.parts, persons);
  // squares that are nothing but rounding
  if (apart.sum_squares <= 1e-20 * (d.y.array() - d.y.mean()).square().sum()) {
    throw Error(Exit::data, {.code  = "no-scatter",
                             .what  = "an edge that is read again always shows the same number",
                             .cause = "The tester shows too few digits, or a number was copied down.",
                             .next  = "Take every reading anew, and write down all digits.",
                             .file  = settings.source});
  }
  result.crossed = !settings.repeatability_only && d.persons > 1 && additive.rank > 0;
  if (result.crossed) result.operators_confounded = confounding_of_operators(readings);
  count(t, result);

  // does an operator read one edge differently than another?
  const double between             = additive.df - apart.df;
  double       between_mean_square = 0.0;
  if (result.crossed && between > 0.5) {
    between_mean_square     = std::max(0.0, additive.sum_squares - apart.sum_squares) / between;
    result.interaction_p    = f_above(between_mean_square / apart.mean_square(), between, apart.df);
    result.interaction_kept = result.interaction_p <= settings.pool_above;
  }
  const bool              pooled  = result.crossed && !result.interaction_kept;
  const WithinFit&        base    = pooled ? additive : apart;
  const std::vector<int>& group   = pooled ? d.part : d.cell;
  const int               groups  = pooled ? d.parts : d.cells;
  const Eigen::MatrixXd&  columns = pooled ? persons : none;
  result.df                       = base.df;

  if (result.balanced) {
    anova_components(d, apart, additive, settings, result);
  } else {
    reml_components(d, base, between, settings, result);
  }
  const GaugeComponent& repeatability = *result.component("repeatability");
  const double          sd            = std::sqrt(repeatability.variance);
  judge_operators(t, additive, result.interaction_kept ? between_mean_square : additive.mean_square(),
                  result.interaction_kept ? between : additive.df, settings.risk, result);
  // operators that share no edges cannot stand beside lots and time as columns: each with each edge is then a group
  const bool              by_part = pooled && additive.full_rank;
  const std::vector<int>& held    = by_part ? d.part : d.cell;
  const int               holds   = by_part ? d.parts : d.cells;
  const Eigen::MatrixXd&  people  = by_part ? persons : none;
  const Eigen::MatrixXd   lots =
      judge_lots(t, held, holds, people, by_part ? additive : apart, settings.risk, result);
  judge_drift(t, held, holds, beside(people, lots), settings.risk, result);
  judge_residuals(readings, t, base, group, groups, columns, settings.risk, settings.scale, result);
  if (!settings.reference.empty()) judge_bias(readings, t, settings, sd, result);
  judge_replicates(settings, d.y.mean(), repeatability, result);
  return result;
}

}  // namespace arris
