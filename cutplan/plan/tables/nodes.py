"""The nodes of a frame as they came to be, and each tape reading against what the others say."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from cutplan.job.model import Job
from cutplan.plan.length_doubt import spot
from cutplan.plan.located import Located, Report
from cutplan.plan.moved_doubt import Doubts
from cutplan.plan.tables.columns import Kind, Text, Worked

if TYPE_CHECKING:
    from cutplan.survey import Reading

_NONE: Mapping[str, Doubts] = {}
_HARDLY = 10.0
"""Where the others know a reading so many times worse than its own ±, a slip of it may not show."""
_SAYS_LITTLE = 10.0
"""A reading that the others make known only to a greater part of its length than one in so many: no figure is shown."""


@dataclass(frozen=True, slots=True)
class NodeRow:
    """A node: where it is, the ± of each coordinate (None: open, 0: given), and the tubes that meet there.

    ``meeting``: those that end there first, then those that run through.
    """

    name: Text
    x: Worked
    x_doubt: Annotated[float | None, Kind.LENGTH, "± x"]
    y: Worked
    y_doubt: Annotated[float | None, Kind.LENGTH, "± y"]
    z: Worked
    z_doubt: Annotated[float | None, Kind.LENGTH, "± z"]
    meeting: Text


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """A reading: what the tape said, what the result makes of it (``miss``: the one less the other), what all other
    readings make of it, and what should be known of it."""

    between: Text
    read: Worked
    doubt: Annotated[float | None, Kind.LENGTH, "±"]
    calculated: Worked
    miss: Worked
    others: Annotated[float | None, Kind.LENGTH, "the others say"]
    others_doubt: Annotated[float | None, Kind.LENGTH, "± of that"]
    note: Text


def node_rows(job: Job, here: Located, moved: Mapping[str, Doubts] = _NONE) -> Iterator[NodeRow]:
    """A row a node of ``job``, both sides of a mirror. Of one that is not settled yet, as far as it is known.
    ``moved``: the ± of those that were moved onto a tube."""
    met: dict[str, dict[str, None]] = {node.name: {} for node in job.nodes}
    for member in job.members:
        if member.route is None:
            continue
        for name, end in ((member.route.nodes[0], member.end_a), (member.route.nodes[-1], member.end_b)):
            met[name][member.mark] = None
            met[name] |= {one.onto.member: None for one in end.saddles if one.onto.member is not None}
    for node in job.nodes:
        xyz: Sequence[float] = node.xyz
        doubts: tuple[float | None, ...] = (0.0, 0.0, 0.0)
        if here.found is not None:
            measured = here.found.place(node.base).doubts
            doubts = moved.get(node.name, moved.get(node.image or "", measured))
            xyz = spot(here.found, node, job) if here.faults else xyz
        yield NodeRow(node.name, xyz[0], doubts[0], xyz[1], doubts[1], xyz[2], doubts[2], ", ".join(met[node.name]))


def reading_rows(job: Job, here: Located) -> Iterator[ReadingRow]:
    """A row a reading of the survey of ``job``, which is as it was read."""
    if here.found is None or job.survey is None:
        return
    report = Report(job, job.survey, here.found)
    suspects: dict[int, bool] = {}
    for slip in here.found.slips:
        for number in slip.suspects[: 1 if slip.alone else None]:
            suspects.setdefault(number, slip.alone)
    for number, reading in enumerate(here.found.readings):
        said = reading.typed or (reading.others_doubt or 0.0) <= reading.value / _SAYS_LITTLE
        yield ReadingRow(
            report.named(reading),
            reading.value,
            reading.doubt,
            reading.computed,
            reading.miss,
            reading.others if said else None,
            reading.others_doubt if said else None,
            _note(number, reading, suspects),
        )


def _note(number: int, reading: Reading, suspects: dict[int, bool]) -> str:
    if reading.typed:
        return "typed in Nodes: check it"
    if reading.left_out or suspects.get(number):
        return "measure again; left out"
    if number in suspects:
        return "measure again: this or another is out"
    if reading.checked == 0:
        return "nothing checks it"
    return "hardly checked" if (reading.others_doubt or 0.0) > _HARDLY * reading.doubt else ""


def needed(here: Located) -> str:
    """How many readings there are beyond what is needed, in a sentence; empty without a survey."""
    if here.found is None:
        return ""
    spare, count = here.found.spare_readings, sum(not reading.typed for reading in here.found.readings)
    more = "none more" if spare == 0 else f"{spare} more"
    readings = f"{count} reading{'' if count == 1 else 's'}, {more} than needed."
    return f"{readings} A figure is within its ± nineteen times in twenty."
