# SPDX-License-Identifier: MIT
"""How far what takes long has come, shown by tqdm or by whoever asks."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Optional, Union

from arris import _core

__all__ = ["show_progress"]

Shows = Callable[[str, int, int], object]


class Bars:
    """A bar of tqdm for each stage of what runs: in a notebook one of its own, on a terminal one of letters."""

    def __init__(self) -> None:
        from tqdm.auto import tqdm

        self._make = tqdm
        self._bar: Optional[Any] = None
        self._stage = ""

    def __call__(self, stage: str, done: int, all: int) -> None:
        # another stage, or the same one begun anew
        if self._bar is not None and (stage != self._stage or done < self._bar.n or all != self._bar.total):
            self.close()
        if self._bar is None:
            self._bar, self._stage = self._make(total=all, desc=stage), stage
        self._bar.update(done - self._bar.n)
        if done >= all:
            self.close()

    def close(self) -> None:
        if self._bar is not None:
            self._bar.close()
        self._bar = None


shown: Optional[Shows] = None  # what is called, for what counts its pieces in Python


def show_progress(how: Union[bool, Shows] = True) -> None:
    """From now on, show how far ``simulate``, ``fit``, ``weigh``, ``forecast``, ``compare``, ``sweep``, ``sensitivity`` and ``simulate_many`` have come.

    Parameters
    ----------
    how : bool, or function of (stage: str, done: int, all: int)
        True: bars of tqdm (``python3-tqdm``), in a notebook and on a terminal. False: nothing, as in the beginning. A function is called some
        twenty times a second at most, in the thread that asked; what it raises stops the work.

    Returns
    -------
    None
        It holds until it is called again.

    Raises
    ------
    ImportError
        Where bars are asked for and there is no tqdm.

    Examples
    --------
    >>> arris.show_progress(lambda stage, done, all: None)
    >>> arris.simulate("my.toml")
    >>> arris.show_progress(False)
    """
    global shown
    if how is True:
        try:
            how = Bars()
        except ImportError as error:
            raise ImportError("bars are drawn by tqdm, which is not there: apt install python3-tqdm, or give a function") from error
    shown = how or None
    _core.show_progress(shown)
