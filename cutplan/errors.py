"""The bases of every error this project raises on purpose, and the one form in which what is wrong is reported.

What cannot be used, a cell, a saw list or a file, is reported in four parts: the place, the value received, the
rule that it breaks, the cure.
"""

from __future__ import annotations

_MOST_QUOTED = 80


class CutplanError(Exception):
    """Base of all errors meant for a person; ``str()`` of one is what the person reads."""


class FaultError(CutplanError, ValueError):
    """Base of the errors about one thing that cannot be used: the rule it breaks, the value received, the cure.

    ``where`` it is, if that is known where the error is raised: a place, or the name of a file.
    """

    def __init__(self, rule: str, got: str | None = None, cure: str = "", where: object = "") -> None:
        super().__init__(rule, got, cure, where)
        self.rule, self.got, self.cure, self.where = rule, got, cure, where

    def __str__(self) -> str:
        return report(self.where, self.rule, self.got, self.cure)


def report(where: object, rule: str, got: str | None = None, cure: str = "") -> str:
    """The one form that every fault is reported in; the parts that are empty are left out."""
    parts = (str(where), "" if got is None else f'"{_quoted(got)}"', rule)
    return _seen(": ".join(part for part in parts if part) + (f" ({cure})" if cure else ""))


def _seen(text: str) -> str:
    """``text`` on one line, with a mark in place of every character that cannot be seen or printed."""
    if text.isprintable():
        return text
    return "".join(
        each if each.isprintable() else " " if each.isspace() else "\N{REPLACEMENT CHARACTER}" for each in text
    )


def _quoted(text: str) -> str:
    """The beginning of ``text``: enough to know a cell by."""
    return text if len(text) <= _MOST_QUOTED else text[:_MOST_QUOTED] + "…"
