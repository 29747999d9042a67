// SPDX-License-Identifier: MIT
#pragma once

/// How surely a t test finds a difference between two means, and how many readings it needs.
///
///     power = P( T > t_{1−α/2, ν} ),   T ~ noncentral t with ν degrees of freedom and noncentrality λ,
///     λ = (δ/σ)·√(n/2),   ν = 2·(n − 1) where the test knows the scatter from its own 2·n readings alone
///
/// | symbol | C++              | meaning                                            | range   |
/// |--------|------------------|----------------------------------------------------|---------|
/// | n      | `readings_each`  | readings behind each of the two means              | > 1     |
/// | δ/σ    | `difference_sd`  | true difference over the scatter of one reading    | > 0     |
/// | α      | `risk`           | two-sided risk of a false alarm                    | 0 … 1   |
/// | ν      | `df`             | degrees of freedom of the scatter that is used     | > 0     |
///
/// A difference that is found with the wrong sign does not count. Readings are independent, normal and of equal scatter.
/// Source: Cohen 1988, chapter 2 (from memory). Throws std::domain_error outside the ranges.
///
///     two_sample_power(17, 1.0, 0.05)            // 0.807
///     readings_for_power(1.0, 0.05, 0.8)         // 16.71: take 17
namespace arris {

/// P(T > t_{1−α/2, ν}) for noncentrality λ.
[[nodiscard]] double t_power(double noncentrality, double df, double risk);

/// The noncentrality λ at which `t_power` reaches `power` (above risk/2, below 1).
[[nodiscard]] double noncentrality_for_power(double df, double risk, double power);

[[nodiscard]] double two_sample_power(double readings_each, double difference_sd, double risk);

/// The smallest n, a real number not below 2, with which `two_sample_power` reaches `power`; infinite beyond a million.
[[nodiscard]] double readings_for_power(double difference_sd, double risk, double power);

}  // namespace arris
