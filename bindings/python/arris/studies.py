# SPDX-License-Identifier: MIT
"""What the commands do, as functions. Names, ranges and defaults of keywords are those of the options of the command line."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import pathlib
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Literal, Optional, Union, overload

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from arris import _core
from arris.campaign import Campaign, Source, campaign_of, own_text
from arris.result import FitResult, Result, SimulationResult, SweepResult, draws_of, in_order, open_result
from arris.spread import bounds, joined, mapped, pieces

Fit = Union[FitResult, Result, str, "os.PathLike[str]"]
Names = Union[str, Sequence[str]]
Inputs = Union[str, Sequence[str], Mapping[str, Sequence[Any]]]  # of a sweep

__all__ = [
    "check_gradient",
    "compare",
    "fit",
    "fitted",
    "forecast",
    "gauge",
    "materials",
    "merge",
    "invent_readings",
    "plan",
    "readings",
    "sensitivity",
    "simulate",
    "simulate_many",
    "sweep",
    "upkeep",
    "weigh",
]


def _name_in_list(name: str) -> str:
    """A name as lists of the command line have it: in quotes where a comma or a quote is part of it."""
    return '"' + name.replace('"', '""') + '"' if "," in name or name.startswith('"') else name


def _inputs(over: Optional[Inputs]) -> Union[None, str, Sequence[str]]:
    """Inputs of a sweep as the command line has them: a tuple is a range, a list its values."""
    if not isinstance(over, Mapping):
        return over
    out = []
    for path, values in over.items():
        if isinstance(values, tuple):
            out.append(f"{path}={':'.join(_shown(v) for v in values)}")
        else:
            names = (v if not isinstance(v, str) else '"' + v.replace('"', '""') + '"' for v in values)
            out.append(f"{path}={'|'.join(_shown(v) for v in names)}")
    return out


def _shown(value: Any) -> str:
    """A number in all its digits, a text as it is."""
    if isinstance(value, (float, np.floating)):
        number = float(value)
        return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)
    return str(value)


def _options(given: Mapping[str, Any], lists: Sequence[str] = ()) -> dict[str, Any]:
    """Options as the library takes them: texts; those that are left out are left out."""
    out: dict[str, Any] = {}
    for name, value in given.items():
        if value is None or value is False:
            continue
        if name in lists:
            out[name] = [value] if isinstance(value, str) else [str(v) for v in value]
        elif value is True:
            out[name] = "yes"
        elif isinstance(value, (list, tuple)):
            out[name] = ",".join(_name_in_list(str(v)) for v in value)
        elif isinstance(value, (float, np.floating)):
            out[name] = _shown(value)
        else:
            out[name] = os.fspath(value) if hasattr(value, "__fspath__") else str(value)
    return out


def _told(
    study: str, campaign: Campaign, options: Mapping[str, Any], answer: dict[str, Any], fit: Optional[Fit] = None
) -> dict[str, Any]:
    """An answer with where it comes from, as a file has it: the call in the place of the command, version, configuration …"""
    given = {key: value for key, value in options.items() if (key, value) != ("threads", "0")}
    words = [repr(campaign.name), *(f"{key.replace('-', '_')}={value!r}" for key, value in given.items())]
    file = "" if fit is None else fit.path if isinstance(fit, Result) else os.fspath(fit)
    if fit is not None:
        words.append(f"fit={file!r}" if file else "fit=…")
    origin = _core.origin(campaign._core, study, f"arris.{study}({', '.join(words)})", str(options.get("seed", "")))
    if file:
        origin["inputs"] += f"\n{file} sha1:{hashlib.sha1(pathlib.Path(file).read_bytes()).hexdigest()}"
    if answer["rests_on"]:
        origin["rests_on"] = answer["rests_on"]
    answer["node"]["attributes"] = origin | answer["node"]["attributes"]
    return answer


def _asked(study: str, campaign: Source, options: Mapping[str, Any], fit: Optional[Fit] = None) -> Result:
    """What the command of that name answers."""
    of = campaign_of(campaign)
    answer = _core.answer(study, of._core, options, None if fit is None else draws_of(fit))
    return Result(_told(study, of, options, answer, fit))


def simulate(campaign: Source, *, fit: Optional[Fit] = None, threads: int = 0) -> SimulationResult:
    """What every step of a history does to an edge.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
    fit : FitResult, Result, or path of a file that ``arris fit --draws`` wrote
        Its best values take the place of those of the campaign.
    threads : int
        Threads to use, 0 to 4096; 0 is all cores. The result does not depend on it, to the last bit.

    Returns
    -------
    SimulationResult
        Groups ``edges`` (one row per edge), ``edge/NAME/track`` (the curve, along ``point``: ``apex_radius_um``, ``reading_gf`` …),
        ``edge/NAME/steps`` (what each step did), and ``comparison`` where the campaign has readings. The interpreter lock is
        released meanwhile, and Ctrl-C stops it.

    Raises
    ------
    arris.ConfigurationError, arris.DataError
        As :func:`arris.load`. An edge whose history fails raises nothing: it is in ``failures``, and its numbers are NaN.

    Notes
    -----
    Source: the equations at the head of each file in ``sim/laws``, with their sources.

    Examples
    --------
    >>> result = arris.simulate("my.toml")
    >>> print(result)
    >>> result.track("first")["reading_gf"].plot()
    """
    of, options = campaign_of(campaign), _options({"threads": threads})
    answer = _core.simulate(of._core, options, None if fit is None else draws_of(fit))
    return SimulationResult(_told("simulate", of, options, answer, fit))


def fit(
    campaign: Source,
    *,
    free: Optional[Names] = None,
    starts: Optional[int] = None,
    draws: int = 0,
    seed: Optional[int] = None,
    no_profiles: bool = False,
    threads: int = 0,
) -> FitResult:
    """Parameters from readings.

    Tunes parameters of the model to the readings of a campaign, by Levenberg–Marquardt from several starts, with exact derivatives;
    the scatter of readings, edges, operators and lots is estimated along with them.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
        It must have readings.
    free : list of str, or str with commas
        Paths of the parameters to free, such as ``"tester.slope_N_per_um"``; ``campaign.parameters`` lists all. Left out: those of
        ``[fit] free``, or the usual ones.
    starts : int
        Starting points, 1 to 10000; left out: that of the configuration, or 16.
    draws : int
        Posterior draws to keep, 0 to 10 000 000. They are refused unless they have converged.
    seed : int
        Seed of starts and draws, 0 to 2 000 000 000; left out: that of the configuration, or 1.
    no_profiles : bool
        Leave profile intervals out.
    threads : int
        Threads to use; 0 is all cores. The result does not depend on it.

    Returns
    -------
    FitResult
        ``estimates`` and ``parameters`` (with 90 % intervals), ``covariance``, ``profiles``, ``draws``, ``residuals``, ``spread``,
        ``undetermined``. Look at ``converged`` before anything else; where it is False there are no groups.

    Raises
    ------
    arris.ConfigurationError
        ``no-readings``, ``unknown-parameter``, ``not-fittable``, ``bad-option``.
    arris.DataError
        Where no reading counts.

    Notes
    -----
    Source: Lindstrom & Bates 1990; Tierney & Kadane 1986 (from memory). A fitted value is an estimate, not a promise. A fit can be
    given to :func:`forecast`, :func:`compare`, :func:`upkeep` and :func:`plan` as ``fit=``; :func:`fitted` gives the campaign with
    the fitted values.

    Examples
    --------
    >>> campaign = arris.load("my.toml")
    >>> result = arris.fit(campaign, draws=2000)
    >>> print(result)
    >>> result.estimates["tester.slope_N_per_um"]
    >>> arris.forecast(campaign, fit=result, limit="shaving hair")
    """
    options = _options(
        {"free": free, "starts": starts, "draws": draws or None, "seed": seed, "no-profiles": no_profiles, "threads": threads}
    )
    of = campaign_of(campaign)
    return FitResult(_told("fit", of, options, _core.fit(of._core, options)))


def fitted(campaign: Source, result: FitResult) -> Campaign:
    """The campaign with the values of a fit, each marked as fitted.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
        The one that was fitted.
    result : FitResult
        A fit that has converged.

    Raises
    ------
    ValueError
        Where the fit has not converged.

    Examples
    --------
    >>> result = arris.fit("my.toml", free=["tester.slope_N_per_um"], starts=1)
    >>> arris.simulate(arris.fitted("my.toml", result)).kind
    'simulate'
    """
    if not result.converged:
        raise ValueError("the fit has not converged, so it has no values")
    of = campaign_of(campaign)
    if of._law is not None:
        values = {str(path): float(value) for path, value in result.estimates.items()}
        return of.with_values(values)
    name = os.path.join(os.path.dirname(of.name), "fitted.toml")
    return own_text(result.fitted_toml, name)


def check_gradient(campaign: Source, *, free: Optional[Names] = None) -> dict[str, Any]:
    """Exact derivatives against differences, over the whole histories of a campaign.

    Returns
    -------
    dict
        ``worst``: by parameter, the largest difference over its largest slope; ``allowed``; ``passed``.

    Examples
    --------
    >>> arris.check_gradient("my.toml", free=["tester.slope_N_per_um"])["passed"]
    True
    """
    return dict(_core.check_gradient(campaign_of(campaign)._core, _options({"free": free})))


def weigh(
    campaign: Source, *, law: Optional[Names] = None, starts: Optional[int] = None, threads: int = 0
) -> Result:
    """Rival wear laws against readings: AICc, BIC, the density of edges left out of the fit, and where each law misses.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
        It must have readings.
    law : list of str, or str with commas
        Wear laws to weigh; left out: all. A law of the campaign's own is called ``"formula"``.
    starts : int
        Starting points for each law, 1 to 10000; left out: 4.
    threads : int
        Threads to use; 0 is all cores.

    Returns
    -------
    Result

    Raises
    ------
    arris.ConfigurationError
        ``no-readings``, ``unknown-law``, ``bad-option``.

    Examples
    --------
    >>> print(arris.weigh("my.toml", law=["shared-load", "constant-rate"], starts=1).sentence)
    """
    options = _options({"law": None if law is None else ([law] if isinstance(law, str) else law), "starts": starts, "threads": threads}, ["law"])
    return _asked("weigh", campaign, options)


def forecast(
    campaign: Source,
    *,
    edge: Optional[Names] = None,
    limit: Union[str, float, None] = None,
    from_now: bool = False,
    passes: Optional[int] = None,
    fit: Optional[Fit] = None,
    members: Optional[int] = None,
    seed: Optional[int] = None,
    threads: int = 0,
) -> Result:
    """How many passes an edge lasts: the mean edge, and the span of the next edges.

    Each edge is sharpened by its steps up to its first cut and then goes on in that wood.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
    edge : list of str, or str with commas
        These edges only.
    limit : str or float
        Reading that ends the life: a task such as ``"shaving hair"``, or gram-force, 1 to 100000, or ``"1.8 N"``; with ``from_now`` a
        length too: ``"0.6 µm radius"``, ``"5 µm recession"``. Left out: ``reading_limit_gf``, or that of bench work.
    from_now : bool
        The one edge that ``edge`` names as it is: passes left after its last reading, by its own readings, and what it will read next.
    passes : int
        Passes to look ahead, 1 to 10 000 000; left out: 5000.
    fit : FitResult, Result, or path of a file that ``arris fit --draws`` wrote
        Without it parameters vary over their priors.
    members : int
        Members of the ensemble, 1 to 1 000 000; left out: 1000. 1 without a fit is the configuration itself.
    seed : int
        Seed of draws and next edges; left out: 1.
    threads : int
        Threads to use; 0 is all cores.

    Returns
    -------
    Result
        Passes, metres and hours are in its first group. A prediction is an estimate, not a promise; ``rests_on`` says on what.

    Raises
    ------
    arris.ConfigurationError
        ``unknown-edge``, ``unknown-limit``, ``bad-option``.
    arris.DataError
        ``no-draws``, ``another-campaign`` for a fit of another configuration.
    arris.IntegrationError
        Where an edge fails in every member.

    Examples
    --------
    >>> print(arris.forecast("my.toml", limit="shaving hair", members=100).sentence)
    """
    options = _options({"edge": edge, "limit": limit, "from-now": from_now, "passes": passes, "members": members, "seed": seed, "threads": threads})
    return _asked("forecast", campaign, options, fit)


def compare(
    campaign: Source,
    *,
    edge: Optional[Names] = None,
    tool: Optional[str] = None,
    margin: Optional[float] = None,
    sharpenings: Optional[float] = None,
    limit: Union[str, float, None] = None,
    passes: Optional[int] = None,
    fit: Optional[Fit] = None,
    members: Optional[int] = None,
    seed: Optional[int] = None,
    threads: int = 0,
) -> Result:
    """Ways of sharpening side by side, on one tool and in one wood.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
    edge : list of str, or str with commas
        The ways of these edges only; the first is the one to compare with.
    tool : str
        Tool on which all are run; left out: that of most edges.
    margin : float
        Difference of readings that does not matter, per cent, 0.1 to 100; left out: 10.
    sharpenings : float
        Sharpenings a year, 1 to 1e6, for what a year costs; left out: ``sharpenings_per_year`` of ``[workshop]``.
    limit, passes, fit, members, seed, threads
        As in :func:`forecast`.

    Returns
    -------
    Result
        How surely one way is sharper or lasts longer; strokes, minutes, steel, money; which materials are worth keeping, and
        whether a strop is worth its price; where there are readings, whether routes differ in them.

    Raises
    ------
    arris.ConfigurationError
        ``no-ways`` with fewer than two, ``unknown-tool``, ``unknown-edge``, ``bad-option``.
    arris.DataError, arris.IntegrationError
        As :func:`forecast`.

    Examples
    --------
    >>> print(arris.compare("my.toml", edge=["first", "second"], members=50).sentence)
    """
    options = _options(
        {
            "edge": edge,
            "tool": tool,
            "margin": margin,
            "sharpenings": sharpenings,
            "limit": limit,
            "passes": passes,
            "members": members,
            "seed": seed,
            "threads": threads,
        }
    )
    return _asked("compare", campaign, options, fit)


def upkeep(
    campaign: Source,
    *,
    edge: Optional[str] = None,
    limit: Union[str, float, None] = None,
    share: Optional[float] = None,
    least: Optional[str] = None,
    minutes_per_mm: Optional[float] = None,
    stroppings: Optional[int] = None,
    sharpenings: Optional[float] = None,
    fit: Optional[Fit] = None,
    members: Optional[int] = None,
    seed: Optional[int] = None,
    threads: int = 0,
) -> Result:
    """The cheapest routine of stropping, honing and grinding that keeps a reading.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
    edge : str
        The edge; left out: the first that cuts wood.
    limit : str or float
        How dull it may get: a task, or gram-force.
    share : float
        Share of the passes that are to be within the limit, per cent, 1 to 100; left out: 100.
    least : str
        What is to be least: ``"time"``, ``"money"``, ``"steel"`` or ``"mix"``; left out: time.
    minutes_per_mm : float
        For the mix: how many minutes of upkeep a millimetre of blade is worth.
    stroppings : int
        Most stroppings between two honings, 0 to 200; left out: 10.
    sharpenings : float
        Honings a year, 1 to 1e6, for what a year costs; left out: ``sharpenings_per_year`` of ``[workshop]``.
    fit : FitResult, Result, or path of a file that ``arris fit --draws`` wrote
    members : int
        Versions of the model that try the routine, 0 to 100000; left out: 200.
    seed, threads
        As in :func:`forecast`.

    Returns
    -------
    Result

    Raises
    ------
    arris.ConfigurationError
        ``unknown-edge``, ``unknown-limit``, ``no-prices``, ``bad-option``, and where no routine keeps the limit.

    Examples
    --------
    >>> print(arris.upkeep("my.toml", limit="bench work", members=0, stroppings=2).sentence)
    """
    options = _options(
        {
            "edge": edge,
            "limit": limit,
            "share": share,
            "least": least,
            "minutes-per-mm": minutes_per_mm,
            "stroppings": stroppings,
            "sharpenings": sharpenings,
            "members": members,
            "seed": seed,
            "threads": threads,
        }
    )
    return _asked("upkeep", campaign, options, fit)


def plan(
    campaign: Source,
    *,
    difference: Optional[float] = None,
    power: Optional[float] = None,
    groups: Optional[Names] = None,
    sheet: Union[str, os.PathLike[str], None] = None,
    edges: Optional[int] = None,
    replicates: Optional[int] = None,
    moments: Optional[int] = None,
    at: Optional[str] = None,
    fit: Optional[Fit] = None,
    operators: Optional[Names] = None,
    lots: Optional[Names] = None,
    spare: Optional[float] = None,
    false_alarm: Optional[float] = None,
    seed: Optional[int] = None,
    threads: int = 0,
) -> Result:
    """The experiment to do next: how many edges and readings, at which moments, and what would still be open.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
    difference : float
        Difference of readings to find, per cent, 0.1 to 1000; left out: 10.
    power : float
        Chance to find it, 0.1 to 0.999; left out: 0.9.
    groups : list of str, or str with commas
        Routes or edges to tell apart; left out: all routes.
    sheet : str or path
        Write the run sheet ``FILE.csv``, and the configuration ``FILE.toml`` that belongs to it. Neither may be there.
    edges, replicates : int
        Edges per group, 2 or more, and readings of each at each moment; left out: as many as are needed.
    moments : int
        Moments at which each edge is read, 1 to 20; left out: 3.
    at : str
        ``"passes"`` or ``"laps"``: choose among these only.
    fit : FitResult, Result, or path of a file that ``arris fit --draws`` wrote
    operators, lots : list of str, or str with commas
        Who reads, and filament lots; left out: those of the readings.
    spare : float
        Spare filaments, per cent; left out: 10.
    false_alarm : float
        Chance to find a difference where there is none; left out: 0.05.
    seed : int
        Seed of order, codes and simulated experiments; left out: 1.
    threads : int
        Threads to use; 0 is all cores.

    Returns
    -------
    Result
        Sharp edges cut; ``cautions`` says what to mind.

    Raises
    ------
    arris.ConfigurationError
        ``too-few-groups``, ``unknown-group``, ``would-overwrite``, ``out-of-reach``, ``bad-option``.

    Examples
    --------
    >>> print(arris.plan("my.toml", difference=20, groups=["first", "second"], moments=1).sentence)
    """
    options = _options(
        {
            "difference": difference,
            "power": power,
            "groups": groups,
            "sheet": sheet,
            "edges": edges,
            "replicates": replicates,
            "moments": moments,
            "at": at,
            "operators": operators,
            "lots": lots,
            "spare": spare,
            "false-alarm": false_alarm,
            "seed": seed,
            "threads": threads,
        }
    )
    return _asked("plan", campaign, options, fit)


def readings(campaign: Source, *, fit: Optional[Fit] = None, threads: int = 0) -> Result:
    """What was read, before any model: edges with which all was done alike, moment by moment.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
        With readings.
    fit : FitResult, Result, or path of a file that ``arris fit --draws`` wrote
        Its best values stand beside the readings.
    threads : int
        Threads to use; 0 is all cores.

    Returns
    -------
    Result
        Groups ``kinds`` (geometric means), ``differences`` (with 90 % intervals), ``edges`` and ``readings``.

    Raises
    ------
    arris.ConfigurationError
        ``no-readings``.

    Examples
    --------
    >>> arris.readings("my.toml").to_pandas("kinds")
    """
    return _asked("readings", campaign, _options({"threads": threads}), fit)


def gauge(
    source: Source,
    *,
    difference: Optional[float] = None,
    reference: Optional[str] = None,
    value: Optional[float] = None,
    repeatability: bool = False,
    scale: Optional[str] = None,
    pool: Optional[float] = None,
) -> Result:
    """The tester itself, judged from readings. No model of the edge is used.

    Parameters
    ----------
    source : Campaign, Configuration, path of a configuration, or path of a file of readings
        A file of readings (its name ends in ``.csv``, ``.tsv``, ``.txt``, ``.xlsx`` or ``.ods``) has columns ``part``, ``operator``, ``replicate`` and ``reading_gf`` or ``reading_N``,
        a row for each reading in the order taken.
    difference : float
        Difference between two edges that is to be told apart, per cent, 0.1 to 1000; left out: 10.
    reference, value : str, float
        Edge whose true reading is known, and that reading in gram-force. Both or neither.
    repeatability : bool
        Judge repeatability alone, without comparing operators.
    scale : str
        ``"log"``: scatter in per cent of the reading; ``"linear"``: in gram-force. Left out: log.
    pool : float
        Pool the interaction of operators and edges with repeatability when its p is above this, 0 to 1; left out: 0.25.

    Returns
    -------
    Result

    Raises
    ------
    arris.ConfigurationError
        ``no-readings``, ``bad-option``.
    arris.DataError
        Where readings are wrong, or too few.

    Notes
    -----
    Source: Burdick, Borror & Montgomery 2003, J. Qual. Technol. 35, 342 (from memory).

    Examples
    --------
    >>> print(arris.gauge("my.toml", difference=15).sentence)
    """
    options = _options(
        {
            "difference": difference,
            "reference": reference,
            "value": value,
            "repeatability": repeatability,
            "scale": scale,
            "pool": pool,
        }
    )
    endings = (".csv", ".tsv", ".txt", ".xlsx", ".ods")
    if isinstance(source, (str, os.PathLike)) and os.fspath(source).lower().endswith(endings):
        file = os.fspath(source)
        answer = _core.gauge_csv(file, options)
        origin = _core.origin(None, "gauge", f"arris.gauge({file!r})", "")
        answer["node"]["attributes"] = origin | answer["node"]["attributes"] | {"rests_on": answer["rests_on"]}
        return Result(answer)
    return _asked("gauge", source, options)


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
        Rows of values, a column for each input with its path as name, instead of ``over``.
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
    options = _options(
        {
            "over": _inputs(over),
            "question": question,
            "design": design,
            "count": count,
            "seed": seed,
            "output": output,
            "edge": edge,
            "at": at,
            "step": step,
            "limit": limit,
            "shard": shard,
            "threads": threads,
        },
        ["over"],
    )
    of = campaign_of(campaign)
    with _file_of_rows(rows) as file:
        asked = options if file is None else options | {"rows": file}
        if client is not None:
            return _spread_sweep(client, of, asked, file, fit)
        answer = _core.sweep(of._core, asked, None if fit is None else draws_of(fit))
    if rows is not None:
        options["rows"] = "DataFrame" if isinstance(rows, pd.DataFrame) else os.fspath(rows)
    return SweepResult(_told("sweep", of, options, answer, fit))


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
        return SweepResult(_told("sweep", of, asked, _core.sweep(of._core, asked, draws)))


def _rows_of(
    values: npt.NDArray[np.float64], of: Campaign, names: list[str], edge: str, at: list[str], outputs: list[str], threads: int
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.int8]]:
    """Values and status of some rows, on a worker."""
    return _core.simulate_many(of._core, names, values, edge, at, outputs, threads)[:2]


@contextlib.contextmanager
def _file_of_rows(rows: Union[pd.DataFrame, str, os.PathLike[str], None]) -> Iterator[Optional[str]]:
    """The path of a table of rows, which is written for as long as it takes where it is at hand only."""
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
    options = _options(
        {
            "over": _inputs(over),
            "output": output,
            "edge": edge,
            "at": at,
            "limit": limit,
            "passes": passes,
            "base": base,
            "seed": seed,
            "threads": threads,
        },
        ["over"],
    )
    return _asked("sensitivity", campaign, options, fit)


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


def materials(kind: Optional[str] = None) -> pd.DataFrame:
    """The materials that the program ships: steels, media, woods and the rest, a row for each value.

    Parameters
    ----------
    kind : str, optional
        ``"steel"``, ``"family"``, ``"wood"`` … only; left out: all.

    Returns
    -------
    pandas.DataFrame
        Columns ``kind``, ``name``, ``key`` (with its unit in the name, as a configuration writes it), ``value`` (a number or a text),
        ``unit``, ``status`` (on what it rests) and ``source``.

    Raises
    ------
    ValueError
        Where there is no such kind.

    Examples
    --------
    >>> arris.materials("wood").head()
    """
    frame = pd.DataFrame(_core.materials(), columns=["kind", "name", "key", "value", "unit", "status", "source"])
    if kind is None:
        return frame
    known = sorted(set(frame["kind"]))
    if kind not in known:
        raise ValueError(f"there is no kind of material {kind!r}; there are {', '.join(known)}")
    return frame[frame["kind"] == kind].reset_index(drop=True)


def invent_readings(
    campaign: Source, *, seed: Optional[int] = None, operators: Optional[Names] = None, lots: Optional[Names] = None
) -> pd.DataFrame:
    """Invented readings of every read step, with the scatter that the configuration states. They are no measurements.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
    seed : int
        Left out: 1. Same seed, same readings, on any machine.
    operators, lots : list of str, or str with commas
        Who takes them, and filament lots; left out: A and B, lot 1 and lot 2.

    Returns
    -------
    pandas.DataFrame
        With the columns of a readings file; forces in gram-force.

    Examples
    --------
    >>> arris.invent_readings("my.toml", seed=3).columns[:2].tolist()
    ['edge', 'step']
    """
    text = _core.invented_readings(campaign_of(campaign)._core, _options({"seed": seed, "operators": operators, "lots": lots}))
    return pd.read_csv(io.StringIO(text))


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
    ValueError
        Where ``values`` has another shape.

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
    if client is None or not len(array):
        result, status, told, _ = _core.simulate_many(of._core, asked[0], array, *asked[1:], threads)
    else:
        told = _core.simulate_many(of._core, asked[0], array[:0], *asked[1:], 1)[2]  # its faults before all workers have them
        runs = bounds(len(array), pieces(client, len(array)))
        result, status = joined(mapped(client, _rows_of, [array[a:b] for a, b in runs], (of, *asked, threads or 1)))
    if not dataset:
        return result
    units = of.parameters["unit"]
    said = of.parameters["says"]
    data: dict[str, Any] = {
        name: (("row", "at"), result[:, :, i], {"units": unit, "long_name": says})
        for i, (name, (unit, says)) in enumerate(zip(columns, told))
    }
    data["status"] = ("row", status, {"long_name": _core.status_meanings})
    given = {name: ("row", array[:, i], {"units": units[name] or "1", "long_name": said[name]}) for i, name in enumerate(names)}
    return xr.Dataset(data, {"row": np.arange(len(array)), "at": moments, **given})
