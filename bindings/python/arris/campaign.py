# SPDX-License-Identifier: MIT
"""A configuration that is loaded and checked, with its readings."""

from __future__ import annotations

import io
import os
import pathlib
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Optional, Union

import numpy as np
import numpy.typing as npt
import pandas as pd

from arris import _core, tables
from arris._table import toml_text, toml_value
from arris.configuration import AnyStep, Configuration
from arris.density import LogDensity
from arris.wear import Parameter, law_of

Source = Union["Campaign", Configuration, str, "os.PathLike[str]"]

_CHANGED = "changed values"  # what the text with them is called, beside the configuration
_FRAME = "readings of a DataFrame.csv"  # what readings that come out of no file are called


class Campaign:
    """A configuration, checked, with the readings it names. Made by :func:`load` or :func:`loads`.

    A campaign does not change; ``with_…`` methods give another one. It can be pickled and copied: it goes by the texts that it was
    read from, the readings among them, so that the copy needs none of the files.

    Attributes
    ----------
    title : str
    name : str
        Name of the configuration, as messages have it.
    edges : list of str
        Names of the edges, in order.
    warnings : list of str
        What is allowed and seldom meant.
    """

    def __init__(
        self,
        files: Sequence[tuple[str, str]],
        readings_path: str = "",
        readings_text: str = "",
        law: Optional[_core.Law] = None,
        values: Optional[Mapping[str, float]] = None,
        confined: bool = False,
    ) -> None:
        self._law = law
        self._values = dict(values or {})
        self._given: list[tuple[str, str]] = [(name, text) for name, text in files]
        first = self._given[0][0]
        texts = list(self._given)
        has_frame = pathlib.PurePath(readings_path).name == _FRAME
        if self._values or has_frame:
            folder = pathlib.PurePath(first).parent
            overlay = "include = [" + toml_text(pathlib.PurePath(first).name) + "]\n"
            if has_frame:
                overlay += "[readings]\nfile = " + toml_text(_FRAME) + "\n"
            overlay += _statements(self._values)
            texts.insert(0, (str(folder / _CHANGED), overlay))
        self._core = _core.Campaign(texts, readings_path, readings_text, law, confined)
        known = {name for name, _ in self._given}
        self._given += [(n, t) for n, t in self._core.files if n not in known and pathlib.PurePath(n).name != _CHANGED]
        self.title: str = self._core.title
        self.name: str = first
        self._edges = self._core.edges()
        self.edges: list[str] = [edge["name"] for edge in self._edges]
        self.warnings: list[str] = self._core.warnings
        self._densities: dict[tuple[str, ...], LogDensity] = {}

    def __reduce__(self) -> tuple[Any, ...]:
        law = None
        if self._law is not None:
            law = (self._law.name, self._law.function, self._law.arguments, self._law.takes_arrays)
        state = (self._given, self._core.readings_path, self._core.readings_text, law, self._values)
        return _remade, state

    def __repr__(self) -> str:
        return f"<arris.Campaign {self.name}: {len(self.edges)} edges, {self._core.reading_count} readings>"

    def steps(self, edge: str) -> list[AnyStep]:
        """The steps of an edge, those of its route included, as :class:`arris.hone` and its like.

        Parameters
        ----------
        edge : str
            One of ``edges``.

        Raises
        ------
        KeyError
            Where there is no such edge.

        Examples
        --------
        >>> campaign.steps("first")[3].laps
        20.0
        """
        for plan in self._edges:
            if plan["name"] == edge:
                return [_step(step) for step in plan["steps"]]
        raise KeyError(edge)

    @property
    def parameters(self) -> pd.DataFrame:
        """Every number of the model, by its path, as ``arris check`` prints it.

        Columns: ``value`` in its ``unit``, its range ``low`` to ``high``, what it ``says``, on what it rests (``status``,
        ``source``), and whether a fit may free it (``fittable``).

        Examples
        --------
        >>> campaign.parameters.loc["tool.iron.micro_bevel_deg", "unit"]
        'degree'
        """
        return pd.DataFrame(self._core.parameters()).set_index("path")

    @property
    def readings(self) -> pd.DataFrame:
        """The readings, a row each, with the columns of a readings file; forces in gram-force. Empty where none are named.

        Examples
        --------
        >>> list(campaign.readings["edge"].unique())
        ['first', 'second']
        """
        return pd.read_csv(io.StringIO(self._core.readings_csv()), keep_default_na=True)

    def toml(self, origins: bool = False) -> str:
        """The configuration with every value that it comes to; with ``origins`` each line says where its value came from.

        Examples
        --------
        >>> print(campaign.toml(origins=True))
        """
        return str(self._core.toml(origins))

    def with_values(self, values: Mapping[str, float]) -> Campaign:
        """The same with other values of some parameters.

        Parameters
        ----------
        values : dict of str to float
            By path, as the index of ``parameters``: ``{"tool.my smoother.micro_bevel_deg": 33.0}``. In the unit of the path.

        Raises
        ------
        arris.ConfigurationError
            ``unknown-key`` or ``out-of-range``; ``.key`` says which.

        Examples
        --------
        >>> steeper = campaign.with_values({"tool.iron.micro_bevel_deg": 33})
        >>> float(steeper.parameters.loc["tool.iron.micro_bevel_deg", "value"])
        33.0
        """
        return Campaign(
            self._given, self._core.readings_path, self._core.readings_text, self._law, {**self._values, **values}
        )

    def with_readings(self, readings: pd.DataFrame) -> Campaign:
        """The same with other readings, of a table instead of a file.

        Parameters
        ----------
        readings : pandas.DataFrame
            With the columns of a readings file, as ``readings`` gives them: ``edge``, ``step`` or another moment, ``reading_gf`` or
            ``reading_N`` …; what is missing in a row is NaN or empty. The index is left out.

        Raises
        ------
        arris.DataError
            Where the readings are wrong; ``.line`` counts the heading as 1.

        Examples
        --------
        >>> sharp = campaign.readings[campaign.readings["reading_gf"] < 200]
        >>> len(campaign.with_readings(sharp).readings) == len(sharp)
        True
        """
        folder = pathlib.PurePath(self.name).parent
        return Campaign(self._given, str(folder / _FRAME), readings.to_csv(index=False), self._law, self._values)

    def with_wear_law(
        self,
        function: Callable[..., Any],
        parameters: Mapping[str, Union[Parameter, float]],
        name: Optional[str] = None,
        arguments: Optional[Sequence[str]] = None,
        vectorized: bool = False,
    ) -> Campaign:
        """The same with a wear law that is a function of Python.

        It is slower than a law of the library: each call runs the interpreter, whose lock lets one history run at a time, so a study
        with such a law keeps to one thread. With ``vectorized`` many histories of :func:`simulate_many` ask it at once, which is several
        times as fast there, and slower elsewhere. A function that is compiled, by ``numba.cfunc`` or by
        a compiler of C and opened with ctypes, is called without the interpreter, on all cores. A formula in the configuration
        (``[wear] rate = "…"``) says most laws as well, and fast.

        Parameters
        ----------
        function : callable
            Gives dr/dx, the growth of the apex radius in µm per metre of path, 0 or more, as a float. It is called with keywords,
            all floats; it takes those that its arguments name, out of ``arris.wear_inputs()`` and the names of ``parameters``.
            ``r``: apex radius, µm. ``x``: path since the edge last met an abrasive, m. ``severity``: wood × steel × angle, as a
            factor on the reference. It must be smooth for fits, and may be called from any thread, one call at a time. A
            compiled function takes doubles, 16 at most, and may be called from several threads at a time.
        parameters : dict of str to Parameter or float
            What a fit may change, ``wear.NAME`` in a fit. A bare float is a pure number without a prior.
        name : str, optional
            What it is called in the configuration; the name of the function if left out.
        arguments : list of str, optional
            Names of the arguments, in order, of a function of C that ctypes opened; others tell theirs.
        vectorized : bool
            The function takes arrays, all arguments of one length, and gives an array as long, as functions of numpy do.

        Returns
        -------
        Campaign
            It can be pickled where ``function`` can: a function of a module, not a lambda.

        Raises
        ------
        arris.ConfigurationError
            ``unknown-variable`` for an argument that nothing is called; ``unused-parameter``; ``negative-rate`` or ``not-finite``
            where the function, tried over radii of 0.02 to 20 µm and the paths of the histories, is no rate.
        Exception
            Whatever the function raises.

        Notes
        -----
        Derivatives are differences of fourth order with a step of 1e-3 of each value, good to about 1e-12 where the function is
        smooth; each takes four calls.

        Examples
        --------
        >>> def root(r, severity, k):
        ...     return k * severity / (r + 0.05) ** 0.5
        >>> mine = campaign.with_wear_law(root, {"k": arris.Parameter(2e-3, unit="µm/m", low=0, factor=3)})
        >>> import numba
        >>> fast = campaign.with_wear_law(numba.cfunc("double(double, double, double)")(root), {"k": 2e-3})
        """
        called = str(name or getattr(function, "__name__", "function"))
        declared = {key: (p if isinstance(p, Parameter) else Parameter(float(p))).declaration() for key, p in parameters.items()}
        law = law_of(called, function, arguments, vectorized)
        text = self._core.toml_with_law(called, law.arguments, declared)
        return Campaign([(self.name, text)], self._core.readings_path, self._core.readings_text, law)

    def density(self, free: Optional[Sequence[str]] = None) -> LogDensity:
        """The posterior density of the readings, as a plain function. See :class:`arris.LogDensity`.

        Parameters
        ----------
        free : list of str, optional
            Paths of the free parameters; those of ``[fit] free`` if left out, or the usual ones.

        Examples
        --------
        >>> campaign.density(free=["tester.slope_N_per_um"]).names[0]
        'tester.slope_N_per_um'
        """
        key = tuple(free or ())
        if key not in self._densities:
            self._densities[key] = LogDensity(self, list(key))
        return self._densities[key]

    def log_density(self, x: npt.ArrayLike) -> Any:
        """Log posterior density at x; short for ``density().log_density(x)``, which see.

        Examples
        --------
        >>> campaign.log_density(campaign.density().start)
        """
        return self.density().log_density(x)

    def log_density_and_gradient(self, x: npt.ArrayLike) -> tuple[Any, npt.NDArray[np.float64]]:
        """Log posterior density and its slopes at x; short for ``density().log_density_and_gradient(x)``, which see.

        Examples
        --------
        >>> value, slopes = campaign.log_density_and_gradient(campaign.density().start)
        """
        return self.density().log_density_and_gradient(x)


