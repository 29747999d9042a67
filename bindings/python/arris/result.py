# SPDX-License-Identifier: MIT
"""Results: sentences, and data sets with dimensions, coordinates and units."""

from __future__ import annotations

import os
import pathlib
from collections.abc import Iterator, Mapping
from typing import Any, Optional, Union

import numpy as np
import pandas as pd
import xarray as xr

from arris import _core
from arris.errors import DataError, Diagnostic


class Result(Mapping[str, xr.Dataset]):
    """What a study answered, or what a file of results holds.

    A mapping of the names of its groups to :class:`xarray.Dataset`; each variable has ``units`` and ``long_name`` in its attributes.
    ``print(result)`` shows what the command line prints. It can be pickled and copied.

    Attributes
    ----------
    kind : str
        ``"simulate"``, ``"fit"``, ``"forecast"`` …
    sentence : str
        The answer, one to three sentences.
    remarks, cautions : list of str
        Sentences behind it; what to mind where something is to be done.
    rests_on : str
        On what it rests: defaults, readings, a fit.
    settings : dict of str to float
        Numbers that were asked for, with their units in the names.
    attributes : dict
        Those of the whole; of a file, its provenance too: command, version, commit, the resolved configuration …
    text : str
        All of it as the command line prints it; empty for a file.

    Examples
    --------
    >>> result = arris.simulate("my.toml")
    >>> list(result)
    ['edges', 'edge/first/track', 'edge/first/steps']
    >>> result["edge/first/track"]["reading_gf"].attrs["units"]
    'gf'
    >>> result.to_pandas("edge/first/steps")
    """

    def __init__(self, answer: Mapping[str, Any]) -> None:
        self.kind: str = answer["kind"]
        self.sentence: str = answer["sentence"]
        self.remarks: list[str] = list(answer["remarks"])
        self.rests_on: str = answer["rests_on"]
        self.cautions: list[str] = list(answer["cautions"])
        self.settings: dict[str, float] = dict(answer["settings"])
        self.text: str = answer["text"]
        self.attributes: dict[str, Any] = dict(answer["node"]["attributes"])
        self._groups: dict[str, xr.Dataset] = {}
        _collect(answer["node"], "", self._groups)

    def __getitem__(self, group: str) -> xr.Dataset:
        return self._groups[group]

    def __iter__(self) -> Iterator[str]:
        return iter(self._groups)

    def __len__(self) -> int:
        return len(self._groups)

    def __str__(self) -> str:
        return self.text or self.sentence

    def __repr__(self) -> str:
        return f"<arris.{type(self).__name__} of {self.kind}: {', '.join(self._groups)}>"

    def _named(self, group: Optional[str]) -> str:
        if group is None:
            if not self._groups:
                raise KeyError("the result has no group")
            return next(iter(self._groups))
        return group

    def to_xarray(self, group: Optional[str] = None) -> xr.Dataset:
        """One group as an :class:`xarray.Dataset`; the first if ``group`` is left out. Units are in ``attrs`` of each variable.

        Raises
        ------
        KeyError
            Where there is no such group.
        """
        return self._groups[self._named(group)]

    def to_pandas(self, group: Optional[str] = None) -> pd.DataFrame:
        """One group as a :class:`pandas.DataFrame`, a row per point of its axes; the first group if ``group`` is left out.

        Units are in ``attrs["units"]``, a dict by column.

        Raises
        ------
        KeyError
            Where there is no such group.
        """
        data = self.to_xarray(group)
        frame = data.to_dataframe()
        frame.attrs["units"] = {str(name): v.attrs["units"] for name, v in data.variables.items() if "units" in v.attrs}
        return frame

    to_dataframe = to_pandas


