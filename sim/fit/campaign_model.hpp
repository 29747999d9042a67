// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>
#include <ceres/jet.h>

#include "sim/fit/fit_settings.hpp"
#include "sim/simulate/history_tree.hpp"
#include "sim/simulate/readings.hpp"

/// What a campaign's readings should be, as a function of the free parameters and of the luck of each edge, operator and
/// filament lot, on a test day, and of what each way of sharpening reads beside the model (ways.hpp).
///
///     log F_ij = log F( e^(η_e + η_way)·( r_0 + e^ρ·(r − r_0) ), e^(η_e + η_way)·b; θ ) + η_operator + η_lot + η_day + noise,
///     ρ = ρ_e + ρ_way + ρ_wood
///
/// r(θ), b(θ) are apex and burr of the mean edge, r_0 its apex when its wear began (start_of_wear). η_e is the random effect of
/// an edge, a factor on its apex, η_way that of how it was sharpened up to then; ρ_e is its luck in the rate of wear, a factor on what the apex has grown in wood since,
/// ρ_way and ρ_wood what edges sharpened one way, or cutting one wood, share of it; the others are factors on the force. Microscope radii and recessions see those of edge and way only, a loss of mass (state.hpp) none of
/// them: most of it comes off the stones, whatever the luck of the apex. The histories are run once per θ; effects cost next to
/// nothing. e^ρ on the growth is what a factor on the rate does where wear is steady in the radius; where it is not, it is the
/// first term of it.
namespace arris {

/// The groups of random effects, in the order of their columns.
enum class EffectKind { edge, person, lot, rate, day, way, way_wear, wood };
inline constexpr int effect_kinds = 8;

/// Those that edges share.
inline constexpr std::array kinds_shared{EffectKind::person, EffectKind::lot,      EffectKind::day,
                                         EffectKind::way,    EffectKind::way_wear, EffectKind::wood};

/// Those that are factors on the force, on the apex, and on what the apex grows in wood.
inline constexpr std::array kinds_on_force{EffectKind::person, EffectKind::lot, EffectKind::day};
inline constexpr std::array kinds_on_apex{EffectKind::edge, EffectKind::way};
inline constexpr std::array kinds_on_growth{EffectKind::rate, EffectKind::way_wear, EffectKind::wood};

/// "edge", "operator", "filament lot", "rate of wear", "test day", "way of sharpening", "wear after a way of sharpening", "wear in a wood".
[[nodiscard]] const char* name_of(EffectKind kind);

/// Standard deviation of the log of what all operators have in common, or all lots, or all days, where there are several. What the model
/// reads is what those of a campaign read on average: next to nothing, since the tester has parameters of its own for all that is common to
/// its readings. With 0.1 a wrong law let three lots read 35 % high together, and forecasts read as much too low. How far those who read may
/// be from others is drawn apart (ways.hpp).
inline constexpr double common_sd = 0.01;

/// The same of what all woods, or all ways, have in common of the growth of the apex: the rate of the law is theirs (estimate).
inline constexpr double common_growth_sd = 0.1;

struct Effect {
  EffectKind  kind;
  std::string name;
};

/// One number that was measured, on the scale on which it scatters: that of logs, or for wear of specimens whose noise is additive that over the
/// typical wear of the campaign (CampaignModel::typical_um).
struct Observation {
  enum class Kind { reading, apex_radius, recession, mass_loss };
  Kind   kind      = Kind::reading;
  int    reading   = -1;     ///< index of the row it came from
  int    edge      = -1;     ///< index into Scenario::edges
  int    moment    = -1;     ///< index into the moments of that edge
  double log_value = 0.0;    ///< of N, of µm or of mg; on that scale
  double known_sd  = 0.0;    ///< on that scale, where the row states its uncertainty; 0: reading noise
  bool   is_below  = false;  ///< less was there than this, and no more is known of it
  int    effect[effect_kinds] = {-1, -1, -1, -1, -1, -1, -1, -1};  ///< columns of its effects; −1: none
  [[nodiscard]] int column(EffectKind of) const { return effect[static_cast<int>(of)]; }
};

/// Inputs of the tester with respect to which a reading has slopes: the radius met, the burr, the five numbers of the tester, the luck of
/// the apex.
inline constexpr int reading_inputs = 8;
using ReadingJet                    = ceres::Jet<double, reading_inputs>;

/// What readings of honed, stropped and used edges usually tell something about: free when nothing else is said. Of several steels that were
/// read the size of their carbides, and their wear relative to the first, or to O1 where it is among them. The tester's own numbers are
/// among them where it was used: where one of `readings` is of it, or there are none to look at.
[[nodiscard]] std::vector<std::string> usual_parameters(const Scenario&             scenario,
                                                        const std::vector<Reading>& readings = {});

/// The settings with those effects alone that these readings can tell: of operators, lots and days where two or more are named,
/// of rates where an edge was read after cuts, of ways where edges that were read are sharpened in two or more, of wear after ways and in
/// woods where edges were read after cuts in two or more.
[[nodiscard]] FitSettings with_effects_of(const Scenario& scenario, const std::vector<Reading>& readings,
                                          const FitSettings& settings);

struct EarlierLaw;

class CampaignModel {
 public:
  /// Excluded readings are left out. Throws Error (Exit::data, "no-readings") when none remain.
  CampaignModel(const Scenario& scenario, const std::vector<Reading>& readings,
                const std::vector<FreeParameter>& parameters, const FitSettings& settings);

