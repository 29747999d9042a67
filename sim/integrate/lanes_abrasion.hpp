// SPDX-License-Identifier: MIT
#pragma once

#include "sim/integrate/lanes_array.hpp"
#include "sim/integrate/lanes_series.hpp"
#include "sim/laws/burr.hpp"
#include "sim/laws/dub.hpp"
#include "sim/laws/glazing.hpp"
#include "sim/laws/honing_floor.hpp"
#include "sim/laws/scratch.hpp"

/// The kernel of edges on a medium or a strop: power series over the depth D that is removed (lanes_tasks.hpp), for the files that
/// lanes_kernel.hpp is included by.
///
/// The laws make scratches, radius, freshness and burr of sums, products, quotients, roots and an exponential. So each coefficient
/// of their series follows from those before, for one sum of products to an operation (the recurrences are those of any book on
/// Taylor methods; from memory). The last two coefficients tell how far a series holds: no step is tried in vain. It ends
/// where the growth of the burr or the share of the tip that is met has a joint, too, and with the last stroke or lap.
///
/// Every lane has a step size and an end of its own. As soon as one has finished, the next task takes its
/// place. Nothing that a lane holds touches another.
namespace arris::lanes {

/// The components of an abrasion task that are integrated, beside the scratches.
template <Face face>
inline constexpr int integrated = face == Face::back      ? 1
                                  : face == Face::counted ? 4
                                                          : 2;

template <class T, Face face>
class AbrasionKernel {
  using V    = typename T::Value;
  using Task = Abrasion<T::slopes>;

 public:
  static void run(Task* const* tasks, std::size_t count, const Rules& rules) {
    if (count > 0) AbrasionKernel(rules).work(tasks, count);
  }

 private:
  using Mask                        = typename V::Mask;
  static constexpr int  N           = integrated<face>;
  static constexpr bool raises_burr = face == Face::bevel || face == Face::counted;
  static constexpr bool to_a_count  = face == Face::counted || face == Face::strop;
  /// Where the strokes or laps to come are kept.
  static constexpr int left  = face == Face::strop ? 1 : Task::left;
  static constexpr int lanes = static_cast<int>(V::size);
  // Orders of scratches and radius, and of all that follows from them. Work grows as their squares, steps get longer: these are the
  // fastest by measurement, lower with derivatives, of which each product costs two.
  static constexpr int P = T::slopes > 0 ? 8 : 10;
  static constexpr int Q = T::slopes > 0 ? 6 : 8;
  using Long             = Series<T, P>;
  using Short            = Series<T, Q>;
  using Shorter          = Series<T, Q - 1>;
  using Cubic            = Series<T, 3>;

  /// Of r/r∞: from joint to joint of the burr's growth.
  static constexpr double unit = 2.0 * laws::burr_opening_half_width;
  /// So near to a joint, of r/r∞, either formula will do: they part as its cube.
  static constexpr double near = 1e-4;
  /// Of what is allowed elsewhere: nothing in a history hangs on the burr.
  static constexpr double burr_share = 6.0;

  explicit AbrasionKernel(const Rules& rules)
      : rules_(rules),
        relative_(rules.relative * (face == Face::counted ? rules.counted : 1.0)),
        absolute_(rules.absolute_um * (face == Face::counted ? rules.counted : 1.0)) {}

  [[nodiscard]] T constant(int k) const { return constant_.get(k); }

