// SPDX-License-Identifier: MIT
#include "sim/studies/gauge/gauge_components.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include <Eigen/LU>
#include <Eigen/QR>
#include <boost/random/chi_squared_distribution.hpp>
#include <boost/random/mersenne_twister.hpp>
#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/statistics/distributions.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "sim/statistics/quantiles.hpp"
#include "sim/statistics/variance_components.hpp"

namespace arris {
namespace {

// means of a vector over groups, and how many each has
struct Means {
  Eigen::VectorXd mean, count;
};
Means means_of(const Eigen::VectorXd& y, const std::vector<int>& group, int groups) {
  Means m{Eigen::VectorXd::Zero(groups), Eigen::VectorXd::Zero(groups)};
  for (Eigen::Index i = 0; i < y.size(); ++i) {
    const int g = group[static_cast<std::size_t>(i)];
    m.mean[g] += y[i];
    m.count[g] += 1.0;
  }
  m.mean = m.mean.cwiseQuotient(m.count);
  return m;
}

void centre(Eigen::Ref<Eigen::VectorXd> y, const std::vector<int>& group, int groups) {
  const Means m = means_of(y, group, groups);
  for (Eigen::Index i = 0; i < y.size(); ++i) y[i] -= m.mean[group[static_cast<std::size_t>(i)]];
}

GaugeSource source(std::string name, double df, double sum_squares) {
  return {std::move(name), df, sum_squares, sum_squares / df, not_given, not_given};
}

void test_against(GaugeSource& tested, const GaugeSource& error) {
  tested.F = tested.mean_square / error.mean_square;
  tested.p = f_above(tested.F, tested.df, error.df);
}

GaugeComponent component(std::string name, const std::vector<MeanSquare>& terms, double confidence) {
  GaugeComponent c;
  c.name     = std::move(name);
  c.variance = combined(terms);
  c.interval = variance_interval(terms, confidence);
  c.negative = c.variance < 0.0;
  c.variance = std::max(0.0, c.variance);
  return c;
}

// Sums of components follow from those that have been set to 0, and lie in their own intervals.
void add_sum(GaugeResult& result, std::string name, const std::vector<std::string>& of,
             const std::vector<MeanSquare>& terms, double confidence) {
  GaugeComponent c = component(std::move(name), terms, confidence);
  c.negative       = false;
  c.variance       = 0.0;
  for (const std::string& part : of) c.variance += result.component(part)->variance;
  c.interval.low  = std::min(c.interval.low, c.variance);
  c.interval.high = std::max(c.interval.high, c.variance);
  result.components.push_back(std::move(c));
}

// The share of the tester in the total variance, by generalised pivotal quantities (Hamada & Weerahandi 2000): each mean
// square S² stands for n·S²/χ²(n).
void set_share(GaugeResult& result, const std::vector<MeanSquare>& tester,
               const std::vector<MeanSquare>& part, const GaugeSettings& settings) {
  const double total = result.component("total")->variance;
  if (total > 0.0) result.share = result.component("tester")->variance / total;
  std::vector<MeanSquare> all = tester;
  all.insert(all.end(), part.begin(), part.end());
  boost::random::mt19937_64 engine(GaugeSettings::seed);
  std::vector<double>       shares;
  // mean squares that stand in both sums are one random number
  std::vector<std::pair<double, double>> distinct;
  for (const MeanSquare& m : all) {
    if (std::find(distinct.begin(), distinct.end(), std::make_pair(m.value, m.df)) == distinct.end())
      distinct.emplace_back(m.value, m.df);
  }
  for (int draw = 0; draw < settings.draws; ++draw) {
    std::vector<double> drawn;
    for (const auto& [value, df] : distinct)
      drawn.push_back(value * df / boost::random::chi_squared_distribution<double>(df)(engine));
    const auto sum = [&](const std::vector<MeanSquare>& terms) {
      double s = 0.0;
      for (const MeanSquare& m : terms) {
        const auto at = std::find(distinct.begin(), distinct.end(), std::make_pair(m.value, m.df));
        s += m.coefficient * drawn[static_cast<std::size_t>(at - distinct.begin())];
      }
      return std::max(0.0, s);
    };
    const double of_tester = sum(tester), of_parts = sum(part);
    if (of_tester + of_parts > 0.0) shares.push_back(of_tester / (of_tester + of_parts));
  }
  const double tail     = 0.5 * (1.0 - settings.confidence);
  result.share_interval = {quantile(shares, tail), quantile(shares, 1.0 - tail)};
}

}  // namespace

WithinFit within_fit(const Eigen::VectorXd& y, const std::vector<int>& group, int groups,
                     const Eigen::MatrixXd& columns) {
  const Eigen::Index n = y.size(), m = columns.cols();
  const Means        sizes = means_of(y, group, groups);
  WithinFit          out;
  out.residual = y;
  centre(out.residual, group, groups);
  out.leverage.resize(n);
  for (Eigen::Index i = 0; i < n; ++i)
    out.leverage[i] = 1.0 / sizes.count[group[static_cast<std::size_t>(i)]];
  if (m > 0) {
    Eigen::MatrixXd x = columns;
    Eigen::VectorXd scale(m);
    for (Eigen::Index j = 0; j < m; ++j) {
      const double before = x.col(j).norm();
      centre(x.col(j), group, groups);
      scale[j] = x.col(j).norm();
      // what is left of a column that the groups explain is rounding
      if (scale[j] <= 1e-9 * before) {
        x.col(j).setZero();
        scale[j] = 0.0;
      } else {
        x.col(j) /= scale[j];
      }
    }
    Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr;
    qr.setThreshold(1e-9);  // columns have length 1: dependent ones leave 1e-15 or so
    qr.compute(x);
    out.rank                     = static_cast<int>(qr.rank());
    out.full_rank                = out.rank == m;
    const Eigen::MatrixXd basis  = qr.householderQ() * Eigen::MatrixXd::Identity(n, out.rank);
    const Eigen::VectorXd within = basis.transpose() * out.residual;
    if (out.full_rank) {
      Eigen::MatrixXd inverse = qr.matrixR().topLeftCorner(m, m).triangularView<Eigen::Upper>().solve(
          Eigen::MatrixXd::Identity(m, m));
      inverse         = qr.colsPermutation() * inverse;
      inverse         = scale.cwiseInverse().asDiagonal() * inverse;
      out.coefficient = inverse * within;
      out.unscaled    = inverse * inverse.transpose();
    }
    out.residual -= basis * within;
    out.leverage += basis.rowwise().squaredNorm();
  }
  out.df          = static_cast<double>(n - groups - out.rank);
  out.sum_squares = out.residual.squaredNorm();
  return out;
}

Eigen::MatrixXd sum_to_zero(const std::vector<int>& level, int levels) {
  Eigen::MatrixXd x = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(level.size()), std::max(0, levels - 1));
  for (std::size_t i = 0; i < level.size(); ++i) {
    const auto row = static_cast<Eigen::Index>(i);
    if (level[i] + 1 < levels) {
      x(row, level[i]) = 1.0;
    } else {
      x.row(row).setConstant(-1.0);
    }
  }
  return x;
}

