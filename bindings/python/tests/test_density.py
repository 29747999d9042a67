# SPDX-License-Identifier: MIT
"""The posterior as a plain function: exact slopes, and other samplers agree with the one of the library."""

import copy
import multiprocessing
import pickle
import sys
import types

import emcee
import numpy as np
import pytest
import scipy.optimize
import xarray as xr

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


def test_a_name_with_a_comma_can_be_free(yard):
    free = ["tester.slope_N_per_um", "medium.soft waterstone, JIS #1000.cutting_rate"]
    assert list(yard.density(free).names[:2]) == free


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


def test_effects_beyond_all_numbers_are_impossible(density):
    """Spreads by which an edge would wear e^9000 times as fast: samplers get there, and must be turned back."""
    x = np.array(density.start)
    for k, name in enumerate(density.names):
        if name.startswith("sd of rates"):
            x[k] = 9.0
        if name.startswith("rate of wear"):
            x[k] = 1.0
    assert x[list(density.names).index("sd of rates")] == 9.0
    assert density.log_density(x) == -np.inf
    value, slope = density.log_density_and_gradient(x)
    assert value == -np.inf and np.all(slope == 0)


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
    """log ∫ p(x, z) dz ≈ log p(x, z*) − ½ log det(−H) + const, with z* by SciPy and Newton, and H by differences of exact slopes."""
    m, effects = density.marginal_size, density.size - density.marginal_size
    h = 1e-3
    nudges = h * np.concatenate([np.eye(effects), -np.eye(effects)])

    def by_differences(x):
        def down(z):
            value, slope = density.log_density_and_gradient(np.concatenate([x, z]))
            return -value, -slope[m:]

        # far from the mode the density is not concave: growth goes by an exponential. Newton's steps take the last digits
        z = scipy.optimize.minimize(down, np.zeros(effects), jac=True, method="BFGS", options={"gtol": 1e-4}).x
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
    # ½·0.02·√12 = 0.035 over twelve edges; growth in wood is the exponential of its luck, of edges, ways and woods, and bends some three
    # times as much: 0.1 together, and twice that at most
    assert np.ptp(ours - theirs) < 0.2


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


def test_a_density_is_its_prior_and_its_readings(density):
    rng = np.random.default_rng(8)
    x = density.start + rng.normal(0, 0.3, (4, density.size))
    parts = density.log_prior(x) + density.log_likelihood(x).sum(axis=1)
    # the same sums in another order, and the constants that log_density leaves out
    np.testing.assert_allclose(density.log_density(x) - parts, (density.log_density(x) - parts)[0], atol=1e-8)
    by_edge = density.log_likelihood(x, by="edge")
    assert by_edge.shape == (4, density.observations["edge"].nunique())
    np.testing.assert_allclose(by_edge.sum(axis=1), density.log_likelihood(x).sum(axis=1), rtol=1e-12)
    one = density.residuals(x[0])
    np.testing.assert_allclose(one, density.residuals(x)[0])
    sd = np.exp(x[0][density.names.index("sd of readings")])
    measured = density.observations["measured"].to_numpy()
    np.testing.assert_allclose(np.log(density.predictions(x[0]) / measured) / sd, one, rtol=1e-9)
    # log of a normal density
    np.testing.assert_allclose(density.log_likelihood(x[0]), -one**2 / 2 - np.log(sd * np.sqrt(2 * np.pi)), rtol=1e-9)
    assert np.isnan(density.log_likelihood(np.where(np.arange(density.size) == 0, 60.0, density.start))).all()
    with pytest.raises(ValueError, match="numbers"):
        density.residuals(x[0][:-1])
    with pytest.raises(ValueError, match="neither"):
        density.log_likelihood(x[0], by="person")


def test_slopes_of_residuals_and_predictions_are_those_of_differences(density):
    rng = np.random.default_rng(9)
    x = density.start + rng.normal(0, 0.3, density.size)
    h = 1e-3
    residuals, slopes = density.jacobian(x), density.predictions_and_slopes(x)[1]
    for i in range(density.size):
        at = np.tile(x, (4, 1))
        at[:, i] += [-2 * h, -h, h, 2 * h]
        for exact, f in ((residuals, density.residuals(at)), (slopes, density.predictions(at))):
            numeric = (f[0] - 8 * f[1] + 8 * f[2] - f[3]) / (12 * h)
            # as in test_slopes_are_those_of_differences
            np.testing.assert_allclose(exact[:, i], numeric, rtol=2e-4, atol=1e-4 * (1 + np.abs(f).max()), err_msg=density.names[i])