  // (s + s_m)·s′ = −(s − s_m), of s times `scale`; beside it g = (scale·s)² + least
  void expand_scratch(const T& own, const T& scale, const T& least, Long& s, Long& g) const {
    const T per = -1.0 / (s[0] + own), half = 0.5 * per, by = scale * per, twice = s[0] + s[0];
    s[1] = by * (s[0] - own);
    g[0] = fma(s[0], s[0], least);
    g[1] = twice * s[1];
    orders<T, 1, P>([&](auto k) {
      const auto next  = next_of(k);
      const T    inner = inner_square(s, next);
      s[next]          = fma(half, inner, by * (s[k] * V(1.0 / next)));
      g[next]          = fma(twice, s[next], inner);
    });
  }
  // r′ = C·fall·(1 − r∞²/r²); `tip` is C where it is not 1 all over, or null
  void expand_radius(const Long& g, const Cubic* tip, Long& r) const {
    const T fall = constant(Task::fall), back = fall * V(-1.0 / (unit * unit));
    Long    square, share, free;  // r², g/r², r′ over C
    square[0]   = r[0] * r[0];
    const T per = 1.0 / square[0], twice = r[0] + r[0];
    share[0] = g[0] * per;
    free[0]  = fma(back, share[0], fall);
    r[1]     = tip != nullptr ? T((*tip)[0] * free[0]) : free[0];
    orders<T, 1, P>([&](auto k) {
      square[k]     = fma(twice, r[k], inner_square(r, k));
      share[k]      = (g[k] - products<1>(square, share, k)) * per;
      free[k]       = back * share[k];
      r[next_of(k)] = (tip != nullptr ? at_tip(*tip, free, k) : free[k]) * V(1.0 / next_of(k));
    });
  }
  // coefficient k of C·x
  template <class S, class K>
  [[nodiscard]] static T at_tip(const Cubic& tip, const S& x, K k) {
    const int n    = k;
    const int last = n < 3 ? n : 3;
    T         sum  = tip[0] * x[n];
    for (int i = 1; i <= last; ++i) sum = fma(tip[i], x[n - i], sum);
    return sum;
  }
  // r/r∞ in units of `unit`, as far as order Q − 1
  void expand_ratio(const Long& g, const Long& r, Shorter& ratio) const {
    Shorter root;
    root[0]     = sqrt(g[0]);
    const T per = 1.0 / root[0], half = 0.5 * per;
    ratio[0] = r[0] * per;
    orders<T, 1, Q>([&](auto k) {
      root[k]  = (g[k] - inner_square(root, k)) * half;
      ratio[k] = (r[k] - products<1>(root, ratio, k)) * per;
    });
  }
  // G; `below` and `above` tell which formula of the positive part holds
  void expand_growth(const Shorter& ratio, const Mask& below, const Mask& above, Short& growth) const {
    Shorter square, rest, part;  // t², t − t²/2 of t = ratio − shift, the positive part in units of `unit`
    constexpr double shift = 1.0 / unit - 0.5;
    Shorter          t     = ratio;
    t[0]                   = ratio[0] - shift;
    square[0]              = t[0] * t[0];
    rest[0]                = fma(V(-0.5), square[0], t[0]);
    part[0]                = select(below, T(0.0), select(above, T(t[0] - 0.5), T(square[0] * rest[0])));
    growth[0]              = exp(part[0] * V(-unit));
    const T twice          = t[0] + t[0];
    orders<T, 1, Q>([&](auto k) {
      square[k] = fma(twice, t[k], inner_square(t, k));
      rest[k]   = fma(V(-0.5), square[k], t[k]);
      part[k]   = select(below, T(0.0), select(above, t[k], products<0>(square, rest, k))) * V(-unit * k);
      growth[k] = products<1>(part, growth, k) * V(1.0 / k);
    });
  }
  // with m = −n′/n_glaze and φ = (1 − f_res)·freshness: (f_res + φ)·m = −X′/n_glaze, φ′ = φ·m
  void expand_strokes(const V& done, Short& fresh, Short& strokes) const {
    const T pace = constant(Task::pace) * -constant(Task::glaze_rate), slope = constant(Task::land_slope);
    const T per = 1.0 / (constant(Task::glaze_floor) + fresh[0]);
    strokes[0]  = pace * fma(done, slope, constant(Task::land_start)) * per;
    fresh[1]    = fresh[0] * strokes[0];
    orders<T, 1, Q>([&](auto k) {
      const T sum       = products<1>(fresh, strokes, k);
      strokes[k]        = k == 1 ? T((pace * slope - sum) * per) : T(-sum * per);
      fresh[next_of(k)] = fma(fresh[0], strokes[k], sum) * V(1.0 / next_of(k));
    });
  }
  // B′ = C·G
  static void expand_opened(const Short& growth, const Cubic* tip, Short& opened) {
    opened[0] = T(0.0);
    orders<T, 0, Q>([&](auto k) {
      opened[next_of(k)] = (tip != nullptr ? at_tip(*tip, growth, k) : growth[k]) * V(1.0 / next_of(k));
    });
  }
  // of laps: left′ = −√( 1 + u/(Λ + P²·u) )/(κ·E) with u = c_b·w + r
  void expand_laps(const Long& r, Short& laps) const {
    const T strain = constant(Task::strain), slope = constant(Task::per_lap),
            back = -1.0 / constant(Task::wear_in);
    Short u, below, ratio, root;
    u[0]         = constant(Task::worn_in) - slope * laps[0] + r[0];
    below[0]     = fma(strain, u[0], constant(Task::strength));
    const T per  = 1.0 / below[0];
    ratio[0]     = u[0] * per;
    root[0]      = sqrt(1.0 + ratio[0]);
    const T half = 0.5 / root[0];
    laps[1]      = back * root[0];
    orders<T, 1, Q>([&](auto k) {
      u[k]             = r[k] - slope * laps[k];
      below[k]         = strain * u[k];
      ratio[k]         = (u[k] - products<1>(below, ratio, k)) * per;
      root[k]          = (ratio[k] - inner_square(root, k)) * half;
      laps[next_of(k)] = back * (root[k] * V(1.0 / next_of(k)));
    });
  }
  // left′ = −C·n′ with C of burr_raised; `none` and `whole` tell which formula of the step holds
  void expand_left(const Long& r, const Short& strokes, const Mask& none, const Mask& whole, const Cubic* tip,
                   Short& strokes_left) const {
    constexpr double w = laws::burr_raised_half_width;
    const T per = -1.0 / (2.0 * w * constant(Task::own_floor)), back = 1.0 / constant(Task::glaze_rate);
    Short   t, square, raised;
    t[0]      = fma(per, r[0], T((laws::apex_reached_ratio + w) / (2.0 * w)));
    square[0] = t[0] * t[0];
    raised[0] = select(none, T(0.0), select(whole, T(1.0), T(square[0] * (3.0 - 2.0 * t[0]))));
    Short counted;  // −left′·n_glaze
    counted[0]      = raised[0] * strokes[0];
    strokes_left[1] = back * (tip != nullptr ? T((*tip)[0] * counted[0]) : counted[0]);
    const T twice   = t[0] + t[0];
    orders<T, 1, Q>([&](auto k) {
      t[k]          = per * r[k];
      square[k]     = fma(twice, t[k], inner_square(t, k));
      const T blend = fma(V(3.0), square[k], T(-2.0 * products<0>(t, square, k)));
      raised[k]     = select(none | whole, T(0.0), blend);
      counted[k]    = products<0>(raised, strokes, k);
      strokes_left[next_of(k)] =
          back * ((tip != nullptr ? at_tip(*tip, counted, k) : counted[k]) * V(1.0 / next_of(k)));
    });
  }

