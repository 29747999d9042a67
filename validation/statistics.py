# SPDX-License-Identifier: MIT
"""Gauge studies, variance components, power, designs, lives and draws beside published numbers and other programs."""

from __future__ import annotations

import math
import pathlib
import tempfile
import tomllib

import emcee
import numpy as np
from scipy import optimize, stats

from validation.checks import Check, Section, near, printed
from validation.outside import ROOT, Place, table

CROSSED = "crossed gauge study, 10 × 3 × 3 (tests/data/gauge), analysis of variance by R 4.2.2"
WAFERS = "NIST/SEMATECH e-Handbook 2.6.1, gauge study of wafer probes"
LIFE = "NIST/SEMATECH e-Handbook 8.4.1.3, 10 of 20 failed by 500 h"
SURVREG = "R 4.2.2, survreg (validation/data/published_fits.toml)"
SOLES = "shoe soles in pairs (Box, Hunter & Hunter), R 4.2.2, t.test (validation/data/published_fits.toml)"


def gauges(place: Place) -> list[Check]:
    ours = place.numbers("gauge")
    out = []
    for row in table("tests/data/gauge/crossed_expected.csv"):
        theirs, half = printed(row["value"])
        mine = ours["crossed"][row["quantity"]]
        out.append(Check(row["quantity"], CROSSED, theirs, mine, f"± {half:g}", "half of the last digit printed", near(theirs, mine, absolute=1.001 * half), note=row["status"]))
    for row in table("tests/data/gauge/nist_gauge_study.csv"):
        if row["level"] != "1 repeatability":
            continue
        theirs, half = printed(row["sd"])
        mine = ours["wafers"][row["wafer"]]
        out.append(Check(f"wafer {row['wafer']}: repeatability", WAFERS, theirs, mine, f"± {half:g}", "half of the last digit printed",
                         near(theirs, mine, absolute=1.001 * half), status=row["status"]))
    return out


def variances(place: Place) -> list[Check]:
    ours = place.numbers("variances")
    by_r = place.r("mixed.R", {n: table(f"tests/data/mixed/{n}.csv") for n in ("dyestuff", "pastes", "machines")})
    names = {"dyestuff": ["residual", "batch"], "pastes": ["residual", "batch", "cask in batch"], "machines": ["residual", "worker", "machine in worker"]}
    published = {"dyestuff": [2451.25, 1764.05], "pastes": [0.67799995, 1.65730796, 8.43366793], "machines": [0.9246306, 22.8584376872, 13.9094085985]}
    out = []
    for study, parts in names.items():
        mine = ours[study]
        for i, part in enumerate(parts):
            for source, theirs, relative, why in (
                ("R 4.2.2, lme4 (tests/data/mixed/README.md)", published[study][i], 1e-4, "eight digits of a flat optimum, of which five are good"),
                ("R 4.2, lme4 1.1, REML", by_r[study]["variances"][i], 2e-4, "lme4 stops where the deviance moves by 1e-8 or so: a variance by its root"),
            ):
                out.append(Check(f"{study}: variance, {part}", source, theirs, mine["variances"][i], f"± {relative:g} relative", why,
                                 bool(mine["converged"] and near(theirs, mine["variances"][i], relative=relative))))
        out.append(Check(f"{study}: restricted log likelihood", "R 4.2, lme4 1.1", by_r[study]["log_likelihood"], mine["log_likelihood"], "± 1e-4",
                         "flat at its top", near(by_r[study]["log_likelihood"], mine["log_likelihood"], absolute=1e-4)))
    return out


