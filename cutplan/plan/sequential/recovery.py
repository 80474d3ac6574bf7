"""Fitted one at a time, if a cut is spoilt: from which bar it is cut again, and which other pieces then move where.

The recovery with the fewest moves is named: into what a bar has over (the shortest that serves); else into the place
of one, two or three pieces that move elsewhere; else what the exact search finds. Each is kept with the whole new
layout, so that it can be checked by adding up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement

from cutplan.plan.model import SPOILT_PIECE, Bar, Recovery
from cutplan.plan.sequential.course import Course
from cutplan.plan.sequential.repack import Repacker


@dataclass(frozen=True, slots=True)
class _After:
    """Just after a spoilt cut. ``rooms``: of each bar, then of the spoilt piece. ``planned``: the kinds still to be cut
    from each of these, ``marks``: their marks."""

    kind: int
    mark: str
    rooms: tuple[int, ...]
    planned: tuple[tuple[int, ...], ...]
    marks: tuple[tuple[str, ...], ...]


def with_course_recoveries(course: Course, bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """``bars``, which are those of ``course``, with every cut's recovery filled in."""
    repacker = Repacker([kind.length for kind in course.kinds], course.kerf)
    names = (*(bar.name for bar in bars), SPOILT_PIECE)
    found = iter([_recovery(after, names, bars, repacker) for after in _mistakes(course, bars)])
    by_number = {number: next(found) for number in sorted(cut.number for bar in bars for cut in bar.cuts)}
    return tuple(bar.with_cuts(lambda cut: replace(cut, if_spoilt=by_number[cut.number])) for bar in bars)


def _mistakes(course: Course, bars: Sequence[Bar]) -> Iterator[_After]:
    """A mistake at each cut, in their order."""
    rooms = list(course.rooms)
    planned: list[list[int]] = [[kind for at, kind in course.steps if at == bar] for bar in range(len(rooms))]
    marks = [[cut.mark for cut in bar.cuts] for bar in bars]
    for bar, kind in course.steps:
        rooms[bar] -= course.kinds[kind].length + course.kerf
        planned[bar].pop(0)
        mark = marks[bar].pop(0)
        salvage = course.kinds[kind].salvage
        yield _After(
            kind,
            mark,
            (*rooms, salvage + course.kerf if salvage else 0),
            (*map(tuple, planned), ()),
            (*map(tuple, marks), ()),
        )


def _recovery(after: _After, names: Sequence[str], bars: Sequence[Bar], repacker: Repacker) -> Recovery | None:
    layout = _into_the_rest(after, repacker) or _moving_few(after, repacker) or _anyhow(after, repacker)
    if layout is None:
        return None
    placed, moves = _by_mark(after, layout)
    at = next(place for place, marks in moves.items() if after.mark in marks)
    moves[at].remove(after.mark)
    said = [f"{_listed(marks)} to {_place(names[place])}" for place, marks in moves.items() if marks]
    bar = bars[at] if at < len(bars) else None
    assert bar is not None  # a spoilt piece is too short for what it was to be
    if said:
        how = f"from bar {bar.name}; then move {', '.join(said)}"
    elif bar.cuts:
        how = f"from what is left of bar {bar.name}"
    else:
        how = f"from bar {bar.name}, kept whole"
    return Recovery(
        bar.name, how, tuple((name, tuple(marks)) for name, marks in zip(names, placed, strict=True) if marks)
    )


def _slack(after: _After, repacker: Repacker) -> list[int]:
    return [
        room - sum(repacker.weights[kind] for kind in kinds)
        for room, kinds in zip(after.rooms, after.planned, strict=True)
    ]


def _into_the_rest(after: _After, repacker: Repacker) -> list[list[int]] | None:
    """The spoilt piece in the shortest rest that serves once everything is cut."""
    weight = repacker.weights[after.kind]
    serving = [(slack, bar) for bar, slack in enumerate(_slack(after, repacker)[:-1]) if slack >= weight]
    if not serving:
        return None
    layout = [list(kinds) for kinds in after.planned]
    layout[min(serving)[1]].append(after.kind)
    return layout


def _moving_few(after: _After, repacker: Repacker) -> list[list[int]] | None:
    """The spoilt piece in the place of as few others as will do, these in what is left elsewhere."""
    slack, weights = _slack(after, repacker), repacker.weights
    for size in (1, 2, 3):
        for bar, kinds in enumerate(after.planned[:-1]):
            had = Counter(kinds)
            for out in combinations_with_replacement(sorted(had), size):
                over = slack[bar] + sum(weights[kind] for kind in out) - weights[after.kind]
                if over < 0 or Counter(out) - had:
                    continue
                rooms = [*slack[:bar], over, *slack[bar + 1 :]]
                layout = [list(kinds) for kinds in after.planned]
                layout[bar].append(after.kind)
                for kind in out:
                    serving = [(room, at) for at, room in enumerate(rooms) if at != bar and room >= weights[kind]]
                    if not serving:
                        break
                    at = min(serving)[1]
                    rooms[at] -= weights[kind]
                    layout[bar].remove(kind)
                    layout[at].append(kind)
                else:
                    return layout
    return None


def _anyhow(after: _After, repacker: Repacker) -> list[list[int]] | None:
    wanted = Counter(kind for kinds in after.planned for kind in kinds)
    wanted[after.kind] += 1
    layout = repacker.lay([wanted[kind] for kind in range(len(repacker.weights))], after.rooms)
    return None if layout is None else [list(kinds) for kinds in layout]


def _by_mark(after: _After, layout: Sequence[Sequence[int]]) -> tuple[list[list[str]], dict[int, list[str]]]:
    """The marks at each place, and those that are new there. Each place keeps of its own what it can; the spoilt
    mark goes first to where its kind is wanted."""
    placed: list[list[str]] = []
    pool: dict[int, list[str]] = {after.kind: [after.mark]}
    short: list[tuple[int, int]] = []
    for place, (kinds, planned, marks) in enumerate(zip(layout, after.planned, after.marks, strict=True)):
        wanted = Counter(kinds)
        keeps = []
        for kind, mark in zip(planned, marks, strict=True):
            if wanted[kind]:
                wanted[kind] -= 1
                keeps.append(mark)
            else:
                pool.setdefault(kind, []).append(mark)
        placed.append(keeps)
        short += [(place, kind) for kind in sorted(wanted) for _ in range(wanted[kind])]
    moves: dict[int, list[str]] = {}
    for place, kind in short:
        mark = pool[kind].pop(0)
        placed[place].append(mark)
        moves.setdefault(place, []).append(mark)
    return placed, moves


def _listed(marks: Sequence[str]) -> str:
    counts = Counter(marks)
    return " and ".join(f"{count} {mark}" if count > 1 else mark for mark, count in counts.items())


def _place(name: str) -> str:
    return name if name == SPOILT_PIECE else f"bar {name}"