  // the last two coefficients of a series of the order `order`, over what is allowed
  template <int order>
  struct Over {
    V    last{1e-250}, before{1e-250};
    void look(const V& c_last, const V& c_before, const V& per_allowed) {
      last   = max(last, abs(c_last) * per_allowed);
      before = max(before, abs(c_before) * per_allowed);
    }
    [[nodiscard]] V step() const {
      return 0.95 * min(root_of_inverse(last, order), root_of_inverse(before, order - 1));
    }
  };

  // value and slope of a series
  template <int order>
  static void look_at(const Series<T, order>& x, const V& at, V& value, V& slope) {
    value = x[order].value();
    slope = V(0.0);
    Series<T, order>::template backwards<order>([&](int k) {
      slope = fma(at, slope, value);
      value = fma(at, value, x[k].value());
    });
  }
  // Where a series comes to `goal` between 0 and `to`, in the lanes of `wanted`: Newton's method within its bracket, until it is
  // off by no more than `allowed`. `down`: it comes from above. Lanes where it is not found are taken out of `wanted`.
  template <int order>
  static V comes_to(const Series<T, order>& x, const V& goal, const Mask& down, V at, V to, const V& allowed,
                    Mask& wanted) {
    V    from(0.0);
    Mask there = !wanted;
    for (int i = 0; i < 40 && !all(there); ++i) {
      V value, slope;
      look_at(x, at, value, slope);
      const V    behind = value - goal;
      const Mask past   = (down & (behind < 0.0)) | ((!down) & (behind > 0.0));
      to                = select(past, at, to);
      from              = select(past, from, at);
      there             = there | (abs(behind) <= allowed);
      V next            = at - behind / slope;
      next              = select((next > from) & (next < to), next, 0.5 * (from + to));
      at                = select(there, at, next);
    }
    wanted = wanted & there;
    return at;
  }
  // How far a series may be gone along, up to `end`, before it leaves [low, high]: to a little beyond the joint, where what follows
  // is taken to be on the other side of it.
  template <int order>
  static V stays(const Series<T, order>& x, const V& low, const V& high, const V& slack, const V& end) {
    const auto value = [&x](const V& at) {
      V sum = x[order].value();
      Series<T, order>::template backwards<order>([&](int k) { sum = fma(at, sum, x[k].value()); });
      return sum;
    };
    const auto beyond = [&](const V& r) { return (r < low - 2.5 * slack) | (r > high + 2.5 * slack); };
    const V    half = 0.5 * end, at_half = value(half), at_end = value(end);
    const Mask early = beyond(at_half);
    Mask       off   = early | beyond(at_end);
    if (!any(off)) return end;
    const V    to = select(early, half, end), reached = select(early, at_half, at_end), start = x[0].value();
    const Mask down  = reached < low;
    const V    goal  = select(down, low - 2.0 * slack, high + 2.0 * slack);
    const V    guess = to * min(max((start - goal) / (start - reached), V(0.0)), V(1.0));
    const V    at    = comes_to(x, goal, down, guess, to, 0.4 * slack, off);
    return select(off, at, end);
  }
  // On which side of two joints a value is, and where that side ends. One that is on its way is where it will be at once.
  struct Side {
    Mask below, above;
    V    low, high;

