# SPDX-License-Identifier: MIT
"""Edges over ranges of their inputs: sweeps, their shares, sensitivities, and many sets of parameters at once."""

from __future__ import annotations

import contextlib
import json
import os
import pathlib
import tempfile
from collections.abc import Callable, Iterator, Sequence
from typing import Any, Literal, Optional, Union, overload

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from arris import _core, progress
from arris.asking import Fit, Inputs, Names, answer_of, inputs_of, options_of, with_origin
from arris.campaign import Campaign, Source, campaign_of
from arris.result import Result, SweepResult, collected, draws_of, in_order, open_result
from arris.spread import bounds, dask_with_arrays, joined, mapped, pieces

__all__ = ["lazy_sweep", "merge", "sensitivity", "simulate_many", "sweep"]


def sweep(
    campaign: Source,
    *,
    over: Optional[Inputs] = None,
    question: Optional[str] = None,
    design: Optional[Literal["sobol", "latin-hypercube"]] = None,
    count: Optional[int] = None,
    seed: Optional[int] = None,
    rows: Union[pd.DataFrame, str, os.PathLike[str], None] = None,
    output: Optional[Names] = None,
    edge: Optional[str] = None,
    at: Optional[str] = None,
    step: Optional[int] = None,
    limit: Union[str, float, None] = None,
    fit: Optional[Fit] = None,
    shard: Optional[str] = None,
    client: Optional[Any] = None,
    threads: int = 0,
) -> SweepResult:
    """One edge over ranges of any number of inputs, or a question about it.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
    over : str, list of str, or dict of str to values
        An input and its values: ``"PATH=LOW:HIGH:POINTS"``, with ``:log`` behind it for equal ratios, or ``"PATH=ONE|OTHER"``; as
        ``"tool.my smoother.micro_bevel_deg=26:40:15"``, ``"step.4.laps=0:60:61"``, ``"step.5.cut=white oak|teak"``. Every value meets
        every other. As a dict by path: ``(26, 40, 15)``, with ``"log"`` behind it, or a list of values or names.
    question : str
        ``"soft-strop"``, ``"bevel-angle"``, ``"strokes"``, ``"skip-grits"`` or ``"wood"``.
    design : str
        ``"sobol"`` or ``"latin-hypercube"``: rows that fill the ranges evenly, instead of a grid; ``over`` then has
        ``"PATH=LOW:HIGH"``, or ``(26, 40)``.
    count, seed : int
        Rows of the design (left out: 256), and its seed (left out: 1; 0: the Sobol sequence itself).
    rows : pandas.DataFrame, or path of a CSV file
        Rows of values, a column for each input with its path as name, instead of ``over``. A file whose name ends in ``.parquet`` is read by
        pandas, which needs pyarrow or fastparquet for it.
    output : list of str, or str with commas
        What to record: columns of a simulation or ``passes_to_limit``; left out: ``reading_gf``, ``apex_radius_um``.
    edge : str
        The edge; left out: the first, or the first that the question fits.
    at : str
        When: ``"end"``, ``"after step K"`` or ``"after N passes"``; left out: end.
    step : int
        The step, from 1, that a question is about; left out: the first that fits.
    limit : str or float
        Reading at which the edge is dull, in gram-force, or the name of a limit.
    fit : FitResult, Result, or path of a file that ``arris fit --draws`` wrote
        Its best values take the place of those of the campaign.
    shard : str
        ``"I/N"``: the I-th of N shares only, rows that lie side by side; :func:`merge` puts shares together.
    client : distributed.Client
        Spread the rows over the workers of Dask, as shares that are merged. Not with ``shard``.
    threads : int
        Threads to use; 0 is all cores, and with a client one for each share.

    Returns
    -------
    SweepResult
        ``map`` has each output along the inputs, and ``status``; of a design and of rows along ``row``, with the inputs beside them.
        Sweeps too large for memory go to a file: use the command line.

    Raises
    ------
    arris.ConfigurationError
        ``bad-sweep``, ``unknown-input``, ``unknown-output``, ``unknown-question``, ``out-of-range``, ``too-many``.

    Examples
    --------
    >>> print(arris.sweep("my.toml", over={"tool.iron.micro_bevel_deg": (26, 40, 15)}).sentence)
    >>> arris.sweep("my.toml", over={"tool.iron.micro_bevel_deg": (26, 40), "step.4.laps": (0, 60)}, design="sobol", count=64).map["reading_gf"]
    """
    options = options_of(
        over=inputs_of(over), question=question, design=design, count=count, seed=seed, output=output, edge=edge, at=at, step=step, limit=limit,
        shard=shard, threads=threads, lists=["over"]
    )
    of = campaign_of(campaign)
    with _file_of_rows(rows) as file:
        asked = options if file is None else options | {"rows": file}
        if client is not None:
            return _spread_sweep(client, of, asked, file, fit)
        answer = _core.sweep(of._core, asked, None if fit is None else draws_of(fit))
    if rows is not None:
        options["rows"] = "DataFrame" if isinstance(rows, pd.DataFrame) else os.fspath(rows)
    return SweepResult(with_origin("sweep", of, options, answer, fit))


