# SPDX-License-Identifier: MIT
"""Files of results, written by h5py as the library writes them."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from typing import Any, Union

import xarray as xr

from arris import _core

_PACKED = 32768  # numbers, from which on a data set is compressed, and of its chunks


def write_result(path: str, attributes: Mapping[str, Any], groups: Mapping[str, xr.Dataset]) -> None:
    """A sealed file, whole or absent: written beside its place under another name first."""
    import h5py

    folder, name = os.path.split(os.path.abspath(path))
    handle, temporary = tempfile.mkstemp(prefix=f".{name}.", dir=folder)
    os.close(handle)
    try:
        with h5py.File(temporary, "w", libver=("v108", "v110")) as file:
            for key, value in attributes.items():
                file.attrs[key] = value
            for group, data in groups.items():
                _write_group(file.require_group(group) if group else file, data)
        _core.seal(temporary)
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(temporary, 0o666 & ~umask)
        os.replace(temporary, path)
    except BaseException:
        os.unlink(temporary)
        raise


def _write_group(group: Any, data: xr.Dataset) -> None:
    for key, value in data.attrs.items():
        group.attrs[key] = value
    for name in data.dims:
        _write(group, str(name), data[name].variable).make_scale(str(name))
    for name, variable in data.data_vars.items():
        stored = _write(group, str(name), variable.variable)
        for i, axis in enumerate(variable.dims):
            stored.dims[i].attach_scale(group[str(axis)])


def _write(group: Any, name: str, variable: xr.Variable) -> Any:
    import h5py

    values = variable.values
    if values.dtype.kind in "OUS":
        stored = group.create_dataset(name, data=[str(v) for v in values.ravel()], dtype=h5py.string_dtype(), shape=values.shape)
    else:
        packed: dict[str, Any] = {}
        if values.size >= _PACKED:
            chunks: list[int] = []
            room = _PACKED
            for size in reversed(values.shape):  # whole along the last axes, as far as there is room
                chunks.insert(0, max(1, min(size, room)))
                room = max(1, room // chunks[0])
            packed = {"chunks": tuple(chunks), "shuffle": True, "compression": "gzip", "compression_opts": 4}
        stored = group.create_dataset(name, data=values, **packed)
    for key, value in variable.attrs.items():
        stored.attrs[key] = value
    return stored


def seal(path: Union[str, os.PathLike[str]]) -> None:
    """Seals a result that another program changed, so that it is read again.

    A result ends in a seal, a sum of its bytes. h5py and other programs do not know it, and the library refuses a file that they
    changed, be it by one attribute: it cannot tell a change that was meant from damage. With this you say that it was meant.

    Parameters
    ----------
    path : str or path
        A result of arris.

    Returns
    -------
    None

    Raises
    ------
    arris.DataError
        ``not-a-result`` where it is none, ``cannot-read``.

    Examples
    --------
    >>> import h5py
    >>> with h5py.File("fit.h5", "r+") as file:
    ...     file.attrs["note"] = "second batch of blanks"
    >>> arris.seal("fit.h5")
    """
    _core.seal(os.fspath(path))