def load(path: Union[str, os.PathLike[str]], *, confined: bool = False) -> Campaign:
    """Loads a configuration file, what it includes, and the readings it names.

    Parameters
    ----------
    path : str or path
        A TOML file.
    confined : bool
        For a configuration that came from elsewhere: it may read no file outside its folder (``outside-folder``).

    Returns
    -------
    Campaign

    Raises
    ------
    arris.ConfigurationError
        With every fault that was found; ``.file``, ``.line``, ``.column`` and ``.key`` are those of the first.
    arris.DataError
        Where the readings are wrong.

    Examples
    --------
    >>> arris.load("my.toml").parameters.loc["tool.iron.micro_bevel_deg", "value"]
    """
    name = os.fspath(path)
    return Campaign([(os.path.normpath(name), _core.read_text(name))], confined=confined)


def loads(text: str, name: Union[str, os.PathLike[str]] = "<text>") -> Campaign:
    """Loads a configuration from its text.

    Parameters
    ----------
    text : str
        TOML.
    name : str or path, optional
        What messages call it. Files that it includes, and its readings, are looked for in the folder of this name: the present one
        if left out. A text may have come from anywhere, so that what lies outside that folder is refused (``outside-folder``);
        :func:`load` reads a file of one's own without that limit.

    Returns
    -------
    Campaign

    Raises
    ------
    arris.ConfigurationError, arris.DataError
        As :func:`load`.

    Examples
    --------
    >>> text = open("my.toml", encoding="utf-8").read()
    >>> campaign = arris.loads(text, name="my.toml")
    """
    return Campaign([(os.path.normpath(os.fspath(name)), text)], confined=True)