def _spread_sweep(client: Any, of: Campaign, options: dict[str, Any], rows: Optional[str], fit: Optional[Fit]) -> SweepResult:
    """A sweep whose shares the workers of Dask work out; a table of rows goes along, since they may not see its file."""
    if "shard" in options:
        raise ValueError("client and shard do not go together: a client makes shares of its own")
    draws = None if fit is None else draws_of(fit)
    count = pieces(client, _core.sweep_blocks(of._core, options, draws))
    given = options | ({"threads": "1"} if options.get("threads", "0") == "0" else {})
    text = None if rows is None else pathlib.Path(rows).read_text(encoding="utf-8")
    shares = [f"{i}/{count}" for i in range(1, count + 1)]
    return merge(mapped(client, _share_of, shares, (of, given, text, draws)))


def _share_of(
    shard: str, of: Campaign, options: dict[str, Any], rows: Optional[str], draws: Optional[dict[str, Any]]
) -> SweepResult:
    """One share of a sweep, on a worker."""
    with tempfile.TemporaryDirectory() as folder:
        asked = options | {"shard": shard}
        if rows is not None:
            asked["rows"] = os.path.join(folder, "rows.csv")
            pathlib.Path(asked["rows"]).write_text(rows, encoding="utf-8")
        return SweepResult(with_origin("sweep", of, asked, _core.sweep(of._core, asked, draws)))


