# SPDX-License-Identifier: MIT
"""Writes arris/tables.py: a class for each table of a configuration, out of the lists of fields that the library reads.

usage: make_tables.py FOLDER    FOLDER holds arris/_core
"""

import importlib.util
import keyword
import pathlib
import sys
import textwrap

HEAD = '''# SPDX-License-Identifier: MIT
# Written by make_tables.py from the lists of fields of the library (sim/history, sim/fit, sim/studies). Do not edit.
"""The tables of a configuration as objects: one class each, its keywords the keys of the table, with their units.

Each object checks itself when it is made, with the reader of configurations: a value out of range, of a wrong kind or without a
meaning raises :class:`arris.ConfigurationError`. A keyword that is left out has the value that is told as its default, or is derived
from others. Defaults say on what they rest.
"""

from __future__ import annotations

import dataclasses
from typing import ClassVar, Optional

from arris._table import Step, Stated, Table

'''

STEPS = {"hone", "back", "strop", "cut", "wears", "read", "dress"}


def shown(value):
    return f"{value:g}" if isinstance(value, float) else repr(value)


def attribute(key):
    """The name of a key as an attribute: one that is a word of Python has a line behind it."""
    return key + "_" if keyword.iskeyword(key) else key


def describe(field):
    parts = [field["says"] or field["key"]]
    if field["unit"]:
        parts.append(field["unit"])
    if field["type"] in ("float", "int") and field["low"] > float("-inf"):
        parts.append(f"{field['low']:g} to {field['high']:g}")
    text = "; ".join(parts) + "."
    rests = f", {field['status']}" if field["status"] else ""
    if field["derived"]:
        text += f" Left out: derived, by {field['status'] or 'other values'}."
    elif field["default"] is not None:
        text += f" Default {shown(field['default'])}{rests}."
    elif field["optional"]:
        text += " May be left out."
    else:
        text += " Needed."
    return text


#: Lists of names in [fit], which stand in no table of fields.
LISTS_OF_FIT = {
    "free": "Paths of the parameters to free; left out: the usual ones.",
    "laws": "Wear laws to fit side by side; left out: all that are possible, or the one that [wear] states.",
    "derived": "Quantities to tell beside the parameters, such as ``\"reading of A1 ready\"``; left out: the usual ones.",
    "anew": "What the earlier fit of ``from_`` is not asked about: paths, tables (``\"tester\"``), ``\"sd of readings\"``; left out: nothing.",
}


def write_class(table):
    step = table["kind"] == "step"
    fields = [dict(f) for f in table["fields"]]
    lines = ["@dataclasses.dataclass" + ("" if step else "(kw_only=True)")]
    lines.append(f"class {table['name']}({'Step' if step else 'Table'}):")
    where = f"A step: ``{{ {table['name']} = ..., ... }}``." if step else f"Table ``[{table['kind']}]``, or ``[{table['kind']}.NAME]``."
    if not step and table["kind"] in ("tester", "scatter", "coefficients", "numerics", "output", "computer", "fit", "workshop", "specimen"):
        where = f"Table ``[{table['kind']}]``."
    doc = [table["says"], "", where, "", "Parameters", "----------"]
    for f in fields:
        kind = {"float": "float", "int": "int", "bool": "bool", "str": "str"}[f["type"]]
        doc.append(f"{attribute(f['key'])} : {kind}")
        doc += textwrap.wrap(describe(f), 100, initial_indent="    ", subsequent_indent="    ", break_on_hyphens=False, break_long_words=False)
    if table["name"] == "Fit":
        for key, what in LISTS_OF_FIT.items():
            doc += [f"{key} : list of str"] + textwrap.wrap(what, 100, initial_indent="    ", subsequent_indent="    ")
    doc += ["", "Raises", "------", "arris.ConfigurationError", "    Where a value is out of range or of a wrong kind; ``.key`` says which."]
    lines.append('    """' + doc[0])
    lines += [("    " + d).rstrip() for d in doc[1:]]
    lines.append('    """')
    lines.append("")
    lines.append(f'    table_name: ClassVar[str] = "{table["name"]}"')
    lines.append(f'    table_kind: ClassVar[str] = "{table["kind"]}"')
    lines.append("")
    first = True
    for f in fields:
        kind = f["type"] if f["type"] in ("str", "bool") else f"{f['type']} | Stated"
        if step and first:
            lines.append(f"    {attribute(f['key'])}: str")
            lines.append("    _: dataclasses.KW_ONLY")
            first = False
            continue
        lines.append(f"    {attribute(f['key'])}: Optional[{kind}] = None")
        first = False
    if table["name"] == "Fit":
        lines += [f"    {key}: Optional[list[str]] = None" for key in LISTS_OF_FIT]
    return "\n".join(lines) + "\n"


def main():
    folder = pathlib.Path(sys.argv[1])
    [module] = folder.glob("arris/_core*.so")
    spec = importlib.util.spec_from_file_location("_core", module)
    core = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(core)
    tables = core.tables()
    names = [t["name"] for t in tables]
    text = HEAD + "__all__ = [\n" + "".join(f'    "{n}",\n' for n in names) + "]\n\n\n"
    text += "\n\n".join(write_class(t) for t in tables)
    (folder / "arris" / "tables.py").write_text(text, encoding="utf-8")


main()