  /// The same parameters, priors and settings with other readings of the same edges; the scale of their noise is that of the first. Throws
  /// as above.
  CampaignModel(const CampaignModel& model, const std::vector<Reading>& readings);

  [[nodiscard]] const Scenario&                   scenario() const { return scenario_; }
  [[nodiscard]] const std::vector<FreeParameter>& parameters() const { return parameters_; }
  [[nodiscard]] const std::vector<Reading>&       readings() const { return readings_; }
  [[nodiscard]] const std::vector<Observation>&   observations() const { return observations_; }
  [[nodiscard]] const std::vector<Effect>&        effects() const { return effects_; }
  [[nodiscard]] const FitSettings&                settings() const { return settings_; }
  /// W of rules_of_thumb.hpp, and below it that of earlier_fit.hpp; without rows where neither tells of the free parameters.
  [[nodiscard]] const Eigen::MatrixXd& rules() const { return rules_; }
  /// What an earlier fit knows under the wear law of the scenario; nullptr where none is named, or it has no such law.
  [[nodiscard]] const EarlierLaw* begins_from() const { return earlier_; }
  /// C (rows × q): that operators, lots and days do not all read too high together, since that is the tester's own. A row for each of
  /// these kinds, and of those on growth, that has two members or more: their mean effect over `common_sd` or `common_growth_sd`. Its sum of squares is in the prior.
  [[nodiscard]] const Eigen::MatrixXd& centring() const { return centring_; }
  /// Those of the scenario, tighter where measurements are many: errors of one integration shift all of them together, and a log posterior
  /// of some thousands would change by more from place to place than the optimum is told by.
  [[nodiscard]] Tolerances tolerances() const;
  /// Of u: 1 + WᵀW.
  [[nodiscard]] Eigen::MatrixXd prior_precision() const;
  [[nodiscard]] Eigen::Index    size() const { return static_cast<Eigen::Index>(observations_.size()); }
  [[nodiscard]] Eigen::Index parameter_count() const { return static_cast<Eigen::Index>(parameters_.size()); }
  [[nodiscard]] Eigen::Index effect_count() const { return static_cast<Eigen::Index>(effects_.size()); }
  /// How many effects of a kind there are; 0 where they are not in the model. `settings()` says the same.
  [[nodiscard]] int  members(EffectKind kind) const;
  [[nodiscard]] bool has_effect(EffectKind kind) const { return members(kind) > 0; }
  [[nodiscard]] int  edges_with_readings() const;
  /// Indices into Scenario::edges of those that have readings, ascending.
  [[nodiscard]] std::vector<int> edges_read() const;
  /// Whether readings scatter by so many micrometres (specimens, [specimen] noise).
  [[nodiscard]] bool is_additive() const { return scenario_.model.specimen.is_additive(); }
  /// Root mean square of the wear that was read, µm: the unit of additive noise; 1 elsewhere.
  [[nodiscard]] double typical_um() const { return typical_um_; }
  /// What stands on the scale of an observation, in its unit: N, µm or mg.
  [[nodiscard]] double in_unit(double on_scale) const {
    return is_additive() ? on_scale * typical_um_ : std::exp(on_scale);
  }
  /// Whether any measurement comes without an uncertainty of its own, so that there is reading noise to estimate.
  [[nodiscard]] bool          has_reading_noise() const;
  [[nodiscard]] const Moment& moment_of(const Observation& o) const {
    return moments_[static_cast<std::size_t>(o.edge)][static_cast<std::size_t>(o.moment)];
  }
  /// Moments that are looked at, by edge, ascending: those of readings, and when the wear seen there began.
  [[nodiscard]] const std::vector<std::vector<Moment>>& moments() const { return moments_; }
  /// Index of an observation's moment among those of all edges, which stand one after another.
  [[nodiscard]] std::size_t flat_moment(const Observation& o) const {
    return static_cast<std::size_t>(first_moment_[static_cast<std::size_t>(o.edge)]) +
           static_cast<std::size_t>(o.moment);
  }

