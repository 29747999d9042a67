# SPDX-License-Identifier: MIT
"""Equations as the heads of the laws have them, in Unicode, to MathML, which browsers set without a script or a network.

    ``dr/dn = −( v/(1 − sin α) )·[ 1 − (r∞/r)^m ]``

``·`` and ``/`` bind alike, from the left: ``a·b/c`` is a·b over c. What stands together binds closer: ``a/2b`` is a over 2b. Words are
words. What is not understood raises ``ValueError`` with the equation and the place.
"""

from __future__ import annotations

import html
import re
from typing import NamedTuple

FUNCTIONS = {"sin", "cos", "tan", "cot", "ln", "exp", "pos", "step"}
UNITS = {"µm", "mm", "nm", "Pa", "kPa", "MPa", "GPa", "gf"}
SUBSCRIPTS = dict(zip("₀₁₂₃₄₅₆₇₈₉ₘ", "0123456789m", strict=True))
SUPERSCRIPTS = {**dict(zip("⁰¹²³⁴⁵⁶⁷⁸⁹", "0123456789", strict=True)), "⁻": "−"}
FRACTIONS = {"¼": ("1", "4"), "½": ("1", "2")}
OPERATORS = "+−±=≤≥<>⇒∝→←≈∫,;:*"
CLOSING = {"(": ")", "[": "]"}

TOKENS = re.compile(
    r"(?P<gap>\s{2,}|\t)|(?P<space>\s)|(?P<number>\d+(?:\.\d+)?)|(?P<word>[^\W\d_]+[\u0304\u0303]?)"
    r"|(?P<under>_)|(?P<power>\^)|(?P<times>[·×/])|(?P<root>√)|(?P<open>[(\[])|(?P<close>[)\]])|(?P<prime>[′]+)|(?P<sign>.)"
)


class Token(NamedTuple):
    kind: str
    text: str
    place: int
    near: bool  # nothing stands between it and what is before it


def split_word(text: str) -> list[str]:
    """A run of letters and signs like ``ψ₀²`` where Unicode counts all of them as letters."""
    lower, upper = "".join(SUBSCRIPTS), "".join(SUPERSCRIPTS) + "".join(FRACTIONS)
    return [part for part in re.split(f"([{lower}]+|[{upper}]+)", text) if part]


def tokens_of(text: str) -> list[Token]:
    found: list[Token] = []
    near = False
    for match in TOKENS.finditer(text):
        kind = match.lastgroup or "sign"
        if kind == "space":
            near = False
            continue
        for part in split_word(match.group()) if kind in ("word", "sign", "number") else [match.group()]:
            if all(c in SUBSCRIPTS for c in part):
                part_kind = "lower"
            elif all(c in SUPERSCRIPTS or c in FRACTIONS for c in part):
                part_kind = "upper"
            else:
                part_kind = kind
            found.append(Token(part_kind, part, match.start(), near and kind != "gap"))
            near = kind != "gap"
    return found


def element(name: str, content: str, attributes: str = "") -> str:
    return f"<{name}{attributes}>{content}</{name}>"


