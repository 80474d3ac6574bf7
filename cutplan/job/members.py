"""The ``Members`` sheet, with the bends and points that belong to it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from graphlib import CycleError, TopologicalSorter

from cutplan.job.bends import LAST_STRAIGHT, Draft, read_bends, read_points
from cutplan.job.cells import Cells, remark_length
from cutplan.job.ends import read_end
from cutplan.job.faults import Fault, Remark
from cutplan.job.landings import Lookup
from cutplan.job.material import Tubes, find_tube
from cutplan.job.model import Cut, End, Measured, Member, Settings, Units
from cutplan.job.nodes import Nodes, read_routes
from cutplan.job.tables import Tables, squash
from cutplan.job.units import Measure

MOST_PIECES = 20_000
"""Pieces of one job: far beyond any frame, and few enough to be planned."""


def read_members(tables: Tables, settings: Settings, tubes: Tubes, nodes: Nodes) -> list[Member]:
    """The sound members, none of them landing on a faulty one; faults and remarks go to ``tables``."""
    units = settings.units
    drafted = _drafts(tables, units, tubes, nodes)
    by_mark: dict[str, Draft] = {}
    for draft, _ in drafted:
        by_mark.setdefault(draft.key, draft)
    bends = read_bends(tables, units, by_mark)
    points = read_points(tables, units, by_mark)
    routes = read_routes(nodes, drafted, points)
    by_piece = {squash(f"{each.mark}{hand}"): each for each in by_mark.values() if each.pair for hand in ("-L", "-R")}
    names = [draft.mark for draft in by_mark.values() if draft.named] + [tube.name for tube in tubes.sound.values()]
    marks = tables.known("Members")
    drafts = {**by_mark, **by_piece}
    lookup = Lookup(tubes, drafts, bends, points, tuple(dict.fromkeys(names)), marks, nodes, routes.keys())
    members: list[Member] = []
    read: list[Member] = []
    pieces = 0
    for draft, cells in drafted:
        member = replace(_member(cells, draft, lookup), route=routes.get(draft.key))
        before, pieces = pieces, pieces + member.count * len(member.marks) * (not member.made)
        if before <= MOST_PIECES < pieces:
            cells.fault("qty", f"brings the job to more than {MOST_PIECES:,} pieces", "split it into several jobs")
        read.append(member)
        if cells.sound:
            members.append(member)
            tables.faults.extend(_rotation_faults(member))
            remark_length(cells, member.length, tables.remarks, member=True)
            if not cells.given("turn") and not member.made:
                _remark_turn(member, tables.remarks)
            tables.remarks.extend(cells.taped_remarks())
    rings = circles(read)
    tables.faults.extend(rings)
    ringed = {fault.place.row for fault in rings}
    return _landing_on_sound([member for member in members if member.place.row not in ringed])


def _drafts(tables: Tables, units: Units, tubes: Tubes, nodes: Nodes) -> list[tuple[Draft, Cells]]:
    """Each row's mark and tube; no two members, nor the sides of a pair, may carry one mark."""
    drafted: list[tuple[Draft, Cells]] = []
    taken: dict[str, Draft] = {}
    for row in tables.rows("Members"):
        cells = Cells(row, units, tables.faults)
        mark = cells.value("mark")
        pair = cells.value("pair")
        if pair is None:
            pair = not cells.given("pair") and nodes.halved(row)
        tube = find_tube(cells, "tube", tubes)
        if mark is None:
            # Read on under its place, so that the row's other faults are reported as well.
            drafted.append((Draft(str(row.place), tube, pair, row.place), cells))
            continue
        draft = Draft(mark, tube, pair, row.place)
        if pair and not cells.given("pair") and squash(mark).endswith(("-l", "-r")):
            rule = f"names one side, and the mirror makes both: {mark}-L and {mark}-R"
            cells.fault("mark", rule, f"call it {mark[:-2]}, and leave out the row of the other side")
        for piece in (mark, f"{mark}-L", f"{mark}-R") if pair else (mark,):
            other = taken.setdefault(squash(piece), draft)
            if other is not draft:
                where = f"row {other.place.row}"
                rule = f"is in {where} already" if piece == mark else f"its side {piece} has the same mark as {where}"
                cells.fault("mark", rule, "give each member a mark of its own")
                break
        if squash(mark) in tubes.named:
            cells.fault("mark", "is also the name of a tube", "give the member another mark")
        drafted.append((draft, cells))
    return drafted


