# SPDX-License-Identifier: MIT
"""Readings as people keep them, as a table."""

from __future__ import annotations

import io
import os
from collections.abc import Mapping, Sequence
from typing import Optional, Union

import pandas as pd

from arris import _core
from arris.asking import options_of

_NUMBERS = ("passes", "replicate")


def _is_number(column: str) -> bool:
    return column in _NUMBERS or column.endswith(("_gf", "_N", "_cv", "_um", "_mg"))


def read_readings(
    files: Union[str, "os.PathLike[str]", Sequence[Union[str, "os.PathLike[str]"]]],
    *,
    sheet: Optional[str] = None,
    separator: Optional[str] = None,
    decimal: Optional[str] = None,
    unit: Optional[str] = None,
    dates: Optional[str] = None,
    day: Optional[str] = None,
    columns: Optional[Mapping[str, str]] = None,
    moments: Optional[Mapping[str, str]] = None,
) -> pd.DataFrame:
    """Readings of one file or several, as ``arris import`` makes a readings file of them.

    Takes CSV with commas, semicolons or tabs, and workbooks (xlsx, ods). :meth:`arris.Campaign.with_readings` and
    :class:`arris.Configuration` take the table.

    Parameters
    ----------
    files : path, or list of paths
    sheet : str, optional
        Sheet of a workbook; else the one with columns of readings.
    separator : {"comma", "semicolon", "tab"}, optional
        Else as the first line shows.
    decimal : {"point", "comma"}, optional
        Else as the whole column shows.
    unit : {"gf", "N"}, optional
        Of readings whose column says none.
    dates : {"day first", "month first", "days since 1900", "days since 1904"}, optional
        Else as the whole column shows.
    day : {"date", "month", "year"}, optional
        What of a date is the test day.
    columns : dict of str to str, optional
        What a column is: a column of a readings file, "keep" (in the note) or "leave out".
    moments : dict of str to str, optional
        Of a table with a column for each moment: the name of a read step, or "60 passes".

    Returns
    -------
    pandas.DataFrame
        With the columns of a readings file, a row each; ``date`` as dates. ``.attrs["said"]`` is a list of what was taken for what, a
        sentence each.

    Raises
    ------
    arris.DataError
        ``ambiguous`` where something has two readings, which the message shows; and where readings are wrong.
    arris.ConfigurationError
        ``bad-form`` for a word that is none of those above.

    Examples
    --------
    >>> arris.read_readings("readings.csv")["edge"].unique().tolist()
    ['first', 'second']
    """
    paths = [files] if isinstance(files, (str, os.PathLike)) else list(files)
    given = options_of(
        sheet=sheet, separator=separator, decimal=decimal, unit=unit, dates=dates, day=day,
        column=[f"{name}={what}" for name, what in (columns or {}).items()],
        moment=[f"{name}={what}" for name, what in (moments or {}).items()],
        lists=("column", "moment"),
    )
    read = _core.imported_readings([os.fspath(path) for path in paths], given)
    heads = read["csv"].split("\n", 1)[0].split(",")
    texts = [head for head in heads if not _is_number(head)]
    frame = pd.read_csv(
        io.StringIO(read["csv"]),
        dtype={head: str for head in texts},
        keep_default_na=False,
        na_values=[""],
        parse_dates=["date"] if "date" in heads else False,
    )
    # what stands before a formula in a file, so that no spreadsheet works it out
    for head in texts:
        if head != "date":
            frame[head] = frame[head].str.replace(r"^'(?='*[=+\-@])", "", regex=True)
    frame.attrs["said"] = list(read["said"])
    return frame