def row(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else element("mrow", "".join(parts))


def letter(text: str) -> str:
    """A symbol; with more than one letter it stands upright, as names do."""
    bare = text.rstrip("\u0304")
    if bare != text:
        return element("mover", letter(bare) + "<mo>¯</mo>", ' accent="true"')
    return element("mi", html.escape(text))


def is_differential(word: str) -> bool:
    return len(word) == 2 and word[0] == "d"


def is_prose(word: str) -> bool:
    return len(word.rstrip("\u0304")) > 1 and word not in FUNCTIONS and word not in UNITS and not is_differential(word)


class Bracketed(str):
    """What came in parentheses, with them; ``inside`` is without."""

    inside: str


def without_parentheses(part: str) -> str:
    return part.inside if isinstance(part, Bracketed) else part


class Parser:
    def __init__(self, text: str) -> None:
        self.text = text
        self.tokens = tokens_of(text)
        self.at = 0

    def now(self) -> Token | None:
        return self.tokens[self.at] if self.at < len(self.tokens) else None

    def take(self) -> Token:
        self.at += 1
        return self.tokens[self.at - 1]

    def fail(self, what: str) -> ValueError:
        token = self.now()
        return ValueError(f"{what} at {token.place if token else len(self.text)} of the equation: {self.text}")

    def all(self) -> str:
        parts = self.parts_until(None)
        if self.now() is not None:
            raise self.fail("a closing bracket without an opening one")
        return row(parts)

    def parts_until(self, closing: str | None) -> list[str]:
        parts: list[str] = []
        while (token := self.now()) is not None and token.kind != "close":
            if token.kind == "gap":
                self.take()
                following = self.now()
                # blanks that only stand equal signs below one another are none
                if parts and following is not None and following.text != "=":
                    parts.append('<mspace width="2em"></mspace>')
            elif token.kind == "word" and is_prose(token.text):
                parts.append(self.term(self.prose()))
            elif token.kind == "sign" and token.text in OPERATORS:
                parts.append(element("mo", html.escape(self.take().text)))
            elif token.kind == "sign" and not token.text.isalnum() and token.text not in "∞°":
                parts.append(element("mtext", html.escape(self.take().text)))
            else:
                parts.append(self.term())
        if closing is not None and (token is None or token.text != closing):
            raise self.fail(f"no {closing}")
        if not parts:
            raise self.fail("nothing")
        return parts

    def prose(self) -> str:
        words = [self.take().text]
        while (token := self.now()) is not None and token.kind == "word" and (is_prose(token.text) or self.is_article()):
            words.append(self.take().text)
        return element("mtext", "&#160;" + html.escape(" ".join(words)) + "&#160;")

    def is_article(self) -> bool:
        """Whether an ``a`` before a word is one too, and no symbol."""
        here, behind = self.tokens[self.at], self.tokens[self.at + 1 : self.at + 2]
        return here.text == "a" and bool(behind) and behind[0].kind == "word" and is_prose(behind[0].text)

    def term(self, begun: str | None = None) -> str:
        """Factors with · and / between them, from the left."""
        left = self.together() if begun is None else begun
        while (token := self.now()) is not None and token.kind == "times":
            sign = self.take().text
            right = self.together()
            if sign == "/":
                left = element("mfrac", without_parentheses(left) + without_parentheses(right))
            else:
                left = element("mrow", left + f"<mo>{sign}</mo>" + right)
        return left

    def begins_factor(self, token: Token | None) -> bool:
        if token is None:
            return False
        if token.kind == "word":
            return not is_prose(token.text)
        return token.kind in ("number", "root", "open") or token.text == "°"

    def together(self) -> str:
        """What stands side by side: 2w, f(n), sin α."""
        parts = [self.factor()]
        while self.begins_factor(self.now()):
            if isinstance(parts[-1], Bracketed) and not self.tokens[self.at].near:
                break
            parts.append(self.factor())
        return parts[0] if len(parts) == 1 else element("mrow", "".join(parts))

    def factor(self) -> str:
        token = self.now()
        if token is None:
            raise self.fail("no number or symbol")
        if token.kind == "root":
            self.take()
            return element("msqrt", without_parentheses(self.factor()))
        if token.kind == "word" and token.text in FUNCTIONS:
            self.take()
            return self.scripts(element("mi", token.text)) + "<mo>&#8289;</mo>"
        return self.scripts(self.atom())

    def atom(self) -> str:
        token = self.take()
        if token.kind == "number":
            return element("mn", token.text)
        if token.kind == "open":
            closing = CLOSING[token.text]
            inside = row(self.parts_until(closing))
            self.take()
            high = "<mfrac" in inside or "<msqrt" in inside
            fence = "<mo>" if high else '<mo stretchy="false">'
            whole = Bracketed(element("mrow", f"{fence}{token.text}</mo>{inside}{fence}{closing}</mo>"))
            whole.inside = inside if token.text == "(" else str(whole)
            return whole
        if token.kind == "word":
            if token.text in UNITS:
                return element("mi", html.escape(token.text), ' mathvariant="normal"')
            if is_differential(token.text):
                return element("mrow", element("mi", "d", ' mathvariant="normal"') + letter(token.text[1]))
            return letter(token.text)
        if token.text in ("∞", "°"):
            return element("mo", token.text)
        self.at -= 1
        raise self.fail("no number or symbol")

    def scripts(self, base: str) -> str:
        """What stands below and above it, and primes."""
        lower: list[str] = []
        upper: list[str] = []
        while (token := self.now()) is not None:
            if token.kind == "lower":
                lower.append(element("mn", "".join(SUBSCRIPTS[c] for c in self.take().text)))
            elif token.text == "∞" and token.near:
                self.take()
                lower.append("<mo>∞</mo>")
            elif token.kind == "under":
                self.take()
                name = self.take()
                if name.kind not in ("word", "number") and name.text != "∞":
                    self.at -= 1
                    raise self.fail("no index")
                lower.append(element("mi", html.escape(name.text)))
            elif token.kind == "upper":
                upper.append(self.raised(self.take().text))
            elif token.kind == "power":
                self.take()
                token = self.now()
                upper.append(self.raised(self.take().text) if token is not None and token.kind == "upper" else without_parentheses(self.atom()))
            elif token.kind == "prime":
                upper.append(element("mo", self.take().text))
            else:
                break
        if lower and upper:
            return element("msubsup", base + row(lower) + row(upper))
        if lower:
            return element("msub", base + row(lower))
        return element("msup", base + row(upper)) if upper else base

    def raised(self, text: str) -> str:
        if text in FRACTIONS:
            return element("mfrac", "".join(element("mn", n) for n in FRACTIONS[text]))
        return element("mn", "".join(SUPERSCRIPTS[c] for c in text))


def mathml(equation: str) -> str:
    """One equation on a line of its own; its text as it was written goes along, for readers of screens and for copying."""
    content = Parser(equation.strip()).all()
    text = re.sub(r"\s+", " ", equation.strip())
    return (
        f'<math xmlns="http://www.w3.org/1998/Math/MathML" display="block"><semantics>{content}'
        f'<annotation encoding="text/plain">{html.escape(text)}</annotation></semantics></math>'
    )


def is_code(lines: list[str]) -> bool:
    """Whether an indented block at the head of a law is an example in C++."""
    return any("//" in line or line.rstrip().endswith((";", "{", "}")) for line in lines)