    Side() = default;
    Side(const V& x, const V& slope, double first, double second, const V& slack) {
      const V ahead = x + select(slope < 0.0, -slack, slack);
      below         = ahead <= first;
      above         = ahead >= second;
      low           = select(below, V(-1e300), select(above, V(second), V(first)));
      high          = select(above, V(1e300), select(below, V(first), V(second)));
    }
  };

  void load(const Task& task, int lane) {
    for (int k = 0; k < Task::constants; ++k) constant_.load(k, lane, task.constant[k]);
    for (int k = 0; k < N; ++k) y_.load(k, lane, task.y[k]);
    scratch_.load(0, lane, task.scratch);
    done_.at[0][0][lane]  = 0.0;
    steps_.at[0][0][lane] = 0.0;
  }
  void store(Task& task, int lane, Outcome outcome) const {
    for (int k = 0; k < N; ++k) y_.store(k, lane, task.y[k]);
    task.removed = done_.at[0][0][lane];
    for (int j = 1; j <= T::slopes; ++j) task.removed.of[j] = moved_.at[0][j][lane];
    scratch_.store(0, lane, task.scratch);
    task.steps   = static_cast<int>(steps_.at[0][0][lane]);
    task.outcome = outcome;
  }

  // C where `done` is off
  [[nodiscard]] T tip_share(const V& done) const {
    const T excess = constant(Task::excess);
    return select(excess.value() > 0.0,
                  T(laws::smooth_step(T(done - excess), T(laws::TipContact<T>::half_width * excess))),
                  T(1.0));
  }
  // rates over D, by the laws
  void rates(const V& done, const T& s, const T (&y)[N], T& ds, T (&dy)[N]) const {
    const laws::HoningFloor<T> floor{constant(Task::per_scratch), T(0.0), T(0.0), T(2.0),
                                     constant(Task::least_um2)};
    const T                    own = constant(Task::own_scratch);
    ds                             = laws::scratch_rate(T(1.0), s, own);
    const T goal                   = floor.radius_um(s);
    dy[0]                          = constant(Task::fall) * floor.distance_squared(y[0], goal);
    if constexpr (face == Face::strop) {
      const T u = constant(Task::worn_in) - constant(Task::per_lap) * y[left] + y[0];
      dy[left] =
          -sqrt(1.0 + u / (constant(Task::strength) + constant(Task::strain) * u)) / constant(Task::wear_in);
    } else {
      const T tip = tip_share(done);
      dy[0]       = tip * dy[0];
      if constexpr (raises_burr)
        dy[Task::opened] =
            tip * of_one(T(y[0] / goal), [](const auto& x) { return laws::burr_opening_at(x); });
      if constexpr (face == Face::counted) {
        const T land    = constant(Task::land_start) + constant(Task::land_slope) * done;
        const T strokes = constant(Task::pace) * land / (constant(Task::glaze_floor) + y[Task::fresh]);
        dy[Task::fresh] = -strokes * y[Task::fresh] * constant(Task::glaze_rate);
        dy[left]        = -tip * strokes * laws::burr_raised(y[0], constant(Task::own_floor));
      }
    }
  }