def power(place: Place) -> list[Check]:
    by_n, sizes = table("tests/data/plan/power_two_sample_t_by_n.csv"), table("tests/data/plan/power_two_sample_t.csv")
    wanted = {
        "power": [{"difference": d, "n": float(r["n_per_group"]), "alpha": 0.05} for r in by_n for d in (0.5, 0.8, 1.0)],
        "size": [{"difference": float(r["delta_over_sigma"]), "power": float(r["power"]), "alpha": float(r["alpha_two_sided"])} for r in sizes],
    }
    ours = place.numbers("power", given=wanted)
    out = []
    for ask, mine in zip(wanted["power"], ours["power"]):
        n, d = ask["n"], ask["difference"]
        saved = float(next(r for r in by_n if float(r["n_per_group"]) == n)[f"power_d{d:g}" if d != 1.0 else "power_d1.0"])
        out.append(Check(f"power of {n:g} a group at {d:g} standard deviations", "R 4.2.2, power.t.test", saved, mine, "± 2e-9", "both take the noncentral t to 1e-9",
                         near(saved, mine, absolute=2e-9)))
        ncp, df = d * math.sqrt(n / 2), 2 * n - 2
        critical = stats.t.ppf(0.975, df)
        theirs = float(stats.nct.sf(critical, df, ncp))
        out.append(Check(f"power of {n:g} a group at {d:g} standard deviations", "scipy 1.10, noncentral t", theirs, mine, "± 1e-7",
                         "the upper tail, as R; the lower is below that here", near(theirs, mine, absolute=1e-7)))
    for ask, mine, row in zip(wanted["size"], ours["size"], sizes):
        theirs = float(row["n_per_group_exact"])
        out.append(Check(f"values a group for a power of {ask['power']:g} at {ask['difference']:g} standard deviations", "R 4.2.2, power.t.test", theirs, mine, "± 2.5e-4",
                         "R stops its search at 1.2e-4, twice that", near(theirs, mine, absolute=2.5e-4)))
    return out


def designs(place: Place) -> list[Check]:
    """D-optimal points of textbook curves, the exchange on a grid."""
    def approach(t: np.ndarray) -> np.ndarray:
        return np.column_stack([np.ones_like(t), -np.exp(-0.4 * t), t * np.exp(-0.4 * t)])

    def box_lucas(t: np.ndarray) -> np.ndarray:
        a, b = 0.7, 0.2
        ea, eb, d = np.exp(-a * t), np.exp(-b * t), a - b
        return np.column_stack([-b / d**2 * (eb - ea) + a / d * t * ea, a / d**2 * (eb - ea) - a / d * t * eb])

    def compartment(t: np.ndarray) -> np.ndarray:
        ea, eb = np.exp(-4.298 * t), np.exp(-0.05884 * t)
        return np.column_stack([21.8 * t * ea, -21.8 * t * eb, eb - ea])

    curves = {
        "Michaelis-Menten Vx": (lambda x: np.column_stack([x / (0.08 + x), -205 * x / (0.08 + x) ** 2]), 0, 1.1, 0.001),
        "exponential decay": (lambda t: np.column_stack([np.exp(-0.5 * t), -t * np.exp(-0.5 * t)]), 0, 20, 0.01),
        "exponential rise": (lambda t: np.column_stack([1 - np.exp(-0.5 * t), t * np.exp(-0.5 * t)]), 0, 6, 0.01),
        "3-parameter exponential": (approach, 0, 10, 0.02),
        "power law": (lambda t: np.column_stack([np.sqrt(t), np.log(t) * np.sqrt(t)]), 1, 100, 0.1),
        "Box-Lucas": (box_lucas, 0, 20, 0.01),
        "compartment": (compartment, 0, 40, 0.02),
    }
    expected = table("tests/data/plan/d_optimal_examples.csv")
    problems, points = [], []
    for name, (slopes, low, high, step) in curves.items():
        t = np.linspace(low, high, round((high - low) / step) + 1)
        row = next(r for r in expected if r["model"].startswith(name))
        best = [float(x) for x in row["optimal_points"].split(";")]
        problems.append({"slopes": slopes(t).tolist(), "wanted": len(best)})
        points.append((name, t, best, step, row["status"]))
    out = []
    for chosen, (name, t, best, step, status) in zip(place.numbers("designs", given=problems), points):
        mine = [float(t[i]) for i in chosen]
        off = max(abs(a - b) for a, b in zip(mine, best))
        out.append(Check(f"D-optimal points of {name.strip()}", "textbook designs (tests/data/plan/d_optimal_examples.csv)", "; ".join(f"{b:.4g}" for b in best),
                         "; ".join(f"{m:.4g}" for m in mine), f"± {1.01 * step:g}", "one step of the grid that is chosen from", off <= 1.01 * step, note=status))
    return out