def lazy_sweep(
    campaign: Source,
    *,
    over: Optional[Inputs] = None,
    question: Optional[str] = None,
    design: Optional[Literal["sobol", "latin-hypercube"]] = None,
    count: Optional[int] = None,
    seed: Optional[int] = None,
    rows: Union[pd.DataFrame, str, os.PathLike[str], None] = None,
    output: Optional[Names] = None,
    edge: Optional[str] = None,
    at: Optional[str] = None,
    step: Optional[int] = None,
    limit: Union[str, float, None] = None,
    fit: Optional[Fit] = None,
    pieces: int = 64,
) -> xr.Dataset:
    """The map of a sweep as arrays of dask, which are worked out piece by piece when they are asked for.

    Nothing is simulated by the call. A piece is a share of the sweep, rows that lie side by side, worked out on one thread; any scheduler of
    dask takes them: threads of this process, or the workers of a ``distributed.Client``. So a sweep may be larger than memory, and only the
    part of it that is looked at is worked out. The numbers are those of :func:`sweep`.

    Parameters
    ----------
    campaign, over, question, design, count, seed, rows, output, edge, at, step, limit, fit
        As those of :func:`sweep`.
    pieces : int
        Into how many pieces to divide the rows, at most; fewer where there are fewer blocks of rows. Each keeps up to 20 000 000 numbers.

    Returns
    -------
    xarray.Dataset
        Each output along the inputs, and ``status``, as ``sweep(…).map`` has them, with chunks along the first dimension.

    Raises
    ------
    ImportError
        Where there is no dask (``python3-dask``).
    arris.ConfigurationError
        As :func:`sweep`.

    Examples
    --------
    >>> lazy = arris.lazy_sweep("my.toml", over={"tool.iron.micro_bevel_deg": (26, 40, 400), "step.4.laps": (0, 60, 61)})
    >>> lazy["reading_gf"].sel(step_4_laps=20).min().compute()
    """
    dask = dask_with_arrays()

    options = options_of(
        over=inputs_of(over), question=question, design=design, count=count, seed=seed, output=output, edge=edge, at=at, step=step, limit=limit,
        lists=["over"]
    )
    of = campaign_of(campaign)
    draws = None if fit is None else draws_of(fit)
    with _file_of_rows(rows) as file:
        asked = options if file is None else options | {"rows": file}
        layout = _core.sweep_layout(of._core, asked, draws, pieces)
        text = None if file is None else pathlib.Path(file).read_text(encoding="utf-8")
    axes = collected(layout["node"])["map"]
    sizes = [layout["node"]["groups"]["map"]["axes"][name][0] for name in axes.sizes]
    shape = tuple(len(values) for values in sizes)
    ends = layout["ends"]
    lengths = [end - begin for begin, end in zip([0, *ends[:-1]], ends)]
    # what all pieces need goes to the scheduler once
    common = [dask.delayed(value, traverse=False) for value in (of, options | {"threads": "1"}, text, draws)]
    shares = [dask.delayed(_map_of, pure=False)(f"{i}/{len(ends)}", *common) for i in range(1, len(ends) + 1)]
    said: list[tuple[str, np.dtype[Any], dict[str, str]]] = [
        (name, np.dtype("float64"), {"units": units, "long_name": says}) for name, units, says in layout["outputs"]
    ]
    said.append(("status", np.dtype("int8"), {"long_name": _core.status_meanings}))
    data = {}
    for name, kind, attributes in said:
        parts = [
            dask.array.from_delayed(share[name], (length, *shape[1:]), kind, meta=np.empty((0,) * len(shape), kind)) for share, length in zip(shares, lengths)
        ]
        data[name] = (tuple(axes.sizes), dask.array.concatenate(parts), attributes)
    return axes.assign(data)


def _map_of(
    shard: str, of: Campaign, options: dict[str, Any], rows: Optional[str], draws: Optional[dict[str, Any]]
) -> dict[str, npt.NDArray[Any]]:
    """The arrays of the map of one share, on a worker."""
    return {str(name): values.values for name, values in _share_of(shard, of, options, rows, draws).map.data_vars.items()}


def _rows_of(
    values: npt.NDArray[np.float64], of: Campaign, names: list[str], edge: str, at: list[str], outputs: list[str], threads: int
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.int8]]:
    """Values and status of some rows, on a worker."""
    return _core.simulate_many(of._core, names, values, edge, at, outputs, threads)[:2]


def _parquet(file: str) -> pd.DataFrame:
    """A table in Parquet, by what pandas finds to read it."""
    try:
        return pd.read_parquet(file)
    except ImportError as error:
        what = f"{file} is a table in Parquet, and pandas has nothing that reads it"
        raise ImportError(f"{what}: install pyarrow or fastparquet (Debian 12 has neither), or make a CSV file of it elsewhere") from error


@contextlib.contextmanager
def _file_of_rows(rows: Union[pd.DataFrame, str, os.PathLike[str], None]) -> Iterator[Optional[str]]:
    """The path of a table of rows, which is written for as long as it takes where it is at hand only."""
    if not isinstance(rows, pd.DataFrame) and rows is not None and os.fspath(rows).endswith(".parquet"):
        rows = _parquet(os.fspath(rows))
    if not isinstance(rows, pd.DataFrame):
        yield None if rows is None else os.fspath(rows)
        return
    with tempfile.TemporaryDirectory() as folder:
        file = os.path.join(folder, "rows.csv")
        rows.to_csv(file, index=False)
        yield file


