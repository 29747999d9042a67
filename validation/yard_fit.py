# SPDX-License-Identifier: MIT
"""The fit of the demonstration, once more by other people's software: scipy and lmfit.

What they minimise is the same sum of squares: log residuals of readings over the scatter that `arris fit` found, the priors of
the parameters, and the luck of every edge over its scatter; operators, lots, rates of wear and rules of thumb are left out. Radius and burr of each edge at each reading come from the
program (`arris simulate`) at the parameters wanted; the law of the tester, the effects of edges and all statistics are written
anew here, and derivatives are differences. Agreement is asked of
the optimum and of the standard errors.
"""

from __future__ import annotations

import csv
import json
import math
import pathlib
import tempfile

import lmfit
import numpy as np
import scipy.optimize

from validation.checks import Check
from validation.outside import ROOT, Place

GRAVITY = 9.80665
CAMPAIGN = ROOT / "configs" / "boatyard" / "boatyard.toml"


def tables(values):
    """TOML tables with these values, by path: table.key (the parameters fitted here have no third part)."""
    out = {}
    for path, value in values.items():
        table, key = path.split(".")
        out.setdefault(table, []).append(f"{key} = {value!r}")
    return "\n".join(f"[{table}]\n" + "\n".join(rows) for table, rows in out.items())


class Yard:
    """Predictions of the program at given parameters."""

    def __init__(self, place, folder):
        self.place, self.folder = place, folder
        self.fixed = fixed_numbers(place)
        self.rows = [
            row
            for row in csv.DictReader(
                line
                for line in (CAMPAIGN.parent / "readings.csv").read_text().splitlines()
                if not line.startswith("#")
            )
            if not row["excluded"] and row["reading_gf"]
        ]
        self.log_measured = np.log([float(row["reading_gf"]) * GRAVITY / 1000 for row in self.rows])
        self.edges = sorted({row["edge"] for row in self.rows})
        self.edge_of = np.array([self.edges.index(row["edge"]) for row in self.rows])

    def apexes(self, values):
        """Radius (µm), burr (µm) and half angle (rad) behind each reading."""
        name = self.folder / "at.toml"
        # integration error shows in differences: far below the step of the differences, 1e-3
        name.write_text(
            f'include = ["{CAMPAIGN}"]\n[readings]\nfile = ""\n[numerics]\nrelative_tolerance = 1e-10\n'
            + tables(values)
        )
        edges = json.loads(self.place.run("simulate", name, "--quiet", "--json", "-"))["edges"]
        steps = {}
        for edge in edges:
            half = math.radians(edge["included_angle_deg"]) / 2
            for point in edge["track"]:
                step = edge["steps"][int(point["step"]) - 1]
                if step["verb"] == "read":
                    met = point["apex_radius_um"] + point["dub_um"] + 0.1 * point["chip_um"]  # what a filament meets
                    steps[edge["name"], step["subject"]] = (met, point["burr_um"], half)
        return np.array([steps[row["edge"], row["step"]] for row in self.rows]).T

    def log_readings(self, values, effects):
        radius, burr, half = self.apexes(values)
        return tester(values, self.fixed, np.exp(effects[self.edge_of]) * radius, np.exp(effects[self.edge_of]) * burr, half)


def tester(values, fixed, radius, burr, half):
    """Log of the force in newton (the law of the tester, written anew)."""
    of = {**fixed, **values}
    start = of["tester.cut_resistance_N"] * (
        1 + of["tester.wedge_share"] * (np.tan(half) - math.tan(math.radians(15)))
    )
    linear = of["tester.slope_N_per_um"] * (radius + of["tester.burr_share"] * burr)
    return np.log(start + linear / (1 + linear / (of["tester.saturation_N"] - start)))


def fixed_numbers(place):
    """What the configuration says of the tester, as `arris check` prints it."""
    table, out = "", {}
    for line in place.run("check", CAMPAIGN).splitlines():
        if line.startswith("["):
            table = line.strip("[]")
        elif table == "tester" and "=" in line:
            key, value = line.split("#")[0].split("=")
            try:
                out[f"tester.{key.strip()}"] = float(value)
            except ValueError:
                pass  # the name of the filament
    return out


