# SPDX-License-Identifier: MIT
"""The posterior density of a campaign as plain functions over arrays of numpy."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from arris import _core


class LogDensity:
    """The posterior density of a campaign's readings, for samplers and optimisers of other packages.

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

    Source: derivation in ``sim/fit/log_density.hpp``; Tierney & Kadane 1986 for the marginal (from memory).

    Attributes
    ----------
    names : list of str
        Of the entries of x.
    size, marginal_size : int
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

    def __init__(self, campaign: _core.Campaign, free: list[str]) -> None:
        self._core = _core.Density(campaign, {"free": ",".join(free)} if free else {})
        self.names: list[str] = self._core.names
        self.size: int = self._core.size
        self.marginal_size: int = self._core.marginal_size
        self.start: npt.NDArray[np.float64] = self._core.start
        self.start.setflags(write=False)

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
        """
        return self._values(x, slopes=False, marginal=True)[0]

    def _values(self, x: npt.ArrayLike, *, slopes: bool, marginal: bool = False) -> tuple[Any, Any]:
        at = np.asarray(x, dtype=np.float64)
        values, gradient = self._core.values(np.atleast_2d(at), self.marginal_size if marginal else self.size, slopes, marginal)
        return (float(values[0]), gradient[0] if slopes else None) if at.ndim == 1 else (values, gradient)

    def natural(self, x: npt.ArrayLike) -> dict[str, float]:
        """x by name, on the scales that people use: parameters in their units, standard deviations, effects as factors.

        Parameters
        ----------
        x : array, shape (size,) or (marginal_size,)
        """
        return dict(zip(self.names, self._core.natural(np.asarray(x, dtype=np.float64)).tolist()))

    def scaled(self, values: Mapping[str, float]) -> npt.NDArray[np.float64]:
        """x for values as ``natural`` gives them: of all names, or of all but the effects.

        Raises
        ------
        KeyError
            Where one is missing.
        """
        wanted = self.names if any(n in values for n in self.names[self.marginal_size :]) else self.names[: self.marginal_size]
        return self._core.scaled(np.array([values[name] for name in wanted], dtype=np.float64))
