# SPDX-License-Identifier: MIT
"""Many inputs at once: rows of values that fill their ranges evenly, and which input matters how much."""

from __future__ import annotations

import dataclasses
import html
import math
from collections.abc import Mapping
from typing import Any, Literal, Optional, Union

import numpy as np
import numpy.typing as npt
import pandas as pd

from arris.campaign import Source, campaign_of
from arris.studies import simulate_many

Range = Union[tuple[float, float], tuple[float, float, str]]
Array = npt.NDArray[np.float64]


def _scaled(unit: Array, ranges: Mapping[str, Range]) -> Array:
    """Points of the unit cube in the ranges."""
    out = np.empty_like(unit)
    for i, (path, given) in enumerate(ranges.items()):
        ends: tuple[Any, ...] = tuple(given)
        low, high = float(ends[0]), float(ends[1])
        log = len(ends) == 3 and ends[2] == "log"
        if not math.isfinite(low) or not math.isfinite(high) or not low < high or (log and low <= 0) or (len(ends) == 3 and not log):
            raise ValueError(f"the range of {path} is (low, high) with low < high, or (low, high, 'log') with 0 < low, not {ends!r}")
        out[:, i] = low * (high / low) ** unit[:, i] if log else low + (high - low) * unit[:, i]
    return out


def design(
    ranges: Mapping[str, Range], count: int, *, method: Literal["sobol", "latin-hypercube"] = "sobol", seed: int = 1
) -> pd.DataFrame:
    """Rows of values that fill the ranges of several inputs evenly, for :func:`simulate_many`.

    Parameters
    ----------
    ranges : dict of str to (low, high) or (low, high, "log")
        By path; in the unit of the path. With ``"log"`` equal ratios are equally likely.
    count : int
        Rows, 1 or more. For ``"sobol"`` powers of two fill best.
    method : str
        ``"sobol"``: a scrambled Sobol sequence; ``"latin-hypercube"``: each of ``count`` slices of each range once.
    seed : int
        Of the scrambling.

    Returns
    -------
    pandas.DataFrame
        A column for each path.

    Raises
    ------
    ValueError
        Where a range is none, or ``method`` or ``count`` is wrong.
    ImportError
        Without SciPy, whose ``scipy.stats.qmc`` makes the numbers.

    Examples
    --------
    >>> rows = arris.design({"tool.iron.micro_bevel_deg": (28, 38), "backing.soft hide.modulus_MPa": (2, 50, "log")}, 256)
    >>> gf = arris.simulate_many("my.toml", list(rows), rows)
    """
    if count < 1 or not ranges:
        raise ValueError("a design has one row and one range at least")
    return pd.DataFrame(_scaled(_unit_cube(len(ranges), count, method, seed), ranges), columns=list(ranges))


