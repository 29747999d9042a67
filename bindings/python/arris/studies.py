# SPDX-License-Identifier: MIT
"""What the commands do, as functions; those that vary inputs stand in sweeps.py. Names, ranges and defaults of keywords are those of the
options of the command line."""

from __future__ import annotations

import io
import os
from typing import Any, Optional, Union

import pandas as pd

from arris import _core
from arris.asking import Fit, Names, answer_of, options_of, with_earlier_fit, with_origin
from arris.campaign import Campaign, Source, campaign_of, own_text
from arris.result import FitResult, Result, SimulationResult, draws_of, fit_of

__all__ = [
    "check_gradient",
    "compare",
    "fit",
    "fitted",
    "forecast",
    "gauge",
    "materials",
    "invent_readings",
    "plan",
    "readings",
    "simulate",
    "upkeep",
    "weigh",
]


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
    of, options = campaign_of(campaign), options_of(threads=threads)
    answer = _core.simulate(of._core, options, None if fit is None else draws_of(fit))
    return SimulationResult(with_origin("simulate", of, options, answer, fit))


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
        ``[fit] free``, or the usual ones: of the wear law all of its numbers. Where no law is stated, the estimates are those of the law
        that answers rest on most (``result.laws``), and of the law of the campaign where ``free`` names numbers of it.
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
    options = options_of(free=free, starts=starts, draws=draws or None, seed=seed, no_profiles=no_profiles, threads=threads)
    of = with_earlier_fit(campaign)
    return FitResult(with_origin("fit", of, options, _core.fit(of._core, options)))


def fitted(campaign: Source, result: Fit) -> Campaign:
    """The campaign with the values of a fit, each marked as fitted.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
        The one that was fitted.
    result : FitResult, or path of a file of one
        A fit that has converged.

    Raises
    ------
    ValueError
        Where the fit has not converged.
    arris.DataError
        ``not-a-fit`` for another result, ``old-fit`` for one of an earlier model, and as :func:`open_result`.

    Examples
    --------
    >>> result = arris.fit("my.toml", free=["tester.slope_N_per_um"], starts=1)
    >>> arris.simulate(arris.fitted("my.toml", result)).kind
    'simulate'
    """
    known = fit_of(result)
    if not known.converged:
        raise ValueError("the fit has not converged, so it has no values")
    of = campaign_of(campaign)
    if of._law is not None:
        values = {str(path): float(value) for path, value in known.estimates.items()}
        return of.with_values(values)
    name = os.path.join(os.path.dirname(of.name), "fitted.toml")
    return own_text(known.fitted_toml, name, of)


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
    return dict(_core.check_gradient(with_earlier_fit(campaign)._core, options_of(free=free)))


def weigh(
    campaign: Source,
    *,
    law: Optional[Names] = None,
    starts: Optional[int] = None,
    forward: Optional[int] = None,
    members: Optional[int] = None,
    threads: int = 0,
) -> Result:
    """Rival wear laws against readings: AICc, BIC, the density of edges left out of the fit, and where each law misses.

    With ``forward`` it scores forecasts instead: what each edge read after its first moments is held back, foretold from these and
    from all other edges, and counted against the bands.

    Parameters
    ----------
    campaign : Campaign, Configuration, or path of a configuration
        It must have readings.
    law : list of str, or str with commas
        Wear laws to weigh; left out: all. A law of the campaign's own is called ``"formula"``.
    starts : int
        Starting points for each law, 1 to 10000; left out: 4.
    forward : int
        Moments since it was sharpened that each edge in turn is known by, 1 to 1000: what it read later is held back and foretold. The laws
        are then those that a fit takes side by side, or that of the configuration, unless ``law`` names some.
    members : int
        With ``forward``: versions of the model in each forecast, 50 to 100 000; left out: 400.
    threads : int
        Threads to use; 0 is all cores.

    Returns
    -------
    Result
        With ``forward`` groups ``held_back`` (a row for each reading), ``scores`` (shares in 90 % and 50 % bands, their width, the mean
        log density) and ``units`` (by edge).

    Raises
    ------
    arris.ConfigurationError
        ``no-readings``, ``unknown-law``, ``bad-option``, ``nothing-held-back``.

    Examples
    --------
    >>> print(arris.weigh("my.toml", law=["shared-load", "constant-rate"], starts=1).sentence)
    """
    laws = None if law is None else ([law] if isinstance(law, str) else law)
    options = options_of(law=laws, starts=starts, forward=forward, members=members, threads=threads, lists=["law"])
    return answer_of("weigh", campaign, options)


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
    options = options_of(edge=edge, limit=limit, from_now=from_now, passes=passes, members=members, seed=seed, threads=threads)
    return answer_of("forecast", campaign, options, fit)


