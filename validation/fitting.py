# SPDX-License-Identifier: MIT
"""The fitter beside certified and published fits, and beside scipy, lmfit and R."""

from __future__ import annotations

import math
import re
import tomllib
import warnings
from typing import Any

import lmfit
import numpy as np
from scipy.optimize import least_squares

from validation import yard_fit
from validation.checks import Check, Section
from validation.outside import ROOT, Place, table

NIST = "NIST Statistical Reference Datasets, certified"
R = "R 4.2, nls"
SAVED = "R 4.2.2, nls and profile (validation/data/published_fits.toml)"

#: Formulas that Python and R read alike: file, rows, response (a column, or a formula of one), formula, parameters with starts.
FITS: dict[str, tuple[str, str, str, str, dict[str, float]]] = {
    "puromycin_treated": ("puromycin", "state == 'treated'", "rate", "Vm*conc/(K+conc)", {"Vm": 200, "K": 0.05}),
    "puromycin_untreated": ("puromycin", "state == 'untreated'", "rate", "Vm*conc/(K+conc)", {"Vm": 150, "K": 0.05}),
    "bod": ("bod", "", "demand", "A*(1-exp(-lrc*Time))", {"A": 20, "lrc": 0.5}),
    "dnase_run1": ("dnase_run1", "", "density", "Asym/(1+exp((xmid-log(conc))/scal))", {"Asym": 2, "xmid": 1, "scal": 1}),
    "orange_tree3": ("orange_tree3", "", "circumference", "Asym/(1+exp((xmid-age)/scal))", {"Asym": 150, "xmid": 700, "scal": 350}),
    "loblolly_seed301": ("loblolly_seed301", "", "height", "Asym+(R0-Asym)*exp(-exp(lrc)*age)", {"Asym": 90, "R0": -5, "lrc": -3}),
    "wtloss": ("wtloss", "", "Weight", "b0+b1*exp(-log(2)*Days/th)", {"b0": 90, "b1": 95, "th": 120}),
    "indometh_subject1": ("indometh_subject1", "", "conc", "A1*exp(-exp(lrc1)*time)+A2*exp(-exp(lrc2)*time)",
                          {"A1": 2, "lrc1": 0.5, "A2": 0.2, "lrc2": -1.5}),
    "theoph_subject4": ("theoph_subject4", "", "conc",
                        "Dose*exp(lKe+lKa-lCl)*(exp(-exp(lKe)*Time)-exp(-exp(lKa)*Time))/(exp(lKa)-exp(lKe))", {"lKe": -2.5, "lKa": 0.5, "lCl": -3}),
    "steam": ("steam", "", "Press", "a*exp(b*Temp/(g+Temp))", {"a": 4, "b": 20, "g": 300}),
    "fatigue_path1": ("fatigue", "Path == '1'", "relLength**(-0.732)", "b0-b1*cycles", {"b0": 0, "b1": 0}),
    "rubber_abrasion": ("rubber", "", "loss", "c0+c1*hard+c2*tens", {"c0": 0, "c1": 0, "c2": 0}),
    "wool_loglog": ("wool", "", "log(cycles)", "c0+c1*log(len)+c2*log(amp)+c3*log(load)", {"c0": 0, "c1": 0, "c2": 0, "c3": 0}),
    "wool_loglinear_coded": ("wool", "", "log(cycles)", "c0+c1*(len-300)/50+c2*(amp-9)+c3*(load-45)/5", {"c0": 0, "c1": 0, "c2": 0, "c3": 0}),
}


