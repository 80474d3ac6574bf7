"""Frozen dataclasses as what JSON can hold, and back: what a saw list carries and what other programs are given.

A field at its default is left out, one without a default is always there; a field called ``from_`` is ``from``. Tuples
are lists, enumerations their values, texts made on demand plain texts. Fractions are lengths in mm, decimals are money:
both are exact texts; or, where a ``unit`` (in mm) is given, plain numbers, lengths in it, of which :func:`read` keeps
the digits as they were written.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import MISSING, dataclass, fields, is_dataclass
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cache, partial
from types import NoneType, UnionType
from typing import Any, NoReturn, TypeVar, get_args, get_origin, get_type_hints

T = TypeVar("T")

_KINDS = {str: "a text", bool: "true or false", int: "a whole number", dict: "an object"}
_DIGITS, _PLACES = 12, 40
"""Before the point and behind it: more is no length and no money."""


class UnreadableError(ValueError):
    """Data that is not of the kind it should be: where, and why."""

    def __init__(self, where: str, rule: str) -> None:
        self.where, self.rule = where, rule
        super().__init__(f"{where}: {rule}" if where else rule)


def read(text: str) -> Any:
    """JSON with every number as it was written. Raises ValueError, RecursionError."""
    return json.loads(text, parse_float=_decimal, parse_int=_decimal, parse_constant=_decimal)


def encode(value: Any, unit: Fraction | None = None) -> Any:
    """``value``, or the dictionaries and lists it is in, as what JSON can hold."""
    if is_dataclass(value):
        return {
            field.name.rstrip("_"): encode(content, unit)
            for field in fields(value)
            if (content := getattr(value, field.name)) != field.default or field.default is MISSING
        }
    if isinstance(value, dict):
        return {key: encode(content, unit) for key, content in value.items()}
    if isinstance(value, tuple | list):
        return [encode(item, unit) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Fraction | Decimal):
        if unit is None:
            return str(value)
        number = value / unit if isinstance(value, Fraction) else value
        return int(number) if number == int(number) else float(number)
    return value() if callable(value) else value


def decode(kind: type[T], data: Any, unit: Fraction | None = None) -> T:
    """What :func:`encode` made of a ``kind``. Raises UnreadableError for anything else."""
    made = _decoded(kind, data, "", unit)
    assert isinstance(made, kind)
    return made


def _decoded(kind: Any, data: Any, at: str, unit: Fraction | None) -> Any:
    """``data`` as a ``kind``; ``at``: the way to it."""
    return _decoder(kind)(data, at, unit)


@cache
def _decoder(kind: Any) -> Callable[[Any, str, Fraction | None], Any]:
    """What makes a ``kind`` of data: found once, as a plan has thousands of values of a few kinds."""
    if isinstance(kind, UnionType):
        made = _decoder(_but_none(kind))
        return lambda data, at, unit: None if data is None else made(data, at, unit)
    if get_origin(kind) is tuple:
        return partial(_tuple, get_args(kind))
    kind = get_origin(kind) or kind
    if is_dataclass(kind):
        return partial(_dataclass, kind)
    if issubclass(kind, Enum):
        return partial(_word, kind)
    return partial(_number if issubclass(kind, Fraction | Decimal) else _plain, kind)


def _word(kind: type[Enum], data: Any, at: str, unit: Fraction | None) -> Enum:
    known = [one.value for one in kind]
    return kind(data) if data in known else _refuse(at, data, f"one of {', '.join(map(str, known))}")


def _plain(kind: type, data: Any, at: str, unit: Fraction | None) -> Any:
    if isinstance(data, Decimal) and data == int(data):
        data = int(data)
    fits = isinstance(data, int | float if kind is float else kind) and (kind is bool or not isinstance(data, bool))
    return data if fits else _refuse(at, data, _KINDS.get(kind, "a number"))


def _number(kind: type[Fraction | Decimal], data: Any, at: str, unit: Fraction | None) -> Fraction | Decimal:
    """A length or money."""
    if not isinstance(data, str if unit is None else Decimal):
        _refuse(at, data, "an exact number" if unit is None else "a number")
    try:
        number = kind(data if "/" in str(data) else _decimal(str(data)))
    except (ValueError, ArithmeticError):
        _refuse(at, data, "a number")
    return number * unit if unit is not None and isinstance(number, Fraction) else number


def _decimal(text: str) -> Decimal:
    """A number that a person can mean: one of millions of digits is refused before anything is calculated with it."""
    number = Decimal(text)
    if not (number.is_finite() and -_PLACES <= number.adjusted() <= _DIGITS and len(text) <= 2 * _PLACES):
        raise UnreadableError("", f"{text[:_PLACES]} is out of range")
    return number


def _tuple(kinds: tuple[Any, ...], data: Any, at: str, unit: Fraction | None) -> tuple[Any, ...]:
    if not isinstance(data, list):
        _refuse(at, data, "a list")
    if kinds[-1] is Ellipsis:
        kinds = kinds[:1] * len(data)
    elif len(kinds) != len(data):
        _refuse(at, data, f"{len(kinds)} values")
    return tuple(_decoded(one, item, f"{at}[{i}]", unit) for i, (one, item) in enumerate(zip(kinds, data, strict=True)))


def _dataclass(kind: Any, data: Any, at: str, unit: Fraction | None) -> Any:
    if not isinstance(data, dict):
        _refuse(at, data, "an object")
    hints = _hints(kind)
    for key, field in hints.items():
        if key not in data and field.needed:
            raise UnreadableError(at, f'"{key}" is missing')
    found = {}
    for key, value in data.items():
        if key not in hints:
            raise UnreadableError(at, f'"{key}" is not known here')
        found[hints[key].name] = _decoded(hints[key].kind, value, f"{at}.{key}" if at else key, unit)
    try:
        return kind(**found)
    except ValueError as error:
        raise UnreadableError(at, str(error)) from error


def _refuse(at: str, data: Any, what: str) -> NoReturn:
    where, _, key = at.rpartition(".")
    shown = str(data) if isinstance(data, Decimal) else repr(data)
    raise UnreadableError(where, f'"{key}" is {shown[:_PLACES]}, not {what}')


@dataclass(frozen=True, slots=True)
class _Field:
    """A field by its ``name``, what it is to be, and whether it must be there."""

    name: str
    kind: Any
    needed: bool


@cache
def _hints(kind: Any) -> dict[str, _Field]:
    """The fields of a dataclass, by their names in JSON."""
    hints = get_type_hints(kind)
    return {
        field.name.rstrip("_"): _Field(
            field.name, hints[field.name], field.default is MISSING and field.default_factory is MISSING
        )
        for field in fields(kind)
    }


def _but_none(kind: UnionType) -> Any:
    return next(one for one in get_args(kind) if one is not NoneType)
