# SPDX-License-Identifier: MIT
"""How a study is asked: keywords become the options of its command, and its answer says where it comes from."""

from __future__ import annotations

import hashlib
import os
import pathlib
from collections.abc import Mapping, Sequence
from typing import Any, Optional, Union

import numpy as np

from arris import _core
from arris._lists import name_in_list
from arris.campaign import Campaign, Source, campaign_of
from arris.result import FitResult, Result, draws_of, earlier_of

Fit = Union[FitResult, Result, str, "os.PathLike[str]"]
Names = Union[str, Sequence[str]]
Inputs = Union[str, Sequence[str], Mapping[str, Sequence[Any]]]  # of a sweep


def inputs_of(over: Optional[Inputs]) -> Union[None, str, Sequence[str]]:
    """Inputs of a sweep as the command line has them: a tuple is a range, a list its values."""
    if not isinstance(over, Mapping):
        return over
    out = []
    for path, values in over.items():
        if isinstance(values, tuple):
            out.append(f"{path}={':'.join(shown(v) for v in values)}")
        else:
            names = (v if not isinstance(v, str) else '"' + v.replace('"', '""') + '"' for v in values)
            out.append(f"{path}={'|'.join(shown(v) for v in names)}")
    return out


def shown(value: Any) -> str:
    """A number in all its digits, a text as it is."""
    if isinstance(value, (float, np.floating)):
        number = float(value)
        return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)
    return str(value)


def options_of(*, lists: Sequence[str] = (), **given: Any) -> dict[str, Any]:
    """Options as the library takes them: texts, by the names that they have on the command line; those that are left out are left out.
    ``lists``: of which every value stands by itself."""
    out: dict[str, Any] = {}
    for keyword, value in given.items():
        name = keyword.replace("_", "-")
        if value is None or value is False:
            continue
        if name in lists:
            out[name] = [value] if isinstance(value, str) else [str(v) for v in value]
        elif value is True:
            out[name] = "yes"
        elif isinstance(value, (list, tuple)):
            out[name] = ",".join(name_in_list(str(v)) for v in value)
        elif isinstance(value, (float, np.floating)):
            out[name] = shown(value)
        else:
            out[name] = os.fspath(value) if hasattr(value, "__fspath__") else str(value)
    return out


def with_origin(
    study: str, campaign: Campaign, options: Mapping[str, Any], answer: dict[str, Any], fit: Optional[Fit] = None
) -> dict[str, Any]:
    """An answer with where it comes from, as a file has it: the call in the place of the command, version, configuration …"""
    given = {key: value for key, value in options.items() if (key, value) != ("threads", "0")}
    words = [repr(campaign.name), *(f"{key.replace('-', '_')}={value!r}" for key, value in given.items())]
    file = "" if fit is None else fit.path if isinstance(fit, Result) else os.fspath(fit)
    if fit is not None:
        words.append(f"fit={file!r}" if file else "fit=…")
    origin = _core.origin(campaign._core, study, f"arris.{study}({', '.join(words)})", str(options.get("seed", "")))
    if file:
        origin["inputs"] += f"\n{file} sha1:{hashlib.sha1(pathlib.Path(file).read_bytes()).hexdigest()}"
    if answer["rests_on"]:
        origin["rests_on"] = answer["rests_on"]
    answer["node"]["attributes"] = origin | answer["node"]["attributes"]
    return answer


def with_earlier_fit(campaign: Source) -> Campaign:
    """The campaign, with the earlier fit that its ``[fit] from`` names where it names one."""
    of = campaign_of(campaign)
    if path := of._core.earlier_fit:
        of._core.take_earlier(earlier_of(path))
    return of


def answer_of(study: str, campaign: Source, options: Mapping[str, Any], fit: Optional[Fit] = None) -> Result:
    """What the command of that name answers."""
    of = campaign_of(campaign)
    if study == "plan" and fit is None and not of._core.readings_text:
        fit = of._core.earlier_fit or None
    elif study in ("weigh", "plan") and fit is None:
        of = with_earlier_fit(of)
    answer = _core.answer(study, of._core, options, None if fit is None else draws_of(fit))
    return Result(with_origin(study, of, options, answer, fit))