def test_optimisers_of_scipy_find_the_same_place(density):
    """The mode for given standard deviations: by a quasi-Newton method on the density, and by least squares on residuals and priors."""
    optimize = pytest.importorskip("scipy.optimize")
    spreads = np.array([name.startswith("sd of ") for name in density.names])
    start = density.start
    rules = np.zeros((density.rules.shape[0] + density.centring.shape[0], (~spreads).sum()))
    rules[: density.rules.shape[0], : density.rules.shape[1]] = density.rules
    # effects are their standard deviations times what the density takes
    effects = density.size - density.centring.shape[1]
    ones = start.copy()
    ones[effects:] = 1.0
    rules[density.rules.shape[0] :, density.rules.shape[1] :] = density.centring * np.log(np.array(list(density.natural(ones).values()))[effects:])

    def whole(free):
        x = start.copy()
        x[~spreads] = free
        return x

    def negative(free):
        value, slope = density.log_density_and_gradient(whole(free))
        return -value, -slope[~spreads]

    first = optimize.minimize(negative, start[~spreads], jac=True, method="L-BFGS-B", options={"maxiter": 500, "ftol": 1e-14, "gtol": 1e-7})
    second = optimize.least_squares(
        lambda free: np.concatenate([density.residuals(whole(free)), rules @ free, free]),
        start[~spreads],
        jac=lambda free: np.vstack([density.jacobian(whole(free))[:, ~spreads], rules, np.eye(free.size)]),
    )
    # each stops where its own tolerance lets it; one unit is a prior's standard deviation
    np.testing.assert_allclose(first.x, second.x, atol=2e-3)
    assert -first.fun == pytest.approx(density.log_density(whole(second.x)), abs=1e-3)


def test_it_can_be_sent_to_the_processes_of_a_pool(density):
    again = pickle.loads(pickle.dumps(density))
    x = density.start
    assert again.names == density.names and again.log_density(x) == density.log_density(x)


def test_emcee_samples_in_a_pool(yard):
    density = yard.density(["tester.cut_resistance_N", "tester.slope_N_per_um"])
    walkers = 2 * density.marginal_size
    state = density.start[: density.marginal_size] + 0.05 * np.random.default_rng(10).normal(size=(walkers, density.marginal_size))
    chains = []
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        for of in (pool, None):
            sampler = emcee.EnsembleSampler(walkers, density.marginal_size, density.log_marginal, pool=of)
            sampler.random_state = np.random.RandomState(11).get_state()
            sampler.run_mcmc(state, 5)
            chains.append(sampler.get_chain())
    assert np.array_equal(*chains)  # where it is worked out changes no bit


def test_draws_go_into_the_groups_of_arviz(density):
    rng = np.random.default_rng(12)
    x = density.start + rng.normal(0, 0.1, (2, 5, density.size))
    groups = density.to_inferencedata(x, data_tree=False)
    assert set(groups) == {"posterior", "sample_stats", "log_likelihood", "posterior_predictive", "observed_data", "prior"}
    n = len(density.observations)
    assert groups["log_likelihood"]["measured"].sizes == {"chain": 2, "draw": 5, "reading": n}
    assert groups["posterior_predictive"]["measured"].shape == (2, 5, n)
    assert groups["observed_data"]["measured"].values.tolist() == density.observations["measured"].tolist()
    assert float(groups["posterior"][FREE[0]][1, 3]) == density.natural(x[1, 3])[FREE[0]]
    assert float(groups["sample_stats"]["lp"][1, 3]) == density.log_density(x[1, 3])
    prior = np.log(groups["prior"][FREE[0]].values.ravel())
    # 1000 draws of a normal of the scaled parameter: its median is off by at most 4·√(π/2)/√1000 = 0.16 of its spread
    low, middle, high = (np.log(density.natural(np.where(np.arange(density.size) == 0, u, density.start))[FREE[0]]) for u in (-0.16, 0, 0.16))
    assert low < np.median(prior) < high and middle == pytest.approx((low + high) / 2, abs=1e-9)
    # the prior of the scatter of readings has its middle near 0.1, whichever of the usual shapes it has
    assert 0.05 < np.median(groups["prior"]["sd of readings"].values) < 0.2
    marginal = density.to_inferencedata(x[..., : density.marginal_size], data_tree=False)
    assert "log_likelihood" not in marginal and set(marginal["posterior"]) == set(density.names[: density.marginal_size])
    with pytest.raises(ValueError, match="shape"):
        density.to_inferencedata(x[0])


