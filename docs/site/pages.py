# SPDX-License-Identifier: MIT
"""Pages that are made of what stands elsewhere: the head of each physical law, the Markdown of docs/, the names of the Python package."""

import inspect
import pathlib
import re

import arris
import equations


def head_of(header: pathlib.Path) -> str:
    """The text at the head of a law: the lines that begin with ``///`` before its namespace."""
    lines = []
    for line in header.read_text(encoding="utf-8").splitlines():
        if line.startswith("namespace"):
            break
        if line.startswith("///"):
            lines.append(line[3:].removeprefix(" "))
    return "\n".join(lines)


def inline(text: str) -> str:
    """`code`, **bold** and links of Markdown as reStructuredText; what is a mark there stays as it is here."""
    parts = re.split(r"(`[^`]+`|\[[^]]+\]\([^)]+\)|\*\*[^*]+\*\*)", text)
    for i, part in enumerate(parts):
        if i % 2 == 0:
            parts[i] = re.sub(r"([*_|\\])", r"\\\1", part)
        elif part.startswith("`"):
            parts[i] = f"\\ ``{part.strip('`')}``\\ "
        elif part.startswith("["):
            parts[i] = re.sub(r"([*_|\\`])", r"\\\1", part[1 : part.index("](")])
        else:
            parts[i] = f"\\ {part}\\ "
    return "".join(parts)


def table(rows: list[str]) -> list[str]:
    """A table of Markdown as one of lists."""
    cells = [[cell.replace("\\|", "|").strip() for cell in re.split(r"(?<!\\)\|", row.strip().strip("|"))] for row in rows]
    cells = [row for row in cells if not all(set(cell) <= set("-: ") for cell in row)]
    width = max(len(row) for row in cells)
    out = [".. list-table::", "   :header-rows: 1", ""]
    for row in cells:
        for i, cell in enumerate(row + [""] * (width - len(row))):
            out.append(("   * - " if i == 0 else "     - ") + inline(cell))
    return [*out, ""]


def raw(html: str) -> list[str]:
    return [".. raw:: html", "", f"   {html}", ""]


def rst(markdown: str, with_equations: bool = False) -> str:
    """Markdown as the heads of laws and docs/ have it: paragraphs, headings, tables, lists, code; ``with_equations`` what is indented and no
    code is an equation on each line."""
    out: list[str] = []
    lines = markdown.splitlines()
    i = 0
    while i < len(lines):
        line = lines[i]
        if line.startswith("```"):
            end = next(k for k in range(i + 1, len(lines)) if lines[k].startswith("```"))
            out += ["", "::", "", *("   " + text for text in lines[i + 1 : end]), ""]
            i = end + 1
        elif line.startswith("|"):
            end = next((k for k in range(i, len(lines)) if not lines[k].startswith("|")), len(lines))
            out += ["", *table(lines[i:end])]
            i = end
        elif line.startswith("   ") and line.strip():
            end = next((k for k in range(i, len(lines)) if lines[k] and not lines[k].startswith("   ")), len(lines))
            block = [text for text in lines[i:end] if text.strip()]
            if with_equations and not equations.is_code(block):
                out += ["", *(text for equation in block for text in raw(f'<div class="equation">{equations.mathml(equation)}</div>'))]
            else:
                out += ["", "::", "", *(" " + text for text in lines[i:end]), ""]
            i = end
        elif line.startswith("#"):
            title = inline(line.lstrip("# "))
            out += ["", title, {1: "=", 2: "-", 3: "~"}[len(line) - len(line.lstrip("#"))] * len(title), ""]
            i += 1
        else:
            out.append(inline(line))
            i += 1
    return "\n".join(out) + "\n"


def theory(root: pathlib.Path) -> str:
    """A section for each law, those of wear in wood last."""
    laws = root / "sim" / "laws"
    own = sorted(laws.glob("*.hpp"))
    wear = sorted((laws / "wear").glob("*.hpp"))
    out = ["# Theory", "", "Each law of the model as it stands at the head of its source: equation, symbols with their units, assumptions, source.", ""]
    for heading, headers in (("Honing, stropping, testing", own), ("Wear in wood", wear)):
        out += [f"## {heading}", ""]
        for header in headers:
            text = head_of(header)
            if "|" in text:  # those that state a law have a table of symbols
                out += [f"### {header.stem.replace('_', ' ')}", "", f"`{header.relative_to(root)}`", "", text, ""]
    return rst("\n".join(out), with_equations=True)


def reference() -> str:
    """Every public name of the package: functions, then classes."""
    functions, classes = [], []
    for name in arris.__all__:
        thing = getattr(arris, name)
        if inspect.isclass(thing):
            classes += [f".. autoclass:: arris.{name}", "   :members:", ""]
        elif callable(thing):
            functions += [f".. autofunction:: arris.{name}", ""]
    about = re.sub(r":\w+:`([^`]+)`", r"`\1`", inspect.getdoc(arris) or "").replace("``", "`")
    parts = ["Python package", "==============", "", ".. module:: arris", "", rst(about), "Functions", "---------", "", *functions, "Classes", "-------", "", *classes]
    return "\n".join(parts)


def write(root: pathlib.Path, folder: pathlib.Path) -> None:
    """Writes all of them into a folder."""
    static = folder / "_static"
    static.mkdir(exist_ok=True)
    (static / "equations.css").write_text(".equation { overflow-x: auto; margin: 0.6em 0 }\n.equation math { text-align: left }\n", encoding="utf-8")
    (folder / "theory.rst").write_text(theory(root), encoding="utf-8")
    (folder / "reference.rst").write_text(reference(), encoding="utf-8")
    for name in ("results", "recipes", "promises"):
        (folder / f"{name}.rst").write_text(rst((root / "docs" / f"{name}.md").read_text(encoding="utf-8")), encoding="utf-8")