  /// The share of the tip that is met, from where each lane is, and how far to where its formula changes.
  struct Tip {
    bool  delayed = false;  ///< in some lane it is not 1
    Cubic share;
    V     ahead{1e300};
  };
  [[nodiscard]] Tip tip_from(const V& done) const {
    constexpr double half = laws::TipContact<T>::half_width, near_joint = 1e-9;
    const T          excess = constant(Task::excess);
    const V          e      = excess.value();
    const V          first = (1.0 - half - near_joint) * e, second = (1.0 + half - near_joint) * e;
    Tip              tip;
    tip.delayed = any(done < second);
    if (!tip.delayed) return tip;
    const Mask before = done < first, after = !(done < second);
    tip.ahead   = select(after, V(1e300), select(before, V((1.0 - half) * e), V((1.0 + half) * e)) - done);
    const T per = 1.0 / select(after, T(1.0), T(2.0 * half * excess)),
            t   = fma(done, per, T(0.5 - 0.5 / half));
    const T blend[] = {T(t * t * (3.0 - 2.0 * t)), T(6.0 * t * (1.0 - t) * per),
                       T((3.0 - 6.0 * t) * per * per), T(-2.0 * per * per * per)};
    for (int k = 0; k < 4; ++k)
      tip.share[k] = select(after, T(k == 0 ? 1.0 : 0.0), select(before, T(0.0), blend[k]));
    return tip;
  }

  /// Series of all components from where each lane is.
  struct Expansion {
    V       done, rest;  // depth that is removed, depth to come
    Tip     tip;
    T       scale, own, least;  // of scratches and floor, in units of `unit`
    Long    s, g, r;            // scratches times `scale`, the square of r∞, radius
    Shorter ratio;              // r/r∞
    Short   growth, opened, fresh, strokes,
        left;              // as the equations above have them; `opened` since where each lane is
    Side opening, raised;  // where the burr's growth and the burr are, between joints
  };

  [[nodiscard, gnu::always_inline]] Expansion expand() const {
    Expansion e;
    e.done  = done_.get(0);
    e.rest  = face == Face::strop ? V(1e300) : constant(Task::depth).value() - e.done;
    e.scale = unit * constant(Task::per_scratch);
    e.own   = constant(Task::own_scratch);
    e.least = constant(Task::least_um2) * (unit * unit);
    e.s[0]  = e.scale * scratch_.get(0);
    e.r[0]  = y_.get(Task::radius);
    if constexpr (face != Face::strop) e.tip = tip_from(e.done);
    const Cubic* const tip = e.tip.delayed ? &e.tip.share : nullptr;
    expand_scratch(T(e.scale * e.own), e.scale, e.least, e.s, e.g);
    expand_radius(e.g, tip, e.r);
    if constexpr (face == Face::strop) {
      e.left[0] = y_.get(left);
      expand_laps(e.r, e.left);
    }
    if constexpr (raises_burr) {
      expand_ratio(e.g, e.r, e.ratio);
      e.opening =
          Side(e.ratio[0].value(), e.ratio[1].value(), 1.0 / unit - 0.5, 1.0 / unit + 0.5, V(near / unit));
      expand_growth(e.ratio, e.opening.below, e.opening.above, e.growth);
      expand_opened(e.growth, tip, e.opened);
    }
    if constexpr (face == Face::counted) {
      e.fresh[0] = y_.get(Task::fresh);
      expand_strokes(e.done, e.fresh, e.strokes);
      e.left[0] = y_.get(left);
      e.raised  = Side(e.r[0].value() / constant(Task::own_floor).value(), e.r[1].value(),
                       laws::apex_reached_ratio - laws::burr_raised_half_width,
                       laws::apex_reached_ratio + laws::burr_raised_half_width, V(near));
      expand_left(e.r, e.strokes, e.raised.above, e.raised.below, tip, e.left);
    }
    return e;
  }

