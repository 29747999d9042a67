// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/laws/field.hpp"
#include "sim/statistics/mean_squares.hpp"
#include "sim/studies/answer.hpp"

/// The tester itself, judged from readings: how far it repeats, how far operators differ, drift, lots, bias, outliers.
///
///     y_ijk = μ + P_i + O_j + (PO)_ij + E_ijk,   y = log(reading) or the reading itself
///
/// P_i, O_j, (PO)_ij, E_ijk are normal with the variances of edges, operators, their interaction and repeatability.
/// Repeatability is the scatter of one operator reading one edge again; reproducibility, √(σ_O² + σ_PO²), what a change of
/// operator adds; both together are the scatter of the tester. A *part* is an edge at one moment: what is cut with between two
/// readings is another part.
///
/// Every operator has read every edge equally often: analysis of variance,
///
///     σ_E² = MS_E,  σ_PO² = (MS_PO − MS_E)/r,  σ_O² = (MS_O − MS_PO)/(p·r),  σ_P² = (MS_P − MS_PO)/(o·r)
///
/// with the intervals of mean_squares.hpp. Otherwise restricted maximum likelihood (variance_components.hpp), with χ² intervals
/// from the expected information (Patterson & Thompson 1971): of repeatability on the degrees of freedom 2·θ²/var(θ)
/// (Satterthwaite 1946), of the others as gauge_components.hpp says.
/// An interaction that is not significant at the level `pool_above` is pooled with repeatability (Bancroft 1964).
/// Where no edge was read by two operators their differences are part of the edges', and only repeatability is reported.
///
/// Outliers are judged by their externally studentised residuals with Bonferroni's correction (Cook & Weisberg 1982); they are
/// told, and stay in. Drift, lots and operators are least-squares effects beside the edges.
/// Source: Burdick, Borror & Montgomery 2003, J. Qual. Technol. 35, 342 (from memory). Years and equations of the intervals
/// from memory too.
namespace arris {

struct GaugeReading {
  std::string edge;
  std::string moment;  ///< when it was taken; empty where that is not said
  std::string operator_name;
  std::string filament_lot;
  std::string excluded;        ///< reason; empty: it counts
  int         replicate  = 0;  ///< 0: not numbered
  double      reading_gf = not_given;
  int         line       = 0;  ///< in the file; the order in which readings were taken is that of the list
  std::string date{};          ///< YYYY-MM-DD; empty where none is stated
  std::string test_day{};      ///< any name of it; its date where none is stated

  /// What was read: the edge at its moment.
  [[nodiscard]] std::string part() const { return moment.empty() ? edge : edge + ", " + moment; }
};

enum class GaugeScale { logarithm, linear };

struct GaugeSettings {
  GaugeScale  scale              = GaugeScale::logarithm;
  bool        repeatability_only = false;     ///< operators are not compared
  double      pool_above         = 0.25;      ///< p above which the interaction is pooled
  double      difference_pct     = 10.0;      ///< between two edges that are to be told apart
  std::string reference;                      ///< edge, or part, whose true reading is known; empty: none
  double      reference_gf = not_given;       ///< its true reading
  std::string source       = "the readings";  ///< file, for sentences
  double      confidence   = 0.90;            ///< of the intervals of variances
  double      risk         = 0.05;  ///< of a false alarm in every test; effects have intervals of 1 − risk
  double      power        = 0.90;  ///< with which a difference is to be found

  int draws = 20000;  ///< behind the interval of the share