void anova_components(const GaugeDesign& design, const WithinFit& apart, const WithinFit& additive,
                      const GaugeSettings& settings, GaugeResult& result) {
  const double n          = static_cast<double>(design.size());
  const double confidence = settings.confidence;
  const auto   between    = [&](const std::vector<int>& level, int levels) {
    const Means  m    = means_of(design.y, level, levels);
    const double mean = design.y.mean();
    return (m.count.array() * (m.mean.array() - mean).square()).sum();
  };
  if (!result.crossed) {  // each cell is an edge of its own
    const double k = design.cells, r = n / k;
    GaugeSource  part = source("part", k - 1.0, between(design.cell, design.cells)),
                error = source("repeatability", n - k, apart.sum_squares);
    test_against(part, error);
    const std::vector<MeanSquare> e{{1.0, error.mean_square, error.df}},
        p{{1.0 / r, part.mean_square, part.df}, {-1.0 / r, error.mean_square, error.df}};
    result.components = {component("repeatability", e, confidence)};
    add_sum(result, "tester", {"repeatability"}, e, confidence);
    result.components.push_back(component("part", p, confidence));
    add_sum(result, "total", {"tester", "part"},
            {{1.0 / r, part.mean_square, part.df}, {1.0 - 1.0 / r, error.mean_square, error.df}}, confidence);
    set_share(result, e, p, settings);
    result.anova = {part, error};
    return;
  }
  const double p = design.parts, o = design.persons, r = n / (p * o);
  GaugeSource  part   = source("part", p - 1.0, between(design.part, design.parts));
  GaugeSource  person = source("operator", o - 1.0, between(design.person, design.persons));
  GaugeSource  between_cells =
      source("interaction", (p - 1.0) * (o - 1.0), std::max(0.0, additive.sum_squares - apart.sum_squares));
  GaugeSource error = source("repeatability", n - p * o, apart.sum_squares);
  test_against(between_cells, error);
  const bool kept = result.interaction_kept;
  // what parts and operators are measured against
  const GaugeSource  pooled  = source("repeatability, interaction pooled", additive.df, additive.sum_squares);
  const GaugeSource& against = kept ? between_cells : pooled;
  test_against(part, against);
  test_against(person, against);
  const auto                    P = [&](double c) { return MeanSquare{c, part.mean_square, part.df}; };
  const auto                    O = [&](double c) { return MeanSquare{c, person.mean_square, person.df}; };
  const auto                    I = [&](double c) { return MeanSquare{c, against.mean_square, against.df}; };
  const auto                    E = [&](double c) { return MeanSquare{c, error.mean_square, error.df}; };
  const std::vector<MeanSquare> of_person{O(1.0 / (p * r)), I(-1.0 / (p * r))},
      of_part{P(1.0 / (o * r)), I(-1.0 / (o * r))};
  std::vector<MeanSquare> tester, total;
  if (kept) {
    result.components = {component("repeatability", {E(1.0)}, confidence),
                         component("operator", of_person, confidence),
                         component("interaction", {I(1.0 / r), E(-1.0 / r)}, confidence)};
    add_sum(result, "reproducibility", {"operator", "interaction"},
            {O(1.0 / (p * r)), I((p - 1.0) / (p * r)), E(-1.0 / r)}, confidence);
    tester = {O(1.0 / (p * r)), I((p - 1.0) / (p * r)), E(1.0 - 1.0 / r)};
    total  = {P(1.0 / (o * r)), O(1.0 / (p * r)), I((p * o - p - o) / (p * o * r)), E(1.0 - 1.0 / r)};
  } else {
    result.components = {component("repeatability", {I(1.0)}, confidence),
                         component("operator", of_person, confidence)};
    add_sum(result, "reproducibility", {"operator"}, of_person, confidence);
    tester = {O(1.0 / (p * r)), I(1.0 - 1.0 / (p * r))};
    total  = {P(1.0 / (o * r)), O(1.0 / (p * r)), I(1.0 - 1.0 / (o * r) - 1.0 / (p * r))};
  }
  add_sum(result, "tester", {"repeatability", "reproducibility"}, tester, confidence);
  result.components.push_back(component("part", of_part, confidence));
  add_sum(result, "total", {"tester", "part"}, total, confidence);
  set_share(result, tester, of_part, settings);
  result.anova = {part, person, between_cells, error};
  if (!kept) result.anova.push_back(pooled);
}