  /// How far the series hold, by what is allowed to each, and at most what is left.
  [[nodiscard, gnu::always_inline]] V step_of(
      const Expansion& e) const {  // coefficients are in registers still
    const auto value = [](const auto& c, int k) { return c[k].value(); };
    Over<P>    over;
    Over<Q>    beside;
    // what is allowed, each over one division
    const V of_scratch = relative_ * value(e.s, 0), of_radius = absolute_ + relative_ * value(e.r, 0);
    V       of_fresh(1.0);
    V       h = min(e.rest, e.tip.ahead);
    if constexpr (face != Face::counted) {
      const V per = 1.0 / (of_scratch * of_radius);
      over.look(value(e.s, P), value(e.s, P - 1), of_radius * per);
      over.look(value(e.r, P), value(e.r, P - 1), of_scratch * per);
      h = min(h, over.step());
    } else {
      // of the share of the cut
      of_fresh    = relative_ * (value(e.fresh, 0) + constant(Task::glaze_floor).value());
      const V per = 1.0 / (of_scratch * of_radius * of_fresh);
      over.look(value(e.s, P), value(e.s, P - 1), of_radius * of_fresh * per);
      over.look(value(e.r, P), value(e.r, P - 1), of_scratch * of_fresh * per);
      beside.look(value(e.fresh, Q), value(e.fresh, Q - 1), of_scratch * of_radius * per);
      h = min(min(h, over.step()), beside.step());
    }
    if constexpr (raises_burr) {
      // of what the burr grows over, at the start of which there is nothing
      const V largest = max(y_.get(Task::opened).value(), h * value(e.opened, 1));
      beside.look(value(e.opened, Q), value(e.opened, Q - 1),
                  1.0 / (burr_share * (absolute_ + relative_ * largest)));
      h = min(h, beside.step());
    }
    if constexpr (to_a_count) {
      beside.look(value(e.left, Q), value(e.left, Q - 1), V(1.0 / relative_));
      h = min(h, beside.step());
    }
    if constexpr (face == Face::counted) {
      const V floor = constant(Task::own_floor).value();
      h             = stays(e.r, e.raised.low * floor, e.raised.high * floor, near * floor, h);
    }
    if constexpr (raises_burr) h = stays(e.ratio, e.opening.low, e.opening.high, V(near / unit), h);
    if constexpr (T::slopes > 0) h = min(h, step_of_slopes(e, h, of_fresh, over, beside));
    // to the end, or to a joint, without a sliver of a last step
    const V goal = min(e.rest, e.tip.ahead);
    return select(h >= goal, goal, min(h, 0.5 * goal));
  }
  // as in jet.hpp: derivatives to four times the tolerance, a small one to that of the largest
  [[nodiscard]] V step_of_slopes(const Expansion& e, const V& h, const V& of_fresh, Over<P>& over,
                                 Over<Q>& beside) const {
    const auto look = [&]<class C>(auto& of, const C& c, const V& allowed) {
      V largest(0.0), last(0.0), before(0.0);
      for (int j = 1; j <= T::slopes; ++j) {
        largest = max(largest, max(abs(c[0].part(j)), abs(fma(h, c[1].part(j), c[0].part(j)))));
        last    = max(last, abs(c[C::order].part(j)));
        before  = max(before, abs(c[C::order - 1].part(j)));
      }
      of.look(last, before, 0.25 / (allowed + relative_ * largest));
    };
    look(over, e.s, V(absolute_));
    look(over, e.r, V(absolute_));
    V out = over.step();
    if constexpr (raises_burr) look(beside, e.opened, V(absolute_));
    if constexpr (face == Face::counted) look(beside, e.fresh, of_fresh);
    if constexpr (to_a_count) look(beside, e.left, V(relative_));
    if constexpr (N > 1) out = min(out, beside.step());
    return out;
  }