  /// The moment, over all edges as in Apex, at which the wear that is seen at moment `m` began; none where the edge has not cut since it was
  /// sharpened, or luck in wear is not in the model.
  [[nodiscard]] std::optional<std::size_t> wear_began(std::size_t m) const {
    return wear_began_[m] < 0 ? std::nullopt : std::optional<std::size_t>(wear_began_[m]);
  }

  /// Apex of every edge at every moment that was measured, at scaled parameters u.
  struct Apex {
    bool           usable = false;
    std::string    failure;  ///< a sentence, where it is not usable
    Tester<double> tester;
    /// by moment, over all edges; `met_um` is the radius that a tester meets: apex and dub
    std::vector<double>                      radius_um, met_um, burr_um, mass_mg, half_angle;
    std::vector<laws::TesterAtAngle<double>> tester_at;  ///< by moment
    /// by moment; d/du, empty without derivatives
    std::vector<Eigen::VectorXd> radius_slopes, met_slopes, burr_slopes, mass_slopes;
    std::vector<Eigen::VectorXd> tester_slopes;  ///< d/du of the five numbers of the tester
  };
  [[nodiscard]] Apex apex(const Eigen::VectorXd& u, bool with_slopes) const;
  /// What `apex` gives at each column of `u` (P × n) without slopes, the histories of all of them run together in lanes: a few
  /// at a time pay. To the same bits, whatever stands beside a column.
  [[nodiscard]] std::vector<Apex> apexes(const Eigen::MatrixXd& u) const;

  /// Log predictions f (n) for given effects η; slopes with respect to u (n × P) and η (n × q) unless null.
  void observe(const Apex& apex, const Eigen::VectorXd& effects, Eigen::VectorXd& f,
               Eigen::MatrixXd* by_parameter, Eigen::MatrixXd* by_effect) const;
  /// Slopes of the log predictions by the effect of each kind that an observation has: all that is not 0 of the n × q matrix.
  struct SlopesByKind {
    Eigen::MatrixXd slopes;  ///< effect_kinds × n
    double&         of(Eigen::Index i, EffectKind kind) { return slopes(static_cast<int>(kind), i); }
  };
  void observe(const Apex& apex, const Eigen::VectorXd& effects, Eigen::VectorXd& f,
               SlopesByKind& by_kind) const;

  /// Repeated readings are foretold alike, whatever parameters and effects are: observations of one kind, of one edge at one moment, with the
  /// same effects. The first of each, ascending.
  [[nodiscard]] const std::vector<Eigen::Index>& distinct() const { return distinct_; }
  /// Of each observation: its place in `distinct()`.
  [[nodiscard]] const std::vector<Eigen::Index>& distinct_of() const { return distinct_of_; }
  /// As `observe`, of the observations in `distinct()` alone, in their order; slopes unless null.
  void observe_distinct(const Apex& apex, const Eigen::VectorXd& effects, Eigen::VectorXd& f,
                        Eigen::MatrixXd* by_parameter, SlopesByKind* by_kind) const;

  [[nodiscard]] Eigen::VectorXd measured() const;

 private:
  CampaignModel(const Scenario& scenario, const std::vector<Reading>& readings,
                const std::vector<FreeParameter>& parameters, const FitSettings& settings,
                Eigen::MatrixXd rules, double typical_um);

  void find_moments();
  void find_tester_numbers();
  void find_typical();
  void find_observations();
  void find_distinct();
  void find_centring();
  /// The column of an effect, made where there is none yet; −1 for one that is not wanted, or without a name.
  [[nodiscard]] int column_of(bool wanted, EffectKind kind, const std::string& name);