def own_text(text: str, name: Union[str, os.PathLike[str]], like: Optional[Campaign] = None) -> Campaign:
    """As :func:`loads`, for a text that this package wrote itself: it may name files anywhere. Readings of a DataFrame, which stand in no
    file, are those of ``like``."""
    path = os.path.normpath(os.fspath(name))
    if like is None or pathlib.PurePath(like._core.readings_path).name != _FRAME:
        return Campaign([(path, text)])
    return Campaign([(path, text)], str(pathlib.PurePath(path).parent / _FRAME), like._core.readings_text)


def campaign_of(source: Source) -> Campaign:
    """What functions take as a campaign: one, a :class:`Configuration`, or the path of a file."""
    if isinstance(source, Campaign):
        return source
    if isinstance(source, Configuration):
        made = own_text(source.to_toml(), "<configuration>")
        return made.with_readings(source.readings) if isinstance(source.readings, pd.DataFrame) else made
    return load(source)


def _remade(
    files: Sequence[tuple[str, str]],
    readings_path: str,
    readings_text: str,
    law: Optional[tuple[str, Callable[..., Any], Sequence[str], bool]],
    values: Mapping[str, float],
) -> Campaign:
    made = None if law is None else law_of(*law)
    return Campaign(files, readings_path, readings_text, made, values)


def _statements(values: Mapping[str, float]) -> str:
    """Tables of TOML that state values by their paths."""
    tables_of: dict[str, list[str]] = {}
    for path, value in values.items():
        kind, _, rest = path.partition(".")
        name, _, key = rest.rpartition(".")
        heading = f"{kind}.{toml_text(name)}" if name else kind
        tables_of.setdefault(heading, []).append(f"{toml_text(key or kind)} = {toml_value(float(value))}\n")
    return "".join(f"[{heading}]\n{''.join(lines)}" for heading, lines in tables_of.items())


def _step(keys: Mapping[str, Any]) -> AnyStep:
    kind = {"hone": tables.hone, "back": tables.back, "strop": tables.strop, "cut": tables.cut, "read": tables.read, "dress": tables.dress}
    return kind[keys["step"]](**{k: v for k, v in keys.items() if k != "step"})  # type: ignore[no-any-return]