class SimulationResult(Result):
    """Result of :func:`arris.simulate`.

    Attributes
    ----------
    failures : list of str
        A sentence for each edge whose history failed; its numbers are NaN, and the rest stands.
    """

    def __init__(self, answer: Mapping[str, Any]) -> None:
        super().__init__(answer)
        self.failures: list[str] = list(answer["failures"])

    def track(self, edge: str) -> xr.Dataset:
        """The curve of an edge: ``reading_gf``, ``apex_radius_um`` … along ``point``."""
        return self[f"edge/{edge}/track"]

    def steps(self, edge: str) -> xr.Dataset:
        """What each step of an edge did, along ``row``."""
        return self[f"edge/{edge}/steps"]


class SweepResult(Result):
    """Result of :func:`arris.sweep`; the group ``map`` has the outputs along the inputs.

    Attributes
    ----------
    failed, members : int
        Combinations that failed, out of how many; their outputs are NaN and ``status`` tells why.
    """

    def __init__(self, answer: Mapping[str, Any]) -> None:
        super().__init__(answer)
        self.failed: int = answer["failed"]
        self.members: int = answer["members"]

    @property
    def map(self) -> xr.Dataset:
        """Outputs along the inputs, with ``status``: 0 where it was worked out."""
        return self["map"]


class FitResult(Result):
    """Result of :func:`arris.fit`. It takes the place of a file of draws in other studies.

    Attributes
    ----------
    converged : bool
    undetermined : list of (str, str)
        What the readings cannot tell, and the measurement that would settle it.
    full_text : str
        As ``text``, with effects, starts and the farthest readings.
    draws_converged : bool
        Whether there are posterior draws to trust; others are not kept.
    fitted_toml : str
        A configuration with the fitted values, each marked as fitted; empty unless converged, as the next.
    residuals_csv : str
        Every measurement beside its prediction, as ``arris fit --residuals`` writes it.
    """

    def __init__(self, answer: Mapping[str, Any]) -> None:
        super().__init__(answer)
        self.converged: bool = answer["converged"]
        self.undetermined: list[tuple[str, str]] = list(answer["undetermined"])
        self.full_text: str = answer["full_text"]
        self.draws_converged: bool = answer["draws_converged"]
        self.fitted_toml: str = answer.get("fitted_toml", "")
        self.residuals_csv: str = answer.get("residuals_csv", "")

    @property
    def parameters(self) -> xr.Dataset:
        """Along ``parameter``: ``value``, ``low`` and ``high`` (90 %, Wald; NaN where the readings do not determine it), ``unit``,
        ``prior_share`` (posterior variance over prior variance), ``determined``, ``at_bound``; ``covariance`` along ``other`` too."""
        return self["parameters"]

    @property
    def estimates(self) -> pd.Series:
        """The fitted value of each parameter, by its path, in its unit."""
        return self.parameters["value"].to_series()

    @property
    def covariance(self) -> xr.DataArray:
        """Posterior covariance of the scaled parameters (:class:`arris.LogDensity`), effects integrated out."""
        return self.parameters["covariance"]

    @property
    def residuals(self) -> xr.Dataset:
        """Along ``row``: each measurement, what is predicted for it, and the residual in standard deviations."""
        return self["readings"]

    @property
    def spread(self) -> dict[str, float]:
        """Standard deviations of the log, at the optimum: of readings, edges, operators, lots, rates of wear and test days."""
        return {name: float(self.attributes[f"sd_{name}"]) for name in _SPREADS}

    @property
    def profiles(self) -> dict[str, xr.Dataset]:
        """By the path of a parameter: ``value`` and the ``rise`` of −2·log posterior; attributes ``low_90`` and ``high_90``."""
        return {path[len("profile/") :]: data for path, data in self.items() if path.startswith("profile/")}

    @property
    def laws(self) -> pd.DataFrame:
        """The wear laws that were fitted side by side, a row each, best first: ``weight`` in forecasts from this fit, ``elpd`` and
        its ``difference`` from the best with ``difference_se``, ``by_chance``, ``ruled_out``. Draws under a law stand in
        ``result["laws/NAME"]``. Empty where ``[wear] law`` fixes one."""
        if "laws" not in self:
            return pd.DataFrame()
        return self["laws"].to_dataframe()

    @property
    def draws(self) -> pd.DataFrame:
        """Posterior draws, a row each: parameters in their units, standard deviations of the logs, and ``log_density``.

        Raises
        ------
        KeyError
            Where none were asked for, or they have not converged.
        """
        data = self["draws"]
        frame = pd.DataFrame(data["value"].values, columns=[str(c) for c in data["column"].values])
        frame["log_density"] = data["log_density"].values
        return frame


