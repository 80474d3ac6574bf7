"""What a person reads in the terminal.

Nothing is shown by colour alone, and no number or mark is ever cut short.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from decimal import Decimal

from rich.console import Console

from cutplan.geometry.model import Blank
from cutplan.job.faults import JobError, listed
from cutplan.job.model import Job, Settings
from cutplan.job.rack import RackError
from cutplan.output import SHORT_CAUTION
from cutplan.output.bars_in_text import show_bars
from cutplan.output.text import TextColumn, heading, say, table
from cutplan.plan import wording
from cutplan.plan.compared import WayCost
from cutplan.plan.measuring import Measuring
from cutplan.plan.model import Option, Plan, Recovery, Shortage, StockError
from cutplan.plan.tables import StandingRow, Tables, assumed, bends_of, members_of
from cutplan.plan.tables.measuring import TITLE as NOT_KNOWING
from cutplan.plan.tables.measuring import measuring_blocks
from cutplan.plan.tables.nodes import NodeRow, ReadingRow
from cutplan.plan.tables.shops import shop_rows, ways_said

_NARROW = 100
"""Characters below which a table of many columns says less, rather than fold it."""

_MOST_FAULTS, _FAULTS = 60, 40
"""So many faults are reported in full; of more only the first few."""


def show_plan(plan: Plan, console: Console) -> None:
    """Buy list, bars to scale, saw list, spares, proof and caution."""
    tables = Tables(plan)
    settings = tables.settings
    heading(console, f"Plan: {settings.name}", f"lengths in {wording.unit_name(settings)}")
    heading(console, "Buy")
    if tables.buy:
        _buy(tables, console)
    else:
        say(console, "Nothing to buy: the tube you have is enough.")
    for sentence in tables.charges:
        say(console, sentence, hang=2)
    say(console, tables.cost)
    show_bars(tables, console)
    if tables.saw_list:
        heading(console, "Saw list", f"left: {tables.left_rule}")
        _saw_list(tables, console)
    else:
        heading(console, "Everything is cut")
    if tables.early:
        say(console, tables.early, hang=2)
    for made in plan.made:
        if made.to_do:
            say(console, f"Cut already, {made.number}, {made.blank.mark}: {made.to_do}.", hang=2)
    if tables.standing:
        say(console, f"Made already, so not cut: {listed([row.mark for row in tables.standing])}.", hang=2)
    if tables.waiting:
        say(console, tables.waiting)
    heading(console, "Spares")
    for tube in tables.spares:
        say(console, f"{tube.tube}: {' '.join(tube.covers)}", hang=2)
    say(console, wording.fitted(settings), hang=2)
    for remark in tables.remarks:
        say(console, f"Remark: {remark}", hang=2)
    heading(console, "Caution")
    say(console, SHORT_CAUTION)


def show_lengths(job: Job, blanks: Sequence[Blank], console: Console, standing: Sequence[StandingRow] = ()) -> None:
    """Every blank on a line: mark, tube, how many, length, both ends; then what is ``standing`` already."""
    settings = job.settings
    columns = (
        TextColumn("mark"),
        TextColumn("tube"),
        TextColumn("qty", right=True),
        TextColumn("blank", right=True),
        TextColumn("end a", wraps=True),
        TextColumn("end b", wraps=True),
        TextColumn("note", wraps=True),
    )
    rows = [
        (
            row.mark,
            row.tube,
            str(row.pieces),
            row.estimate or wording.blank(row.room, settings),
            row.end_a,
            row.end_b,
            row.said,
        )
        for row in members_of(job, blanks)
    ]
    rows += [(row.mark, row.tube, str(row.pieces), "", "", "", row.said) for row in standing]
    heading(console, f"Blanks: {settings.name}", f"lengths in {wording.unit_name(settings)}, tip to tip")
    table(console, columns, rows)


def show_member(job: Job, blank: Blank, console: Console) -> None:
    """One blank line by line, so that anyone who doubts it can check it on a calculator."""
    settings = job.settings
    units = settings.units
    (row,) = members_of(job, (blank,))
    heading(console, f"{row.mark}: {row.tube}, {row.section}", f"lengths in {wording.unit_name(settings)}")
    say(console, row.setup)
    columns = (TextColumn("part", wraps=True), TextColumn("length", right=True), TextColumn("how", wraps=True))
    parts = [(part.what, _signed(part.length, settings), part.how) for part in row.parts]
    total = "room kept for it" if row.estimate else "blank, tip to tip"
    table(console, columns, [*parts, (total, wording.blank(row.room, settings), "")])
    if row.likely is not None:
        likely = wording.blank(row.likely, settings)
        say(console, f"An estimate: it may come out as {row.estimate}, likely {likely}. Measure before you saw it.")
    elif row.spread:
        say(console, f"The ± of the measurements makes this ± {wording.length(row.spread, units)}.")
    for sentence in assumed(job, blank):
        say(console, sentence)
    for bend in () if blank.estimated else bends_of(job, blank):
        say(
            console,
            f"Bend {bend.bend}: mark at {_marked(bend.benders_mark, settings)} from the tip of end a, "
            f"{wording.degrees(bend.angle)}° at radius {wording.length(bend.radius, units)}, "
            f"turned {wording.degrees(bend.rotation)}° from the bend before",
            hang=2,
        )
    if row.said:
        say(console, row.said)


def show_nodes(
    settings: Settings, nodes: Sequence[NodeRow], readings: Sequence[ReadingRow], needed: str, console: Console
) -> None:
    """Where the nodes are and with which ±; then each reading against the others, if there are any. ``needed``: what
    the readings come to."""
    unit = wording.unit_name(settings)
    columns = [TextColumn("node")]
    for axis in "xyz":
        columns += [TextColumn(axis, right=True), TextColumn("±", right=True)]
    rows = [
        (
            row.name,
            *(
                text
                for value, doubt in ((row.x, row.x_doubt), (row.y, row.y_doubt), (row.z, row.z_doubt))
                for text in (_mm(value, settings), _doubt(doubt, settings))
            ),
            row.meeting,
        )
        for row in nodes
    ]
    heading(console, f"Nodes: {settings.name}", f"in {unit}")
    table(console, [*columns, TextColumn("tubes at it", wraps=True)], rows)
    if not readings:
        return
    heading(console, "Readings", f"in {unit}")
    figures = ("read", "±", "calculated", "miss", "the others say", "± of that")
    columns = [TextColumn("between"), *(TextColumn(name, right=True) for name in figures)]
    lines = [
        (
            row.between,
            _mm(row.read, settings),
            _doubt(row.doubt, settings),
            _mm(row.calculated, settings),
            _mm(row.miss, settings),
            "" if row.others is None else _mm(row.others, settings),
            "" if row.others is None else _doubt(row.others_doubt, settings),
            row.note,
        )
        for row in readings
    ]
    table(console, [*columns, TextColumn("note", wraps=True)], lines)
    say(console, needed)


def show_options(job: Job, options: Sequence[Option], console: Console) -> None:
    """The buying options, cheapest first, each with what it costs more than the one before, buys and covers."""
    settings = job.settings
    unit = settings.units.value
    heading(console, f"Buying options: {settings.name}", f"lengths in {wording.unit_name(settings)}")
    before: Decimal | None = None
    for number, option in enumerate(options, 1):
        more = ""
        if option.cost is not None and before is not None:
            more = f" (+{wording.cost(option.cost - before, option.priced, settings)})"
        say(console, f"Option {number}: {wording.option_cost(option, settings)}{more}", style="bold")
        say(console, f"  covers: {option.covers}", hang=4)
        if option.not_insured:
            say(console, f"  not insured: {listed(option.not_insured)}", hang=4)
        bought = "; ".join(wording.purchase(each, settings) for each in option.buy) or "nothing"
        say(console, f"  buy: {bought}", hang=4)
        for order in shop_rows(job, option.orders):
            say(console, f"  {order.says}", hang=4)
        rest = f"longest piece that can then still be cut: {wording.found(option.leftover, settings.units)} {unit}"
        say(console, f"  {rest}. {wording.option_proof(option, settings)}".rstrip(), hang=4)
        before = option.cost
    say(console, "To follow one: cutplan plan JOB --option N")


def show_ways(job: Job, found: Sequence[WayCost], console: Console) -> None:
    """What each way of buying costs, if there is a choice."""
    if found:
        heading(console, "Ways to buy", wording.counted(job.settings.spares, "spare"))
    for sentence in ways_said(job, found):
        say(console, sentence, hang=2)


def show_measuring(job: Job, found: Sequence[Measuring], console: Console) -> None:
    """What measuring estimates before ordering could save, if there are any."""
    if found:
        heading(console, NOT_KNOWING)
    for first, *more in measuring_blocks(found, job.settings):
        say(console, first, hang=2)
        for sentence in more:
            say(console, f"  {sentence}", hang=4)


def show_shortage(error: StockError, console: Console) -> None:
    """What the stock is not enough for, what can be cut from it, and the least to buy on top."""
    settings = error.job.settings
    heading(console, f"The stock is not enough for {settings.name}")
    for shortage in error.shortages:
        _shortage(shortage, settings, console)


def show_faults(error: JobError, console: Console, *, plans: bool = True) -> None:
    """Every fault of a job, or of a rack, in one block, a line each, the worst first: those of a whole sheet, on which
    others rest. ``plans``: a plan was asked for."""
    count = wording.counted(len(error.faults), "fault")
    rack = isinstance(error, RackError)
    undone = "nothing was planned" if plans else "correct what is wrong, then run it again"
    heading(console, f"The rack has {count}: nothing was done" if rack else f"The job has {count}: {undone}")
    faults = sorted(error.faults, key=lambda fault: fault.place.row is not None)
    # Thousands are one mistake in every row; the first would scroll off the screen.
    shown = faults if len(faults) <= _MOST_FAULTS else faults[:_FAULTS]
    for fault in shown:
        say(console, str(fault), hang=2)
    if len(shown) < len(faults):
        say(console, f"... and {len(faults) - len(shown):,} more, shown once these are fixed")


def show_progress(title: str, blocks: Iterable[tuple[str, Sequence[str]]], console: Console) -> None:
    """How far a job has got. ``blocks``: headings, each with its lines."""
    say(console, title, style="bold")
    for name, texts in blocks:
        heading(console, name)
        for text in texts:
            say(console, f"  {text}", hang=4 + len(text) - len(text.lstrip()))


def _shortage(shortage: Shortage, settings: Settings, console: Console) -> None:
    say(console, f"{shortage.tube}:", style="bold")
    if shortage.why:
        say(console, f"  {shortage.why}", hang=4)
    can = "Can be cut" if shortage.most_proven else "Can be cut (more may be possible)"
    cannot = "Cannot be cut" if shortage.most_proven else "Left out"
    for what, pieces in ((can, shortage.can), (cannot, shortage.cannot)):
        if pieces and not (shortage.spares_only and pieces is shortage.cannot):
            say(console, f"  {what}: {listed([f'{count} x {mark}' for mark, count in pieces])}", hang=4)
    least = "Least extra to buy" if shortage.least_proven else "Enough extra to buy (less may do)"
    for purchase in shortage.least:
        say(console, f"  {least}: {wording.purchase(purchase, settings)}", hang=4)


def _buy(tables: Tables, console: Console) -> None:
    settings = tables.settings
    columns = (
        TextColumn("tube"),
        TextColumn("length", right=True),
        TextColumn("bars", right=True),
        TextColumn("each", right=True),
        TextColumn("cost", right=True),
        TextColumn("shop"),
        TextColumn("cut into"),
    )
    rows = [
        (
            row.tube,
            wording.length(row.length, settings.units),
            str(row.bars),
            wording.money(row.price),
            wording.money(row.cost),
            row.shop,
            row.cut_into,
        )
        for row in tables.buy
    ]
    table(console, columns, rows)


def _saw_list(tables: Tables, console: Console) -> None:
    settings = tables.settings
    columns = (
        TextColumn("cut", right=True),
        TextColumn("bar", right=True),
        TextColumn("mark"),
        TextColumn("blank", right=True, wraps=bool(tables.waiting)),
        TextColumn("end a", wraps=True),
        TextColumn("end b", wraps=True),
        TextColumn("left", right=True, wraps=bool(tables.waiting)),
        TextColumn("if spoilt", wraps=True),
        TextColumn("note", wraps=True),
    )
    narrow = console.is_terminal and console.width < _NARROW
    rows = [
        (
            str(cut.cut),
            cut.bar,
            cut.mark,
            f"measure first, {cut.measure_first}" if cut.blank is None else wording.blank(cut.blank, settings),
            cut.end_a,
            cut.end_b,
            wording.left(cut.left, cut.at_least, settings),
            _again(cut.recovery, short=narrow),
            cut.hints,
        )
        for cut in tables.saw_list
    ]
    # A stage's heading goes above its first cut, the first of which have the headings of the columns above them.
    above = {stage.first_cut: stage.title for stage in tables.stages}
    table(console, columns, rows, {i: above[cut.cut] for i, cut in enumerate(tables.saw_list) if cut.cut in above})


def _again(way: Recovery | None, *, short: bool) -> str:
    """Where a cut's replacement would come from; ``short``: the bar alone, where that is all there is to it."""
    if way is None:
        return wording.NO_TUBE
    return f"bar {way.bar}" if short and not re.search("[;,] (?!kept whole)", way.how) else way.how


def _marked(mm: float, settings: Settings) -> str:
    """Where a tape marks a worked-out length, and the length itself where that is another."""
    tape = wording.tape(mm, settings)
    return f"{tape} ({_signed(mm, settings)})" if tape.startswith("~") else tape


def _signed(mm: float, settings: Settings) -> str:
    """A worked-out length with digits enough to redo it: thousandths of a mm, ten-thousandths of an inch."""
    value = mm / float(settings.units.mm)
    text = f"{value:.4f}" if settings.units.value == "in" else f"{value:.3f}"
    return text.rstrip("0").rstrip(".").replace("-0", "0") if abs(value) < 5e-5 else text.rstrip("0").rstrip(".")


def _mm(value: float, settings: Settings) -> str:
    """To a tenth of a millimetre, or a hundredth of an inch."""
    in_units = value / float(settings.units.mm)
    text = f"{in_units:.1f}" if settings.units.mm == 1 else f"{in_units:.2f}"
    return text.removeprefix("-") if not float(text) else text


def _doubt(value: float | None, settings: Settings) -> str:
    if value is None:
        return "open"
    return _mm(value, settings) if value else ""
