# SPDX-License-Identifier: MIT
"""Wear laws that are functions of Python."""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Callable
from typing import Any, Optional

import pandas as pd

from arris import _core


@dataclasses.dataclass(frozen=True)
class Parameter:
    """A number that a wear law declares.

    Parameters
    ----------
    value : float
        In its unit.
    unit : str
        Such as ``"µm/m"``; ``"1"`` for a pure number.
    low, high : float, optional
        Its range.
    factor : float, optional
        Geometric standard deviation of its prior in a fit; without it a fit needs ``[prior."wear.NAME"]`` to free it.
    says : str
        What it is, one clause.
    """

    value: float
    unit: str = "1"
    low: Optional[float] = None
    high: Optional[float] = None
    factor: Optional[float] = None
    says: str = ""

    def declaration(self) -> dict[str, Any]:
        """As the extension module takes it."""
        return dataclasses.asdict(self)


def wear_inputs() -> pd.DataFrame:
    """What a wear law of one's own may ask for, by name: ``unit`` and what it ``says``."""
    return pd.DataFrame(_core.formula_inputs(), columns=["name", "unit", "says"]).set_index("name")


def function_arguments(function: Callable[..., float]) -> list[str]:
    """The names of the arguments of a wear law, all of which can be given by keyword.

    Raises
    ------
    TypeError
        Where one cannot, or takes any number of them.
    """
    names = []
    for name, parameter in inspect.signature(function).parameters.items():
        if parameter.kind not in (parameter.POSITIONAL_OR_KEYWORD, parameter.KEYWORD_ONLY):
            raise TypeError(f"the argument {name} of a wear law must be one that a keyword can give")
        names.append(name)
    return names
