// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include <Eigen/LU>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/input/csv.hpp"
#include "sim/input/files.hpp"
#include "sim/input/gauge_csv.hpp"
#include "sim/output/answer_output.hpp"
#include "sim/statistics/power.hpp"
#include "sim/studies/gauge/gauge.hpp"
#include "sim/studies/gauge/gauge_components.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

using Row = std::map<std::string, std::string>;

std::vector<Row> rows_of(const std::string& name) {
  const std::string path  = ARRIS_SOURCE_DIR "/tests/data/gauge/" + name;
  const CsvTable    table = parse_csv(path, read_text(path, Exit::data));
  std::vector<Row>  rows;
  for (const CsvRow& row : table.rows) {
    Row& out = rows.emplace_back();
    for (std::size_t i = 0; i < row.cells.size(); ++i) out[table.header.cells[i].text] = row.cells[i].text;
  }
  return rows;
}

/// Half a unit of the last digit that is printed.
double half_digit(const std::string& printed) {
  const auto point = printed.find('.');
  const auto tail  = printed.find('e') == std::string::npos ? printed.size() : printed.find('e');
  const int  after = point == std::string::npos ? 0 : static_cast<int>(tail - point) - 1;
  const int  ten   = tail == printed.size() ? 0 : std::stoi(printed.substr(tail + 1));
  return 0.5 * std::pow(10.0, ten - after);
}

/// `value` agrees with `printed` in every digit; a few units of rounding at the half are allowed.
void check_printed(double value, const std::string& printed) {
  INFO(printed);
  CHECK(value == Approx(std::stod(printed)).margin(1.001 * half_digit(printed)).epsilon(0.0));
}

GaugeReading reading(std::string part, std::string person, double gf, int line) {
  GaugeReading r;
  r.edge          = std::move(part);
  r.operator_name = std::move(person);
  r.reading_gf    = gf;
  r.line          = line;
  return r;
}

std::vector<GaugeReading> crossed_study() {
  std::vector<GaugeReading> out;
  for (const Row& row : rows_of("crossed_10x3x3.csv"))
    out.push_back(
        reading(row.at("part"), row.at("op"), std::stod(row.at("y")), static_cast<int>(out.size()) + 2));
  return out;
}

GaugeSettings linear() {
  GaugeSettings s;
  s.scale = GaugeScale::linear;
  return s;
}

/// How far the variances of invented studies scatter, and how many readings of each edge each operator takes.
struct Invention {
  int    parts = 6, persons = 3, replicates = 2;
  double part_sd = 2.0, person_sd = 1.0, interaction_sd = 0.6, sd = 1.0;
};

/// In rounds: every edge by every operator, then all of them again.
std::vector<GaugeReading> invented(const Invention& v, boost::random::mt19937_64& engine) {
  boost::random::normal_distribution<double> normal;
  std::vector<double>                        part, person, both;
  for (int i = 0; i < v.parts; ++i) part.push_back(v.part_sd * normal(engine));
  for (int j = 0; j < v.persons; ++j) person.push_back(v.person_sd * normal(engine));
  for (int k = 0; k < v.parts * v.persons; ++k) both.push_back(v.interaction_sd * normal(engine));
  std::vector<GaugeReading> out;
  for (int r = 0; r < v.replicates; ++r) {
    for (int i = 0; i < v.parts; ++i) {
      for (int j = 0; j < v.persons; ++j) {
        const double y = 50.0 + part[static_cast<std::size_t>(i)] + person[static_cast<std::size_t>(j)] +
                         both[static_cast<std::size_t>(i) * static_cast<std::size_t>(v.persons) +
                              static_cast<std::size_t>(j)] +
                         v.sd * normal(engine);
        out.push_back(
            reading(fmt::format("E{}", i), fmt::format("P{}", j), y, static_cast<int>(out.size()) + 2));
        out.back().replicate = r + 1;
      }
    }
  }
  return out;
}

std::string all_text(const std::vector<GaugeReading>& readings, const GaugeSettings& settings) {
  return answer_text(gauge_answer(readings, settings, gauge(readings, settings)));
}

