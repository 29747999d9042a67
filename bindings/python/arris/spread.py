# SPDX-License-Identifier: MIT
"""Work spread over the workers of Dask. Each piece of it is a call of the same function for some rows, or for a share of a sweep."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

PIECES_PER_WORKER = 4  # so that a slow one holds up little, and what a lost one had done is little


def dask_with_arrays() -> Any:
    """The module dask, its arrays included."""
    try:
        import dask
        import dask.array
    except ImportError as error:
        raise ImportError("arrays that wait are those of dask, which is not there: apt install python3-dask, or pip install dask") from error
    return dask


def pieces(client: Any, most: int) -> int:
    """How many pieces serve the workers of a client, ``most`` at most and 1 at least."""
    cores = sum(int(n) for n in client.nthreads().values())
    return max(1, min(most, PIECES_PER_WORKER * max(1, cores)))


def mapped(client: Any, function: Callable[..., Any], arguments: Sequence[Any], common: Sequence[Any]) -> list[Any]:
    """``function(argument, *common)`` of each argument, worked out by the workers, in order.

    ``client`` is a ``distributed.Client``. A piece whose worker dies is worked out by another; what a piece raises is raised here, after
    those that wait have been taken back.
    """
    # nothing is kept on workers beforehand: what a dead one held could not be made again
    futures = [client.submit(function, argument, *common, pure=False, retries=2) for argument in arguments]
    try:
        return list(client.gather(futures))
    except BaseException:
        client.cancel(futures)
        raise


def bounds(count: int, parts: int) -> list[tuple[int, int]]:
    """First and end of nearly equal runs of ``count`` rows."""
    ends = [count * i // parts for i in range(parts + 1)]
    return list(zip(ends[:-1], ends[1:]))


def joined(parts: Sequence[tuple[npt.NDArray[np.float64], npt.NDArray[np.int8]]]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.int8]]:
    """Values and status of all rows."""
    if len(parts) == 1:
        return parts[0]
    return np.concatenate([values for values, _ in parts]), np.concatenate([status for _, status in parts])