def lives(place: Place) -> list[Check]:
    """Censored Weibull lives, with a covariate and without."""
    ours = place.numbers("lives")
    saved = tomllib.loads((ROOT / "validation/data/published_fits.toml").read_text(encoding="utf-8"))
    rows = table("tests/data/lives/nist_weibull_censored.csv")
    at = np.repeat([float(r["time_h"]) for r in rows], [int(r["count"]) for r in rows])
    failed = np.repeat([r["failed"] == "1" for r in rows], [int(r["count"]) for r in rows])
    motors, aml = table("tests/data/lives/motors.csv"), table("tests/data/lives/aml.csv")
    tests = {
        "nist": {"time": at.tolist(), "failed": failed.astype(int).tolist()},
        "motors": {"time": [float(r["time"]) for r in motors], "failed": [int(r["cens"]) for r in motors], "covariate": [float(r["temp"]) for r in motors]},
        "aml": {"time": [float(r["time"]) for r in aml], "failed": [int(r["status"]) for r in aml],
                "covariate": [float(r["x"] == "Nonmaintained") for r in aml]},
    }
    called = {"nist": "censored Weibull", "motors": "motors by temperature, Weibull", "aml": "survival by treatment, Weibull"}
    nist = ours["nist"]

    def minus_log(x: np.ndarray) -> float:
        scale, shape = np.exp(x)
        z = (at / scale) ** shape
        return float(np.sum(z) - np.sum(np.log(shape / scale * (at[failed] / scale) ** (shape - 1))))

    def profile(log_shape: float) -> float:
        """The most that log L can be at a shape: the scale is closed form."""
        shape = math.exp(log_shape)
        return -minus_log(np.array([math.log(np.sum(at**shape) / failed.sum()) / shape, log_shape]))

    by_scipy = optimize.minimize(minus_log, [6.0, 0.5], method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxiter": 5000})
    by_r = place.r("lives.R", tests)
    out = []
    for key, printed_there, half in (("scale", "606.5280", 5e-4), ("shape", "1.7208", 5e-5), ("log_likelihood", "-75.135", 5e-4)):
        theirs = float(printed_there)
        out.append(Check(f"censored Weibull: {key.replace('_', ' ')}", LIFE, theirs, nist[key], f"± {half:g}", "the digits printed; the last of 606.5280 is not significant",
                         near(theirs, nist[key], absolute=half), status="verified"))
    for key, theirs in (("scale", float(np.exp(by_scipy.x[0]))), ("shape", float(np.exp(by_scipy.x[1]))), ("log_likelihood", -float(by_scipy.fun))):
        out.append(Check(f"censored Weibull: {key.replace('_', ' ')}", "scipy 1.10, Nelder–Mead on the likelihood", theirs, nist[key], "± 1e-6 relative",
                         "that search stops at the root of rounding", near(theirs, nist[key], relative=1e-6)))
    for test, told in by_r.items():
        for key, theirs in told.items():
            out.append(Check(f"{called[test]}: {key.replace('_', ' ')}", "R 4.2, survreg", theirs, ours[test][key], "± 1e-5 relative", "where survreg stops",
                             near(theirs, ours[test][key], relative=1e-5)))
    for test, keys in (("motors", ("intercept", "temp", "scale", "loglik")), ("aml", ("intercept", "x_nonmaintained", "scale", "loglik"))):
        mine = ours[test]
        here = (math.log(mine["scale"]), mine["effect"], 1.0 / mine["shape"], mine["log_likelihood"])
        for key, value in zip(keys, here):
            theirs = saved[f"{test}_weibull"][key]
            _, half = printed(repr(theirs))
            out.append(Check(f"{called[test]}: {key.replace('_', ' ')}", SURVREG, theirs, value, f"± {2 * half:g}", "the digits saved, and where survreg stopped",
                             near(theirs, value, absolute=2 * half)))

    # intervals by the likelihood ratio, and the product limit
    recomputed = saved["nist_weibull_recomputed"]
    rise = stats.chi2.ppf(0.95, 1)
    top = float(by_scipy.x[1])
    beyond = lambda log_shape: 2 * (-float(by_scipy.fun) - profile(log_shape)) - rise  # noqa: E731
    shape_ends = [math.exp(optimize.brentq(beyond, top + a, top + b, xtol=1e-13)) for a, b in ((-2.0, 0.0), (0.0, 2.0))]
    for k, end in enumerate(("lower", "upper")):
        for key, name in (("shape_95", "beta"), ("scale_95", "eta")):
            theirs = recomputed[f"lr95_{name}"][k]
            out.append(Check(f"censored Weibull: {end} end of 95 % of the {key[:5]}, likelihood ratio", SURVREG, theirs, nist[key][k], "± 5e-6 relative",
                             "its search for an end stopped at 3e-6", near(theirs, nist[key][k], relative=5e-6)))
        out.append(Check(f"censored Weibull: {end} end of 95 % of the shape, likelihood ratio", "scipy 1.10, brentq on the profile", shape_ends[k], nist["shape_95"][k],
                         "± 1e-7 relative", "the top by Nelder–Mead", near(shape_ends[k], nist["shape_95"][k], relative=1e-7)))
    for k, theirs in enumerate(recomputed["km_at_failures"]):
        out.append(Check(f"share still good after failure {k + 1}, product limit", "R 4.2.2, survfit (validation/data/published_fits.toml)", theirs, nist["surviving"][k],
                         "± 1e-12", "rounding", near(theirs, nist["surviving"][k], absolute=1e-12)))
    return out


def soles(place: Place) -> list[Check]:
    """Wear of shoe soles of two materials, in pairs and not."""
    ours = place.numbers("soles")
    saved = tomllib.loads((ROOT / "validation/data/published_fits.toml").read_text(encoding="utf-8"))["shoes"]
    rows = table("tests/data/published/shoes.csv")
    a, b = np.array([float(r["A"]) for r in rows]), np.array([float(r["B"]) for r in rows])
    out = []
    paired = ours["paired"]
    for what, theirs, mine in (
        ("mean difference", saved["mean_diff_A_minus_B"], paired["difference"]),
        ("t", saved["t_paired"], paired["t"]),
        ("degrees of freedom", saved["df"], paired["dof"]),
        ("p", saved["p"], paired["p"]),
        ("lower end of 95 %", saved["ci95"][0], paired["low"]),
        ("upper end of 95 %", saved["ci95"][1], paired["high"]),
        ("t, as if not in pairs", saved["t_pooled"], ours["welch"]["t"]),
    ):
        out.append(Check(f"wear of shoe soles, in pairs: {what}", SOLES, theirs, mine, "± 1e-7 relative", "seven to ten digits saved", near(theirs, mine, relative=1e-7),
                         note="of two samples of one size Welch's t is that of pooled scatter" if "as if" in what else ""))
    for what, result, mine in (("in pairs", stats.ttest_rel(a, b), paired), ("Welch", stats.ttest_ind(a, b, equal_var=False), ours["welch"])):
        for key, theirs in (("t", float(result.statistic)), ("p", float(result.pvalue))):
            out.append(Check(f"wear of shoe soles, {what}: {key}", "scipy 1.10", theirs, mine[key], "± 1e-10 relative", "rounding", near(theirs, mine[key], relative=1e-10)))
    return out


def draws(place: Place) -> list[Check]:
    ours = place.numbers("gaussian")
    mean, covariance = np.array(ours["true_mean"]), np.array(ours["true_covariance"]).reshape(3, 3)
    precision = np.linalg.inv(covariance)
    rng = np.random.default_rng(4)
    sampler = emcee.EnsembleSampler(32, 3, lambda x: -0.5 * (x - mean) @ precision @ (x - mean))
    sampler.random_state = np.random.RandomState(8).get_state()
    sampler.run_mcmc(mean + rng.normal(size=(32, 3)) * [1, 1, 0.1], 6000)
    chain, tau = sampler.get_chain(discard=1000, flat=True), sampler.get_autocorr_time(discard=1000, tol=20)
    out = []
    sd = np.sqrt(np.diag(covariance))
    kept = ours["steps"] * ours["walkers"]
    for i in range(3):
        error = sd[i] * math.sqrt(ours["tau"][i] / kept)
        out.append(Check(f"Gaussian of three: mean {i + 1}", "known", float(mean[i]), ours["mean"][i], f"± {4 * error:.2g}", "four standard errors, from the autocorrelation time",
                         abs(ours["mean"][i] - mean[i]) <= 4 * error))
        for j in range(i, 3):
            mine = np.array(ours["covariance"]).reshape(3, 3)[i, j]
            # variance of a product of normals, over independent draws
            wide = 4 * math.sqrt((covariance[i, i] * covariance[j, j] + covariance[i, j] ** 2) * max(ours["tau"][i], ours["tau"][j]) / kept)
            out.append(Check(f"Gaussian of three: covariance {i + 1}, {j + 1}", "known", float(covariance[i, j]), float(mine), f"± {wide:.2g}", "four standard errors",
                             abs(mine - covariance[i, j]) <= wide))
        share = ours["below"][2 * i]
        wide = 4 * math.sqrt(0.05 * 0.95 * ours["tau"][i] / kept)
        out.append(Check(f"Gaussian of three: share below the 5 % point of {i + 1}", "known", 0.05, share, f"± {wide:.2g}", "four standard errors", abs(share - 0.05) <= wide))
        both = 4 * math.sqrt(error**2 + sd[i] ** 2 * tau[i] / len(chain))
        out.append(Check(f"Gaussian of three: mean {i + 1}", "emcee 3.1, 32 walkers", float(chain[:, i].mean()), ours["mean"][i], f"± {both:.2g}", "four standard errors of both",
                         abs(chain[:, i].mean() - ours["mean"][i]) <= both))
        ratio = ours["tau"][i] / tau[i]
        out.append(Check(f"Gaussian of three: autocorrelation time {i + 1}, in steps", "emcee 3.1", float(tau[i]), ours["tau"][i], "± 30 %",
                         "times are estimated to some 10 % from chains of 100 of them; same moves", 0.7 <= ratio <= 1.3))
    return out


def posterior(place: Place) -> list[Check]:
    """A small campaign's posterior, by the library's sampler and by emcee on the density that the package gives."""
    arris = place.package()
    text = """
[tool.iron]
steel = "O1"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 25
micro_bevel_deg = 30
[readings]
file = ""
[fit]
edge_effect = false
free = ["tester.slope_N_per_um", "coefficients.radius_per_scratch", "wear.parting_um2_per_m"]
[edge.A]
tool = "iron"
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 20, after_burr = true },
  { back = "soft waterstone, JIS #1000", strokes = 10 },
  { read = "honed", replicates = 4 },
  { cut = "sugar maple", passes = 100 },
  { read = "worn", replicates = 4 },
  { cut = "sugar maple", passes = 300 },
  { read = "dull", replicates = 4 },
]
"""
    with tempfile.TemporaryDirectory() as folder:
        plan = pathlib.Path(folder) / "plan.toml"
        plan.write_text(text, encoding="utf-8")
        readings = arris.invent_readings(plan, seed=3)
        readings.to_csv(pathlib.Path(folder) / "readings.csv", index=False)
        plan.write_text(text.replace('file = ""', 'file = "readings.csv"'), encoding="utf-8")
        campaign = arris.load(plan)
    fit = arris.fit(campaign, draws=8000, seed=2, no_profiles=True)
    mine = fit.draws
    density = campaign.density()
    size = len(density.names)
    start = np.asarray(density.start)
    rng = np.random.default_rng(6)
    walkers = 32
    sampler = emcee.EnsembleSampler(walkers, size, campaign.log_density, vectorize=True)
    sampler.random_state = np.random.RandomState(5).get_state()
    sampler.run_mcmc(start + 0.05 * rng.normal(size=(walkers, size)), 3000)
    tau = sampler.get_autocorr_time(discard=500, tol=10)
    chain = sampler.get_chain(discard=500, flat=True)
    names = list(density.names)
    out = []
    for k, name in enumerate(names):
        if name not in mine.columns:
            continue
        theirs = np.log(np.array([density.natural(x)[name] for x in chain[::10]]))
        here = np.log(mine[name].to_numpy())
        error = math.sqrt(np.var(theirs) * tau[k] * 1.0 / len(chain) + np.var(here) * tau[k] / len(here))
        out.append(Check(f"posterior of a small campaign: mean of the log of {name}", "emcee 3.1 on campaign.log_density", float(theirs.mean()), float(here.mean()),
                         f"± {4 * error:.2g}", "four standard errors of both", abs(theirs.mean() - here.mean()) <= 4 * error, note="invented readings"))
        ratio = float(here.std() / theirs.std())
        out.append(Check(f"posterior of a small campaign: standard deviation of the log of {name}", "emcee 3.1 on campaign.log_density", float(theirs.std()), float(here.std()),
                         "± 10 %", "from some thousand independent draws, heavy tails considered", abs(ratio - 1) <= 0.1, note="invented readings"))
    if not out:
        raise RuntimeError(f"nothing of {names} is among the draws {list(mine.columns)}")
    return out


def sections(place: Place) -> list[Section]:
    return [
        Section(
            "Statistics",
            ["Gauge studies, variance components by restricted maximum likelihood, power of t tests, D-optimal designs, lives that were cut short, with "
             "a covariate and without, t tests, and the ensemble "
             "sampler on a Gaussian whose moments are known and on the posterior of a small invented campaign."],
            [*gauges(place), *variances(place), *power(place), *designs(place), *lives(place), *soles(place), *draws(place), *posterior(place)],
        )
    ]
