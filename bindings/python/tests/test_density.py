# SPDX-License-Identifier: MIT
"""The posterior as a plain function: exact slopes, and other samplers agree with the one of the library."""

import emcee
import numpy as np
import pytest

import arris

FREE = ["tester.slope_N_per_um", "wear.parting_um2_per_m"]


@pytest.fixture(scope="module")
def density(yard):
    return yard.with_values({"numerics.relative_tolerance": 1e-9}).density(FREE)


def test_slopes_are_those_of_differences(density):
    rng = np.random.default_rng(2)
    for _ in range(3):
        x = density.start + rng.normal(0, 0.3, density.size)
        value, slope = density.log_density_and_gradient(x)
        assert value == pytest.approx(density.log_density(x), rel=1e-6)
        h = 1e-3
        for i in range(density.size):
            at = np.tile(x, (4, 1))
            at[:, i] += [-2 * h, -h, h, 2 * h]
            a, b, c, d = density.log_density(at)
            numeric = (a - 8 * b + 8 * c - d) / (12 * h)
            # the difference is wrong by h⁴·f⁽⁵⁾/30 ≈ 1e-12·f⁽⁵⁾ and by the error of f, |f|·1e-8 (accumulated steps at 1e-9), over h: 1e-5·|f|
            assert slope[i] == pytest.approx(numeric, rel=2e-4, abs=1e-4 * (1 + abs(value))), density.names[i]


def test_rows_are_worked_out_as_single_points_are(density):
    rng = np.random.default_rng(3)
    x = density.start + rng.normal(0, 0.1, (5, density.size))
    together, slopes = density.log_density_and_gradient(x)
    assert together.shape == (5,) and slopes.shape == x.shape
    for i in range(5):
        value, slope = density.log_density_and_gradient(x[i])
        assert value == together[i] and np.array_equal(slope, slopes[i])
    with pytest.raises(ValueError, match="numbers"):
        density.log_density(np.zeros(density.size + 1))


def test_out_of_range_is_impossible(density):
    x = density.start.copy()
    with pytest.raises(ValueError, match="read-only"):
        density.start[0] = 60.0
    x[0] = 60.0  # a slope far above the range of the tester
    value, slope = density.log_density_and_gradient(x)
    assert value == -np.inf and np.all(slope == 0)
    assert density.log_marginal(x[: density.marginal_size]) == -np.inf


def test_scales_go_there_and_back(density):
    rng = np.random.default_rng(4)
    x = density.start + rng.normal(0, 0.5, density.size)
    natural = density.natural(x)
    assert natural["tester.slope_N_per_um"] > 0
    # exp and log of numbers around 1, and a division by standard deviations of some 0.05: rounding of 1e-16 grows to 1e-14
    np.testing.assert_allclose(density.scaled(natural), x, atol=1e-12)
    assert density.names[:2] == FREE and density.names[2] == "sd of readings"
    short = dict(list(natural.items())[: density.marginal_size])
    np.testing.assert_allclose(density.scaled(short), x[: density.marginal_size], atol=1e-12)


def test_the_marginal_is_that_of_laplace(density):
    """log ∫ p(x, z) dz ≈ log p(x, z*) − ½ log det(−H) + const, with z* by Newton and H by differences of exact slopes."""
    m, effects = density.marginal_size, density.size - density.marginal_size
    h = 1e-3
    nudges = h * np.concatenate([np.eye(effects), -np.eye(effects)])

    def by_differences(x):
        z = np.zeros(effects)
        for _ in range(20):
            value, slope = density.log_density_and_gradient(np.concatenate([x, z]))
            _, around = density.log_density_and_gradient(np.array([np.concatenate([x, z + nudge]) for nudge in nudges]))
            curvature = (around[:effects, m:] - around[effects:, m:]) / (2 * h)
            curvature = (curvature + curvature.T) / 2
            step = np.linalg.solve(curvature, -slope[m:])
            z = z + step
            if np.abs(step).max() < 1e-9:
                return value - np.linalg.slogdet(-curvature)[1] / 2
        raise AssertionError("no mode")

    rng = np.random.default_rng(7)
    points = density.start[:m] + rng.normal(0, 0.2, (4, m))
    ours, theirs = density.log_marginal(points), np.array([by_differences(x) for x in points])
    assert np.ptp(theirs) > 1
    # ours leaves second derivatives of a reading by luck out of H: residuals of about one standard deviation times f'' ≤ 0.25 over
    # σ = 0.1, of some six readings to an edge, √6·0.25/0.1 = 6 beside Σ f'²/σ² = 300: 2 % of each curvature, of either sign, so
    # ½·0.02·√12 = 0.035 over twelve edges; three times that
    assert np.ptp(ours - theirs) < 0.1


def test_emcee_agrees_with_the_sampler_of_the_library(yard):
    # numbers of the tester change no history, so that a hundred thousand densities take seconds
    free = ["tester.cut_resistance_N", "tester.slope_N_per_um"]
    density = yard.density(free)
    fit = arris.fit(yard, free=free, starts=1, draws=3000, no_profiles=True)
    assert fit.draws_converged
    own = fit.draws[density.names[: density.marginal_size]].to_numpy()

    rng = np.random.default_rng(5)
    centre = density.scaled(dict(zip(density.names, np.median(own, axis=0))))
    state = centre + 0.1 * rng.normal(size=(32, density.marginal_size))
    sampler = emcee.EnsembleSampler(32, density.marginal_size, density.log_marginal, vectorize=True)
    sampler.random_state = np.random.RandomState(6).get_state()
    sampler.run_mcmc(state, 700)
    chain = sampler.get_chain(discard=200, flat=True)
    time = sampler.get_autocorr_time(discard=200, quiet=True).max()
    theirs = np.array([list(density.natural(x).values()) for x in chain])

    # both are samples of the same distribution of about n/τ independent draws: medians of logs differ by at most 4 of their
    # standard deviations, √(π/2)·s·√(1/n₁ + 1/n₂), and spreads likewise with s/√(2n)
    kept = len(chain) / time
    of_own = len(own) / time
    for i, name in enumerate(density.names[: density.marginal_size]):
        a, b = np.log(own[:, i]), np.log(theirs[:, i])
        s = a.std()
        allowed = 4 * s * np.sqrt(np.pi / 2) * np.sqrt(1 / kept + 1 / of_own)
        assert abs(np.median(a) - np.median(b)) < allowed, name
        assert abs(np.log(a.std() / b.std())) < 4 * np.sqrt(0.5 / kept + 0.5 / of_own) + 0.1, name


def test_short_names_are_the_same_functions(yard):
    x = yard.density().start
    assert yard.log_density(x) == yard.density().log_density(x)
    value, slope = yard.log_density_and_gradient(x)
    assert np.isfinite(value) and slope.shape == x.shape


def test_the_gradient_check_passes(yard):
    check = arris.check_gradient(yard, free=FREE)
    assert check["passed"] and set(check["worst"]) == set(FREE)
