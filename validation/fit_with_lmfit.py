# SPDX-License-Identifier: MIT
"""The fit of the demonstration, once more by other people's software: scipy and lmfit.

What they minimise is the same sum of squares: log residuals of readings over the scatter that `arris fit` found, the priors of
the parameters, and the luck of every edge over its scatter. Apex radius and burr of each edge at each reading come from the
program (`arris simulate`) at the parameters wanted; the law of the tester, the effects of edges and all statistics are written
anew here, and derivatives are differences. Agreement is asked of the optimum and of the standard errors.

    /usr/bin/python3 validation/fit_with_lmfit.py build/arris configs/boatyard/boatyard.toml

Prints a table: source, number, theirs, ours, tolerance, pass. Exit code 0 when all agree, 1 when not.
"""

import csv
import json
import math
import pathlib
import subprocess
import sys
import tempfile

import lmfit
import numpy as np
import scipy.optimize

GRAVITY = 9.80665
PROGRAM, CAMPAIGN = sys.argv[1], pathlib.Path(sys.argv[2]).resolve()


def run(*words):
    return subprocess.run([PROGRAM, *map(str, words)], check=True, capture_output=True, text=True).stdout


def tables(values):
    """TOML tables with these values, by path: table.key (the parameters fitted here have no third part)."""
    out = {}
    for path, value in values.items():
        table, key = path.split(".")
        out.setdefault(table, []).append(f"{key} = {value!r}")
    return "\n".join(f"[{table}]\n" + "\n".join(rows) for table, rows in out.items())


class Yard:
    """Predictions of the program at given parameters."""

    def __init__(self, folder, paths):
        self.folder, self.paths = folder, paths
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
        edges = json.loads(run("simulate", name, "--quiet", "--json", "-"))["edges"]
        steps = {}
        for edge in edges:
            half = math.radians(edge["included_angle_deg"]) / 2
            for point in edge["track"]:
                step = edge["steps"][int(point["step"]) - 1]
                if step["verb"] == "read":
                    steps[edge["name"], step["subject"]] = (point["apex_radius_um"], point["burr_um"], half)
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


def fixed_numbers():
    """What the configuration says of the tester, as `arris check` prints it."""
    table, out = "", {}
    for line in run("check", CAMPAIGN).splitlines():
        if line.startswith("["):
            table = line.strip("[]")
        elif table == "tester" and "=" in line:
            key, value = line.split("#")[0].split("=")
            try:
                out[f"tester.{key.strip()}"] = float(value)
            except ValueError:
                pass  # the name of the filament
    return out


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        run("fit", CAMPAIGN, "--quiet", "--no-profiles", "--json", folder / "fit.json", "--out", folder / "fit.h5")
        ours = json.loads((folder / "fit.json").read_text())
        parameters = ours["parameters"]
        paths = [p["path"] for p in parameters]
        spread = ours["spread"]
        yard = Yard(folder, paths)
        yard.fixed = fixed_numbers()
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
        print(f"{'source':8} {'number':52} {'theirs':>12} {'ours':>12} {'tolerance':>10} pass")
        failed = 0
        for source, x, errors_there in (("scipy", by_scipy.x, scipy_sd), ("lmfit", lmfit_x, lmfit_sd)):
            for i, path in enumerate(paths):
                # an optimum is where steps become short: to 2 % of its standard error; standard errors by differences, to 1 %
                for what, theirs, mine, tolerance in (
                    (f"{path}, in standard errors off", (x[i] - u[i]) / sd[i], 0.0, 0.02),
                    (f"{path}, standard error of the log", errors_there[i] * width[i], sd[i] * width[i], 0.01 * sd[i] * width[i]),
                ):
                    good = abs(theirs - mine) <= tolerance
                    failed += not good
                    print(f"{source:8} {what:52} {theirs:12.6f} {mine:12.6f} {tolerance:10.2g} {'yes' if good else 'NO'}")
        evaluations = by_scipy.nfev + (by_scipy.njev or 0) * 2 * count
        print(f"{len(yard.rows)} readings, {edges} edges, {count} parameters; scipy asked {evaluations} times")
        return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
