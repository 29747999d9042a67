// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

#include "sim/laws/wear/held_law.hpp"

/// What lanes_run.hpp hands to the kernels that work on several histories per register, as plain numbers: one task is one stage
/// of one history. Which instruction set works on it is chosen at run time.
namespace arris::lanes {

/// A number and its derivatives with respect to K parameters.
template <int K>
struct Parts {
  double of[1 + K];

  Parts() = default;
  Parts(double x) : of{x} {}
  [[nodiscard]] double value() const { return of[0]; }
};

/// How a task went.
enum class Outcome : int {
  open,      ///< not worked on yet
  finished,  ///< at its end
  settled,   ///< radius and scratches are where the medium leads
  ended,     ///< the strokes with a burr, or the laps, are done
  given_up,  ///< too many steps, a number that is not finite, an integral that is not found: for the adaptive path
};

/// An edge on a medium or a strop, integrated over the depth D that is removed from the face, on a strop from the tip:
///     dr/dD = C·faces·(dr/dn over a)·[1 − (r∞/r)²],   ds/dD = −(s − s_m)/(s + s_m),   dB/dD = C·G
///     dn/dD = ℓ·pace/f,   ℓ = land_start + land_slope·D,   C the share of the tip that is met (dub.hpp)
/// and laps on a strop by the pressure at the tip (stropping.hpp):
///     dn/dD = √( 1 + u/(Λ + P²·u) )/(κ·E),   u = c_b·w + r
struct AbrasionNames {
  enum Constant : int {
    own_scratch,  ///< s_m
    fall,         ///< dr/dD far from the floor
    per_scratch,  ///< c_s
    least_um2,    ///< r∞² without scratches
    depth,        ///< D at the end, or at the latest where strokes are counted from the burr on
    excess,       ///< e: depth before a dubbed tip is met
    land_start,   ///< ℓ₀, mm
    land_slope,   ///< dℓ/dD
    pace,         ///< fresh strokes per D and ℓ
    glaze_floor,  ///< f_res
    glaze_rate,   ///< 1/n_glaze
    fresh_start,  ///< freshness of the medium at the start
    own_floor,    ///< r∞ that the burr is judged by
    constants,
    // of a strop, in the places of those that are of a medium
    strength = land_start,   ///< Λ
    strain   = land_slope,   ///< P²
    wear_in  = pace,         ///< κ·E
    worn_in  = own_floor,    ///< c_b·w at the end
    per_lap  = fresh_start,  ///< c_b·κ·E
  };
  /// `fresh` is f − f_res, of the share of the cut; `left` are strokes or laps to come.
  enum Component : int { radius, opened, fresh, left, components, laps = opened };
};
template <int K>
struct Abrasion : AbrasionNames {
  using Number = Parts<K>;

  Number  constant[constants];
  Number  y[components];  ///< at the start, then where it got to
  Number  removed;        ///< D where it got to
  Number  scratch;        ///< s where it got to
  Number  strokes;        ///< n at the end; of tasks that count from the burr on where it got to
  Number  worth;          ///< in strokes on a fresh medium; not of tasks that count from the burr on
  int     steps;
  Outcome outcome;
};

/// An edge in wood, by a law whose rate depends on the radius alone (growth.hpp).
template <int K>
struct Growth {
  using Number = Parts<K>;

  Number  law[laws::most_wear_parameters];  ///< parameters in the order of its `fields`, and room behind them
  Number  critical_radius;                  ///< of the collapse
  Number  collapse_length;
  double  joint[2];
  double  path;    ///< in metres
  Number  radius;  ///< at the start, then at the end
  Outcome outcome;
};

struct Rules {
  double        relative;
  double        absolute_um;
  double        counted;  ///< share of both that is allowed where strokes are counted from the burr on
  int           max_steps;
  double        growth_difference;  ///< between 7 and 15 nodes, relative, in the integral of the path in wood
  double        growth_newton;      ///< last step of Newton's method there, relative
  const double* node;               ///< Kronrod's 8 non-negative nodes of 15
  const double* weight;             ///< of these
  const double* weight_7;           ///< Gauss's, of every second of these
};

/// What is integrated beside radius and scratches.
enum class Face {
  back,     ///< nothing
  bevel,    ///< B, for the burr
  counted,  ///< B and the strokes, counted from the burr on
  strop,    ///< the laps
};
inline constexpr std::size_t faces_of_all = 4;

/// The kernels of one instruction set, for numbers with K derivatives. Each works through `count` tasks; what becomes of a
/// task depends on nothing but that task and the rules.
template <int K>
struct Kernels {
  void (*abrasion)(Abrasion<K>* const* tasks, std::size_t count, Face face, const Rules&);
  /// The strokes so far of tasks that count them from the burr on.
  void (*strokes)(Abrasion<K>* const* tasks, std::size_t count);
  /// `law`: place in BuiltInWearLaws; nothing happens for a law that depends on the path.
  void (*growth)(Growth<K>* const* tasks, std::size_t count, std::size_t law, const Rules&);
};

/// Those of one instruction set: for plain numbers, and with as many derivatives as run.hpp has histories for. Null where they
/// would not pay.
struct KernelSet {
  const Kernels<0>* plain;
  const Kernels<4>* four;
  const Kernels<8>* eight;
};
const KernelSet& kernels_sse2();
const KernelSet& kernels_avx2();
const KernelSet& kernels_avx512();

}  // namespace arris::lanes
