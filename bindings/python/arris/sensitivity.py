# SPDX-License-Identifier: MIT
"""Many inputs at once: rows of values that fill their ranges evenly, and the variance that each input takes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Literal, Union

import numpy as np
import numpy.typing as npt
import pandas as pd

from arris import _core

Range = Union[tuple[float, float], tuple[float, float, str]]
Array = npt.NDArray[np.float64]


def _checked(ranges: Mapping[str, Range]) -> list[tuple[float, float, bool]]:
    out = []
    for path, given in ranges.items():
        ends: tuple[Any, ...] = tuple(given)
        low, high = float(ends[0]), float(ends[1])
        log = len(ends) == 3 and ends[2] == "log"
        if not math.isfinite(low) or not math.isfinite(high) or not low < high or (log and low <= 0) or (len(ends) == 3 and not log):
            raise ValueError(f"the range of {path} is (low, high) with low < high, or (low, high, 'log') with 0 < low, not {ends!r}")
        out.append((low, high, log))
    return out


def design(
    ranges: Mapping[str, Range], count: int, *, method: Literal["sobol", "latin-hypercube"] = "sobol", seed: int = 1
) -> pd.DataFrame:
    """Rows of values that fill the ranges of several inputs evenly, for :func:`simulate_many` and :func:`sweep`.

    Parameters
    ----------
    ranges : dict of str to (low, high) or (low, high, "log")
        By path; in the unit of the path. With ``"log"`` equal ratios are equally likely. 200 at most.
    count : int
        Rows, 1 or more. For ``"sobol"`` powers of two fill best.
    method : str
        ``"sobol"``: a Sobol sequence with a digital shift; ``"latin-hypercube"``: each of ``count`` slices of each range once.
    seed : int
        Of what is random in it, 0 or more; 0 leaves a Sobol sequence as it is, its first point at the low ends.

    Returns
    -------
    pandas.DataFrame
        A column for each path.

    Raises
    ------
    ValueError
        Where a range is none, or ``method`` or ``count`` is wrong.

    Notes
    -----
    Source: Sobol' 1967 with the direction numbers of Joe & Kuo 2008, SIAM J. Sci. Comput. 30, 2635; McKay, Beckman & Conover 1979 (from
    memory).

    Examples
    --------
    >>> rows = arris.design({"tool.iron.micro_bevel_deg": (28, 38), "backing.soft hide.modulus_MPa": (2, 50, "log")}, 256)
    >>> rows.shape
    (256, 2)
    """
    if count < 1 or not ranges:
        raise ValueError("a design has one row and one range at least")
    return pd.DataFrame(_core.design(method, count, seed, _checked(ranges)), columns=list(ranges))


def sobol_indices(of_a: Array, of_b: Array, of_ab: Array) -> tuple[Array, Array]:
    """First-order and total indices of the variance of f.

    Parameters
    ----------
    of_a, of_b : array, shape (n,)
        f at the rows of two independent designs A and B.
    of_ab : array, shape (inputs, n)
        f at the rows of A with the column of one input taken from B.

    Returns
    -------
    first : ndarray, shape (inputs,)
        Share of the variance that goes when that input alone is known.
    total : ndarray, shape (inputs,)
        Share that is left when all others are known. The sum of ``total`` is above 1 where inputs work together.

    Raises
    ------
    ValueError
        Where the shapes do not fit together.

    Notes
    -----
    first = mean(f_B·(f_AB − f_A))/V, total = mean((f_A − f_AB)²)/(2V), with the mean of f taken away first. Source: Saltelli et al. 2010,
    Comput. Phys. Commun. 181, 259, and Jansen 1999, Comput. Phys. Commun. 117, 35, for the total (from memory).

    Examples
    --------
    >>> import numpy
    >>> points = arris.design({name: (0, 1) for name in "abcd"}, 256).to_numpy()
    >>> left, right = points[:, :2], points[:, 2:]
    >>> f = lambda x: x[:, 0] + 2 * x[:, 1]
    >>> mixed = [f(numpy.where(numpy.arange(2) == i, right, left)) for i in range(2)]
    >>> first, total = arris.sobol_indices(f(left), f(right), numpy.array(mixed))
    >>> [round(float(share), 1) for share in first]
    [0.2, 0.8]
    """
    return _core.sobol_indices(np.asarray(of_a), np.asarray(of_b), np.asarray(of_ab))