def _unit_cube(inputs: int, count: int, method: str, seed: int) -> Array:
    from scipy.stats import qmc

    if method == "latin-hypercube":
        return np.asarray(qmc.LatinHypercube(inputs, seed=seed).random(count))
    if method != "sobol":
        raise ValueError(f"method = {method!r} is neither 'sobol' nor 'latin-hypercube'")
    # of a whole power of two, so that what is asked for is the beginning of a balanced set
    return np.asarray(qmc.Sobol(inputs, seed=seed).random_base2(max(0, math.ceil(math.log2(count)))))[:count]


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

    Notes
    -----
    first = mean(f_B·(f_AB − f_A))/V, total = mean((f_A − f_AB)²)/(2V). Source: Saltelli et al. 2010, Comput. Phys. Commun. 181, 259, and
    Jansen 1999 for the total (from memory).
    """
    variance = np.var(np.concatenate([of_a, of_b]))
    # the mean takes no part in a variance, and off it the products err less
    centre = np.mean(np.concatenate([of_a, of_b]))
    first = np.mean((of_b - centre) * (of_ab - of_a), axis=-1) / variance
    total = np.mean((of_a - of_ab) ** 2, axis=-1) / (2.0 * variance)
    return first, total


@dataclasses.dataclass(frozen=True)
class Sensitivity:
    """What :func:`sensitivity` found.

    Attributes
    ----------
    sentence : str
        What matters most.
    indices : pandas.DataFrame
        By path, the largest total first: ``first`` and ``total`` (:func:`sobol_indices`) with ``first_low`` … ``total_high``, 90 %
        intervals by resampling.
    mean, spread : float
        Mean and standard deviation of the answer over the ranges, in its unit.
    failed : int
        Histories that failed; the rows of the design that they belong to are left out.
    histories : int
        How many were run.
    """

    sentence: str
    indices: pd.DataFrame
    mean: float
    spread: float
    failed: int
    histories: int

    def __str__(self) -> str:
        return f"{self.sentence}\n\n{self.indices.to_string(float_format='{:.2f}'.format)}"

    def _repr_html_(self) -> str:
        table: str = self.indices.to_html(float_format="{:.2f}".format)
        return f"<p>{html.escape(self.sentence)}</p>{table}"


def sensitivity(
    campaign: Source,
    ranges: Mapping[str, Range],
    *,
    output: str = "reading_gf",
    edge: Optional[str] = None,
    at: str = "end",
    base: int = 1024,
    seed: int = 1,
    threads: int = 0,
) -> Sensitivity:
    """Which of several inputs matters how much for an answer, each over its whole range and with all others over theirs.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
    ranges : dict of str to (low, high) or (low, high, "log")
        As :func:`design` takes them; one input or more.
    output : str
        The answer: a column of a simulation, or ``"passes_to_limit"``, as in :func:`simulate_many`.
    edge, at, threads
        As in :func:`simulate_many`.
    base : int
        Rows of each of two designs, a power of two, 16 or more: ``base``·(inputs + 2) histories are run.
    seed : int
        Of the designs and of the intervals.

    Returns
    -------
    Sensitivity
        ``indices`` and a sentence. It says how the model behaves over these ranges, not how sure the model is.

    Raises
    ------
    arris.ConfigurationError
        As :func:`simulate_many`.
    ValueError
        Where a range or ``base`` is wrong, too many histories fail, or the answer is the same everywhere.
    ImportError
        Without SciPy.

    Examples
    --------
    >>> print(arris.sensitivity("my.toml", {"tool.iron.micro_bevel_deg": (28, 38), "steel.O1.hardness_HRC": (58, 64)}))
    """
    if base < 16 or base & (base - 1):
        raise ValueError(f"base = {base} is no power of two of 16 or more")
    if not ranges:
        raise ValueError("there are no ranges")
    inputs = len(ranges)
    points = _unit_cube(2 * inputs, base, "sobol", seed)
    a, b = _scaled(points[:, :inputs], ranges), _scaled(points[:, inputs:], ranges)
    mixed = np.repeat(a[None], inputs, axis=0)
    for i in range(inputs):
        mixed[i, :, i] = b[:, i]
    rows = np.concatenate([a, b, mixed.reshape(-1, inputs)])
    of = campaign_of(campaign)
    found = simulate_many(of, list(ranges), rows, edge=edge, at=at, outputs=output, threads=threads)[:, 0, 0]
    of_a, of_b, of_ab = found[:base], found[base : 2 * base], found[2 * base :].reshape(inputs, base)
    whole = np.isfinite(of_a) & np.isfinite(of_b) & np.isfinite(of_ab).all(axis=0)
    failed = int(np.sum(~np.isfinite(found)))
    if whole.sum() < base // 2:
        raise ValueError(f"{failed} of {len(found)} histories failed or have no {output}: narrow the ranges")
    of_a, of_b, of_ab = of_a[whole], of_b[whole], of_ab[:, whole]
    if np.ptp(of_a) == 0.0 and np.ptp(of_b) == 0.0:
        raise ValueError(f"{output} is the same everywhere in these ranges")
    indices = _with_intervals(list(ranges), of_a, of_b, of_ab, seed)
    both = np.concatenate([of_a, of_b])
    return Sensitivity(_sentence(output, indices, failed, len(found)), indices, float(both.mean()), float(both.std()), failed, len(found))


def _with_intervals(paths: list[str], of_a: Array, of_b: Array, of_ab: Array, seed: int) -> pd.DataFrame:
    resamples, random = 400, np.random.default_rng(seed)
    picks = random.integers(0, len(of_a), (resamples, len(of_a)))
    drawn = np.array([sobol_indices(of_a[p], of_b[p], of_ab[:, p]) for p in picks])
    low, high = np.quantile(drawn, [0.05, 0.95], axis=0)
    columns: dict[str, Any] = {}
    for k, (name, best) in enumerate(zip(("first", "total"), sobol_indices(of_a, of_b, of_ab))):
        columns |= {name: best, f"{name}_low": low[k], f"{name}_high": high[k]}
    frame = pd.DataFrame(columns, index=pd.Index(paths, name="input"))
    return frame.sort_values("total", ascending=False)


def _sentence(output: str, indices: pd.DataFrame, failed: int, histories: int) -> str:
    first, best = str(indices.index[0]), indices.iloc[0]
    text = (
        f"What matters most for {output} over these ranges is {first}: {100 * best['total']:.0f} % of its variance would be left if all else "
        f"were known (90 %: {100 * best['total_low']:.0f} to {100 * best['total_high']:.0f} %)."
    )
    if len(indices) > 1 and indices["total_low"].iloc[0] < indices["total_high"].iloc[1]:
        text += f" {indices.index[1]} may matter as much."
    if failed:
        text += f" {failed} of {histories} histories failed, and their rows were left out."
    return text