def rows(name: str) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Response and predictors of a fit."""
    file, wanted, response, formula, _ = FITS[name]
    kept = table(f"tests/data/published/{file}.csv")
    if wanted:
        column, value = wanted.split(" == ")
        kept = [r for r in kept if r[column] == value.strip("'")]
    def columns(text: str) -> dict[str, np.ndarray]:
        return {c: np.array([float(r[c]) for r in kept]) for c in kept[0] if re.search(rf"\b{c}\b", text)}

    y = eval(response, {"__builtins__": {}}, {"log": np.log, **columns(response)})  # noqa: S307 (formulas of this file)
    return y, columns(formula)


def certified(place: Place) -> list[Check]:
    out = []
    for row in place.numbers("certified-fits"):
        exact = row["problem"] == "Lanczos1"
        for key, what, least, why in (
            ("digits", "parameters", 8.0, "11 are certified; searches end where the residual is square on the tangent plane to 1e-8"),
            ("digits_sd", "standard deviations", 6.0, "nearly parallel columns cost what is left of the derivatives"),
            ("digits_rss", "sum of squares", 8.0, "as the parameters"),
        ):
            if exact and key != "digits":
                continue  # the residuals are the rounding of the data: no digits to match
            out.append(
                Check(f"{row['problem']}, start {row['start']}: digits that agree, {what}", NIST, "11", min(float(row[key]), 11.0), f"≥ {least:g}", why,
                      bool(row["usable"] and row[key] >= least), status="verified", note=f"{row['iterations']} steps" if key == "digits" else "")
            )
    return out


def published(place: Place) -> list[Check]:
    ours = place.numbers("published-fits")
    saved = tomllib.loads((ROOT / "validation/data/published_fits.toml").read_text(encoding="utf-8"))
    by_r = place.r("fits.R", [
        {"name": n, "formula": f"y ~ {f}", "y": list(rows(n)[0]), "response": "y", "x": {k: list(v) for k, v in rows(n)[1].items()}, "start": start}
        for n, (_, _, _, f, start) in FITS.items()
    ])
    out = []
    for name, (_, _, _, formula, start) in FITS.items():
        mine = ours[name]
        sd = np.array(mine["sd"])
        ring = 1e-5 * math.sqrt(mine["dof"])  # nls stops where the residual is square on the plane to 1e-5

        def values(source: str, status: str, theirs: list[float], digits: float, errors: list[float] | None) -> None:
            off = np.abs(np.array(theirs) - mine["value"]) / (ring * sd + digits * np.abs(theirs))
            k = int(np.argmax(off))
            out.append(
                Check(f"{name}: {list(start)[k]}, the worst of {len(theirs)} parameters", source, theirs[k], mine["value"][k],
                      f"{ring:.1g} standard errors and {digits:.0g} relative", "where that search stops, and the digits that it gives", bool(off[k] <= 1), status=status)
            )
            if errors is not None:
                off = np.abs(np.array(errors) / sd - 1)
                k = int(np.argmax(off))
                out.append(
                    Check(f"{name}: standard error of {list(start)[k]}, the worst", source, errors[k], float(sd[k]), "± 1e-4 relative",
                          "derivatives by differences there, a stop short of the optimum", bool(off[k] <= 1e-4), status=status)
                )

        expected = saved[name]
        by_name = [expected[f"se_{p}"] for p in start if f"se_{p}" in expected]
        values(SAVED, "computed", [expected[p] for p in start], 5e-7, expected.get("se", by_name or None))
        values(R, "computed", by_r[name]["value"], 1e-9, by_r[name]["se"])
        out.append(
            Check(f"{name}: sum of squares", R, by_r[name]["rss"], mine["rss"], "± 1e-8 relative", "flat at its bottom", abs(by_r[name]["rss"] / mine["rss"] - 1) <= 1e-8)
        )

        y, x = rows(name)
        environment: dict[str, Any] = {"exp": np.exp, "log": np.log, **x}
        names = list(start)
        code = compile(formula, name, "eval")

        def residuals(b: Any) -> np.ndarray:
            return eval(code, {"__builtins__": {}}, {**environment, **dict(zip(names, b))}) - y  # noqa: S307 (formulas of this file)

        scale = np.abs(np.array(list(start.values()), float))
        scale[scale == 0] = 1
        by_scipy = least_squares(residuals, np.array(list(start.values()), float), x_scale=scale, xtol=1e-14, ftol=1e-14, gtol=1e-14, jac="3-point", max_nfev=5000)
        errors = np.sqrt(np.diag(np.linalg.inv(by_scipy.jac.T @ by_scipy.jac)) * 2 * by_scipy.cost / mine["dof"])
        values("scipy 1.10, least_squares", "computed", [float(v) for v in by_scipy.x], 1e-7, [float(e) for e in errors])

        wanted = lmfit.Parameters()
        for p, v in start.items():
            wanted.add(p, value=v)
        minimizer = lmfit.Minimizer(lambda p: residuals([p[n].value for n in names]), wanted)
        by_lmfit = minimizer.minimize(method="leastsq", xtol=1e-12, ftol=1e-12)
        values("lmfit 1.1, leastsq", "computed", [float(by_lmfit.params[n].value) for n in names], 1e-6, None)

        for i, p in enumerate(names):
            for percent in (90, 95, 99):
                for end, theirs, here in zip(("lower", "upper"), expected.get(f"profile{percent}_{p}", []), mine[f"profile{percent}"][i]):
                    off = abs(here - theirs) / float(sd[i])
                    loose = name == "bod"
                    out.append(
                        Check(f"{name}: {end} end of the {percent} % profile interval of {p}", SAVED, theirs, here,
                              "0.05 standard errors" if not loose else "0.1 standard errors",
                              "R goes between a few points of the profile" + (", which are far apart here" if loose else ""), off <= (0.1 if loose else 0.05))
                    )
        if name in ("puromycin_treated", "bod", "dnase_run1"):
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # lmfit remarks on steps outside of what it looks for
                ends = lmfit.conf_interval(minimizer, by_lmfit, sigmas=[0.95], maxiter=400)
            for i, p in enumerate(names):
                for k, end in ((0, "lower"), (-1, "upper")):
                    theirs, here = float(ends[p][k][1]), mine["profile95"][i][0 if k == 0 else 1]
                    out.append(
                        Check(f"{name}: {end} end of the 95 % profile interval of {p}", "lmfit 1.1, conf_interval", theirs, here, "0.01 standard errors",
                              "its search for an end stops at 1e-3 of the probability", abs(theirs - here) <= 0.01 * float(sd[i]))
                    )
    return out


def sections(place: Place) -> list[Section]:
    return [
        Section(
            "Fitting",
            [
                "The 27 certified nonlinear regressions of NIST from both starts each; fourteen textbook fits beside saved results of R and beside R, scipy and lmfit "
                "as they run now, with profile intervals; and the demonstration's whole fit, priors and edge effects included, once more by scipy and lmfit, which ask "
                "the program for radii and write down the law of the tester and all statistics anew.",
            ],
            [*certified(place), *published(place), *yard_fit.checks(place)],
        )
    ]