namespace {

// Expected information of the variances (σ_E², then the groups) of y = 1·μ + Z·b + e, at their estimates, with the mean taken
// out: ½·tr(P·V_g·P·V_h). Every product is in the number of columns of Z, not of readings.
Eigen::MatrixXd information(const Eigen::MatrixXd& z, const std::vector<int>& group, int groups,
                            double residual, const std::vector<double>& variance) {
  const Eigen::Index K = z.cols();
  const double       n = static_cast<double>(z.rows());
  Eigen::VectorXd    d(K);
  for (Eigen::Index j = 0; j < K; ++j)
    d[j] = variance[static_cast<std::size_t>(group[static_cast<std::size_t>(j)])];
  const Eigen::MatrixXd G = z.transpose() * z;
  const Eigen::VectorXd g = z.colwise().sum().transpose();
  Eigen::MatrixXd       a = d.asDiagonal() * G;
  a.diagonal().array() += residual;
  const Eigen::MatrixXd M = a.partialPivLu().solve(Eigen::MatrixXd(d.asDiagonal()));  // (σ²I + D·G)⁻¹·D
  const Eigen::VectorXd b = (g - G * (M * g)) / residual;
  const double          q = (n - g.dot(M * g)) / residual;
  const Eigen::MatrixXd B = (G - G * M * G) / residual - b * b.transpose() / q;  // Z'PZ

  const Eigen::Index k     = groups + 1;
  Eigen::MatrixXd    norms = Eigen::MatrixXd::Zero(groups, groups);
  Eigen::VectorXd    t     = Eigen::VectorXd::Zero(groups);
  for (Eigen::Index i = 0; i < K; ++i) {
    const int gi = group[static_cast<std::size_t>(i)];
    t[gi] += B(i, i);
    for (Eigen::Index j = 0; j < K; ++j) norms(gi, group[static_cast<std::size_t>(j)]) += B(i, j) * B(i, j);
  }
  Eigen::VectorXd v(groups);
  for (int i = 0; i < groups; ++i) v[i] = variance[static_cast<std::size_t>(i)];
  // from P·V·P = P:
  const Eigen::VectorXd u  = (t - norms * v) / residual;       // tr(Z'P²Z) of each group
  const double          p  = (n - 1.0 - v.dot(t)) / residual;  // tr P
  const double          pp = (p - v.dot(u)) / residual;        // tr P²
  Eigen::MatrixXd       out(k, k);
  out(0, 0)                       = 0.5 * pp;
  out.block(1, 0, groups, 1)      = 0.5 * u;
  out.block(0, 1, 1, groups)      = 0.5 * u.transpose();
  out.block(1, 1, groups, groups) = 0.5 * norms;
  return out;
}

// effects that scatter: the first group is the parts
struct RandomEffects {
  std::vector<std::string> names;       // of the groups
  std::vector<int>         counts;      // of levels, by group
  std::vector<int>         group;       // by column
  Eigen::MatrixXd          indicators;  // readings × columns, a column for each level of each group