def compare(
    campaign: Source,
    *,
    edge: Optional[Names] = None,
    tool: Optional[str] = None,
    margin: Optional[float] = None,
    between: Optional[str] = None,
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
        Tool on which all are run; left out: that of most edges, or, where all edges are sharpened alike, each its own.
    margin : float
        Difference of readings that does not matter, per cent, 0.1 to 100; left out: 10.
    between : {"years", "months", "days"}
        Instead of ways, whether readings of the same changed from one to the next; ``margin`` alone may stand beside it.
    sharpenings : float
        Sharpenings a year, 1 to 1e6, for what a year costs; left out: ``sharpenings_per_year`` of ``[workshop]``.
    limit, passes, fit, members, seed, threads
        As in :func:`forecast`.

    Returns
    -------
    Result
        How surely one way is sharper or lasts longer; strokes, minutes, steel, money; which materials are worth keeping, and
        whether a strop is worth its price; where there are readings, whether routes differ in them. With ``between`` one row for
        each period in ``periods``: its ratio to the first, with a 90 % interval.

    Raises
    ------
    arris.ConfigurationError
        ``no-ways`` with fewer than two, ``unknown-tool``, ``unknown-edge``, ``bad-option``.
    arris.DataError, arris.IntegrationError
        As :func:`forecast`; with ``between`` DataError ``no-dates`` or ``one-period``.

    Examples
    --------
    >>> print(arris.compare("my.toml", edge=["first", "second"], members=50).sentence)
    """
    options = options_of(
        edge=edge, tool=tool, margin=margin, between=between, sharpenings=sharpenings, limit=limit, passes=passes, members=members, seed=seed, threads=threads
    )
    return answer_of("compare", campaign, options, fit)


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
    options = options_of(
        edge=edge, limit=limit, share=share, least=least, minutes_per_mm=minutes_per_mm, stroppings=stroppings, sharpenings=sharpenings,
        members=members, seed=seed, threads=threads
    )
    return answer_of("upkeep", campaign, options, fit)


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
        Routes or edges to tell apart; left out: all routes, or an edge of each way of sharpening where none is followed.
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
    options = options_of(
        difference=difference, power=power, groups=groups, sheet=sheet, edges=edges, replicates=replicates, moments=moments, at=at,
        operators=operators, lots=lots, spare=spare, false_alarm=false_alarm, seed=seed, threads=threads
    )
    return answer_of("plan", campaign, options, fit)


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
    return answer_of("readings", campaign, options_of(threads=threads), fit)


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
    options = options_of(difference=difference, reference=reference, value=value, repeatability=repeatability, scale=scale, pool=pool)
    endings = (".csv", ".tsv", ".txt", ".xlsx", ".ods")
    if isinstance(source, (str, os.PathLike)) and os.fspath(source).lower().endswith(endings):
        file = os.fspath(source)
        answer = _core.gauge_csv(file, options)
        origin = _core.origin(None, "gauge", f"arris.gauge({file!r})", "")
        answer["node"]["attributes"] = origin | answer["node"]["attributes"] | {"rests_on": answer["rests_on"]}
        return Result(answer)
    return answer_of("gauge", source, options)


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
    text = _core.invented_readings(campaign_of(campaign)._core, options_of(seed=seed, operators=operators, lots=lots))
    return pd.read_csv(io.StringIO(text))