bool has(const std::string& text, const std::string& part) {
  std::string plain = text;  // wherever its lines break
  std::replace(plain.begin(), plain.end(), '\n', ' ');
  return plain.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("a crossed study has the published analysis of variance to every printed digit",
          "[gauge][published]") {
  const GaugeResult result = gauge(crossed_study(), linear());
  REQUIRE(result.crossed);
  REQUIRE(result.balanced);
  CHECK_FALSE(result.interaction_kept);
  std::map<std::string, GaugeSource> source;
  for (const GaugeSource& s : result.anova) source[s.name] = s;
  int compared = 0;
  for (const Row& row : rows_of("crossed_expected.csv")) {
    const std::map<std::string, double> found = {
        {"SS appraiser", source.at("operator").sum_squares},
        {"SS part", source.at("part").sum_squares},
        {"SS interaction", source.at("interaction").sum_squares},
        {"SS error", source.at("repeatability").sum_squares},
        {"F interaction (18,60)", source.at("interaction").F},
        {"sd repeatability", std::sqrt(result.component("repeatability")->variance)},
        {"sd appraiser", std::sqrt(result.component("operator")->variance)},
        {"sd GRR", std::sqrt(result.component("tester")->variance)},
        {"sd part", std::sqrt(result.component("part")->variance)}};
    check_printed(found.at(row.at("quantity")), row.at("value"));
    ++compared;
  }
  CHECK(compared == 9);
  CHECK(source.at("interaction").df == 18.0);
  CHECK(source.at("repeatability").df == 60.0);
  CHECK(result.df == 78.0);  // pooled
}

TEST_CASE("repeatability of the wafer study is the published one", "[gauge][published]") {
  // readings with the published sums of squares: 60 at ±a about a mean and one at it, SS = 60·a², 60 degrees of freedom;
  // each wafer is read by an operator of its own
  std::vector<GaugeReading>          readings;
  std::map<std::string, std::string> sd;
  for (const Row& row : rows_of("nist_gauge_study.csv")) {
    if (row.at("level") != "1 repeatability") continue;
    sd[row.at("wafer")] = row.at("sd");
    if (row.at("wafer") == "pooled") continue;
    const double a    = std::sqrt(std::stod(row.at("SS")) / 60.0);
    const double mean = std::stod(row.at("wafer"));
    for (int i = 0; i < 61; ++i) {
      const double y = mean + (i == 60 ? 0.0 : i % 2 == 0 ? a : -a);
      readings.push_back(reading(row.at("wafer"), row.at("wafer"), y, 0));
    }
  }
  const GaugeResult result = gauge(readings, linear());
  CHECK_FALSE(result.crossed);
  CHECK(result.df == 300.0);
  check_printed(std::sqrt(result.component("repeatability")->variance), sd.at("pooled"));
  REQUIRE(result.operator_rows.size() == 5);
  for (const GaugeOperator& o : result.operator_rows) check_printed(o.own_sd, sd.at(o.name));
}

TEST_CASE("the noncentrality for a power gives that power, and its ends are right", "[gauge][power]") {
  for (const double df : {1.0, 2.0, 7.0, 60.0, 1e4}) {
    for (const double power : {0.1, 0.5, 0.9, 0.99}) {
      // the root is good to 48 bits, the distribution to about 1e-12
      CHECK(power_of_t_test(noncentrality_for_power(df, 0.05, power), 1.0, df, 0.05) ==
            Approx(power).epsilon(1e-10));
    }
  }
  CHECK(power_of_t_test(0.0, 1.0, 12.0, 0.05) ==
        Approx(0.025).epsilon(1e-10));  // one side of the false alarms
}

TEST_CASE("the interval of one mean square is the exact chi-square interval", "[gauge][intervals]") {
  const boost::math::chi_squared chi(7.0);
  const Interval                 i = variance_interval({{1.0, 3.0, 7.0}}, 0.9);
  // the same numbers by another road: rounding only
  CHECK(i.low == Approx(3.0 * 7.0 / quantile(chi, 0.95)).epsilon(1e-12));
  CHECK(i.high == Approx(3.0 * 7.0 / quantile(chi, 0.05)).epsilon(1e-12));
  const Interval again = chi_square_interval(3.0, 7.0, 0.9);
  CHECK(again.low == Approx(i.low).epsilon(1e-12));
  CHECK(again.high == Approx(i.high).epsilon(1e-12));
  CHECK(std::isnan(chi_square_interval(3.0, 0.05, 0.9).high));  // more than a million times
  CHECK(variance_interval({{1.0, 1.0, 3.0}, {-1.0, 50.0, 3.0}}, 0.9).low == 0.0);
}

namespace {

/// How often each interval covers the truth, over `studies` invented ones. `spoil` takes readings away.
std::map<std::string, double> coverage(const Invention& v, int studies, const std::vector<std::size_t>& spoil,
                                       const GaugeSettings& settings) {
  const double person = v.person_sd * v.person_sd, both = v.interaction_sd * v.interaction_sd,
               e = v.sd * v.sd, part = v.part_sd * v.part_sd, tester = person + both + e;
  const std::map<std::string, double> truth = {
      {"repeatability", e}, {"operator", person}, {"reproducibility", person + both},
      {"tester", tester},   {"part", part},       {"total", tester + part}};
  std::map<std::string, double> hits;
  boost::random::mt19937_64     engine(20811);
  for (int k = 0; k < studies; ++k) {
    auto readings = invented(v, engine);
    for (const std::size_t i : spoil) readings[i].excluded = "spoiled";
    const GaugeResult result = gauge(readings, settings);
    for (const auto& [name, value] : truth) {
      const Interval& i = result.component(name)->interval;
      hits[name] += i.low <= value && value <= i.high ? 1.0 / studies : 0.0;
    }
    const double share = tester / (tester + part);
    hits["share"] +=
        result.share_interval.low <= share && share <= result.share_interval.high ? 1.0 / studies : 0.0;
  }
  return hits;
}

}  // namespace

TEST_CASE("intervals of a balanced study cover the truth nine times in ten", "[gauge][intervals][coverage]") {
  GaugeSettings settings = linear();
  settings.pool_above    = 1.0;  // there is an interaction
  settings.draws         = 400;
  // Of 1000 studies a share of 0.9 has a standard error of 0.0095; three of them, and the approximation of the method on
  // top, which the authors give as a few parts in a hundred and mostly on the safe side.
  for (const auto& [name, covered] : coverage({}, 1000, {}, settings)) {
    INFO(name << " " << covered);
    CHECK(covered > 0.9 - 0.0285 - 0.01);
    CHECK(covered < 0.9 + 0.0285 + 0.03);
  }
}

TEST_CASE("intervals of an unbalanced study cover the truth nine times in ten",
          "[gauge][intervals][coverage]") {
  GaugeSettings settings = linear();
  settings.pool_above    = 1.0;
  // one edge that an operator has not read at all (0 and 18), and four others read once
  const std::vector<std::size_t> spoil{0, 18, 20, 25, 30, 35};
  // Of 300 studies the standard error is 0.017; three of them, and 0.04 for a method that rests on large samples.
  for (const auto& [name, covered] : coverage({}, 300, spoil, settings)) {
    INFO(name << " " << covered);
    CHECK(covered > 0.9 - 0.052 - 0.04);
    CHECK(covered < 0.9 + 0.052 + 0.04);
  }
}

TEST_CASE("restricted maximum likelihood of a balanced study is its analysis of variance", "[gauge][reml]") {
  boost::random::mt19937_64 engine(7);
  for (const double pool_above : {1.0, 0.0}) {  // with the interaction and without
    // a study in which no estimate is negative: there the two methods are one
    const auto    readings = invented({8, 4, 3, 3.0, 1.5, 1.0, 1.0}, engine);
    GaugeSettings settings = linear();
    settings.pool_above    = pool_above;
    GaugeResult result     = gauge(readings, settings);
    REQUIRE(result.balanced);
    CHECK(result.interaction_kept == (pool_above > 0.5));
    for (const GaugeComponent& c : result.components) REQUIRE_FALSE(c.negative);

    GaugeDesign d;
    d.y.resize(static_cast<Eigen::Index>(readings.size()));
    for (std::size_t i = 0; i < readings.size(); ++i) {
      d.y[static_cast<Eigen::Index>(i)] = readings[i].reading_gf;
      d.part.push_back(std::stoi(readings[i].edge.substr(1)));
      d.person.push_back(std::stoi(readings[i].operator_name.substr(1)));
      d.cell.push_back(d.part.back() * 4 + d.person.back());
    }
    d.parts = 8, d.persons = 4, d.cells = 32;
    const WithinFit base  = result.interaction_kept
                                ? within_fit(d.y, d.cell, d.cells, Eigen::MatrixXd(d.size(), 0))
                                : within_fit(d.y, d.part, d.parts, sum_to_zero(d.person, d.persons));
    GaugeResult     other = result;
    other.components.clear();
    reml_components(d, base, 21.0, settings, other);
    REQUIRE(other.components.size() == result.components.size());
    for (const GaugeComponent& c : result.components) {
      INFO(c.name);
      // an optimum good to 1e-9 in the logs of the sds on a flat top
      CHECK(other.component(c.name)->variance == Approx(c.variance).epsilon(1e-5));
      // of one mean square and its error: the two intervals are of one family
      const auto& i = other.component(c.name)->interval;
      CHECK(std::sqrt(i.low) == Approx(std::sqrt(c.interval.low)).epsilon(0.1));
      CHECK(std::sqrt(i.high) == Approx(std::sqrt(c.interval.high)).epsilon(0.1));
    }
    // in a balanced study the repeatability has exactly the degrees of freedom of its mean square
    CHECK(other.component("repeatability")->interval.high ==
          Approx(result.component("repeatability")->interval.high).epsilon(1e-5));
  }
}

TEST_CASE("fits beside groups are those with a column for every group", "[gauge][within]") {
  boost::random::mt19937_64 engine(11);
  auto                      readings = invented({5, 3, 2, 2.0, 1.0, 0.0, 1.0}, engine);
  readings.erase(readings.begin() + 3);
  readings.erase(readings.begin() + 17);
  const auto       n = static_cast<Eigen::Index>(readings.size());
  Eigen::VectorXd  y(n);
  std::vector<int> part, person;
  for (Eigen::Index i = 0; i < n; ++i) {
    const GaugeReading& r = readings[static_cast<std::size_t>(i)];
    y[i]                  = r.reading_gf;
    part.push_back(std::stoi(r.edge.substr(1)));
    person.push_back(std::stoi(r.operator_name.substr(1)));
  }
  Eigen::MatrixXd x(n, 3);
  x.leftCols(2)       = sum_to_zero(person, 3);
  x.col(2)            = Eigen::VectorXd::LinSpaced(n, 0.0, 1.0);
  const WithinFit fit = within_fit(y, part, 5, x);

  Eigen::MatrixXd all = Eigen::MatrixXd::Zero(n, 8);
  for (Eigen::Index i = 0; i < n; ++i) all(i, part[static_cast<std::size_t>(i)]) = 1.0;
  all.rightCols(3)              = x;
  const Eigen::MatrixXd inverse = (all.transpose() * all).inverse();
  const Eigen::VectorXd b       = inverse * all.transpose() * y;
  const Eigen::VectorXd e       = y - all * b;
  // two ways through well conditioned systems of 8 columns
  CHECK((fit.coefficient - b.tail(3)).norm() < 1e-10);
  CHECK((fit.unscaled - inverse.bottomRightCorner(3, 3)).norm() < 1e-10);
  CHECK((fit.residual - e).norm() < 1e-10);
  CHECK((fit.leverage - (all * inverse * all.transpose()).diagonal()).norm() < 1e-10);
  CHECK(fit.df == static_cast<double>(n - 8));
  CHECK(fit.full_rank);
  // a column that the groups explain, and one that another explains
  Eigen::MatrixXd twice(n, 2);
  twice << x.col(2), 3.0 * x.col(2);
  CHECK(within_fit(y, part, 5, twice).rank == 1);
  CHECK_FALSE(within_fit(y, part, 5, twice).full_rank);
  Eigen::MatrixXd of_parts(n, 1);
  for (Eigen::Index i = 0; i < n; ++i) of_parts(i, 0) = 0.1 * part[static_cast<std::size_t>(i)];
  CHECK(within_fit(y, part, 5, of_parts).rank == 0);
}

TEST_CASE("drift, lots and operators that are put in come out", "[gauge][effects]") {
  boost::random::mt19937_64 engine(3);
  auto                      readings = invented({6, 3, 4, 8.0, 0.0, 0.0, 0.5}, engine);
  for (std::size_t i = 0; i < readings.size(); ++i) {
    GaugeReading& r = readings[i];
    r.filament_lot  = i % 5 < 2 ? "old" : "new";
    r.reading_gf *= std::exp(0.002 * static_cast<double>(i)) * (r.filament_lot == "old" ? 1.05 : 0.95) *
                    (r.operator_name == "P1" ? 1.1 : 1.0);
  }
  const GaugeResult result = gauge(readings, {});
  // the truth within the 95 % interval; with this seed, as with most
  const auto covers = [](const GaugeEffect& e, double truth) {
    CHECK(e.interval.low < truth);
    CHECK(truth < e.interval.high);
  };
  covers(result.drift, 0.2);
  CHECK(result.drift.p < 0.05);
  REQUIRE(result.lots.size() == 2);
  CHECK(result.lots[0].name == "new");
  covers(result.lots[1].effect, 0.5 * std::log(1.05 / 0.95));
  CHECK(result.lots[0].effect.value ==
        Approx(-result.lots[1].effect.value).epsilon(1e-12));  // they add up to 0
  CHECK(result.lots_p < 0.05);
  covers(result.operator_rows[1].effect, 2.0 / 3.0 * std::log(1.1));
  CHECK(result.operators_p < 0.05);
  // two lots: the F test is the t test of their difference
  CHECK(result.lots_p == Approx(result.lots[0].effect.p).epsilon(1e-9));
}

TEST_CASE("bias is the mean of the operators against the reference", "[gauge][bias]") {
  boost::random::mt19937_64 engine(5);
  const auto                readings = invented({}, engine);
  GaugeSettings             settings = linear();
  settings.reference                 = "E2";
  settings.reference_gf              = 48.0;
  const GaugeResult result           = gauge(readings, settings);
  double            mean             = 0.0;
  for (const GaugeReading& r : readings) mean += r.edge == "E2" ? r.reading_gf / 6.0 : 0.0;
  REQUIRE(result.bias.size() == 4);
  CHECK(result.bias.back().who == "all");
  CHECK(result.bias.back().readings == 6);
  CHECK(result.bias.back().effect.value == Approx(mean - 48.0).epsilon(1e-12));
  settings.reference = "E9";
  const Error error  = error_of([&] { (void)gauge(readings, settings); });
  CHECK(error.exit() == Exit::usage);
  CHECK(std::string(error.what()) ==
        "no reading is of the reference edge \"E9\" (allowed: E0; E1; E2; E3; E4; E5) [unknown-edge]\n"
        "  Name the edge as the readings do.\n");
}

TEST_CASE("an edge that was read at several moments is named with its moment", "[gauge][bias]") {
  boost::random::mt19937_64 engine(5);
  auto                      readings = invented({}, engine);
  for (GaugeReading& r : readings) {
    r.moment = r.edge < "E3" ? "new" : "worn";
    r.edge   = "A" + std::to_string((r.edge[1] - '0') % 3);
  }
  GaugeSettings settings;
  settings.reference    = "A1";
  settings.reference_gf = 50.0;
  CHECK(has(error_of([&] { (void)gauge(readings, settings); }).what(),
            "the reference edge \"A1\" was read at several moments (allowed: A1, new; A1, worn)"));
  settings.reference = "A1, worn";
  CHECK(gauge(readings, settings).reference == "A1, worn");
  CHECK(gauge(readings, settings).parts == 6);
}

TEST_CASE("outliers are flagged with their line and stay in, excluded readings are listed and do not count",
          "[gauge][outliers]") {
  boost::random::mt19937_64 engine(9);
  auto                      readings = invented({6, 3, 3, 2.0, 0.5, 0.0, 0.5}, engine);
  const GaugeResult         clean    = gauge(readings, {});
  for (const GaugeResidual& r : clean.residuals) CHECK_FALSE(r.outlier);
  CHECK(std::isnan(clean.sd_without));

  readings[10].reading_gf *= 1.3;
  readings[20].excluded = "slipped, in the clamp";
  readings[20].reading_gf *= 3.0;
  const GaugeResult result = gauge(readings, {});
  CHECK(result.readings == 53);
  CHECK(result.excluded == 1);
  REQUIRE(result.residuals.size() == 54);  // none is dropped
  for (std::size_t i = 0; i < 54; ++i) {
    CHECK(result.residuals[i].outlier == (i == 10));
    CHECK(result.residuals[i].excluded == (i == 20));
  }
  // it stays in: repeatability is larger than without it
  CHECK(std::sqrt(result.component("repeatability")->variance) > 2.0 * result.sd_without);
  const Answer       answer = gauge_answer(readings, {}, result);
  const AnswerTable& table  = answer.table("outliers");
  REQUIRE(table.rows() == 2);
  CHECK(column(table, "line").numbers == std::vector<double>{12.0, 22.0});
  CHECK(has(column(table, "reason").texts[0], "flagged: "));
  CHECK(column(table, "reason").texts[1] == "excluded: slipped, in the clamp");
  CHECK(has(answer_text(answer), "Outliers, flagged and not dropped: line 12 of the file."));
  CHECK(answer.table("residuals").rows() == 54);

  // Externally studentised: t = d·√(1 − h)/s, with d the distance from what the others say, s their scatter, and the residual
  // d·(1 − h). Rounding only.
  const GaugeResidual& flagged = result.residuals[10];
  const double         away    = std::log(readings[10].reading_gf) - flagged.others;
  CHECK(flagged.studentised == Approx(std::sqrt(flagged.residual * away) / result.sd_without).epsilon(1e-9));
}

TEST_CASE("of two readings that contradict each other neither is called the wrong one", "[gauge][outliers]") {
  std::vector<GaugeReading> readings;
  for (int i = 0; i < 8; ++i) {
    for (const double by : {1.0, -1.0}) {
      for (const char* who : {"K", "M"})
        readings.push_back(reading(fmt::format("E{}", i), who, 100.0 + 10.0 * i + (0.1 + 0.01 * i) * by, 0));
    }
  }
  readings[0].reading_gf = 160.0;
  GaugeSettings settings = linear();
  settings.pool_above    = 1.0;  // every pair stands for itself
  const Answer answer    = gauge_answer(readings, settings, gauge(readings, settings));
  const auto&  reasons   = column(answer.table("outliers"), "reason").texts;
  REQUIRE(reasons.size() == 2);
  for (const std::string& reason : reasons)
    CHECK(has(reason, "which of the two is wrong cannot be determined"));
}

TEST_CASE("on the logarithmic scale units do not matter", "[gauge]") {
  boost::random::mt19937_64 engine(13);
  const auto                readings = invented({}, engine);
  auto                      scaled   = readings;
  for (GaugeReading& r : scaled) r.reading_gf *= 101.97;
  const GaugeResult a = gauge(readings, {}), b = gauge(scaled, {});
  REQUIRE(a.components.size() == b.components.size());
  // sums of some dozens of logarithms, shifted by 4.6
  for (std::size_t i = 0; i < a.components.size(); ++i)
    CHECK(a.components[i].variance == Approx(b.components[i].variance).epsilon(1e-9));
  CHECK(a.needed == b.needed);
}

TEST_CASE("readings needed give the power that was asked, and one fewer does not", "[gauge][power]") {
  boost::random::mt19937_64 engine(13);
  const auto                readings = invented({6, 3, 3, 2.0, 1.0, 0.0, 4.0}, engine);
  const GaugeResult         result   = gauge(readings, {});
  const double              sd       = std::sqrt(result.component("repeatability")->variance);
  const auto                power    = [&](double n) {
    return power_of_t_test(std::log(1.1) / sd * std::sqrt(0.5 * n), 1.0, result.df, 0.05);
  };
  REQUIRE(result.needed > 2.0);
  CHECK(power(result.needed) >= 0.9);
  CHECK(power(result.needed - 1.0) < 0.9);
  CHECK(power_two_sample_t(std::log(1.1) / sd, result.needed_alone, 0.05) >= 0.9);
  CHECK(power_two_sample_t(std::log(1.1) / sd, result.needed_alone - 1.0, 0.05) < 0.9);
  CHECK(result.needed_high > result.needed);
  for (const GaugeReplicates& r : result.replicates) {
    // the difference that a mean of n readings finds, fed back: the power again, to the accuracy of the root
    CHECK(power_of_t_test(r.detectable / sd * std::sqrt(0.5 * r.readings_each), 1.0, result.df, 0.05) ==
          Approx(0.9).epsilon(1e-9));
    CHECK(std::isnan(r.detectable_alone) == (r.readings_each == 1));
  }
}

TEST_CASE("operators that share no edges are not compared, and nor are their lots", "[gauge]") {
  boost::random::mt19937_64 engine(17);
  auto                      readings = invented({}, engine);
  for (GaugeReading& r : readings) {
    r.filament_lot = "N-" + r.operator_name;
    r.edge += r.operator_name;
  }
  const GaugeResult result = gauge(readings, {});
  CHECK_FALSE(result.crossed);
  CHECK(result.component("reproducibility") == nullptr);
  CHECK(std::isnan(result.lots_p));
  const std::string text = all_text(readings, {});
  CHECK(has(text, "How much operators differ cannot be determined"));
  CHECK(has(text, "Filament lots cannot be compared"));
  CHECK(text.find("nan") == std::string::npos);
}

TEST_CASE("operators that each have a lot of their own are not said to differ", "[gauge]") {
  boost::random::mt19937_64 engine(17);
  auto                      readings = invented({6, 2, 3, 8.0, 0.0, 0.0, 0.3}, engine);
  for (GaugeReading& r : readings) {
    if (r.operator_name == "P1") r.reading_gf *= 1.3;
  }
  const std::string one_lot = all_text(readings, {});
  CHECK(gauge(readings, {}).operators_confounded.empty());
  CHECK(has(one_lot, "These operators read differently"));
  for (GaugeReading& r : readings) r.filament_lot = "N-" + r.operator_name;
  CHECK(has(gauge(readings, {}).operators_confounded, "cannot be told from one of filament lots"));
  const std::string own_lots = all_text(readings, {});
  CHECK_FALSE(has(own_lots, "These operators read differently"));
  CHECK(has(own_lots, "go together with filament lots"));
  // a day of their own is the same
  for (GaugeReading& r : readings) {
    r.filament_lot = "N-1";
    r.test_day     = r.operator_name;
  }
  CHECK(has(gauge(readings, {}).operators_confounded, "cannot be told from one of test days"));
}

TEST_CASE("the words fit every kind of study, and none holds a nan", "[gauge][text]") {
  boost::random::mt19937_64 engine(19);
  for (const double interaction : {0.0, 3.0}) {
    for (const bool spoiled : {false, true}) {
      for (const GaugeScale scale : {GaugeScale::logarithm, GaugeScale::linear}) {
        for (const bool alone : {false, true}) {
          auto readings = invented({4, 2, 2, 5.0, 0.0, interaction, 0.5}, engine);
          if (spoiled) readings[0].excluded = readings[9].excluded = "slipped";
          GaugeSettings settings;
          settings.scale              = scale;
          settings.repeatability_only = alone;
          settings.reference          = "E1";
          settings.reference_gf       = 50.0;
          const std::string text      = all_text(readings, settings);
          INFO(text);
          CHECK(text.find("nan") == std::string::npos);
          CHECK(text.find("inf") == std::string::npos);
          CHECK(has(text, "Where the scatter of a single reading comes from"));
          CHECK(has(text, "repeatability; 90 % interval"));
          CHECK(has(text, alone ? "Operators, not compared" : "reproducibility"));
          const GaugeResult     result = gauge(readings, settings);
          const GaugeComponent* stays  = result.component("interaction");
          CHECK(has(text, "however often they are read") == (stays != nullptr && stays->variance > 0.0));
          if (interaction > 0.0) CHECK(result.interaction_kept == !alone);  // 3 beside a noise of 0.5 shows
          CHECK(has(text, spoiled ? "restricted maximum likelihood" : "analysis of variance"));
          CHECK(has(text, "Against the reference edge E1 at 50 gf"));
        }
      }
    }
  }
}

TEST_CASE("ends of intervals that say nothing are words where people read them, and numbers in files",
          "[gauge][text]") {
  const auto readings = parse_gauge_readings(
      "g.csv",
      "edge,reading_gf,operator,filament_lot\nA,150,X,L1\nA,190,X,L2\nB,200,Y,L1\nB,150,Y,L2\nC,300,X,L1\nC,210,Y,L1\n");
  const Answer answer = gauge_answer(readings, {}, gauge(readings, {}));
  const auto&  table  = answer.table("components");
  const auto&  name   = column(table, "component").texts;
  const auto   row =
      static_cast<std::size_t>(std::find(name.begin(), name.end(), "reproducibility") - name.begin());
  CHECK(column(table, "high_pct").numbers.at(row) > 900.0);
  CHECK(column(table, "high_pct").head.empty());
  CHECK(column(table, "high_in_words").texts.at(row) == "not told");
  // an end that says something stays a number
  CHECK(column(table, "high_in_words").texts.front().find_first_not_of("0123456789.") == std::string::npos);
}

TEST_CASE("what cannot be judged is told in a sentence", "[gauge][errors]") {
  const auto told = [](const std::string& rows, const GaugeSettings& settings = {}) {
    const Error error = error_of([&] {
      (void)gauge(parse_gauge_readings("g.csv", "part,operator,reading_gf,excluded\n" + rows), settings);
    });
    CHECK(error.exit() == Exit::data);
    return std::string(error.what());
  };
  CHECK(
      told("A,K,100,\nA,K,101,\nB,K,120,\nB,K,123,\n") ==
      "the readings: all readings are by one operator, K, so that operators cannot be compared [one-operator]\n"
      "  Let a second operator read the same edges, or ask for --repeatability alone.\n");
  CHECK(
      told("A,,100,\nA,,101,\nB,,120,\nB,,123,\n") ==
      "the readings: the readings do not say who took them, so that operators cannot be compared [one-operator]\n"
      "  Let a second operator read the same edges, or ask for --repeatability alone.\n");
  CHECK(told("A,K,100,\nA,M,101,\nB,K,120,\nB,,123,\n") ==
        "the readings: the reading in line 5 does not say who took it [missing-operator]\n"
        "  Other readings do.\n"
        "  Name the operator, or ask for --repeatability alone.\n");
  CHECK(
      told("A,K,100,\nA,M,101,\nB,K,120,\nB,M,123,\n") ==
      "the readings: no edge was read twice by the same operator, so that nothing tells how far a reading repeats [one-replicate]\n"
      "  Read each edge at least twice, better three times.\n");
  CHECK(told("A,K,100,\nA,K,101,\nA,M,120,\nA,M,123,\n") ==
        "the readings: all readings are of one edge, A [one-part]\n"
        "  Whether the tester tells edges apart cannot be judged from one.\n"
        "  Read a second edge, better ten between keen and dull.\n");
  CHECK(told("A,K,100,\nA,K,100,\nA,M,100,\nB,K,100,\nB,K,100,\nB,M,100,\n") ==
        "the readings: all readings are equal [no-scatter]\n"
        "  The tester does not answer, or a number was copied down.\n"
        "  Check the tester on a keen and a dull edge.\n");
  CHECK(told("A,K,100,\nA,K,100,\nA,M,100,\nB,K,130,\nB,K,130,\nB,M,130,\n") ==
        "the readings: an edge that is read again always shows the same number [no-scatter]\n"
        "  The tester shows too few digits, or a number was copied down.\n"
        "  Take every reading anew, and write down all digits.\n");
  CHECK(told("A,K,100,bad\nA,K,101,bad\n") ==
        "the readings: there is no tester reading that counts [no-readings]\n"
        "  All are missing or excluded.\n");
  // the lone owner of a tester can still have its repeatability
  GaugeSettings alone;
  alone.repeatability_only = true;
  const auto readings =
      parse_gauge_readings("g.csv", "part,operator,reading_gf\nA,K,100\nA,K,101\nB,K,120\nB,K,123\n");
  const double a = std::log(101.0 / 100.0), b = std::log(123.0 / 120.0);
  // of pairs: half the mean square of their differences
  CHECK(gauge(readings, alone).component("repeatability")->variance ==
        Approx(0.25 * (a * a + b * b)).epsilon(1e-9));
}

TEST_CASE("a file of readings alone is read with the place of every fault", "[gauge][csv]") {
  const auto fault = [](const std::string& text) {
    return std::string(error_of([&] { (void)parse_gauge_readings("g.csv", text); }).what());
  };
  CHECK(fault("part,operator,reading\nA,K,100\n") ==
        "g.csv:1:15: the readings have no unit (allowed: reading_gf or reading_N) [missing-unit]\n"
        "  1 | part,operator,reading\n"
        "    |               ^^^^^^^\n");
  CHECK(fault("part,operator,reading_gf\nA,K,\"100,5\"\n") ==
        "g.csv:2:6: \"100,5\" is not a number: the reading [decimal-comma]\n"
        "  2 | A,K,\"100,5\"\n"
        "    |      ^^^^^\n"
        "  Numbers here have a decimal point.\n"
        "  Export with a decimal point.\n");
  CHECK(fault("part,operator,reading_gf\n,K,100\n") ==
        "g.csv:2:1: this reading does not say of which edge it is [missing-part]\n"
        "  2 | ,K,100\n"
        "    | ^\n"
        "  Name the edge, or take the row out.\n");
  CHECK(fault("part,operator,reading_gf\nA,K,-3\n") ==
        "g.csv:2:5: a reading of -3 is no force (allowed: above 0) [negative-force]\n"
        "  2 | A,K,-3\n"
        "    |     ^^\n"
        "  An empty cell means missing; zero would mean that no force was needed.\n"
        "  Correct it, or leave it empty.\n");
  CHECK(fault("part,operator,replicate,reading_gf\nA,K,1,100\nA,K,1,101\n") ==
        "g.csv:3:5: replicate 1 of A by K stands twice [duplicate-replicate]\n"
        "  3 | A,K,1,101\n"
        "    |     ^\n"
        "  Number the replicates of one operator 1, 2, 3 …\n");
  CHECK(fault("part,operator,reading_gf\nA,K,\nB,K,\n") ==
        "g.csv:1:1: the file holds no readings [no-readings]\n"
        "  1 | part,operator,reading_gf\n"
        "    | ^\n"
        "  The reading is left empty in every row.\n"
        "  Write one row for each reading.\n");
  CHECK(fault("operator,reading_gf\nK,100\n")
            .rfind("g.csv:1:1: there is no column that says what was read", 0) == 0);
  CHECK(fault("part,operator\nA,K\n").rfind("g.csv:1:1: there is no column of readings", 0) == 0);
  CHECK(fault("part,edge,reading_N\nA,A,1\n").rfind("g.csv:1:1: what was read is named in two columns", 0) ==
        0);
  CHECK(fault("part;operator;reading_gf\nA;K;1\n")
            .rfind("g.csv:1:1: the columns are separated by semicolons", 0) == 0);

  const auto gf =
      parse_gauge_readings("g.csv", "# note\npart,operator,reading_gf,filament_lot\nA,K,100,N\nA,K,,N\n");
  REQUIRE(gf.size() == 1);  // an empty reading is missing
  CHECK(gf[0].line == 3);
  CHECK(gf[0].filament_lot == "N");
  const auto newton = parse_gauge_readings("g.csv", "edge,operator,reading_N,passes\nA,K,0.980665,60\n");
  CHECK(newton[0].reading_gf == Approx(100.0).epsilon(1e-14));  // 1 gf = 9.80665 mN
  CHECK(newton[0].part() == "A, 60 passes");
  CHECK(parse_gauge_readings("g.csv", "part,reading_gf\nA,-3\n", true)[0].reading_gf == -3.0);
}

TEST_CASE("a campaign and its readings file say the same about the tester", "[gauge]") {
  const std::string folder   = ARRIS_SOURCE_DIR "/configs/boatyard/";
  const Campaign    campaign = load_campaign_file(folder + "boatyard.toml");
  const auto        one      = gauge_readings(campaign.loaded.scenario, campaign.readings);
  const auto        other    = parse_gauge_readings("r.csv", campaign.readings_text);
  REQUIRE(one.size() == other.size());
  for (std::size_t i = 0; i < one.size(); ++i) {
    CHECK(one[i].part() == other[i].part());
    CHECK(one[i].line == other[i].line);
    CHECK(one[i].excluded == other[i].excluded);
  }
  const GaugeResult a = gauge(one, {}), b = gauge(other, {});
  // newton and back: rounding
  CHECK(a.component("repeatability")->variance ==
        Approx(b.component("repeatability")->variance).epsilon(1e-9));
  CHECK(a.excluded == 1);
  CHECK_FALSE(a.crossed);
}