def _member(cells: Cells, draft: Draft, lookup: Lookup) -> Member:
    bends, points = lookup.bends.sound.get(draft.key, ()), lookup.points.sound.get(draft.key, ())
    measured = cells.value("measured") or Measured.CENTRE
    values = cells.by_field(Member, "mark", "tube", "pair", "length", "end a", "end b")
    made = values.get("made", False)
    if made and "stage" in values:
        cells.fault("stage", "is given for a member that is made already", "clear it")
    measure = _length(cells, draft, lookup, made=made)
    end_a = read_end(cells, "a", draft, lookup, measured)
    end_b = read_end(cells, "b", draft, lookup, measured)
    turn = cells.value("turn")
    square = Cut.SQUARE in (end_a.cut, end_b.cut) and draft.key not in lookup.routed
    if turn and square and cells.sound:
        cells.fault("turn", "is used only if neither end is square", "clear it")
    return Member(
        mark=draft.mark,
        tube=draft.tube.name if draft.tube else "",
        count=cells.value("qty") or 1,
        pair=draft.pair,
        length=measure.length if measure else None,
        tolerance=measure.tolerance if measure else Fraction(0),
        end_a=end_a,
        end_b=end_b,
        turn_deg=turn or 0.0,
        turn_given=turn is not None,
        bends=bends,
        points=points,
        place=draft.place,
        **values,
    )


def _length(cells: Cells, draft: Draft, lookup: Lookup, *, made: bool) -> Measure | None:
    """The measured length, which is given in one place only: here, in Bends or in Points. What is ``made`` already may
    do without."""
    measure = cells.measure("length", positive=True)
    bent, pointed = draft.key in lookup.bends.named, draft.key in lookup.points.named
    if bent and pointed:
        rule = "has rows in Bends and is given by nodes" if cells.given("from") else "has rows in both Bends and Points"
        cells.fault("mark", rule, "keep one of the two")
    elif not (bent or pointed):
        known = draft.named and lookup.marks_known and lookup.bends.known and lookup.points.known
        if cells.given("length") or (known and not made):
            cells.need("length")
        elif not made:
            cells.sound = False  # its rows may be where a fault was reported
    elif cells.given("length"):
        where = "by nodes" if cells.given("from") else "in Bends" if bent else "in Points"
        comes = "it comes from the nodes" if cells.given("from") else "a bent length comes from its rows"
        cells.fault("length", f"is given here and {where}", f"clear it here: {comes}")
    # A fault in a member's rows on another sheet counts against the member too.
    for named, sound in ((lookup.bends.named, lookup.bends.sound), (lookup.points.named, lookup.points.sound)):
        if draft.key in named and draft.key not in sound:
            cells.sound = False
    return measure


def _rotation_faults(member: Member) -> list[Fault]:
    """A rotation in the first or last row of ``Bends`` turns from or to an end, which needs a short side."""
    if not member.bends:
        return []
    first, last = member.bends[0], member.bends[-1]
    faults = []
    # A bend turned by 0 from a square end says nothing, and is not wrong.
    if first.from_end_deg and member.end_a.cut is Cut.SQUARE:
        rule = "is given at the first bend, which has no bend before it, and end a is square"
        faults.append(Fault(first.place.at("rotation"), rule, f"{first.from_end_deg:g}", "leave it blank"))
    if last.from_end_deg is not None and member.end_b.cut is Cut.SQUARE:
        cure = "clear it, or add a row"
        faults.append(Fault(last.place.at("rotation"), LAST_STRAIGHT, f"{last.from_end_deg:g}", cure))
    elif last.from_end_deg is not None and member.end_a.cut is not Cut.SQUARE:
        rule = "turns end b from the last bend, but turn on Members already turns it from end a"
        faults.append(Fault(last.place.at("rotation"), rule, f"{last.from_end_deg:g}", "clear it"))
    return faults


