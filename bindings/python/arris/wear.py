# SPDX-License-Identifier: MIT
"""Wear laws that are functions of Python."""

from __future__ import annotations

import ctypes
import dataclasses
import inspect
from collections.abc import Callable, Sequence
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
    """What a wear law of one's own may ask for, by name: ``unit`` and what it ``says``.

    Examples
    --------
    >>> arris.wear_inputs().loc["r", "unit"]
    'um'
    """
    return pd.DataFrame(_core.formula_inputs(), columns=["name", "unit", "says"]).set_index("name")


def address_of(function: Callable[..., Any]) -> int:
    """The address of a wear law that is a function of C, or was compiled by numba (``numba.cfunc``); 0 for one of Python.

    Raises
    ------
    TypeError
        Where a function of C is not declared to take and give floats of C's type double.
    """
    pointer = _pointer(function)
    if pointer is None:
        return 0
    if pointer.argtypes is None or pointer.restype is not ctypes.c_double or any(a is not ctypes.c_double for a in pointer.argtypes):
        raise TypeError("a compiled wear law takes doubles and gives a double: set argtypes and restype to ctypes.c_double")
    return int(ctypes.cast(pointer, ctypes.c_void_p).value or 0)


def _pointer(function: Any) -> Any:
    """What ctypes has of a compiled function; None for one of Python."""
    pointer = getattr(function, "ctypes", function)
    return pointer if isinstance(pointer, getattr(ctypes, "_CFuncPtr")) else None


def law_of(
    name: str, function: Callable[..., Any], arguments: Optional[Sequence[str]] = None, vectorized: bool = False
) -> _core.Law:
    """A wear law as the extension module takes it. ``arguments`` names those of a function of C, which does not tell.

    Raises
    ------
    TypeError
        As ``address_of`` and ``function_arguments``, where the names are not as many as the arguments, and where a compiled function is
        to take arrays.
    """
    address = address_of(function)
    names = function_arguments(function) if arguments is None else list(arguments)
    if address and len(names) != len(_pointer(function).argtypes):
        raise TypeError(f"{len(names)} arguments are named, and the compiled wear law takes another number of them")
    if address and vectorized:
        raise TypeError("a compiled wear law takes numbers, not arrays: leave vectorized out")
    return _core.Law(name, function, names, address, vectorized)


def function_arguments(function: Callable[..., Any]) -> list[str]:
    """The names of the arguments of a wear law, all of which can be given by keyword.

    Raises
    ------
    TypeError
        Where one cannot, or takes any number of them.
    """
    names = []
    untold = TypeError("a function of C does not tell the names of its arguments: give arguments=[…]")
    if _pointer(function) is function:  # of ctypes, which since Python 3.13 claims to take any
        raise untold
    try:
        parameters = inspect.signature(function).parameters
    except ValueError:
        raise untold from None
    for name, parameter in parameters.items():
        if parameter.kind not in (parameter.POSITIONAL_OR_KEYWORD, parameter.KEYWORD_ONLY):
            raise TypeError(f"the argument {name} of a wear law must be one that a keyword can give")
        names.append(name)
    return names