def sensitivity(
    campaign: Source,
    *,
    over: Inputs,
    output: Optional[str] = None,
    edge: Optional[str] = None,
    at: Optional[str] = None,
    limit: Union[str, float, None] = None,
    passes: Optional[int] = None,
    base: Optional[int] = None,
    seed: Optional[int] = None,
    fit: Optional[Fit] = None,
    threads: int = 0,
) -> Result:
    """Which of several inputs matters how much for an answer, by Sobol indices with 90 % intervals.

    Each input goes over its whole range with all others over theirs.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
    over : dict of str to range, or list of str
        By path: ``(low, high)``, ``(low, high, "log")`` for equal ratios, or a list of values or names. As text: ``"PATH=LOW:HIGH"``,
        with ``:log`` behind it, or ``"PATH=ONE|OTHER"``.
    output : str
        The answer: a column of a simulation, or ``"passes_to_limit"``, how long the edge lasts; left out: that.
    edge : str
        The edge; left out: the first, or for its life the first that cuts wood.
    at : str
        When: ``"end"``, ``"after step K"`` or ``"after N passes"``; left out: end. Not for a life.
    limit : str or float
        Reading that ends the life: a task or gram-force. Left out: ``reading_limit_gf``, or that of bench work.
    passes : int
        Passes to look ahead, 1 to 10 000 000; left out: 5000. An edge that lasts longer counts as that.
    base : int
        Points of each of two designs, a power of two, 16 to 1 048 576; left out: 1024. ``base``·(inputs + 2) histories are run.
    seed : int
        Seed of the designs and of the intervals, 1 or more; left out: 1.
    fit : FitResult, Result, or path of a file that ``arris fit --draws`` wrote
        Its best values take the place of those of the campaign.
    threads : int
        Threads to use; 0 is all cores. The result does not depend on it.

    Returns
    -------
    Result
        Group ``indices``, the largest total first: ``first``, the share of the variance that goes when the input alone is known, and
        ``total``, the share that is left when all others are known, each with ``_low`` and ``_high``; ``spread`` and ``ranges``.

    Raises
    ------
    arris.ConfigurationError
        ``bad-sweep``, ``unknown-input``, ``unknown-output``, ``out-of-range``, ``same-everywhere``, ``no-cut``, ``bad-option``.
    arris.IntegrationError
        ``too-many-failed``.

    Notes
    -----
    Source: Saltelli et al. 2010, Comput. Phys. Commun. 181, 259; Jansen 1999, Comput. Phys. Commun. 117, 35 (from memory).

    Examples
    --------
    >>> result = arris.sensitivity("my.toml", over={"tool.iron.micro_bevel_deg": (28, 38), "wood.teak.silica_pct": (0.1, 1.4, "log")})
    >>> print(result.sentence)
    >>> result.to_pandas("indices")
    """
    options = options_of(
        over=inputs_of(over), output=output, edge=edge, at=at, limit=limit, passes=passes, base=base, seed=seed, threads=threads, lists=["over"]
    )
    return answer_of("sensitivity", campaign, options, fit)