  static constexpr unsigned long long seed = 1;  ///< of these draws
};

/// One row of the analysis of variance.
struct GaugeSource {
  std::string name;
  double      df          = 0.0;
  double      sum_squares = 0.0;
  double      mean_square = 0.0;
  double      F           = not_given;
  double      p           = not_given;
};

/// A variance, in squares of the log or of gf.
struct GaugeComponent {
  std::string name;  ///< repeatability, operator, interaction, reproducibility, tester, part, total
  double      variance = 0.0;
  Interval    interval;          ///< of the variance
  bool        negative = false;  ///< the estimate was below 0 and has been set to 0
};

/// A difference on the scale of the study, with its interval and the probability of one as large by chance.
struct GaugeEffect {
  double   value = not_given;
  Interval interval;
  double   p = not_given;
};

struct GaugeOperator {
  std::string name;
  int         readings = 0;
  double      mean     = 0.0;  ///< on the scale of the study
  GaugeEffect effect;  ///< from the mean of all operators, on equal edges; NaN where it cannot be determined
  double      own_sd = not_given;  ///< repeatability of this operator alone
};

struct GaugeLot {
  std::string name;
  int         readings = 0;
  double      mean     = 0.0;
  GaugeEffect
      effect;  ///< from the mean of all lots, on equal edges and operators; NaN where it cannot be determined
};

struct GaugeBias {
  std::string who;  ///< an operator, or "all"
  int         readings = 0;
  double      mean     = 0.0;
  GaugeEffect effect;  ///< from the reference
};

/// One reading, and what became of it.
struct GaugeResidual {
  std::size_t reading     = 0;          ///< index into the readings given
  double      fitted      = not_given;  ///< on the scale of the study
  double      residual    = not_given;
  double      studentised = not_given;  ///< externally; NaN where nothing else speaks for or against it
  double      p           = not_given;  ///< after Bonferroni's correction
  double      others      = not_given;  ///< what the other readings would have let expect
  bool        excluded    = false;      ///< in the file
  bool        outlier     = false;      ///< p below the risk
};

/// What means of n readings can tell apart, on the scale of the study.
struct GaugeReplicates {
  int    readings_each    = 1;
  double detectable       = not_given;  ///< judged by the scatter that this study has found
  double detectable_alone = not_given;  ///< judged by the scatter of those readings alone; NaN for one
};

struct GaugeResult {
  int                         readings = 0, excluded = 0, parts = 0, operators = 0, cells = 0;
  int                         least_replicates = 0, most_replicates = 0;  ///< in the cells that are there
  bool                        crossed          = false;  ///< operators share edges, and are compared
  bool                        balanced         = false;  ///< analysis of variance; otherwise REML
  bool                        interaction_kept = false;
  double                      interaction_p    = not_given;
  double                      df               = 0.0;  ///< of repeatability
  std::vector<GaugeSource>    anova;
  std::vector<GaugeComponent> components;
  double                      share = not_given;  ///< of the tester in the total variance
  Interval                    share_interval;
  std::vector<GaugeOperator>  operator_rows;
  double                      operators_p = not_given;  ///< of equal operators
  std::string
      operators_confounded;  ///< why operators cannot be told from lots or days, a sentence; empty where they can
  std::vector<GaugeLot>      lots;
  double                     lots_p = not_given;  ///< of equal lots; NaN where they cannot be compared
  GaugeEffect                drift;               ///< per 100 readings; NaN where it cannot be determined
  std::string                reference;           ///< the part that was meant
  std::vector<GaugeBias>     bias;
  std::vector<GaugeResidual> residuals;               ///< one per reading given
  double                     sd_without = not_given;  ///< repeatability without the outliers; NaN without any
  std::vector<GaugeReplicates> replicates;
  double                       needed =
      not_given;  ///< readings of each edge, for the difference that was asked; NaN: it has no size
  double needed_high  = not_given;  ///< the same at the upper end of repeatability
  double needed_alone = not_given;  ///< judged by those readings alone; may be infinite

  [[nodiscard]] const GaugeComponent* component(const std::string& name) const;
};

/// Throws Error (Exit::data): "no-readings", "negative-force" (log scale), "one-part", "missing-operator", "one-operator",
/// "one-replicate", "no-scatter", "too-many" (more than 600 edges, operators and cells without balance);
/// (Exit::usage): "unknown-edge" for a reference that is not there; (Exit::not_converged): "no-convergence".
[[nodiscard]] GaugeResult gauge(const std::vector<GaugeReading>& readings, const GaugeSettings& settings);

[[nodiscard]] Answer gauge_answer(const std::vector<GaugeReading>& readings, const GaugeSettings& settings,
                                  const GaugeResult& result);

}  // namespace arris