  int groups() const { return static_cast<int>(names.size()); }
};

RandomEffects random_effects(const GaugeDesign& design, bool crossed, bool interaction_kept) {
  constexpr int                        most_columns = 600;
  RandomEffects                        out;
  std::vector<const std::vector<int>*> levels;  // of each reading, by group
  const auto                           add = [&](const char* name, const std::vector<int>& level, int count) {
    out.names.emplace_back(name);
    levels.push_back(&level);
    out.counts.push_back(count);
  };
  if (crossed) {
    add("part", design.part, design.parts);
    add("operator", design.person, design.persons);
    if (interaction_kept) add("interaction", design.cell, design.cells);
  } else {
    add("part", design.cell, design.cells);
  }
  int columns = 0;
  for (const int count : out.counts) columns += count;
  if (columns > most_columns) {
    throw Error(Exit::data,
                {.code = "too-many",
                 .what = fmt::format("{} edges, operators and their pairs, not read equally often", columns),
                 .allowed = fmt::format("up to {}", most_columns),
                 .next    = "Judge fewer edges at a time; a gauge study needs ten or so."});
  }
  const auto n   = design.size();
  out.indicators = Eigen::MatrixXd::Zero(n, columns);
  for (int g = 0; g < out.groups(); ++g) {
    const auto first = static_cast<Eigen::Index>(out.group.size());
    const auto at    = static_cast<std::size_t>(g);
    for (Eigen::Index i = 0; i < n; ++i)
      out.indicators(i, first + (*levels[at])[static_cast<std::size_t>(i)]) = 1.0;
    out.group.insert(out.group.end(), static_cast<std::size_t>(out.counts[at]), g);
  }
  return out;
}

// in units of the square of a scale
struct RemlVariances {
  double              square   = 1.0;  // of the scale
  double              residual = 0.0;
  std::vector<double> group;
  Eigen::MatrixXd     covariance;  // of the estimates: the residual, then the groups
};

RemlVariances reml_variances(const GaugeDesign& design, const RandomEffects& effects, double scale) {
  const auto            n = design.size();
  const Eigen::VectorXd y = (design.y.array() - design.y.mean()) / scale;
  MixedModel            model;
  model.design.resize(n, effects.indicators.cols() + 1);
  model.design << Eigen::VectorXd::Ones(n), effects.indicators;
  model.response = y;
  model.weights  = Eigen::VectorXd::Ones(n);
  model.known_sd = Eigen::VectorXd::Zero(n);
  model.group    = {MixedModel::flat};
  model.group.insert(model.group.end(), effects.group.begin(), effects.group.end());
  model.groups = effects.groups();
  std::vector<double> start(effects.names.size() + 1, 0.5);
  start[0]                       = 1.0;
  start[1]                       = std::max(1.0, std::sqrt(y.squaredNorm() / static_cast<double>(n)));
  const VarianceComponents found = variance_components(model, start);
  if (!found.converged) {
    throw Error(Exit::not_converged, {.code  = "no-convergence",
                                      .what  = "the variances of these readings cannot be estimated",
                                      .cause = "Edges, operators and readings are too unevenly spread.",
                                      .next  = "Read every edge equally often with every operator."});
  }
  RemlVariances out;
  out.square   = scale * scale;
  out.residual = found.residual_sd * found.residual_sd;
  for (const double sd : found.group_sd)
    out.group.push_back(sd > VarianceComponents::smallest_sd ? sd * sd : 0.0);
  out.covariance = inverse_symmetric(
      information(effects.indicators, effects.group, effects.groups(), out.residual, out.group));
  return out;
}

// from a variance and its interval in units of `square`
GaugeComponent rescaled_component(std::string name, double theta, const Interval& interval, double square) {
  GaugeComponent c;
  c.name     = std::move(name);
  c.variance = square * theta;
  c.interval = {square * interval.low, square * interval.high};
  c.negative = theta == 0.0;
  return c;
}

GaugeComponent residual_component(const RemlVariances& found, double confidence) {
  const double e = found.residual;
  return rescaled_component("repeatability", e,
                            chi_square_interval(e, 2.0 * e * e / found.covariance(0, 0), confidence),
                            found.square);
}

// none where the model has no such group
std::optional<GaugeComponent> group_component(const RemlVariances& found, const RandomEffects& effects,
                                              const std::string& name, double df, double confidence) {
  const auto g = std::find(effects.names.begin(), effects.names.end(), name) - effects.names.begin();
  if (g == effects.groups()) return std::nullopt;
  const double theta = found.group[static_cast<std::size_t>(g)];
  const double whole = std::max(theta, std::sqrt(0.5 * df * found.covariance(g + 1, g + 1)));
  Interval     i     = chi_square_interval(whole, df, confidence);
  i.low              = std::max(0.0, i.low - (whole - theta));
  i.high             = std::max(theta, i.high - (whole - theta));
  return rescaled_component(name, theta, i, found.square);
}

// of those components of the result that are there; the distances to the ends of their intervals add up in squares
GaugeComponent summed_component(const GaugeResult& result, const std::string& name,
                                const std::vector<std::string>& of) {
  GaugeComponent sum;
  sum.name     = name;
  double below = 0.0, above = 0.0;
  for (const std::string& part : of) {
    const GaugeComponent* c = result.component(part);
    if (c == nullptr) continue;
    sum.variance += c->variance;
    below += std::pow(c->variance - c->interval.low, 2);
    above += std::pow(c->interval.high - c->variance, 2);
  }
  sum.interval = {std::max(0.0, sum.variance - std::sqrt(below)), sum.variance + std::sqrt(above)};
  return sum;
}

// the share of the tester, its interval on the logit by the delta method
void set_reml_share(GaugeResult& result, const RemlVariances& found, const GaugeComponent& tester,
                    double confidence) {
  const double of_tester = tester.variance / found.square, of_parts = found.group.front();
  result.share = of_tester / (of_tester + of_parts);
  if (of_parts > 0.0) {
    // d log(tester/parts)
    Eigen::VectorXd a     = Eigen::VectorXd::Constant(found.covariance.rows(), 1.0 / of_tester);
    a[1]                  = -1.0 / of_parts;
    const double z        = normal_quantile(0.5 * (1.0 + confidence));
    const double spread   = z * std::sqrt(std::max(0.0, a.dot(found.covariance * a)));
    const double middle   = std::log(of_tester / of_parts);
    const auto   share    = [](double logit) { return 1.0 / (1.0 + std::exp(-logit)); };
    result.share_interval = {share(middle - spread), share(middle + spread)};
  }
}

}  // namespace

void reml_components(const GaugeDesign& design, const WithinFit& base, double interaction_df,
                     const GaugeSettings& settings, GaugeResult& result) {
  const RandomEffects effects   = random_effects(design, result.crossed, result.interaction_kept);
  const RemlVariances found     = reml_variances(design, effects, std::sqrt(base.mean_square()));
  const auto          add_group = [&](const std::string& name, double df) {
    auto c = group_component(found, effects, name, df, settings.confidence);
    if (c) result.components.push_back(std::move(*c));
  };
  const auto sum_up = [&](const std::string& name, const std::vector<std::string>& of) {
    result.components.push_back(summed_component(result, name, of));
  };
  result.components.push_back(residual_component(found, settings.confidence));
  add_group("operator", design.persons - 1.0);
  add_group("interaction", interaction_df);
  if (result.crossed) sum_up("reproducibility", {"operator", "interaction"});
  sum_up("tester", {"repeatability", "operator", "interaction"});
  add_group("part", effects.counts.front() - 1.0);
  sum_up("total", {"tester", "part"});
  set_reml_share(result, found, *result.component("tester"), settings.confidence);
}

}  // namespace arris
