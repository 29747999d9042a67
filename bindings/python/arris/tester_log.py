# SPDX-License-Identifier: MIT
"""The log of a tester, looked at."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from typing import Optional, Union

from arris import _core
from arris.campaign import Campaign, campaign_of
from arris.configuration import Configuration
from arris.result import Result
from arris.asking import options_of

Files = Union[str, "os.PathLike[str]", Sequence[Union[str, "os.PathLike[str]"]]]

_READINGS = (".csv", ".tsv", ".txt", ".xlsx", ".ods")


def log_check(
    source: Union[Campaign, Configuration, Files],
    *,
    edge: Optional[str] = None,
    moment: Optional[str] = None,
    base: Optional[int] = None,
    unit: Optional[str] = None,
    sheet: Optional[str] = None,
    separator: Optional[str] = None,
    decimal: Optional[str] = None,
    dates: Optional[str] = None,
    columns: Optional[Mapping[str, str]] = None,
) -> Result:
    """Has the tester changed? A control chart of one edge or reference filament that is read again and again.

    Individuals and moving ranges, as ``arris log check`` draws them, so that a tester that changes is noticed before edges are blamed.

    Parameters
    ----------
    source : Campaign, Configuration, path, or list of paths
        A configuration that names readings, or files of readings (CSV, xlsx, ods).
    edge : str, optional
        The check edge or reference filament; else the only one.
    moment : str, optional
        The moment of it, where it was read at several.
    base : int, optional
        So many points at the start set the limits; else all.
    unit : {"gf", "N"}, optional
        Of readings of files whose column says none.
    sheet, separator, decimal, dates, columns : optional
        How files are written: as :func:`arris.read_readings` has it.

    Returns
    -------
    Result
        Kind ``control``; a row for each point, with its limits and the rules that it breaks.

    Raises
    ------
    arris.ConfigurationError
        ``no-readings`` for a configuration without any, ``bad-option``.
    arris.DataError
        Where readings are wrong or too few, or the edge is not named and there are several.

    Examples
    --------
    >>> rows = [f"check,new,{x},2025-06-{day:02}" for day, x in enumerate([101, 99, 100, 102, 98, 100, 101, 99, 102, 130], 1)]
    >>> with open("log.csv", "w") as log:
    ...     _ = log.write("\\n".join(["edge,step,reading_gf,date", *rows, ""]))
    >>> print(arris.log_check("log.csv", edge="check", base=9).sentence)
    """
    options = options_of(
        edge=edge, moment=moment, base=base, unit=unit, sheet=sheet, separator=separator, decimal=decimal, dates=dates,
        column=[f"{name}={what}" for name, what in (columns or {}).items()],
        lists=("column",),
    )
    files = _files_of(source)
    words = [repr(files), *(f"{key}={value!r}" for key, value in options.items())]
    of = None if files else campaign_of(source)  # type: ignore[arg-type]
    if of is not None:
        words[0] = repr(of.name)
        answer = _core.answer("log-check", of._core, options, None)
    else:
        answer = _core.log_check(files, options)
    origin = _core.origin(None if of is None else of._core, "log", f"arris.log_check({', '.join(words)})", "")
    answer["node"]["attributes"] = origin | answer["node"]["attributes"] | {"rests_on": answer["rests_on"]}
    return Result(answer)


def _files_of(source: Union[Campaign, Configuration, Files]) -> list[str]:
    """The files of readings that a source names; none where it is a configuration."""
    if isinstance(source, (Campaign, Configuration)):
        return []
    paths = [source] if isinstance(source, (str, os.PathLike)) else list(source)
    names = [os.fspath(path) for path in paths]
    return [] if len(names) == 1 and not names[0].lower().endswith(_READINGS) else names
