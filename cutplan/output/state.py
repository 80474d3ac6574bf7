"""A plan as exact text and back, so that a saw list can carry the plan it shows.

Fractions and decimals go as text, enums by value, tuples as lists, texts made on demand as such; fields at their
defaults are left out.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import MISSING, fields, is_dataclass, replace
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cache
from types import NoneType, UnionType
from typing import Any, get_args, get_origin, get_type_hints

from cutplan.plan.model import Plan

FORMAT = 2
"""Changed when an older plan could no longer be read."""


def freeze(plan: Plan) -> str:
    """``plan`` as one line of JSON, the same for the same plan."""
    return json.dumps({"format": FORMAT, "plan": _out(plan)}, ensure_ascii=False, separators=(",", ":"))


def origin_of(plan: Plan) -> str:
    """The name of ``plan``'s job on a rack: the same for all the plans that follow from one, and no other's."""
    # Wherever its file is, it is the same job.
    text = freeze(replace(plan, source=None))
    return plan.origin or f"{plan.job.settings.name} {hashlib.sha256(text.encode()).hexdigest()[:10]}"


def thaw(text: str) -> Plan:
    """The plan that :func:`freeze` wrote. Raises ValueError where it is none, or of another format."""
    try:
        data = json.loads(text)
        if data["format"] != FORMAT:
            raise ValueError(f"written in format {data['format']}, this reads {FORMAT}")
        plan = _in(Plan, data["plan"])
    except (KeyError, TypeError, AttributeError, ArithmeticError, json.JSONDecodeError) as error:
        raise ValueError("not a plan") from error
    assert isinstance(plan, Plan)
    return plan


def _out(value: Any) -> Any:
    if is_dataclass(value):
        return {
            field.name: _out(content)
            for field in fields(value)
            if (content := getattr(value, field.name)) != field.default or field.default is MISSING
        }
    if isinstance(value, tuple):
        return [_out(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Fraction | Decimal):
        return str(value)
    return value() if callable(value) else value


def _in(kind: Any, data: Any) -> Any:
    if isinstance(kind, UnionType):
        return None if data is None else _in(next(arg for arg in get_args(kind) if arg is not NoneType), data)
    if get_origin(kind) is tuple:
        inner = get_args(kind)
        if len(inner) == 2 and inner[1] is Ellipsis:
            return tuple(_in(inner[0], item) for item in data)
        return tuple(_in(one, item) for one, item in zip(inner, data, strict=True))
    made: Any = kind
    if is_dataclass(kind):
        return made(**{name: _in(_hints(made)[name], content) for name, content in data.items()})
    if isinstance(kind, type) and issubclass(kind, Enum | Fraction | Decimal):
        return kind(data)
    if not isinstance(data, int | float if kind is float else kind) or (kind is not bool and isinstance(data, bool)):
        raise TypeError(f"{data!r} is no {kind.__name__}")
    return data


@cache
def _hints(kind: Any) -> dict[str, Any]:
    return get_type_hints(kind)