def test_draws_of_a_fit_go_there_too(yard):
    free = ["tester.slope_N_per_um", "tester.cut_resistance_N"]
    fit, density = arris.fit(yard, free=free, starts=1, draws=300, no_profiles=True), yard.density(free)
    groups = density.to_inferencedata(fit, data_tree=False)
    assert groups["posterior"].sizes == {"chain": 1, "draw": len(fit.draws)}
    for name in density.names[: density.marginal_size]:
        # there and back by logs and logits: some 10 roundings
        np.testing.assert_allclose(groups["posterior"][name].values[0], fit.draws[name], rtol=1e-12)
    # the same density: what differs is its constant, and where the effects' modes were looked for
    away = groups["sample_stats"]["lp"].values[0] - fit.draws["log_density"].to_numpy()
    assert np.ptp(away) < 0.01 < np.ptp(fit.draws["log_density"])
    for of, match in (
        (yard.density(free[:1]), "the same free"),
        (yard.with_values({"wear.crushing_um_per_m": 2e-4}).density(free), "did not hold wear.crushing_um_per_m"),
        (yard.with_wear_law(lambda r, severity, k: k * severity / r, {"k": 1e-3}).density(free), "did not hold wear"),
    ):
        with pytest.raises(ValueError, match=match):
            of.to_inferencedata(fit)
    of_walkers = copy.deepcopy(fit)  # as the ensemble sampler leaves them, where importance does not do
    of_walkers["draws"].attrs["largest_r_hat"] = 1.01
    with pytest.raises(ValueError, match="whose number was not kept"):
        density.to_inferencedata(of_walkers)
    walkers = next(w for w in (2, 3, 5, 7, 1) if len(fit.draws) % w == 0)
    of_walkers["draws"].attrs["walkers"] = float(walkers)
    chains = density.to_inferencedata(of_walkers, data_tree=False)["posterior"]
    assert chains.sizes == {"chain": walkers, "draw": len(fit.draws) // walkers}
    name = density.names[0]
    np.testing.assert_allclose(chains[name].values[-1], fit.draws[name][walkers - 1 :: walkers], rtol=1e-12)
    with pytest.raises(ValueError, match="no posterior draws"):
        density.to_inferencedata(arris.fit(yard, free=free, starts=1, no_profiles=True))


def test_arviz_takes_them(density):
    arviz = pytest.importorskip("arviz")
    x = density.start + np.random.default_rng(13).normal(0, 0.1, (2, 50, density.size))
    made = density.to_inferencedata(x)
    assert isinstance(made, arviz.InferenceData if hasattr(arviz, "InferenceData") else xr.DataTree)


class Tree:
    """In the place of what Debian 12 does not have: the trees of a later xarray, and those of ArviZ before its version 1."""

    def __init__(self, **groups):
        self.groups = groups

    @classmethod
    def from_dict(cls, groups):
        return cls(kind="tree", **groups)


def test_a_tree_is_that_of_the_arviz_that_is_there(density, monkeypatch):
    x = np.tile(density.start, (1, 2, 1))
    groups = list(density.to_inferencedata(x, data_tree=False))
    monkeypatch.setitem(sys.modules, "arviz", None)  # none
    monkeypatch.delattr(xr, "DataTree", raising=False)
    with pytest.raises(ImportError, match="pip install arviz"):
        density.to_inferencedata(x, data_tree=True)
    monkeypatch.setattr(xr, "DataTree", Tree, raising=False)
    assert list(density.to_inferencedata(x, data_tree=True).groups) == ["kind", *groups]
    monkeypatch.setitem(sys.modules, "arviz", types.ModuleType("arviz"))  # as from version 1
    assert list(density.to_inferencedata(x, data_tree=True).groups) == ["kind", *groups]
    earlier = types.ModuleType("arviz")
    earlier.InferenceData = Tree
    monkeypatch.setitem(sys.modules, "arviz", earlier)
    assert list(density.to_inferencedata(x, data_tree=True).groups) == groups
