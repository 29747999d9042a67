# SPDX-License-Identifier: MIT
"""The posterior density of a campaign as plain functions over arrays of numpy."""

from __future__ import annotations

import importlib.util
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal, Optional, Union

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from arris import _core
from arris._lists import name_in_list
from arris.result import FitResult, earlier_of

if TYPE_CHECKING:
    from arris.campaign import Campaign


class LogDensity:
    """The posterior density of a campaign's readings, for samplers and optimisers of other packages. It can be pickled and sent to the
    processes of a pool.

    x has ``size`` = P + S + q numbers, called ``names``:

    - P parameters u, on the scale on which the prior of each is a standard normal: u = (t(value) − t(median))/s with t the log, the
      logit, or nothing, by the kind of prior;
    - S logs of the standard deviations of readings, edges, operators and lots, as far as the campaign has them;
    - q effects z of edges, their rates of wear, operators, lots and test days, each over its standard deviation: a standard normal too.

    ``natural`` turns x into values with units, standard deviations and factors; ``scaled`` turns them back.

    ``log_density`` is log p(x | readings) up to a constant, and has exact slopes: derivatives go through whole histories. Its effects
    make many dimensions. ``log_marginal`` is the density of the first ``marginal_size`` = P + S numbers with the effects integrated
    out by Laplace's approximation; it is what ``arris.fit(draws=…)`` samples, and has no exact slopes.

    Both are −∞ where a parameter is out of its range or a history fails; slopes are 0 there. They change with the last digits of the
    integration: about ``numerics.relative_tolerance`` relative.

    What the density is made of: ``log_density`` is ``log_prior`` and the sum of ``log_likelihood``, up to a constant. ``residuals``
    and ``predictions`` stand behind the likelihood, with exact slopes; ``observations`` says what each of them is.

    Source: derivation in ``sim/fit/log_density.hpp``; Tierney & Kadane 1986 for the marginal (from memory).

    Attributes
    ----------
    names : list of str
        Of the entries of x.
    size, marginal_size : int
    observations : pandas.DataFrame
        What was measured, a row for each of n observations: ``edge``, ``moment``, ``kind`` (reading, apex radius, recession, mass loss),
        ``operator``, ``filament_lot``, ``line`` of the readings file, ``unit`` (N, um, mg), ``measured``, and ``known_sd``, the standard
        deviation of the log where the row states it, else 0.
    rules : ndarray, shape (rules, parameters)
        Rules of thumb of the trade that tie the parameters, where the configuration states no priors: ``−½·|rules @ x[:parameters]|²`` is a
        part of ``log_prior``.
    centring : ndarray, shape (rows, effects)
        Keeps the means of operators, of lots and of days near 1, where there are several: ``−½·|centring @ log(effects)|²`` is a part of
        ``log_prior`` (estimate: a standard deviation of 10 %; what all read too high is the tester's own).
    start : ndarray, shape (size,)
        Where a search may begin: the priors' medians, the scatter that the configuration states, no effects. Read only: copy it
        to change it.

    Examples
    --------
    >>> density = arris.load("my.toml").density()
    >>> import scipy.optimize
    >>> best = scipy.optimize.minimize(lambda x: [-v for v in density.log_density_and_gradient(x)], density.start, jac=True)
    >>> import emcee
    >>> sampler = emcee.EnsembleSampler(32, density.marginal_size, density.log_marginal, vectorize=True)
    """

    def __init__(self, campaign: Campaign, free: list[str]) -> None:
        self._of = (campaign, list(free))
        if path := campaign._core.earlier_fit:
            campaign._core.take_earlier(earlier_of(path))
        self._core = _core.Density(campaign._core, {"free": ",".join(map(name_in_list, free))} if free else {})
        self.rules: npt.NDArray[np.float64] = self._core.rules
        self.rules.setflags(write=False)
        self.centring: npt.NDArray[np.float64] = self._core.centring
        self.centring.setflags(write=False)
        self.names: list[str] = self._core.names
        self.size: int = self._core.size
        self.marginal_size: int = self._core.marginal_size
        self.start: npt.NDArray[np.float64] = self._core.start
        self.start.setflags(write=False)
        columns = ["edge", "moment", "kind", "operator", "filament_lot", "line", "unit", "log_measured", "known_sd"]
        frame = pd.DataFrame(self._core.observations(), columns=columns)
        frame.insert(7, "measured", np.exp(frame.pop("log_measured")))
        self.observations: pd.DataFrame = frame

    def __reduce__(self) -> tuple[Any, ...]:
        return LogDensity, self._of

    def log_density(self, x: npt.ArrayLike) -> Any:
        """Log posterior density, up to a constant.

        Parameters
        ----------
        x : array, shape (size,) or (n, size)
            Rows are worked out at once, on all cores.

        Returns
        -------
        float, or ndarray of shape (n,)

        Raises
        ------
        ValueError
            Where x has another shape.

        Examples
        --------
        >>> density = campaign.density()
        >>> density.log_density(density.start)
        """
        return self._values(x, slopes=False)[0]

    def log_density_and_gradient(self, x: npt.ArrayLike) -> tuple[Any, npt.NDArray[np.float64]]:
        """Log posterior density and its slopes d log p/d x.

        Parameters
        ----------
        x : array, shape (size,) or (n, size)

        Returns
        -------
        value : float, or ndarray of shape (n,)
        gradient : ndarray, shape of x

        Raises
        ------
        ValueError
            Where x has another shape.

        Examples
        --------
        >>> density = campaign.density()
        >>> value, slopes = density.log_density_and_gradient(density.start)
        >>> slopes.shape == (density.size,)
        True
        """
        return self._values(x, slopes=True)

    def log_marginal(self, x: npt.ArrayLike) -> Any:
        """Log posterior density with the effects integrated out, up to a constant.

        Parameters
        ----------
        x : array, shape (marginal_size,) or (n, marginal_size)

        Returns
        -------
        float, or ndarray of shape (n,)

        Raises
        ------
        ValueError
            Where x has another shape.

        Examples
        --------
        >>> density = campaign.density()
        >>> density.log_marginal(density.start[: density.marginal_size])
        """
        return self._values(x, slopes=False, marginal=True)[0]

    def log_prior(self, x: npt.ArrayLike) -> Any:
        """The part of ``log_density`` in which no reading has a part: parameters, standard deviations and effects.

        Parameters
        ----------
        x : array, shape (size,) or (n, size)

        Returns
        -------
        float, or ndarray of shape (n,)

        Raises
        ------
        ValueError
            Where x has another shape.

        Examples
        --------
        >>> density = campaign.density()
        >>> density.log_prior(density.start)
        """
        at = self._rows(x)
        values = np.array([self._core.log_prior(row) for row in np.atleast_2d(at)])
        return float(values[0]) if at.ndim == 1 else values

    def log_likelihood(self, x: npt.ArrayLike, by: Literal["reading", "edge"] = "reading") -> npt.NDArray[np.float64]:
        """Log likelihood of each observation, or of all of each edge.

        It is the log density of the log of what was measured, with its constants, for given effects.

        Parameters
        ----------
        x : array, shape (size,) or (m, size)
        by : "reading" or "edge"
            ``"edge"``: summed over the observations of each edge, in the order in which ``observations`` first names them.

        Returns
        -------
        ndarray, shape (n,) or (m, n)
            NaN where x is impossible.

        Raises
        ------
        ValueError
            Where x has another shape, or ``by`` another value.

        Examples
        --------
        >>> density = campaign.density()
        >>> density.log_likelihood(density.start, by="edge").shape
        (2,)
        """
        if by not in ("reading", "edge"):
            raise ValueError(f"by = {by!r} is neither 'reading' nor 'edge'")
        values = self._observed(x, "log_likelihood")
        if by == "reading":
            return values
        edges = self.observations["edge"].to_numpy()
        return np.stack([values[..., edges == edge].sum(axis=-1) for edge in pd.unique(edges)], axis=-1)

    def residuals(self, x: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """(predicted − measured)/standard deviation of each observation, on the log scale.

        With ``x`` of parameters and effects beside it, it is what least squares take: ``log_density`` for given standard deviations is
        −½ times the sum of the squares of ``residuals(x)``, of the parameters and of the effects, up to a constant, where noise is
        log-normal.

        Parameters
        ----------
        x : array, shape (size,) or (m, size)

        Returns
        -------
        ndarray, shape (n,) or (m, n)
            NaN where x is impossible.

        Raises
        ------
        ValueError
            Where x has another shape.

        Examples
        --------
        >>> density = campaign.density()
        >>> density.residuals(density.start).shape == (len(density.observations),)
        True
        """
        return self._observed(x, "residuals")

    def jacobian(self, x: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """Slopes of ``residuals`` by x, exact.

        Parameters
        ----------
        x : array, shape (size,) or (m, size)

        Returns
        -------
        ndarray, shape (n, size) or (m, n, size)

        Raises
        ------
        ValueError
            Where x has another shape.

        Examples
        --------
        >>> density = campaign.density()
        >>> density.jacobian(density.start).shape == (len(density.observations), density.size)
        True
        """
        return self._observed(x, "residual_slopes")

    def predictions(self, x: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """What each observation is predicted to be, in its unit (``observations["unit"]``); NaN where x is impossible.

        Parameters
        ----------
        x : array, shape (size,) or (m, size)

        Returns
        -------
        ndarray, shape (n,) or (m, n)

        Raises
        ------
        ValueError
            Where x has another shape.

        Examples
        --------
        >>> density = campaign.density()
        >>> density.observations.assign(predicted=density.predictions(density.start))[["edge", "moment", "measured", "predicted", "unit"]]
        """
        return np.exp(self._observed(x, "predicted"))

    def predictions_and_slopes(self, x: npt.ArrayLike) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """Predictions and their slopes by x, exact.

        Parameters
        ----------
        x : array, shape (size,) or (m, size)

        Returns
        -------
        predictions : ndarray, shape (n,) or (m, n)
        slopes : ndarray, shape (n, size) or (m, n, size)

        Raises
        ------
        ValueError
            Where x has another shape.

        Examples
        --------
        >>> density = campaign.density()
        >>> predicted, slopes = density.predictions_and_slopes(density.start)
        """
        at = self._rows(x)
        found = self._core.observed(np.atleast_2d(at), True)
        values = np.exp(found["predicted"])
        slopes = values[..., None] * found["predicted_slopes"]
        return (values[0], slopes[0]) if at.ndim == 1 else (values, slopes)

    def to_inferencedata(self, draws: Union[npt.ArrayLike, FitResult], seed: int = 1, data_tree: Optional[bool] = None) -> Any:
        """Draws of any sampler, or those of a fit, in the groups that ArviZ knows.

        Parameters
        ----------
        draws : array, shape (chains, draws, size) or (chains, draws, marginal_size), or FitResult
            x of each draw. Draws of the marginal have no effects: their posterior predictive is of other edges, operators and lots, and
            they have no log likelihood by reading. Those of a fit are of the marginal: draws by importance, which do not depend on one
            another, count as one chain, and of walkers each is a chain.
        seed : int
            Of the prior and the predictive draws.
        data_tree : bool, optional
            False: a dict of :class:`xarray.Dataset` by group, which ``arviz.from_dict`` and the like take; True: what ArviZ works on, an
            :class:`xarray.DataTree` since its version 1, an ``InferenceData`` before that. Left out: that, where ArviZ is installed.

        Returns
        -------
        xarray.DataTree, arviz.InferenceData, or dict of str to xarray.Dataset
            ``posterior`` (along ``chain`` and ``draw``, in units and factors, by the names of the density), ``sample_stats`` (``lp``),
            ``log_likelihood``, ``posterior_predictive`` and ``observed_data`` (along ``reading``), ``prior``.

        Raises
        ------
        ValueError
            Where draws have another shape; where a fit has no draws, or they are of another campaign, another wear law or other parameters; where
            an earlier version wrote draws of walkers without their number.
        ImportError
            With ``data_tree=True``, without ArviZ and with an xarray that has no trees (before 2024.10).

        Examples
        --------
        >>> density = campaign.density(free=["tester.slope_N_per_um"])
        >>> groups = density.to_inferencedata(arris.open_result("fit.h5"), data_tree=False)
        >>> list(groups["posterior"].dims), groups["posterior"].sizes["chain"]
        (['chain', 'draw'], 1)
        """
        x = self._drawn(draws) if isinstance(draws, FitResult) else np.asarray(draws, dtype=np.float64)
        if x.ndim != 3 or x.shape[2] not in (self.size, self.marginal_size):
            raise ValueError(f"draws must have the shape (chains, draws, {self.size}) or (…, {self.marginal_size}), not {x.shape}")
        random = np.random.default_rng(seed)
        flat = x.reshape(-1, x.shape[2])
        has_effects = self.size == x.shape[2]
        effects = self.size - self.marginal_size
        whole = flat if has_effects else np.hstack([flat, random.standard_normal((len(flat), effects))])
        groups = {"posterior": self._named(flat, x.shape[:2])}
        density = self.log_density(flat) if has_effects else self.log_marginal(flat)
        groups["sample_stats"] = xr.Dataset({"lp": (("chain", "draw"), density.reshape(x.shape[:2]))})
        readings = {"reading": np.arange(len(self.observations)), "edge": ("reading", self.observations["edge"].astype(str))}
        along, shape = ("chain", "draw", "reading"), (*x.shape[:2], -1)
        if has_effects:
            likely = self.log_likelihood(flat).reshape(shape)
            groups["log_likelihood"] = xr.Dataset({"measured": (along, likely)}, readings)
        predicted = self.predictions(whole) * np.exp(self._noise(whole) * random.standard_normal((len(whole), len(self.observations))))
        groups["posterior_predictive"] = xr.Dataset({"measured": (along, predicted.reshape(shape))}, readings)
        measured = self.observations["measured"].to_numpy()
        groups["observed_data"] = xr.Dataset({"measured": ("reading", measured)}, readings)
        groups["prior"] = self._named(self._prior_draws(random, 1000), (1, 1000))
        if data_tree is None:
            data_tree = importlib.util.find_spec("arviz") is not None
        return _tree(groups) if data_tree else groups

    def _drawn(self, fit: FitResult) -> npt.NDArray[np.float64]:
        """Draws of a fit as x of the marginal: one chain where they do not depend on one another, else one for each walker."""
        if "draws" not in fit:
            raise ValueError("the fit holds no posterior draws: ask for them, arris.fit(campaign, draws=2000)")
        attributes = fit["draws"].attrs
        if "largest_r_hat" in attributes and "walkers" not in attributes:
            raise ValueError("these draws are of walkers whose number was not kept: fit again, or sample log_marginal by emcee")
        walkers = int(attributes.get("walkers", 1))
        frame = fit.draws
        names = self.names[: self.marginal_size]
        drawn = [str(name) for name in fit["parameters"]["parameter"].values]
        free = [name for name in names if not name.startswith("sd of ")]
        if set(drawn) != set(free) or not set(names) <= set(frame.columns):
            law = f"its wear law is {fit.attributes['wear_law']}"
            raise ValueError(f"the fit has {', '.join(drawn)} ({law}), and this density {', '.join(free)}: give density() the same free, and [wear] law")
        own = self._of[0].parameters["value"]
        held = {str(path): float(value) for path, value in zip(fit["given"]["path"].values, fit["given"]["value"].values)}
        other = [path for path, value in held.items() if path not in own or not np.isclose(own[path], value, rtol=1e-9, atol=0.0)]
        other += [path for path in own.index if path.startswith("wear.") and path not in held and path not in drawn]
        if other:
            raise ValueError(f"the fit is of another campaign: it did not hold {', '.join(other)} at the values of this one")
        rows: list[dict[str, float]] = frame[names].to_dict("records")
        scaled = np.array([self.scaled(row) for row in rows])
        return scaled.reshape(-1, walkers, scaled.shape[1]).swapaxes(0, 1)

    def _named(self, x: npt.NDArray[np.float64], shape: tuple[int, ...]) -> xr.Dataset:
        """Rows of x on natural scales, by name, along chain and draw."""
        values = np.array([self._core.natural(row) for row in x])
        names = self.names[: values.shape[1]]
        return xr.Dataset({name: (("chain", "draw"), values[:, i].reshape(shape)) for i, name in enumerate(names)})

    def _noise(self, x: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """Standard deviation of the log of each observation, by row of x."""
        known = self.observations["known_sd"].to_numpy()
        of_readings = np.exp(x[:, self.names.index("sd of readings")])
        return np.where(known > 0, known, of_readings[:, None])

    def _prior_draws(self, random: np.random.Generator, count: int) -> npt.NDArray[np.float64]:
        """Draws of parameters and effects out of their priors, and of the logs of standard deviations out of theirs."""
        spreads = [i for i, name in enumerate(self.names[: self.marginal_size]) if name.startswith("sd of ")]
        x = np.tile(self.start, (count, 1))
        others = [i for i in range(self.size) if i not in spreads]
        x[:, others] = random.standard_normal((count, len(others)))
        grid = np.linspace(-12.0, 3.0, 3001)[1:]
        for i in spreads:  # they are independent of all else, so each comes by its own distribution
            at = np.tile(self.start, (len(grid), 1))
            at[:, i] = grid
            weight = self.log_prior(at)
            share = np.cumsum(np.exp(weight - weight.max()))
            x[:, i] = np.interp(random.uniform(0, share[-1], count), share, grid)
        return x

    def _rows(self, x: npt.ArrayLike) -> npt.NDArray[np.float64]:
        at = np.asarray(x, dtype=np.float64)
        if at.ndim not in (1, 2) or at.shape[-1] != self.size:
            raise ValueError(f"each x must have {self.size} numbers")
        return at

    def _observed(self, x: npt.ArrayLike, what: str) -> npt.NDArray[np.float64]:
        at = self._rows(x)
        found = self._core.observed(np.atleast_2d(at), what.endswith("slopes"))[what]
        return np.asarray(found[0] if at.ndim == 1 else found)

    def _values(self, x: npt.ArrayLike, *, slopes: bool, marginal: bool = False) -> tuple[Any, Any]:
        at = np.asarray(x, dtype=np.float64)
        values, gradient = self._core.values(np.atleast_2d(at), self.marginal_size if marginal else self.size, slopes, marginal)
        return (float(values[0]), gradient[0] if slopes else None) if at.ndim == 1 else (values, gradient)

    def natural(self, x: npt.ArrayLike) -> dict[str, float]:
        """x by name, on the scales that people use: parameters in their units, standard deviations, effects as factors.

        Parameters
        ----------
        x : array, shape (size,) or (marginal_size,)

        Examples
        --------
        >>> density = campaign.density(free=["tester.slope_N_per_um"])
        >>> density.natural(density.start)["tester.slope_N_per_um"]
        """
        return dict(zip(self.names, self._core.natural(np.asarray(x, dtype=np.float64)).tolist()))

    def scaled(self, values: Mapping[str, float]) -> npt.NDArray[np.float64]:
        """x for values as ``natural`` gives them: of all names, or of all but the effects.

        Raises
        ------
        KeyError
            Where one is missing.

        Examples
        --------
        >>> density = campaign.density(free=["tester.slope_N_per_um"])
        >>> x = density.scaled({**density.natural(density.start), "tester.slope_N_per_um": 2.0})
        >>> round(density.natural(x)["tester.slope_N_per_um"], 9)
        2.0
        """
        wanted = self.names if any(n in values for n in self.names[self.marginal_size :]) else self.names[: self.marginal_size]
        return self._core.scaled(np.array([values[name] for name in wanted], dtype=np.float64))


def _tree(groups: dict[str, xr.Dataset]) -> Any:
    """What the ArviZ that is here works on; without one, a tree of xarray."""
    try:
        import arviz
    except ImportError:
        arviz = None
    if hasattr(arviz, "InferenceData"):  # before version 1
        return arviz.InferenceData(**groups)
    if not hasattr(xr, "DataTree"):
        raise ImportError("a tree needs ArviZ, or xarray of 2024.10 or later: pip install arviz; or ask for data_tree=False")
    return xr.DataTree.from_dict(groups)