  /// In which lanes something has come to an end.
  struct Ends {
    Mask               settled, finished, ended, lost;
    [[nodiscard]] bool some() const { return any(settled | finished | ended | lost); }
  };

  /// Where a step has led.
  struct Reached {
    V    now;      // depth that is removed
    T    scratch;  // s
    T    y[N];
    Ends ends;
  };

  /// `step` further along the series, or to where no strokes are left.
  [[nodiscard]] Reached go_along(const Expansion& e, const V& step) const {
    Reached to;
    V       h     = step;
    to.ends.ended = V::nowhere();
    if constexpr (to_a_count) {
      to.ends.ended = e.left.at(h).value() <= 0.0;
      if (any(to.ends.ended)) {
        const Mask past = to.ends.ended;
        const V at = comes_to(e.left, V(0.0), !V::nowhere(), 0.5 * h, h, V(1e-3 * relative_), to.ends.ended);
        h          = select(past, at, h);
      }
    }
    const T rough      = e.s.at(h);
    to.scratch         = rough / e.scale;
    to.y[Task::radius] = e.r.at(h);
    if constexpr (raises_burr) to.y[Task::opened] = y_.get(Task::opened) + e.opened.at(h);
    if constexpr (face == Face::counted) to.y[Task::fresh] = e.fresh.at(h);
    if constexpr (to_a_count) to.y[left] = e.left.at(h);
    const T goal     = sqrt(fma(rough, rough, e.least)) * V(1.0 / unit);
    to.ends.finished = h >= e.rest;
    to.ends.settled  = close(to.y[Task::radius], goal) & close(to.scratch, e.own);
    to.now           = select(to.ends.finished, constant(Task::depth).value(), e.done + h);
    if constexpr (face != Face::strop) {
      constexpr double met = 1.0 + laws::TipContact<T>::half_width - 1e-9;
      to.ends.settled      = to.ends.settled & !(to.now < met * constant(Task::excess).value());
    }
    V sum = to.scratch.value();
    for (int i = 0; i < N; ++i) sum += abs(to.y[i].value());
    to.ends.lost = (steps_.get(0) + 1.0 >= static_cast<double>(rules_.max_steps)) |
                   !((sum < 1e12) & (to.y[Task::radius].value() > 0.0));
    return to;
  }
  // whether x is at `there`, with its derivatives
  [[nodiscard]] Mask close(const T& x, const T& there) const {
    const T from = x - there;
    Mask    is   = abs(from.value()) <= absolute_ + relative_ * there.value();
    if constexpr (T::slopes > 0) {
      V largest(0.0), off(0.0);
      for (int j = 1; j <= T::slopes; ++j) {
        largest = max(largest, abs(there.part(j)));
        off     = max(off, abs(from.part(j)));
      }
      is = is & (off <= 4.0 * (absolute_ + relative_ * largest));
    }
    return is;
  }
  void put(const Reached& to) {
    for (int i = 0; i < N; ++i) y_.set(i, to.y[i]);
    done_.set(0, to.now);
    scratch_.set(0, to.scratch);
    steps_.set(0, steps_.get(0) + 1.0);
  }