def merge(shares: Sequence[Union[SweepResult, str, os.PathLike[str]]]) -> SweepResult:
    """The shares of a sweep put together, in memory. ``arris merge`` does the same with files of any size.

    Parameters
    ----------
    shares : list of SweepResult, or of paths
        All of them, in any order: what ``arris.sweep(…, shard="I/N")`` gave, or files that ``arris sweep --shard`` wrote.

    Returns
    -------
    SweepResult
        As if there had been no shares; ``save`` keeps it.

    Raises
    ------
    arris.DataError
        ``not-a-sweep``, ``sweep-differs``, ``share-twice``, ``share-missing`` with the numbers that are, and as :func:`open_result`.

    Examples
    --------
    >>> arris.merge([arris.sweep("my.toml", over="step.4.laps=0:60:61", shard=f"{i}/3") for i in (1, 2, 3)]).map
    """
    opened = [share if isinstance(share, Result) else open_result(share) for share in shares]
    parts = in_order(opened)
    first = parts[0].attributes
    definition = json.loads(first["definition"])
    rows = definition["axes"][0]["name"]
    whole = xr.concat([part["map"] for part in parts], dim=rows, data_vars="minimal") if len(parts) > 1 else parts[0]["map"]
    axes, inputs = (
        [[str(v) for v in whole[a["name"]].values] if a["text"] else whole[a["name"]].values for a in definition.get(key, [])]
        for key in ("axes", "inputs")
    )
    outputs = [np.ascontiguousarray(whole[o["name"]].values, dtype=np.float64) for o in definition["outputs"]]
    told = min((p.attributes for p in parts if p.attributes["failed"]), key=lambda a: int(a["first_failure_row"]), default=first)
    names = ("first_failure_row", "first_failure_column", "first_failure_cause")
    failed = {name: told[name] for name in names} | {"failed": sum(int(p.attributes["failed"]) for p in parts)}
    status = np.ascontiguousarray(whole["status"].values, dtype=np.float64)
    answer = _core.merged_answer(first["definition"], axes, inputs, outputs, status, failed, str(first["title"]))
    origin = _core.origin(None, "sweep", f"arris.merge({len(parts)} shares)", "")
    origin |= {name: first[name] for name in ("configuration", "numerics", "rests_on", "inputs")}
    answer["node"]["attributes"] = origin | answer["node"]["attributes"] | {"title": first["title"]}
    answer["groups"] = {"map": whole}
    return SweepResult(answer)


def _lazy_rows(
    array: npt.NDArray[np.float64], chunks: int, of: Campaign, asked: tuple[list[str], str, list[str], list[str]]
) -> tuple[Any, Any]:
    """Values and status of all rows as arrays of dask."""
    dask = dask_with_arrays()

    shape = (len(asked[2]), len(asked[3]))
    common = [dask.delayed(value, traverse=False) for value in (of, *asked, 1)]
    values, status = [], []
    for begin in range(0, max(1, len(array)), chunks):
        rows = array[begin : begin + chunks]
        piece = dask.delayed(_rows_of, pure=False)(dask.delayed(rows, traverse=False), *common)
        values.append(dask.array.from_delayed(piece[0], (len(rows), *shape), np.float64, meta=np.empty((0, 0, 0))))
        status.append(dask.array.from_delayed(piece[1], (len(rows),), np.int8, meta=np.empty(0, np.int8)))
    return dask.array.concatenate(values), dask.array.concatenate(status)