def checks(place: Place) -> list[Check]:
    """The demonstration's fit beside the same by scipy and by lmfit."""
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        # the luck of edges alone, each prior by itself, and one law of wear
        (folder / "plain.toml").write_text(
            f'include = ["{CAMPAIGN}"]\n[fit]\nrate_effect = false\noperator_effect = false\nlot_effect = false\nway_effect = false\nway_wear_effect = false\nwood_effect = false\nrules_of_thumb = false\nfree = ["tester.cut_resistance_N", "tester.slope_N_per_um", "coefficients.radius_per_scratch", "wear.parting_um2_per_m"]\n[wear]\nlaw = "shared-load"\n'
        )
        place.run("fit", folder / "plain.toml", "--quiet", "--no-profiles", "--json", folder / "fit.json", "--out", folder / "fit.h5")
        ours = json.loads((folder / "fit.json").read_text())
        parameters = ours["parameters"]
        paths = [p["path"] for p in parameters]
        spread = ours["spread"]
        yard = Yard(place, folder)
        centre = np.array([p["prior"]["centre"] for p in parameters])
        width = np.array([math.log(p["prior"]["spread"]) for p in parameters])
        count, edges = len(paths), len(yard.edges)

        def values_at(u):
            return dict(zip(paths, map(float, centre * np.exp(width * u))))

        def residuals(x):
            u, z = x[:count], x[count:]
            log_force = yard.log_readings(values_at(u), spread["edges"] * z)
            return np.concatenate([(log_force - yard.log_measured) / spread["readings"], x])

        def jacobian(x):
            """Differences of parameters by the program, of effects by the tester alone (the histories stand)."""
            u, z = x[:count], x[count:]
            j = np.vstack([np.zeros((len(yard.rows), count + edges)), np.eye(count + edges)])
            for i in range(count):
                step = np.zeros(count + edges)
                step[i] = 1e-3
                up, down = residuals(x + step), residuals(x - step)
                j[:, i] = (up - down) / 2e-3
            apex = yard.apexes(values_at(u))
            for k in range(edges):
                shift = np.zeros(edges)
                shift[k] = 1e-4
                both = [
                    tester(values_at(u), yard.fixed, np.exp((spread["edges"] * (z + s))[yard.edge_of]) * apex[0],
                           np.exp((spread["edges"] * (z + s))[yard.edge_of]) * apex[1], apex[2])
                    for s in (shift, -shift)
                ]
                j[: len(yard.rows), count + k] = (both[0] - both[1]) / 2e-4 / spread["readings"]
            return j

        def errors(j):
            return np.sqrt(np.diag(np.linalg.inv(j.T @ j))[:count])

        start = np.zeros(count + edges)
        by_scipy = scipy.optimize.least_squares(residuals, start, jac=jacobian, method="lm", xtol=1e-8, ftol=1e-10)
        scipy_sd = errors(jacobian(by_scipy.x))

        names = [f"x{i}" for i in range(count + edges)]
        wanted = lmfit.Parameters()
        for n in names:
            wanted.add(n, value=0.0)
        def array(p): return np.array([p[n].value for n in names])
        by_lmfit = lmfit.minimize(
            lambda p: residuals(array(p)), wanted, method="leastsq", Dfun=lambda p: jacobian(array(p)),
            col_deriv=False, scale_covar=False, xtol=1e-8, ftol=1e-10,
        )
        lmfit_x = array(by_lmfit.params)
        lmfit_sd = np.array([by_lmfit.params[n].stderr for n in names[:count]])

        u = np.array([math.log(p["value"] / c) / w for p, c, w in zip(parameters, centre, width)])
        sd = np.array([p["log_sd"] for p in parameters]) / width
        out = []
        for source, x, errors_there in (("scipy 1.10, least_squares", by_scipy.x, scipy_sd), ("lmfit 1.1, leastsq", lmfit_x, lmfit_sd)):
            for i, path in enumerate(paths):
                off = (x[i] - u[i]) / sd[i]
                out.append(
                    Check(f"boat yard: {path}, at the optimum", source, values_at(x[:count])[path], parameters[i]["value"], "2 % of a standard error",
                          "a search ends where steps are short; no one could tell less apart", abs(off) <= 0.02,
                          note=f"off by {abs(off):.1g} standard errors; {len(yard.rows)} readings of {edges} edges, invented")
                )
                theirs, mine = float(errors_there[i] * width[i]), float(sd[i] * width[i])
                out.append(
                    Check(f"boat yard: {path}, standard error of the log", source, theirs, mine, "± 1 %", "derivatives there are differences over 1e-3",
                          abs(theirs - mine) <= 0.01 * mine)
                )
        return out