_SPREADS = ("readings", "edges", "operators", "lots", "rates", "days")


def _refused(code: str, what: str, next_step: str, file: str) -> DataError:
    place = f"{file}: " if file else ""
    text = f"{place}{what} [{code}]\n" + (f"  {next_step}\n" if next_step else "")
    return DataError(text, [Diagnostic(code, what, "", "", next_step, file, 0, 0, "", text)])


def _attributes(units: str, long_name: str) -> dict[str, str]:
    return {"units": units, "long_name": long_name} if units else {"long_name": long_name}


def _array(values: Any) -> Any:
    return values if isinstance(values, np.ndarray) else np.array(values, dtype=object)


def _collect(node: Mapping[str, Any], path: str, groups: dict[str, xr.Dataset]) -> None:
    """The data sets of a node and of all below it."""
    if node["axes"]:
        axes = {name: _array(values) for name, (values, _, _) in node["axes"].items()}
        coordinates = {name: (name, axes[name], _attributes(units, says)) for name, (_, units, says) in node["axes"].items()}
        data = {}
        for name, (dims, values, units, says) in node["data"].items():
            shape = tuple(len(axes[d]) for d in dims)
            data[name] = (dims, _array(values).reshape(shape), _attributes(units, says))
        groups[path] = xr.Dataset(data, coordinates, dict(node["attributes"]))
    for name, child in node["groups"].items():
        _collect(child, f"{path}/{name}" if path else name, groups)


class _FileResult(Result):
    def __init__(self, path: str, attributes: Mapping[str, Any], groups: Mapping[str, xr.Dataset]) -> None:
        lines = {name: str(attributes.get(name, "")) for name in ("headline", "remarks", "cautions", "rests_on")}
        answer = {
            "kind": str(attributes["kind"]),
            "sentence": lines["headline"],
            "remarks": lines["remarks"].split("\n") if lines["remarks"] else [],
            "rests_on": lines["rests_on"],
            "cautions": lines["cautions"].split("\n") if lines["cautions"] else [],
            "settings": {},
            "text": "",
            "node": {"attributes": attributes, "axes": {}, "groups": {}},
        }
        super().__init__(answer)
        self.path = path
        self._groups = dict(groups)


def open_result(path: Union[str, os.PathLike[str]]) -> Result:
    """Opens a file of results, of any command, and reads it whole.

    It is read with h5py and xarray, once its seal shows that its bytes, and those of the shares that a merged sweep reads from,
    are what was written: a damaged file could take the whole interpreter down.

    Parameters
    ----------
    path : str or path
        HDF5 file that a command wrote with ``--out``.

    Returns
    -------
    Result
        Its groups as :class:`xarray.Dataset`, with dimensions, coordinates, ``units`` and ``long_name``; ``attributes`` holds the
        provenance: command, version, commit, hashes of the inputs, the resolved configuration.

    Raises
    ------
    arris.DataError
        ``no-such-file``, ``not-a-result`` for a file that arris did not write, or ``damaged-result`` for one that was damaged, cut
        short or changed by another program.

    Examples
    --------
    >>> result = arris.open_result("fit.h5")
    >>> result["parameters"]["value"]
    """
    import h5py

    name = os.fspath(path)
    if not pathlib.Path(name).is_file():
        raise _refused("no-such-file", "there is no such file", "Check the path.", name)
    _core.check_seal(name)
    try:
        with h5py.File(name) as file:
            attributes = {key: _plain(value) for key, value in file.attrs.items()}
            paths: list[str] = []
            shares: set[str] = set()

            def visit(group_name: str, node: Any) -> None:
                if isinstance(node, h5py.Dataset) and node.is_virtual:
                    shares.update(os.path.join(os.path.dirname(name), source.file_name) for source in node.virtual_sources())
                if isinstance(node, h5py.Group) and any(isinstance(child, h5py.Dataset) for child in node.values()):
                    paths.append(group_name)

            file.visititems(visit)
    except OSError as error:
        raise _refused("not-a-result", f"the file cannot be read as HDF5: {error}", "", name) from error
    if "kind" not in attributes or not str(attributes.get("Conventions", "")).startswith("arris-"):
        raise _refused("not-a-result", "the file is no result of arris", "Write one: arris simulate FILE --out result.h5", name)
    for share in sorted(shares):  # one that is not there reads as not worked out
        if pathlib.Path(share).is_file():
            _core.check_seal(share)
    groups = {}
    for group in paths:
        with xr.open_dataset(name, group=group, engine="h5netcdf") as data:
            groups[group] = data.load()
    return _FileResult(name, attributes, groups)