def _with_progress(array: npt.NDArray[np.float64], work: Callable[[npt.NDArray[np.float64]], Any]) -> list[Any]:
    """``work`` of all rows; where somebody wants to see how far it is, piece by piece."""
    if progress.shown is None or not len(array):
        return [work(array)]
    done = []
    for begin, end in bounds(len(array), max(1, min(100, len(array) // 10_000))):
        done.append(work(array[begin:end]))
        progress.shown("simulating", end, len(array))
    return done


@overload
def simulate_many(
    campaign: Source,
    names: Sequence[str],
    values: npt.ArrayLike,
    *,
    edge: Optional[str] = None,
    at: Names = "end",
    outputs: Names = ("reading_gf",),
    dataset: Literal[False] = False,
    client: Optional[Any] = None,
    threads: int = 0,
) -> npt.NDArray[np.float64]: ...


@overload
def simulate_many(
    campaign: Source,
    names: Sequence[str],
    values: npt.ArrayLike,
    *,
    edge: Optional[str] = None,
    at: Names = "end",
    outputs: Names = ("reading_gf",),
    dataset: Literal[True],
    chunks: Optional[int] = None,
    client: Optional[Any] = None,
    threads: int = 0,
) -> xr.Dataset: ...


def simulate_many(
    campaign: Source,
    names: Sequence[str],
    values: npt.ArrayLike,
    *,
    edge: Optional[str] = None,
    at: Names = "end",
    outputs: Names = ("reading_gf",),
    dataset: bool = False,
    chunks: Optional[int] = None,
    client: Optional[Any] = None,
    threads: int = 0,
) -> Union[npt.NDArray[np.float64], xr.Dataset]:
    """One edge simulated for many sets of parameters, into one array, on all cores, in one call.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
    names : list of str, length p
        Paths of parameters, as the index of ``campaign.parameters``.
    values : array, shape (n, p)
        A set of values per row, in the units of the paths.
    edge : str
        The edge; left out: the first.
    at : str or list of str, length m
        Moments: ``"end"``, ``"after step K"`` (from 1) or ``"after N passes"``.
    outputs : str or list of str, length k
        Columns of a simulation, such as ``"reading_gf"`` or ``"apex_radius_um"``, or ``"passes_to_limit"``; the unit is that of the
        name.
    dataset : bool
        Give a data set with names, units and the status of each row.
    chunks : int
        With ``dataset``: arrays of dask, each with chunks of so many rows, which are worked out when they are asked for, on one thread
        each, by whatever scheduler dask has.
    client : distributed.Client
        Spread the rows over the workers of Dask; what a worker that dies had to do is done by others. The numbers are the same.
    threads : int
        Threads to use; 0 is all cores, and with a client one for each piece of the work. The result does not depend on it.

    Returns
    -------
    ndarray, shape (n, m, k)
        NaN in rows that failed: values out of range, an impossible blade, no burr.
    xarray.Dataset
        With ``dataset``: each output along ``row`` and ``at``, what was put in along ``row``, and ``status``: 0 where a row was worked
        out, else why it failed; its ``long_name`` says what each number means.

    Raises
    ------
    arris.ConfigurationError
        ``unknown-parameter``, ``unknown-output``, ``unknown-edge``, ``no-such-step``, ``no-such-moment``.
    ImportError
        With ``chunks``, where there is no dask (``python3-dask``).
    ValueError
        Where ``values`` has another shape, or ``chunks`` stands without ``dataset`` or with ``client``.

    Examples
    --------
    >>> import numpy
    >>> angles = numpy.linspace(26, 40, 1000)[:, None]
    >>> gf = arris.simulate_many("my.toml", ["tool.iron.micro_bevel_deg"], angles)[:, 0, 0]
    """
    array = np.ascontiguousarray(values, dtype=np.float64)
    if array.ndim != 2 or array.shape[1] != len(names):
        raise ValueError(f"values must have the shape (n, {len(names)}), one column per name, not {array.shape}")
    moments = [at] if isinstance(at, str) else list(at)
    columns = [outputs] if isinstance(outputs, str) else list(outputs)
    of = campaign_of(campaign)
    asked = (list(names), edge or "", moments, columns)
    if chunks is not None and (not dataset or client is not None or chunks < 1):
        raise ValueError("chunks, 1 or more, go with dataset=True and without client: dask's own scheduler works them out")
    told = _core.simulate_many(of._core, asked[0], array[:0], *asked[1:], 1)[2]  # its faults at once, before all pieces have them
    result: Any
    status: Any
    if chunks is not None:
        result, status = _lazy_rows(array, chunks, of, asked)
    elif client is not None and len(array):
        runs = bounds(len(array), pieces(client, len(array)))
        result, status = joined(mapped(client, _rows_of, [array[a:b] for a, b in runs], (of, *asked, threads or 1)))
    else:
        result, status = joined(_with_progress(array, lambda piece: _rows_of(piece, of, *asked, threads)))
    if not dataset:
        return np.asarray(result)
    units = of.parameters["unit"]
    said = of.parameters["says"]
    data: dict[str, Any] = {
        name: (("row", "at"), result[:, :, i], {"units": unit, "long_name": says})
        for i, (name, (unit, says)) in enumerate(zip(columns, told))
    }
    data["status"] = ("row", status, {"long_name": _core.status_meanings})
    given = {name: ("row", array[:, i], {"units": units[name] or "1", "long_name": said[name]}) for i, name in enumerate(names)}
    return xr.Dataset(data, {"row": np.arange(len(array)), "at": moments, **given})
