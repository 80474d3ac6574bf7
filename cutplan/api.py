"""Everything the command line does, for Python: ``import cutplan``.

Lengths inside are exact fractions of millimetres, in any units of the job; tables are in its units. Each call
raises an error with the place, the rule and the cure, as the commands show it (all of them are
:class:`cutplan.errors.CutplanError`).

>>> import cutplan
>>> job = cutplan.read_job("examples/ladder-frame.xlsx")
>>> plan = cutplan.make_plan(job)
>>> plan.proven
True
>>> plan.tables["buy"][["tube", "length", "bars"]].values.tolist()
[['rail', 240.0, 1], ['rail', 96.0, 1], ['rung', 240.0, 1]]
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from cutplan.errors import CutplanError

if TYPE_CHECKING:
    from cutplan.job.faults import Fault, Remark
    from cutplan.output.worked import Checked, Ticked
    from cutplan.plan import Limits
    from cutplan.plan.measuring import Measuring
    from cutplan.plan.model import Option, Plan
    from cutplan.plan.prepare import Prepared
    from cutplan.plan.recut.rest import Recut
    from cutplan.plan.recut.ticks import Tick


def read_job(
    path: str | Path,
    *,
    rack: str | Path | None = None,
    taken: bool = False,
    spares: int | None = None,
    fitted: str | None = None,
) -> Prepared:
    """A job from a workbook or a folder of CSV files: ``.job``, its ``.blanks``, and ``.remarks``.

    ``rack``: a rack's file, whose pieces are stock too; ``taken``: also those that other jobs have taken.
    ``spares`` and ``fitted`` ("after all cuts" or "one at a time") override the job's own. Raises JobError with every
    fault of the tables and of the geometry.

    >>> job = read_job("examples/sand-rail-bay.xlsx")
    >>> [(blank.mark, float(blank.length)) for blank in job.blanks[:3]]
    [('HOOP', 2787.0), ('BS-L', 1211.0), ('BS-R', 1211.0)]
    """
    from cutplan.job.model import Fitted
    from cutplan.plan import prepare

    prepared = prepare(Path(path), None if rack is None else Path(rack), taken=taken)
    settings = prepared.job.settings
    if spares is not None:
        settings = replace(settings, spares=spares)
    if fitted is not None:
        settings = replace(settings, fitted=Fitted(fitted))
    return replace(prepared, job=replace(prepared.job, settings=settings))


def buying_options(
    job: Prepared, *, spares: int = 2, seconds: float | None = None, limits: Limits | None = None
) -> tuple[Option, ...]:
    """Every step at which the cost changes, cheapest first, up to ``spares`` mistakes made good.

    ``seconds``: how long to search at most; what is not proven then says so. ``limits``, here and below: in place of
    ``seconds``, with a report of progress and a way to stop. Raises StockError, NoPlanInTimeError.

    >>> options = buying_options(read_job("examples/ladder-frame.xlsx"), spares=1)
    >>> options[0].spares, options[0].proven
    (1, True)
    """
    from cutplan.plan import Limits
    from cutplan.plan.options import buying_options as found

    return found(job.job, job.blanks, limits=limits or Limits(seconds), most=spares)


def measuring_first(
    job: Prepared, *, seconds: float | None = None, limits: Limits | None = None
) -> tuple[Measuring, ...]:
    """Tube by tube what measuring estimated members before ordering could save: the cost at their greatest and at
    their likely lengths, what each member saves by itself, and the fewest that save as much as all.

    Empty where nothing is estimated. Raises NoPlanInTimeError.

    >>> stays = measuring_first(read_job("examples/roll-bar-in-place.xlsx"))[0]
    >>> stays.greatest.cost, stays.likely.cost, stays.fewest.members
    (Decimal('116.4'), Decimal('91.6'), ('STAY',))
    """
    from cutplan.plan import Limits
    from cutplan.plan.measuring import measuring_first as found

    return found(job.job, job.blanks, limits=limits or Limits(seconds))


def make_plan(
    job: Prepared, *, option: Option | None = None, seconds: float | None = None, limits: Limits | None = None
) -> Plan:
    """The plan of least cost that cuts every blank and keeps the spares; proved from scratch before it is returned.

    ``option``: one of :func:`buying_options` to follow, in place of the job's own spares. Raises StockError where the
    stock is not enough (with what can be cut and the least to buy), NoPlanInTimeError.

    >>> plan = make_plan(read_job("examples/sand-rail-bay.xlsx"))
    >>> plan.cost, plan.proven
    (Decimal('151.1'), True)
    """
    from cutplan.plan import Limits, proved
    from cutplan.plan import make_plan as made

    kept = None if option is None else {tube: (count, length) for tube, count, length in option.kept}
    plan = made(job.job, job.blanks, kept=kept, limits=limits or Limits(seconds), remarks=job.remarks)
    return proved(replace(plan, drawn=job.drawn, source=job.source))


def write_saw_list(plan: Plan, path: str | Path, *, force: bool = False) -> None:
    """Write the saw-list workbook. A list with ticks is not written over, unless by ``force``. Raises OutputError."""
    from cutplan.output.workbook import write_saw_list as written
    from cutplan.plan.recut.job_file import written_at
    from cutplan.plan.rough import with_rough_ends

    written(written_at(with_rough_ends(plan), Path(path)), Path(path), force=force)


def write_drawings(
    job: Prepared,
    path: str | Path,
    *,
    marks: Iterable[str] = (),
    paper: str | None = None,
    faults: Iterable[Fault] = (),
) -> int:
    """Write drawings of the frame and of the pieces outside it, or of the pieces ``marks`` alone, to a ``.pdf`` or
    ``.svg``; the number of sheets. ``paper``: "A4" or "Letter" (None: by the job's units). ``faults``: what is wrong
    with the job, to be written on them. Raises OutputError.
    """
    from cutplan.output.drawing_files import write_sheets
    from cutplan.output.pdf import Paper
    from cutplan.plan.tables.drawings import drawings

    short, long = Paper.of(paper, job.job.settings.units).value
    found: tuple[Fault | Remark, ...] = (*faults, *job.remarks)
    sheets = drawings(job.job, (*job.blanks, *job.standing), (long, short), tuple(marks), found)
    write_sheets(sheets, Path(path))
    return len(sheets)


def write_pack(
    plan: Plan,
    path: str | Path,
    *,
    only: Iterable[str] = (),
    paper: str | None = None,
    prices: bool = False,
    ticks: Sequence[Tick] = (),
) -> int:
    """Write the printed pack, a PDF; the number of its pages. ``only``: some of its parts: "order", "saw", "cards",
    "wraps", "frame". ``paper``: "A4" or "Letter" (None: by the job's units). ``prices``: on the order. ``ticks``: what
    has been ticked already. Raises OutputError, and ValueError for a part that does not exist."""
    from cutplan.output.pack import PARTS
    from cutplan.output.pack import write_pack as written
    from cutplan.output.pdf import Paper
    from cutplan.plan.rough import with_rough_ends
    from cutplan.plan.tables import Tables

    parts = tuple(only) or PARTS
    if strange := [part for part in parts if part not in PARTS]:
        raise ValueError(f"{strange[0]!r} is not a part of the pack; the parts are {', '.join(PARTS)}")
    sheet = Paper.of(paper, plan.job.settings.units)
    tables = Tables(with_rough_ends(plan))
    return written(tables, Path(path), parts=parts, paper=sheet, prices=prices, ticks=ticks)


def recut(
    path: str | Path,
    *,
    job: Prepared | None = None,
    as_planned: bool = False,
    bars: Iterable[tuple[str, str]] = (),
    spares: int | None = None,
    seconds: float | None = None,
) -> Recut:
    """Plan the rest of a ticked saw list: ``.plan`` (None: everything is cut) and ``.changes`` in words.

    ``job``: the job as it is now, to go on with; ``as_planned``: go on without the changes to the job since.
    ``bars``: those you have got since, as (tube, length as in a job, such as "3 m"). ``spares``: keep so many, even if
    that costs. Raises SawListError, JobError for ticks that contradict each other, JobChangedError where the job has
    changed in its file and neither was given, StockError, NoPlanInTimeError.
    """
    from cutplan.job.units import parse_length
    from cutplan.output.worked import ticked
    from cutplan.plan import Limits

    sawlist = ticked(Path(path), job, as_planned=as_planned)
    units = sawlist.plan.job.settings.units
    return rest_of(sawlist, [(tube, parse_length(text, units)) for tube, text in bars], spares, Limits(seconds))


def rest_of(sawlist: Ticked, got: Sequence[tuple[str, Fraction]], spares: int | None, limits: Limits) -> Recut:
    """As :func:`recut`, of a list that is read. ``got``: the bars got since, their lengths in mm."""
    from cutplan.output.state import origin_of
    from cutplan.plan import proved
    from cutplan.plan.recut.rest import recut as planned

    plan, now = sawlist.plan, sawlist.now
    result = planned(plan, sawlist.ticks, sawlist.notes, got=got, spares=spares, now=now, limits=limits)
    if result.plan is None:
        return result
    return replace(result, plan=replace(proved(result.plan), origin=origin_of(plan)))


def check(path: str | Path, job: Prepared | None = None) -> Checked:
    """Prove a saw list, or the JSON of a plan (which needs its ``job``), from scratch: ``.wrong`` is empty if it holds.

    Raises SawListError or PlanFileError for a file that cannot be read, CutplanError for JSON without its job.
    """
    from cutplan.output.read_back import plan_of_json
    from cutplan.output.worked import Checked, check_list
    from cutplan.plan.verify.carried import verify

    file = Path(path)
    if file.suffix.lower() != ".json":
        return check_list(file, job)
    if job is None:
        raise JobNeededError
    plan = plan_of_json(file, job.job, job.blanks)
    return Checked(plan, verify(plan))


class JobNeededError(CutplanError):
    """The JSON of a plan is checked against its job, and none was given."""

    def __str__(self) -> str:
        return "the JSON of a plan is checked against its job: give the job too"