def _plain(value: Any) -> Any:
    if isinstance(value, bytes):
        return value.decode()
    return value.item() if isinstance(value, np.generic) else value


def draws_of(fit: Union[FitResult, Result, str, os.PathLike[str]]) -> dict[str, Any]:
    """The draws of a fit as the library takes them: of a result, or of the file of one."""
    result = fit if isinstance(fit, Result) else open_result(fit)
    file = getattr(result, "path", "")
    if result.kind != "fit":
        raise _refused(
            "not-a-fit",
            f"this is the result of arris {result.kind}, not of a fit",
            "Write one: arris fit FILE --draws 2000 --out fit.h5",
            file,
        )
    if "given" not in result:
        raise _refused("another-campaign", "the fit does not say what it held fixed", "Fit again.", file)
    if "draws" not in result:
        raise _refused("no-draws", "the fit holds no posterior draws", "Ask for them: arris.fit(campaign, draws=2000)", file)
    data, a = result["draws"], result.attributes
    return {
        "columns": [str(c) for c in data["column"].values],
        "values": np.ascontiguousarray(data["value"].values),
        "spread": [float(a[f"sd_{name}"]) for name in _SPREADS],
        "parameters": [str(p) for p in result["parameters"]["parameter"].values],
        "best": [float(v) for v in result["parameters"]["value"].values],
        "edges": int(a["edges"]),
        "readings": int(a["readings"]),
        "source": file or "the fit",
        "given_paths": [str(p) for p in result["given"]["path"].values],
        "given_values": [float(v) for v in result["given"]["value"].values],
        "wear_law": str(a["wear_law"]),
        "laws": _laws_of(result),
        "discrepancy": [[float(v) for v in result["discrepancy"][name].values] if "discrepancy" in result else [] for name in ("passes", "miss", "variance")],
        "misses": [str(m) for m in result["lack_of_fit/misses"]["miss"].values] if "lack_of_fit/misses" in result else [],
    }


def _laws_of(result: Result) -> list[dict[str, Any]]:
    """Draws under each wear law as the library takes them; none where one law was fixed."""
    if "laws" not in result:
        return []
    out = []
    for k, name in enumerate(str(law) for law in result["laws"]["law"].values):
        if not result["laws"]["usable"].values[k]:
            continue
        data = result[f"laws/{name}"]
        out.append(
            {
                "name": name,
                "wear_law": str(data.attrs["wear_law"]),
                "weight": float(result["laws"]["weight"].values[k]),
                "ruled_out": bool(result["laws"]["ruled_out"].values[k]),
                "columns": [str(c) for c in data["column"].values],
                "values": np.ascontiguousarray(data["drawn"].values),
                "parameters": [str(p) for p in data["parameter"].values],
                "best": np.ascontiguousarray(data["value"].values),
                "spread": [float(data.attrs[f"sd_{name}"]) for name in _SPREADS],
                "wear_paths": [str(p) for p in data["path"].values],
                "wear_values": np.ascontiguousarray(data["wear"].values),
            }
        )
    return out
