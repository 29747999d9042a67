# SPDX-License-Identifier: MIT
"""What goes wrong, as exceptions: what, where, what would be allowed, the likely cause, one next step.

A class for each exit code of the command line: 2 :class:`ConfigurationError` (configuration or use), 3 :class:`DataError`,
4 :class:`IntegrationError`, 5 :class:`NotConvergedError`; all are :class:`Error`.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any


@dataclasses.dataclass(frozen=True)
class Diagnostic:
    """One fault.

    Attributes
    ----------
    code : str
        Stable identifier, such as ``"unknown-key"``.
    what, allowed, cause, next : str
        The fact; the range or the choices; the likely cause; one next step. All but the first may be empty.
    file : str
        Where it is, empty where it is in no file.
    line, column : int
        From 1; 0 where there is no position.
    key : str
        Path of the key in the configuration, such as ``"tool.my smoother.width_mm"``; may be empty.
    text : str
        All of it, with the offending line and a caret, as the command line prints it.
    """

    code: str
    what: str
    allowed: str
    cause: str
    next: str
    file: str
    line: int
    column: int
    key: str
    text: str


class Error(Exception):
    """What the library refuses or cannot do.

    The message is the text of all faults that were found. The attributes are those of the first; ``diagnostics`` has all.

    Attributes
    ----------
    code, what, allowed, cause, next, file, line, column, key
        See :class:`Diagnostic`.
    diagnostics : tuple of Diagnostic
        Every fault that was found, in the order of the file.
    exit_code : int
        With which the command line would end.
    """

    exit_code = 2

    def __init__(self, text: str, diagnostics: Sequence[Diagnostic] = ()) -> None:
        super().__init__(text, tuple(diagnostics))
        self.diagnostics = tuple(diagnostics)
        first = self.diagnostics[0] if self.diagnostics else Diagnostic("", text, "", "", "", "", 0, 0, "", text)
        self.code = first.code
        self.what = first.what
        self.allowed = first.allowed
        self.cause = first.cause
        self.next = first.next
        self.file = first.file
        self.line = first.line
        self.column = first.column
        self.key = first.key

    def __str__(self) -> str:
        return str(self.args[0]).rstrip("\n")


class ConfigurationError(Error):
    """A configuration is wrong, or a function was asked for what does not go together."""

    exit_code = 2


class DataError(Error):
    """Readings, or a file of results, are wrong."""

    exit_code = 3


class IntegrationError(Error):
    """Histories could not be integrated."""

    exit_code = 4


class NotConvergedError(Error):
    """A fit did not converge."""

    exit_code = 5


def from_diagnostics(exit_code: int, diagnostics: Sequence[Mapping[str, Any]]) -> Error:
    """The exception for faults found by the library. For use by the extension module."""
    kinds = {kind.exit_code: kind for kind in (ConfigurationError, DataError, IntegrationError, NotConvergedError)}
    found = tuple(Diagnostic(**d) for d in diagnostics)
    return kinds.get(exit_code, Error)("".join(d.text for d in found), found)
