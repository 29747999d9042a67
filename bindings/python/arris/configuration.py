# SPDX-License-Identifier: MIT
"""A configuration built of Python objects. It becomes the TOML that a file would hold, and the same loader checks it."""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Mapping, Sequence
from typing import Any, Optional

import pandas as pd

from arris import tables
from arris._table import Step, Table, toml_text, toml_value


@dataclasses.dataclass(frozen=True)
class follow:
    """Step: the steps of a route, by its name."""

    follow: str

    def to_inline(self) -> str:
        """The step as an inline table of TOML.

        Examples
        --------
        >>> arris.follow("two stones").to_inline()
        '{ follow = "two stones" }'
        """
        return "{ follow = " + toml_text(self.follow) + " }"


AnyStep = Step | follow


@dataclasses.dataclass(kw_only=True)
class Edge:
    """The history of one edge, table ``[edge.NAME]``.

    Parameters
    ----------
    tool : str
        Name of the tool it is the edge of.
    route : str, optional
        Name of the route it follows first.
    steps : list of steps
        :class:`arris.hone`, ``back``, ``strop``, ``cut``, ``read``, ``dress``, of specimens ``wears``, or :class:`arris.follow` for the steps of a route.
    code : str, optional
        What stands for its name on a run sheet.
    note : str, optional
        Remark.
    """

    tool: str
    route: Optional[str] = None
    steps: Sequence[AnyStep] = ()
    code: Optional[str] = None
    note: Optional[str] = None


def _steps(steps: Sequence[AnyStep]) -> str:
    return "steps = [\n" + "".join(f"  {step.to_inline()},\n" for step in steps) + "]\n"


_SINGLE = ("tester", "scatter", "coefficients", "numerics", "output", "computer", "fit", "workshop", "specimen")
_NAMED = ("steel", "family", "medium", "backing", "compound", "wood", "filament", "tool", "price", "limit", "counterface")


@dataclasses.dataclass(kw_only=True)
class Configuration:
    """A configuration as Python objects.

    Names of tables are those of a configuration file: ``tool={"my smoother": arris.Tool(...)}`` is ``[tool."my smoother"]``.

    Parameters
    ----------
    title : str
        What it is about.
    tool, steel, family, medium, backing, compound, wood, filament, price, limit, counterface : dict of str to table
        Named tables (:mod:`arris.tables`). Those that the program ships need not be given; giving one again states some keys anew.
    route : dict of str to list of steps
        Steps that several edges follow.
    edge : dict of str to Edge
        The edges to be simulated; at least one.
    tester, scatter, coefficients, numerics, output, computer, fit, workshop, specimen : table, optional
        Tables that stand once.
    wear : dict, optional
        Keys of ``[wear]``: ``{"law": "power", ...}``, or a formula and its parameters.
    prior : dict of str to dict, optional
        Priors by the path of a parameter: ``{"tester.slope_N_per_um": {"median": 5.0, "factor": 1.5}}``.
    readings : str, path, or pandas.DataFrame, optional
        Readings file, relative to the folder of the configuration; or a table with its columns.

    Examples
    --------
    >>> import arris
    >>> first = arris.Configuration(
    ...     tool={"iron": arris.Tool(steel="A2", width_mm=50, thickness_mm=3.2, primary_bevel_deg=25, micro_bevel_deg=30)},
    ...     edge={"first": arris.Edge(tool="iron", steps=[
    ...         arris.hone("soft waterstone, JIS #1000", strokes=20, after_burr=True),
    ...         arris.back("soft waterstone, JIS #1000", strokes=10),
    ...         arris.cut("sugar maple", passes=100)])})
    >>> result = arris.simulate(first)
    """

    title: str = ""
    steel: Mapping[str, tables.Steel] = dataclasses.field(default_factory=dict)
    family: Mapping[str, tables.Family] = dataclasses.field(default_factory=dict)
    medium: Mapping[str, tables.Medium] = dataclasses.field(default_factory=dict)
    backing: Mapping[str, tables.Backing] = dataclasses.field(default_factory=dict)
    compound: Mapping[str, tables.Compound] = dataclasses.field(default_factory=dict)
    wood: Mapping[str, tables.Wood] = dataclasses.field(default_factory=dict)
    filament: Mapping[str, tables.Filament] = dataclasses.field(default_factory=dict)
    tool: Mapping[str, tables.Tool] = dataclasses.field(default_factory=dict)
    price: Mapping[str, tables.Price] = dataclasses.field(default_factory=dict)
    limit: Mapping[str, tables.Limit] = dataclasses.field(default_factory=dict)
    counterface: Mapping[str, tables.Counterface] = dataclasses.field(default_factory=dict)
    route: Mapping[str, Sequence[AnyStep]] = dataclasses.field(default_factory=dict)
    edge: Mapping[str, Edge] = dataclasses.field(default_factory=dict)
    tester: Optional[tables.Tester] = None
    scatter: Optional[tables.Scatter] = None
    coefficients: Optional[tables.Coefficients] = None
    numerics: Optional[tables.Numerics] = None
    output: Optional[tables.Output] = None
    computer: Optional[tables.Computer] = None
    fit: Optional[tables.Fit] = None
    workshop: Optional[tables.Workshop] = None
    specimen: Optional[tables.Specimen] = None
    wear: Mapping[str, Any] = dataclasses.field(default_factory=dict)
    prior: Mapping[str, Mapping[str, float]] = dataclasses.field(default_factory=dict)
    readings: Optional[str | os.PathLike[str] | pd.DataFrame] = None

    def to_toml(self) -> str:
        """The configuration as the text of a file; readings that are a table are no part of it.

        Examples
        --------
        >>> print(arris.Configuration(title="My iron").to_toml())
        title = "My iron"
        """
        out = []
        if self.title:
            out.append(f"title = {toml_text(self.title)}\n")
        if self.readings is not None and not isinstance(self.readings, pd.DataFrame):
            out.append(f"[readings]\nfile = {toml_text(os.fspath(self.readings))}\n")
        for kind in _SINGLE:
            table: Optional[Table] = getattr(self, kind)
            if table is not None:
                out.append(f"[{kind}]\n{table.to_toml()}")
        if self.wear:
            out.append("[wear]\n" + "".join(f"{k} = {_inline(v)}\n" for k, v in self.wear.items()))
        for path, keys in self.prior.items():
            out.append(f"[prior.{toml_text(path)}]\n" + "".join(f"{k} = {toml_value(v)}\n" for k, v in keys.items()))
        for kind in _NAMED:
            for name, entry in getattr(self, kind).items():
                out.append(f"[{kind}.{toml_text(name)}]\n{entry.to_toml()}")
        for name, steps in self.route.items():
            out.append(f"[route.{toml_text(name)}]\n{_steps(steps)}")
        for name, edge in self.edge.items():
            keys = {k: getattr(edge, k) for k in ("tool", "route", "code", "note")}
            lines = "".join(f"{k} = {toml_text(str(v))}\n" for k, v in keys.items() if v is not None)
            out.append(f"[edge.{toml_text(name)}]\n{lines}{_steps(edge.steps)}")
        return "\n".join(out)


def _inline(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{k} = {toml_value(v)}" for k, v in value.items()) + " }"
    return toml_value(value)
