# SPDX-License-Identifier: MIT
"""What the classes of arris.tables have in common: they turn into TOML, and the library's reader checks that."""

from __future__ import annotations

import dataclasses
import math
from typing import Any, ClassVar

from arris import _core


@dataclasses.dataclass(frozen=True)
class Stated:
    """A value with what is known about where it comes from.

    Parameters
    ----------
    value : float
        In the unit that its key ends with.
    status : str, optional
        On what it rests: ``"verified"``, ``"from memory"``, ``"estimate"`` …
    source : str, optional
        Citation.
    """

    value: float
    status: str = ""
    source: str = ""


def toml_text(text: str) -> str:
    """A basic string of TOML."""
    out = []
    for c in text:
        if c in '"\\':
            out.append("\\" + c)
        elif ord(c) < 0x20 or ord(c) == 0x7F:
            out.append(f"\\u{ord(c):04x}")
        else:
            out.append(c)
    return '"' + "".join(out) + '"'


def toml_value(value: Any) -> str:
    """A value of TOML; numbers read back to the same bits."""
    if isinstance(value, Stated):
        parts = [f"value = {toml_value(value.value)}"]
        parts += [f"{k} = {toml_text(v)}" for k, v in (("status", value.status), ("source", value.source)) if v]
        return "{ " + ", ".join(parts) + " }"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return toml_text(value)
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(toml_value(v) for v in value) + "]"
    if hasattr(value, "item"):  # a number of numpy
        value = value.item()
        return toml_value(value)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        if math.isnan(value):
            return "nan"
        return repr(value).replace("inf", "inf")
    raise TypeError(f"a configuration has no place for {value!r}; give a number, text, True or False")


class Table:
    """A table of a configuration; its classes stand in :mod:`arris.tables`."""

    table_name: ClassVar[str] = ""
    table_kind: ClassVar[str] = ""

    def __post_init__(self) -> None:
        self.check()

    def check(self) -> None:
        """Raises :class:`arris.ConfigurationError` where a value is out of range or of a wrong kind.

        Done when the object is made; do it again after changing an attribute (loading does so too).

        Examples
        --------
        >>> iron = arris.Tool(steel="O1", width_mm=50, thickness_mm=3, primary_bevel_deg=25)
        >>> iron.width_mm = 60
        >>> iron.check()
        """
        _core.check_table(self.table_name, self.to_toml())

    def keys(self) -> dict[str, Any]:
        """The keys that are given, with their values.

        Examples
        --------
        >>> arris.Limit(reading_gf=150).keys()
        {'reading_gf': 150}
        """
        pairs = ((f.name.rstrip("_"), getattr(self, f.name)) for f in dataclasses.fields(self))  # type: ignore[arg-type]
        return {name: value for name, value in pairs if value is not None}

    def to_toml(self) -> str:
        """The keys of the table as lines of TOML.

        Examples
        --------
        >>> print(arris.Limit(reading_gf=150).to_toml())
        reading_gf = 150
        """
        return "".join(f"{key} = {toml_value(value)}\n" for key, value in self.keys().items())


class Step(Table):
    """A step of a history: hone, back, strop, cut, read or dress; of a specimen wears."""

    def to_inline(self) -> str:
        """The step as an inline table of TOML.

        Examples
        --------
        >>> arris.strop("soft hide", laps=20).to_inline()
        '{ strop = "soft hide", laps = 20 }'
        """
        return "{ " + ", ".join(f"{key} = {toml_value(value)}" for key, value in self.keys().items()) + " }"