  /// The end moves with the parameters: with the depth, or so that no strokes are left.
  void move_end(const Reached& to) {
    T shift(0.0), ds, dy[N];
    rates(to.now, to.scratch, to.y, ds, dy);
    if constexpr (face != Face::strop)
      shift = select(to.ends.finished, with_slopes_of<T>(V(0.0), constant(Task::depth)), shift);
    if constexpr (to_a_count)
      shift = select(to.ends.ended, with_slopes_of<T>(V(0.0), T(-to.y[left] / dy[left])), shift);
    scratch_.set(0, to.scratch + shift * ds);
    for (int i = 0; i < N; ++i) y_.set(i, to.y[i] + shift * dy[i]);
    moved_.set(0, shift);
  }
  // depth that is still to be removed where a stage has settled
  [[nodiscard]] V way_left(const Reached& to) const {
    if constexpr (face == Face::strop) {
      T ds, dy[N];
      rates(to.now, to.scratch, to.y, ds, dy);
      return -to.y[left].value() / dy[left].value();
    } else {
      return constant(Task::depth).value() - to.now;
    }
  }
  /// What little is left where a stage has settled fades on the rest of the way, at the slower of two rates to first order.
  void fade(const Expansion& e, const Reached& to) {
    const Mask on = to.ends.settled & !to.ends.finished;
    if (!any(on)) return;
    const T    start = e.scale * e.own, floor = sqrt(fma(start, start, e.least)) * V(1.0 / unit);
    const V    way = way_left(to), of_scratches = 0.5 / e.own.value();
    const V    of_apex = -2.0 * constant(Task::fall).value() / floor.value();
    const auto fades   = [&](const T& x, const T& end, const V& rate) {
      return T(end + (x - end) * exp(-way * rate));
    };
    scratch_.set(0, select(on, fades(to.scratch, e.own, of_scratches), scratch_.get(0)));
    y_.set(Task::radius,
           select(on, fades(to.y[Task::radius], floor, min(of_scratches, of_apex)), y_.get(Task::radius)));
  }

  /// A mask lane by lane.
  struct Flags {
    alignas(64) double of[V::size];

    explicit Flags(const Mask& mask) { select(mask, V(1.0), V(0.0)).store(of); }
    bool operator[](std::size_t lane) const { return of[lane] != 0.0; }
  };

  /// The tasks that are worked on, each in its lane, and those that wait for one.
  struct Queue {
    Task* const* tasks;
    std::size_t  count, next = 0;
    int          open             = 0;   // lanes with a task
    Task*        in_lane[V::size] = {};  // null where there is none

    Task* take() { return next < count ? tasks[next++] : nullptr; }
  };

  [[nodiscard]] Queue begin(Task* const* tasks, std::size_t count) {
    Queue queue{tasks, count};
    for (int lane = 0; lane < lanes; ++lane) {
      queue.in_lane[lane] = queue.take();
      queue.open += queue.in_lane[lane] != nullptr ? 1 : 0;
      load(queue.in_lane[lane] != nullptr ? *queue.in_lane[lane] : *tasks[0], lane);
    }
    return queue;
  }
  /// Gives back tasks that have come to an end, the gravest of several, and puts others into their lanes.
  void hand_back(const Ends& ends, Queue& queue) {
    const Flags settled(ends.settled), finished(ends.finished), ended(ends.ended), lost(ends.lost);
    for (std::size_t lane = 0; lane < V::size; ++lane) {
      Task*&        task    = queue.in_lane[lane];
      const Outcome outcome = lost[lane]       ? Outcome::given_up
                              : ended[lane]    ? Outcome::ended
                              : finished[lane] ? Outcome::finished
                              : settled[lane]  ? Outcome::settled
                                               : Outcome::open;
      if (task == nullptr || outcome == Outcome::open) continue;
      store(*task, static_cast<int>(lane), outcome);
      task = queue.take();
      if (task != nullptr)
        load(*task, static_cast<int>(lane));
      else
        --queue.open;
    }
  }

  void work(Task* const* tasks, std::size_t count) {
    Queue queue = begin(tasks, count);
    while (queue.open > 0) {
      const Expansion from = expand();
      const Reached   to   = go_along(from, step_of(from));
      put(to);
      if (!to.ends.some()) continue;
      if constexpr (T::slopes > 0) move_end(to);
      if constexpr (face != Face::counted) fade(from, to);
      hand_back(to.ends, queue);
    }
  }

  const Rules&                  rules_;
  double                        relative_, absolute_;
  LaneArray<T, Task::constants> constant_;
  LaneArray<T, N>               y_;
  LaneArray<T, 1>               scratch_, moved_;
  LaneArray<V, 1>               done_, steps_;
};

}  // namespace arris::lanes