def _remark_turn(member: Member, remarks: list[Remark]) -> None:
    """A member aslant at both ends, one of them coped, may lean either way, and a blank ``turn`` settles it unseen."""
    coped, placed = any(end.cut is Cut.COPE for end in member.ends), all(end.from_points for end in member.ends)
    if all(map(_aslant, member.ends)) and coped and not placed:
        text = (
            "is blank and taken as 0: before bending, the short sides of both ends are in line along the tube "
            "(write 0 if so)"
            if member.bends or len(member.points) > 2
            else "is blank and taken as 0: both short sides are on the same side, as on a brace across a corner "
            "(write 0 if so); a diagonal between parallel rails needs 180"
        )
        remarks.append(Remark(member.place.at("turn"), text))


def _aslant(end: End) -> bool:
    if end.cut is Cut.MITRE:
        return end.from_points or end.angle_deg != 0
    return end.cut is Cut.COPE and (end.from_points or any(saddle.angle_deg != 90 for saddle in end.saddles))


def _landing_on_sound(members: list[Member]) -> list[Member]:
    """``members`` without what they say of members that are not among them, whose fault is reported in their own rows.

    Such an end lands on the diameter alone; a member whose angle was to come from the other's points is left out.
    """
    left = {member.mark: member for member in members}
    placed: defaultdict[str, list[str]] = defaultdict(list)
    for member in members:
        for end in member.ends:
            if end.from_points:
                for onto in _marks(end):
                    placed[onto].append(member.mark)
    missing = [onto for onto in placed if onto not in left]
    while missing:
        for mark in placed[missing.pop()]:
            if left.pop(mark, None) is not None:
                missing.append(mark)
    return [
        replace(member, end_a=_loose(member.end_a, left), end_b=_loose(member.end_b, left)) for member in left.values()
    ]


def _loose(end: End, known: Mapping[str, Member]) -> End:
    if all(mark in known for mark in _marks(end)):
        return end
    saddles = (
        saddle if saddle.onto.member in known else replace(saddle, onto=replace(saddle.onto, member=None))
        for saddle in end.saddles
    )
    return replace(end, saddles=tuple(saddles))


def circles(members: list[Member]) -> list[Fault]:
    """A fault for each ring of members that all land on one another: none of them could be fitted first."""
    place = {member.mark: member.place for member in members}
    lands = {member.mark: {onto for end in member.ends for onto in _marks(end)} & place.keys() for member in members}
    faults: list[Fault] = []
    while ring := _ring(lands):
        first = min(range(len(ring)), key=lambda number: place[ring[number]].row or 0)
        ring = ring[first:] + ring[:first]
        rule = f"members land on one another in a loop: {' on '.join([*ring, ring[0]])}"
        cure = "give one of them an outside diameter to land on"
        faults.append(Fault(place[ring[0]].at("onto a"), rule, cure=cure))
        for mark in ring:
            del lands[mark]
    return faults


def _ring(lands: Mapping[str, set[str]]) -> list[str]:
    """A ring of members each of which lands on the next, and the last on the first; empty where there is none."""
    try:
        TopologicalSorter({mark: onto & lands.keys() for mark, onto in lands.items()}).prepare()
    except CycleError as error:
        # Given so that each is landed on by the next.
        return list(reversed(error.args[1][1:]))
    return []


def _marks(end: End) -> list[str]:
    return [saddle.onto.member for saddle in end.saddles if saddle.onto.member is not None]