  /// A length of an apex with the luck of its edge in the rate of wear; its slopes by the length now and when the wear began, and
  /// by the log of the luck.
  struct Worn {
    double value, by_now, by_start, by_luck;
  };
  [[nodiscard]] Worn            worn(const Observation& o, const std::vector<double>& lengths,
                                     const Eigen::VectorXd& effects) const;
  [[nodiscard]] Eigen::VectorXd slope_of(const Observation& o, const Worn& worn,
                                         const std::vector<Eigen::VectorXd>& slopes) const;
  /// The reading of an edge at a moment, which all readings taken then share, and what it changes by.
  struct Shown {
    Worn       met;
    ReadingJet log_N;  ///< by the inputs of the tester; those that nobody asks for are 0
  };
  enum class Wanted { values, by_luck, all };
  [[nodiscard]] Shown shown(const Observation& o, const Apex& apex, const Eigen::VectorXd& effects,
                            Wanted wanted) const;
  // into row k
  void observe_length(Eigen::Index k, const Observation& o, const Apex& apex, const Eigen::VectorXd& effects,
                      Eigen::VectorXd& f, Eigen::MatrixXd* by_parameter, SlopesByKind* by_kind) const;
  void observe_reading(Eigen::Index k, const Observation& o, const Apex& apex, const Shown& shown,
                       const Eigen::VectorXd& effects, Eigen::VectorXd& f, Eigen::MatrixXd* by_parameter,
                       SlopesByKind* by_kind) const;
  void observe_wear(Eigen::Index k, const Observation& o, const Apex& apex, const Eigen::VectorXd& effects,
                    Eigen::VectorXd& f, Eigen::MatrixXd* by_parameter, SlopesByKind* by_kind) const;
  void observe_all(const Apex& apex, const Eigen::VectorXd& effects, Eigen::VectorXd& f,
                   Eigen::MatrixXd* by_parameter, SlopesByKind* by_kind) const;

  void add_slopes(const Eigen::VectorXd& u, const std::vector<double>& values, Apex& apex) const;
  /// The parameters in their units; false, with a sentence, where one is out of its range.
  bool find_values(const Eigen::Ref<const Eigen::VectorXd>& u, std::vector<double>& values,
                   std::string& failure) const;
  void set_what_needs_no_history(const Model<double>& model, Apex& apex) const;
  template <class T>
  [[nodiscard]] std::vector<T> widths_m(const Model<T>& model) const;  ///< by moment
  /// What is seen of the edges, by moment.
  template <class T>
  struct Seen {
    std::vector<T> radius, met, burr, mass;
  };
  template <class T>
  bool run_edges(const Model<T>& model, Seen<T>& seen, std::string& failure) const;

  /// A model to work in, with the places of the parameters in it; borrowed, so that threads need not copy one each time.
  template <class T>
  struct Bench {
    Model<T>            model;
    std::vector<T*>     places;
    std::vector<double> seen_at;  ///< numbers that histories hang on, at which `seen` was worked out
    Seen<T>             seen;
  };
  /// `seen` of the bench: the histories run, unless they were last run at the same numbers. What only the tester shows
  /// changes no history.
  template <class T>
  bool see_edges(Bench<T>& bench, const std::vector<double>& values, std::size_t first_slot,
                 std::string& failure) const;
  template <class T>
  struct Benches {
    std::mutex                             lock;
    std::vector<std::unique_ptr<Bench<T>>> idle;
  };

  template <class T>
  [[nodiscard]] std::unique_ptr<Bench<T>> borrow(Benches<T>& benches) const;
  template <class T>
  static void give_back(Benches<T>& benches, std::unique_ptr<Bench<T>> bench);
  template <class Jet>
  void add_history_slopes(Benches<Jet>& benches, const Eigen::VectorXd& u, const std::vector<double>& values,
                          Apex& apex) const;

  Scenario                         scenario_;
  double                           typical_um_ = 1.0;
  std::vector<Reading>             readings_;
  std::vector<FreeParameter>       parameters_;
  Eigen::MatrixXd                  rules_, centring_;
  FitSettings                      settings_;
  const EarlierLaw*                earlier_ = nullptr;  ///< in settings_.earlier
  std::vector<Observation>         observations_;
  std::vector<Eigen::Index>        distinct_, distinct_of_;
  std::vector<Effect>              effects_;
  std::vector<std::vector<Moment>> moments_;       ///< by edge, ascending
  std::vector<int>                 first_moment_;  ///< by edge, into the flat lists
  std::vector<int>
      wear_began_;  ///< by flat moment: the flat moment when the wear seen there began; −1: no luck in it
  int moment_count_ = 0;
  HistoryTree              tree_;  ///< of all edges, up to their last readings
  mutable Benches<double>  benches_;
  std::vector<int>         tester_number_;  ///< of a parameter: which of the tester's five; −1 for others
  std::vector<std::size_t> in_histories_;   ///< parameters that histories hang on: all but the tester's
  // derivatives carried in one run: four where that is enough, or else eight at a time
  mutable Benches<ceres::Jet<double, 4>> jet4_benches_;
  mutable Benches<ceres::Jet<double, 8>> jet8_benches_;
};

}  // namespace arris
