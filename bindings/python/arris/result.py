# SPDX-License-Identifier: MIT
"""Results: sentences, and data sets with dimensions, coordinates and units."""

from __future__ import annotations

import dataclasses
import hashlib
import html
import os
import pathlib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Optional, Union

import numpy as np
import pandas as pd
import xarray as xr

from arris import _core
from arris.errors import DataError, Diagnostic, Error
from arris.files import write_result


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
        Those of the whole, as its file has them: the sentences, and where it comes from: command or call, version, commit, the
        resolved configuration, hashes of what was read …
    text : str
        All of it as the command line prints it; empty for a file.
    path : str
        The file it was read from; empty where it was made here.

    Examples
    --------
    >>> result = arris.simulate("my.toml")
    >>> list(result)[:3]
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
        self.path: str = answer.get("path", "")
        self._groups: dict[str, xr.Dataset] = dict(answer.get("groups", {}))
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

        Examples
        --------
        >>> arris.simulate("my.toml").to_xarray("edge/first/track")
        """
        return self._groups[self._named(group)]

    def to_pandas(self, group: Optional[str] = None) -> pd.DataFrame:
        """One group as a :class:`pandas.DataFrame`, a row per point of its axes; the first group if ``group`` is left out.

        Units are in ``attrs["units"]``, a dict by column.

        Raises
        ------
        KeyError
            Where there is no such group.

        Examples
        --------
        >>> frame = arris.simulate("my.toml").to_pandas("edge/first/track")
        >>> frame.attrs["units"]["reading_gf"]
        'gf'
        """
        data = self.to_xarray(group)
        frame = data.to_dataframe()
        frame.attrs["units"] = {str(name): v.attrs["units"] for name, v in data.variables.items() if "units" in v.attrs}
        return frame

    to_dataframe = to_pandas

    def _repr_html_(self) -> str:
        """The answer, and its first table, for a notebook."""
        lines = [self.sentence, *self.remarks, self.rests_on]
        told = "".join(f"<p>{html.escape(line)}</p>" for line in lines if line)
        name = next((name for name, data in self._groups.items() if len(data.sizes) == 1), None)
        if name is None:
            return told
        rows: str = self.to_pandas(name).head(20).to_html(max_cols=12)
        return f"{told}<p><b>{html.escape(name)}</b></p>{rows}"

    def _stored(self) -> dict[str, Any]:
        """As the library takes a result that is at hand."""
        texts = {k: v for k, v in self.attributes.items() if isinstance(v, str)}
        numbers = {k: float(v) for k, v in self.attributes.items() if not isinstance(v, str)}
        groups = []
        for path, data in sorted(self._groups.items()):
            along: dict[int, list[tuple[str, str, str, Any]]] = {1: [], 2: []}
            for name, variable in sorted(data.variables.items(), key=lambda item: str(item[0])):
                is_text = variable.dtype.kind in "OUS"
                values = [str(v) for v in variable.values.ravel()] if is_text else np.asarray(variable.values, dtype=np.float64).ravel()
                if variable.ndim == 1 or (variable.ndim == 2 and not is_text and variable.size <= 1_000_000):
                    attrs = variable.attrs
                    along[variable.ndim].append((str(name), attrs.get("units", ""), attrs.get("long_name", ""), values))
            told = {k: str(data.attrs.get(a, "")) for k, a in (("says", "long_name"), ("columns", "columns"), ("heads", "heads"))}
            groups.append({"path": path, "along_one": along[1], "along_two": along[2], **told})
        return {"file": self.path, "texts": texts, "numbers": numbers, "groups": groups}

    @property
    def figures(self) -> dict[str, str]:
        """Names of the figures that ``figure`` draws, with their titles.

        Examples
        --------
        >>> "section" in arris.simulate("my.toml").figures
        True
        """
        return dict(_core.figures(self._stored()))

    def figure(self, name: Optional[str] = None, width: int = 720) -> Figure:
        """One of its figures, the first if ``name`` is left out; a notebook shows it.

        Parameters
        ----------
        name : str, optional
            One of ``figures``.
        width : int
            In pixels, 240 to 4000.

        Raises
        ------
        ValueError
            Where there is no such figure, or none at all; where ``width`` is out of its range.

        Examples
        --------
        >>> arris.simulate("my.toml").figure("section", width=480)
        """
        if not 240 <= width <= 4000:
            raise ValueError(f"width = {width} is out of its range, 240 to 4000")
        stored = self._stored()
        known = dict(_core.figures(stored))
        wanted = name if name is not None else next(iter(known), "")
        if name is None and not known:
            raise ValueError(f"the result of {self.kind} has no figure")
        try:
            return Figure(wanted, known.get(wanted, ""), _core.figure_svg(stored, wanted, width))
        except Error as error:
            raise ValueError(f"there is no figure {wanted!r}; there are {', '.join(known)}") from error

    def report(self, path: Union[str, os.PathLike[str], None] = None) -> str:
        """The page that ``arris report`` makes of it: one HTML file that opens without a network.

        Parameters
        ----------
        path : str or path, optional
            Write it there too.

        Returns
        -------
        str
            HTML.

        Examples
        --------
        >>> page = arris.simulate("my.toml").report("simulate.html")
        """
        page = _core.report_html([self._stored()])
        if path is not None:
            pathlib.Path(path).write_text(page, encoding="utf-8")
        return page

    def save(self, path: Union[str, os.PathLike[str]]) -> None:
        """Writes the file that the command writes with ``--out``: HDF5, sealed, whole or absent.

        :func:`open_result`, ``arris report`` and, for a fit with draws, ``--fit`` take it.

        Parameters
        ----------
        path : str or path
            An earlier file of that name is replaced.

        Raises
        ------
        ValueError
            For a fit that has not converged: there is nothing of it to keep.
        OSError
            Where the file cannot be written.

        Examples
        --------
        >>> arris.simulate("my.toml").save("simulate.h5")
        >>> arris.open_result("simulate.h5").kind
        'simulate'
        """
        if not self._groups:
            raise ValueError(f"the result of {self.kind} has no groups to save")
        write_result(os.fspath(path), self.attributes, self._groups)


@dataclasses.dataclass(frozen=True)
class Figure:
    """A picture as SVG.

    Attributes
    ----------
    name, title : str
    svg : str
        The text of an SVG file.
    """

    name: str
    title: str
    svg: str = dataclasses.field(repr=False)

    def _repr_svg_(self) -> str:
        return self.svg

    def save(self, path: Union[str, os.PathLike[str]]) -> None:
        """Writes it as an SVG file.

        Examples
        --------
        >>> arris.simulate("my.toml").figure("section").save("section.svg")
        """
        pathlib.Path(path).write_text(self.svg, encoding="utf-8")


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
        """The curve of an edge: ``reading_gf``, ``apex_radius_um`` … along ``point``.

        Examples
        --------
        >>> arris.simulate("my.toml").track("first")["apex_radius_um"].attrs["units"]
        'um'
        """
        return self[f"edge/{edge}/track"]

    def steps(self, edge: str) -> xr.Dataset:
        """What each step of an edge did, along ``row``.

        Examples
        --------
        >>> arris.simulate("my.toml").steps("first").to_dataframe()
        """
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
        """Outputs along the inputs, with ``status``: 0 where it was worked out.

        Examples
        --------
        >>> dict(arris.sweep("my.toml", over="step.4.laps=0:60:61").map.sizes)
        {'step_4_laps': 61}
        """
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
        Every measurement beside its prediction, as ``arris fit --residuals`` writes it; empty for a file, which has ``residuals``.
    """

    def __init__(self, answer: Mapping[str, Any]) -> None:
        super().__init__(answer)
        self.converged: bool = answer["converged"]
        self.undetermined: list[tuple[str, str]] = list(answer["undetermined"])
        self.full_text: str = answer["full_text"]
        self.draws_converged: bool = answer["draws_converged"]
        self.fitted_toml: str = self.attributes.get("fitted_toml", "")
        self.residuals_csv: str = answer.get("residuals_csv", "")

    @property
    def parameters(self) -> xr.Dataset:
        """Along ``parameter``: ``value``, ``low`` and ``high`` (90 %, Wald; NaN where the readings do not determine it), ``unit``,
        ``prior_share`` (posterior variance over prior variance), ``determined``, ``at_bound``; ``covariance`` along ``other`` too.

        Examples
        --------
        >>> arris.open_result("fit.h5").parameters[["value", "low", "high"]].to_dataframe()
        """
        return self["parameters"]

    @property
    def estimates(self) -> pd.Series:
        """The fitted value of each parameter, by its path, in its unit.

        Examples
        --------
        >>> list(arris.open_result("fit.h5").estimates.index)
        ['tester.slope_N_per_um']
        """
        return self.parameters["value"].to_series()

    @property
    def covariance(self) -> xr.DataArray:
        """Posterior covariance of the scaled parameters (:class:`arris.LogDensity`), effects integrated out.

        Examples
        --------
        >>> arris.open_result("fit.h5").covariance.shape
        (1, 1)
        """
        return self.parameters["covariance"]

    @property
    def residuals(self) -> xr.Dataset:
        """Along ``row``: each measurement, what is predicted for it, and the residual in standard deviations.

        Examples
        --------
        >>> arris.open_result("fit.h5").residuals.to_dataframe()
        """
        return self["readings"]

    @property
    def spread(self) -> dict[str, float]:
        """Standard deviations of the log, at the optimum: of readings, edges, operators, lots, rates of wear, test days and ways of
        sharpening; 0 for what the campaign has no effects of.

        Examples
        --------
        >>> arris.open_result("fit.h5").spread["readings"] > 0
        True
        """
        return {name: float(self.attributes.get(f"sd_{name}", 0.0)) for name in _SPREADS}

    @property
    def profiles(self) -> dict[str, xr.Dataset]:
        """By the path of a parameter: ``value`` and the ``rise`` of −2·log posterior; attributes ``low_90`` and ``high_90``.

        Examples
        --------
        >>> list(arris.open_result("fit.h5").profiles)
        """
        return {path[len("profile/") :]: data for path, data in self.items() if path.startswith("profile/")}

    @property
    def laws(self) -> pd.DataFrame:
        """The wear laws that were fitted side by side, a row each, best first: ``weight`` in forecasts from this fit, ``elpd`` and
        its ``difference`` from the best with ``difference_se``, ``by_chance``, ``ruled_out``. Draws under a law stand in
        ``result["laws/NAME"]``. Empty where ``[wear] law`` fixes one.

        Examples
        --------
        >>> arris.open_result("fit.h5").laws
        """
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

        Examples
        --------
        >>> len(arris.open_result("fit.h5").draws)
        200
        """
        data = self["draws"]
        frame = pd.DataFrame(data["value"].values, columns=[str(c) for c in data["column"].values])
        frame["log_density"] = data["log_density"].values
        return frame


_SPREADS = ("readings", "edges", "operators", "lots", "rates", "days", "ways", "wear_after_ways", "woods")


def _refused(code: str, what: str, next_step: str, file: str) -> DataError:
    place = f"{file}: " if file else ""
    text = f"{place}{what} [{code}]\n" + (f"  {next_step}\n" if next_step else "")
    return DataError(text, [Diagnostic(code, what, "", "", next_step, file, 0, 0, "", text)])


def _attributes(units: str, long_name: str) -> dict[str, str]:
    return {"units": units, "long_name": long_name} if units else {"long_name": long_name}


def _array(values: Any) -> Any:
    return values if isinstance(values, np.ndarray) else np.array(values, dtype=object)


def collected(node: Mapping[str, Any]) -> dict[str, xr.Dataset]:
    """The data sets of a node and of all below it, by their paths."""
    groups: dict[str, xr.Dataset] = {}
    _collect(node, "", groups)
    return groups


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


def _lines(text: Any) -> list[str]:
    return str(text).split("\n") if text else []


_ROOT = {"Conventions", "title", "history", "kind", "headline", "remarks", "remarks_about", "cautions", "schema_version"}


def _from_file(path: str, attributes: Mapping[str, Any], groups: Mapping[str, xr.Dataset]) -> Result:
    """The class that a result of its kind has where it is made here."""
    kind = str(attributes["kind"])
    answer: dict[str, Any] = {
        "kind": kind,
        "sentence": str(attributes.get("headline", "")),
        "remarks": _lines(attributes.get("remarks")),
        "rests_on": str(attributes.get("rests_on", "")),
        "cautions": _lines(attributes.get("cautions")),
        "settings": {k: float(v) for k, v in attributes.items() if not isinstance(v, str) and k not in _ROOT},
        "text": "",
        "path": path,
        "node": {"attributes": attributes, "axes": {}, "groups": {}},
        "groups": groups,
    }
    if kind == "simulate" and "edges" in groups:
        answer["failures"] = [str(s) for s in groups["edges"]["status"].values if s != "ok"]
        return SimulationResult(answer)
    if kind == "sweep" and "map" in groups:
        answer["failed"], answer["members"] = int(attributes.get("failed", 0)), int(attributes.get("members", 0))
        return SweepResult(answer)
    if kind == "fit" and "parameters" in groups:
        open_ends = [tuple(line.split("\t", 1)) for line in _lines(attributes.get("undetermined"))]
        answer |= {"converged": True, "undetermined": open_ends, "full_text": "", "draws_converged": "draws" in groups}
        return FitResult(answer)
    return Result(answer)


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
        Of the class that it has where it is made here: :class:`FitResult`, :class:`SimulationResult`, :class:`SweepResult`. Its groups
        as :class:`xarray.Dataset`, with dimensions, coordinates, ``units`` and ``long_name``; ``attributes`` holds the provenance:
        command, version, commit, hashes of the inputs, the resolved configuration.

    Raises
    ------
    arris.DataError
        ``no-such-file``, ``not-a-result`` for a file that arris did not write, or ``damaged-result`` for one that was damaged, cut
        short or changed by another program; ``newer-result`` for one of a newer version; ``share-changed`` for a sweep that is linked to shares which are not as they were.

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
            linked: list[str] = []

            def visit(group_name: str, node: Any) -> None:
                if isinstance(node, h5py.Dataset) and node.is_virtual:
                    linked.append(group_name)
                if isinstance(node, h5py.Group) and any(isinstance(child, h5py.Dataset) for child in node.values()):
                    paths.append(group_name)

            file.visititems(visit)
    except OSError as error:
        raise _refused("not-a-result", f"the file cannot be read as HDF5: {error}", "", name) from error
    if "kind" not in attributes or not str(attributes.get("Conventions", "")).startswith("arris-"):
        raise _refused("not-a-result", "the file is no result of arris", "Write one: arris simulate FILE --out result.h5", name)
    if (version := attributes.get("schema_version", 0)) > _core.schema_version:
        what = f"this result was written by a newer version of the program (schema version {version}; this one knows up to {_core.schema_version})"
        raise _refused("newer-result", what, "Read it with that version, or make the result anew with this one.", name)
    if linked:  # what a share that is not there holds reads as missing numbers, so all are looked at first
        note = str(attributes.get("shares", ""))
        if not note:
            raise _refused("share-changed", "the file is linked to others and notes nothing of what they held", "Merge the shares anew.", name)
        _core.check_shares(name, note)
    groups = {}
    for group in paths:
        with xr.open_dataset(name, group=group, engine="h5netcdf") as data:
            groups[group] = data.load()
    return _from_file(name, attributes, groups)


def in_order(shares: Sequence[Result]) -> list[Result]:
    """The shares of one sweep by their numbers.

    Raises
    ------
    arris.DataError
        ``not-a-sweep``, ``sweep-differs``, ``share-twice``, ``share-missing``.
    """
    by_number: dict[int, Result] = {}
    count = 0
    for share in shares:
        a, what = share.attributes, share.path or "a share"
        if share.kind != "sweep" or "shard" not in a or "first_row" not in a:
            raise _refused("not-a-sweep", "this is no share of a sweep", "Give what sweep(…, shard=…) gave.", share.path)
        for name in ("definition", "configuration", "version", "commit"):
            if a[name] != shares[0].attributes[name]:
                raise _refused("sweep-differs", f"{what} belongs to another sweep: its {name} differs", "Give shares of one sweep.", share.path)
        number, of = (int(part) for part in str(a["shard"]).split("/"))
        if count not in (0, of):
            raise _refused("sweep-differs", f"{what} is one of {of} shares, not of {count}", "Give shares of one sweep.", share.path)
        if number in by_number:
            raise _refused("share-twice", f"share {number} is given twice", "Give each share once.", share.path)
        by_number[number], count = share, of
    missing = [f"{i}/{count}" for i in range(1, count + 1) if i not in by_number]
    if missing or not count:
        raise _refused("share-missing", f"not all shares are here; missing: {', '.join(missing) or 'all'}", "Give all shares.", "")
    return [by_number[i] for i in range(1, count + 1)]


def _plain(value: Any) -> Any:
    if isinstance(value, bytes):
        return value.decode()
    return value.item() if isinstance(value, np.generic) else value


_MODEL_VERSION = 3  # schema version from which on a fit is of this model (sim/output/fit_reader.cpp)


def fit_of(fit: Union[Result, str, os.PathLike[str]]) -> FitResult:
    """A fit, or that of a file.

    Raises
    ------
    arris.DataError
        ``not-a-fit``, ``old-fit``, and as :func:`open_result`.
    """
    result = fit if isinstance(fit, Result) else open_result(fit)
    if not isinstance(result, FitResult):
        what = f"this is the result of arris {result.kind}, not of a fit"
        raise _refused("not-a-fit", what, "Write one: arris fit FILE --draws 2000 --out fit.h5", result.path)
    version = int(result.attributes["schema_version"])
    if version < _MODEL_VERSION:
        what = f"this fit was made by an earlier version of the model (schema version {version})"
        raise _refused("old-fit", what, "What was fitted to it is not true of this one. Fit again.", result.path)
    return result


def draws_of(fit: Union[FitResult, Result, str, os.PathLike[str]]) -> dict[str, Any]:
    """The draws of a fit as the library takes them: of a result, or of the file of one."""
    result = fit_of(fit)
    file = result.path
    if "given" not in result:
        raise _refused("another-campaign", "the fit does not say what it held fixed", "Fit again.", file)
    if "draws" not in result:
        raise _refused("no-draws", "the fit holds no posterior draws", "Ask for them: arris.fit(campaign, draws=2000)", file)
    data, a = result["draws"], result.attributes
    return {
        "columns": [str(c) for c in data["column"].values],
        "values": np.ascontiguousarray(data["value"].values),
        "spread": [float(a.get(f"sd_{name}", 0.0)) for name in _SPREADS],
        "parameters": [str(p) for p in result["parameters"]["parameter"].values],
        "best": [float(v) for v in result["parameters"]["value"].values],
        **_effects_of(result),
        "edges": int(a["edges"]),
        "readings": int(a["readings"]),
        "source": file or "the fit",
        "given_paths": [str(p) for p in result["given"]["path"].values],
        "given_values": [float(v) for v in result["given"]["value"].values],
        "wear_law": str(a["wear_law"]),
        "laws": _laws_of(result),
        "discrepancy": _discrepancy_of(result, ""),
        "misses": [str(m) for m in result["lack_of_fit/misses"]["miss"].values] if "lack_of_fit/misses" in result else [],
    }


def earlier_of(path: str) -> dict[str, Any]:
    """What an earlier fit knows, as the library takes it, from the file that ``[fit] from`` names."""
    result = fit_of(path)
    if "posterior" not in result or "given" not in result:
        raise _refused(
            "old-fit",
            "this fit does not say what a later one can begin from",
            "Fit that campaign again: arris fit FILE --out fit.h5",
            path,
        )
    rows = result["readings"]
    return {
        "source": path,
        "sha1": hashlib.sha1(pathlib.Path(path).read_bytes()).hexdigest(),
        "edges": int(result.attributes["edges"]),
        "laws": [_earlier_law(str(name), result[f"posterior/{name}"]) for name in result["posterior"]["law"].values],
        "given_paths": [str(p) for p in result["given"]["path"].values],
        "given_values": [float(v) for v in result["given"]["value"].values],
        "wear_law": str(result.attributes["wear_law"]),
        "readings": [
            (str(edge), str(moment), str(kind), float(measured))
            for edge, moment, kind, measured in zip(
                rows["edge"].values, rows["moment"].values, rows["kind"].values, rows["measured"].values
            )
        ],
    }


def _earlier_law(name: str, data: xr.Dataset) -> dict[str, Any]:
    def numbers(key: str) -> list[float]:
        return [float(v) for v in data[key].values]

    return {
        "name": name,
        "wear_law": str(data.attrs["wear_law"]),
        "typical_um": float(data.attrs["typical_um"]),
        "paths": [str(p) for p in data["parameter"].values],
        "prior_shape": [str(s) for s in data["prior_shape"].values],
        **{key: numbers(key) for key in ("prior_centre", "prior_spread", "prior_shift", "scaled")},
        "at_end": numbers("at_bound"),
        "covariance": np.ascontiguousarray(data["covariance"].values, dtype=np.float64),
        "spreads": [str(s) for s in data["scatter"].values],
        "log_spread": numbers("log_scatter"),
        "log_spread_sd": numbers("log_scatter_sd"),
    }


def _effects_of(result: Result) -> dict[str, Any]:
    """Effects at the optimum as the library takes them; empty lists where the fit has none."""
    there = "effects" in result and result["effects"]["name"].size > 0
    return {
        "effect_kinds": [str(k) for k in result["effects"]["kind"].values] if there else [],
        "effect_names": [str(n) for n in result["effects"]["name"].values] if there else [],
        "effect_logs": np.ascontiguousarray(result["effects"]["log_factor"].values if there else [], dtype=np.float64),
    }


def _discrepancy_of(result: Result, law: str) -> list[list[float]]:
    """What is missed along the passes, by passes, mean and variance; empty lists where that is not known."""
    group = f"{law}discrepancy"
    return [[float(v) for v in result[group][name].values] if group in result else [] for name in ("passes", "miss", "variance")]


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
                "spread": [float(data.attrs.get(f"sd_{name}", 0.0)) for name in _SPREADS],
                "wear_paths": [str(p) for p in data["path"].values],
                "wear_values": np.ascontiguousarray(data["wear"].values),
                "discrepancy": _discrepancy_of(result, f"laws/{name}/"),
            }
        )
    return out
