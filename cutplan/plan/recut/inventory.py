"""What is in hand once some cuts are made: pieces of tube, good blanks, and where every millimetre went.

A bar is cut from its squared end in the order listed; cuts skipped on the way leave no gap.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from fractions import Fraction

from cutplan.geometry.model import Blank
from cutplan.job.model import Job, Source, StockRow
from cutplan.plan.grid import GRID, end_trim, grid_up, near_trim, usable
from cutplan.plan.model import Bar, Made, Plan, SawCut, TubePlan, labelled, own_label
from cutplan.plan.parts import row_of_part
from cutplan.plan.recut.ticks import BarNote, Tick
from cutplan.plan.wording import measured


@dataclass(frozen=True, slots=True)
class Account:
    """What became of one tube's millimetres since the plan before: ``had`` (bars, and blanks cut earlier that were
    spoilt since) and ``put_right`` (found more, or less than 0, by the tape) are as much as ``made``, ``kerf``,
    ``trim``, ``in_hand`` and ``lost``."""

    tube: str
    had: Fraction = Fraction(0)
    put_right: Fraction = Fraction(0)
    made: Fraction = Fraction(0)
    kerf: Fraction = Fraction(0)
    trim: Fraction = Fraction(0)
    in_hand: Fraction = Fraction(0)
    lost: Fraction = Fraction(0)

    def __add__(self, other: Account) -> Account:
        amounts = [field.name for field in fields(self) if field.name != "tube"]
        return replace(self, **{name: getattr(self, name) + getattr(other, name) for name in amounts})

    @property
    def balanced(self) -> bool:
        """Whether no millimetre is missing and none is there twice."""
        return self.had + self.put_right == self.made + self.kerf + self.trim + self.in_hand + self.lost


@dataclass(frozen=True, slots=True)
class Good(Made):
    """A blank cut well, by its ``number`` on the list before. ``earlier``: it was cut before that list was made."""

    earlier: bool = False


class Numbers:
    """Gives bars their numbers, none twice: ``highest`` is the last one given."""

    def __init__(self, highest: int) -> None:
        self.highest = highest

    def next(self) -> str:
        """The next number, as the bar's name."""
        self.highest += 1
        return str(self.highest)


class Inventory:
    """What is in hand after the ticks. ``named``: pieces of tube by the name of their bar; ``waiting``: for each bar
    of the plan its cuts not made; ``good``: blanks cut well; ``said``: what is to be reported."""

    def __init__(self, plan: Plan, ticks: Sequence[Tick], notes: Mapping[str, BarNote]) -> None:
        self.plan, self.notes = plan, notes
        # A blank ticked both done and spoilt was spoilt after it was cut.
        self.ticks = {tick.cut: _settled(tick) for tick in ticks}
        self.blanks = plan.by_mark()
        self.settings = plan.job.settings
        self.named: list[tuple[str, StockRow]] = []
        self.waiting: dict[str, list[SawCut]] = {}
        self.good: list[Good] = []
        self.said: list[str] = []
        self.accounts: dict[str, Account] = {}
        bars = plan.bars
        self.numbers = Numbers(max([plan.highest, *(int(bar.name) for bar in bars if bar.name.isdigit())]))
        self._earlier()
        for bar in bars:
            self._bar(bar, notes.get(bar.name, BarNote(bar.name)))
        self._report_done()
        self.said += [
            f"Cut {tick.cut} is ticked both done and spoilt: it is treated as spoilt."
            for tick in ticks
            if tick.done and tick.spoilt
        ]
        self.unplanned = [row for row in plan.job.stock if row.source is Source.RACK and row.tube not in self.accounts]

    @property
    def rows(self) -> tuple[StockRow, ...]:
        """What is in hand as stock: the pieces that have a name, and what is on the rack of tubes not yet used."""
        return (*(row for _, row in self.named), *self.unplanned)

    def still_to_cut(self) -> tuple[Blank, ...]:
        """The blanks not yet cut well, in the order of the plan before."""
        wanted = {blank.mark: replace(blank, count=0) for blank in self.plan.blanks}
        wanted |= {
            made.blank.mark: replace(made.blank, count=0) for made in self.plan.made if made.blank.mark not in wanted
        }
        due = Counter({blank.mark: blank.count for blank in self.plan.blanks})
        due.update(made.blank.mark for made in self.plan.made)
        due.subtract(good.blank.mark for good in self.good)
        return tuple(replace(blank, count=due[mark]) for mark, blank in wanted.items() if due[mark])

    def get(self, tube: str, length: Fraction) -> None:
        """One more bar, new from the mill."""
        name = self.numbers.next()
        row = StockRow(tube, length, None, 1, Source.RACK, f"bar {name}", self.settings.end_trim, bought=True)
        self.book(Account(tube, had=length, in_hand=length))
        self.named.append((name, row))
        self.said.append(f"{tube}: the new bar of {self._show(length)} is bar {name}; write that on it.")

    def lay_by(self, row: StockRow) -> None:
        """One more piece from the rack."""
        name = self.numbers.next()
        self.book(Account(row.tube, had=row.length, in_hand=row.length))
        piece = replace(row, label=labelled(name, row.label), available=1, end_trim=end_trim(row, self.settings))
        self.named.append((name, piece))
        self.said.append(
            f"{row.tube}: the piece of {self._show(row.length)} on the rack is bar {name}; write that on it."
        )

    def strike_out(self, row: StockRow) -> None:
        """A piece is no longer on the rack: put its bar out of use, if nothing is cut from it."""
        for name, piece in self.named:
            if (piece.tube, piece.length, own_label(name, piece.label)) == (row.tube, row.length, row.label):
                self.named.remove((name, piece))
                self.book(Account(row.tube, in_hand=-row.length, lost=row.length))
                self.said.append(f"Bar {name} is no longer on the rack: {self._show(row.length)} is out of use.")
                return

    def undisturbed(self, tube: TubePlan) -> bool:
        """Whether all went by the plan of ``tube``: nothing spoilt, no bar struck out or corrected, no cut skipped."""
        names = {bar.name for bar in tube.bars}
        cuts = sorted((cut for bar in tube.bars for cut in bar.cuts), key=lambda cut: cut.number)
        done = [self.ticks[cut.number].done for cut in cuts]
        spoilt = [cut.number for cut in cuts] + [one.number for one in self.plan.made if one.blank.tube == tube.tube]
        return (
            done == sorted(done, reverse=True)
            and not any(self.ticks[number].spoilt for number in spoilt)
            and not any(note.gone or note.measured is not None for name, note in self.notes.items() if name in names)
        )

    def _earlier(self) -> None:
        for made in self.plan.made:
            tick = self.ticks[made.number]
            if tick.spoilt:
                self.book(Account(made.blank.tube, had=made.length))
                self._spoil(replace(made.blank, length=made.length), tick, f"{made.blank.mark}, cut earlier, is spoilt")
            else:
                fitted = made.fitted or tick.fitted
                self.good.append(Good(made.number, made.blank, made.to_do, fitted, made.sawn, earlier=True))

    def _bar(self, bar: Bar, note: BarNote) -> None:
        taken = [cut for cut in bar.cuts if self.ticks[cut.number].made]
        self.waiting[bar.name] = [cut for cut in bar.cuts if cut not in taken]
        gone_by, kerf, slanted = self._taken(bar, taken)
        row = self._row_of(bar)
        trim = bar.end_trim if taken else Fraction(0)
        expected = bar.length - trim - gone_by
        remains = Fraction(0) if note.gone else expected if note.measured is None else note.measured
        piece = replace(
            row,
            length=remains,
            price=None,
            available=1,
            source=Source.RACK,
            label=labelled(bar.name, own_label(bar.name, bar.label)),
            end_trim=end_trim(row, self.settings),
            sawn=row.sawn or bool(taken),
            bought=row.bought or row.source is Source.BUY,
        )
        worth = usable(piece, self.settings) > 0 or remains >= self.settings.keep or not taken
        kept = remains > 0 and worth
        put_right = Fraction(0) if note.gone or note.measured is None else remains - expected
        in_hand = remains if kept else Fraction(0)
        lost = expected + put_right - in_hand
        self.book(Account(bar.tube, bar.length, put_right, kerf=kerf, trim=trim, in_hand=in_hand, lost=lost))
        if kept:
            self.named.append((bar.name, piece))
        self._report_bar(bar, note, expected, slanted)
        for cut in taken:
            blank = replace(self.blanks[cut.mark], count=1)
            if self.ticks[cut.number].spoilt:
                self._spoil(blank, self.ticks[cut.number], f"Cut {cut.number}, {cut.mark}, is spoilt")
            else:
                self.good.append(Good(cut.number, blank, fitted=self.ticks[cut.number].fitted))
                self.book(Account(bar.tube, made=blank.length))

    def _row_of(self, bar: Bar) -> StockRow:
        """The stock that ``bar`` is of."""
        if not bar.parts:
            return _row_of(self.plan.job, bar)
        bars = (one for one in self.plan.bars)
        return row_of_part(self.plan.job, bar, next(one.price for one in bars if one.name == bar.parts[0]))

    def _taken(self, bar: Bar, taken: Sequence[SawCut]) -> tuple[Fraction, Fraction, bool]:
        """What the cuts made took off the squared bar, how much of it is kerf, and whether its end is now a mitre.

        Two neighbours that shared a mitre took less than two kerfs' worth; where the second was not cut, the bar's
        end is left slanting and only what is behind the slant counts.
        """
        at = kerf = Fraction(0)
        slanted = False
        room = bar.length - bar.end_trim
        for i, cut in enumerate(taken):
            at += cut.blank
            behind = next((one for one in bar.cuts if one.start > cut.start), None)
            following = taken[i + 1] if i + 1 < len(taken) else None
            gap = self.settings.kerf
            slanted = False
            if behind is not None and behind.shared:
                if following is behind:
                    gap = behind.start - cut.end
                else:
                    gap, slanted = gap + self._slant(cut), following is None
            gap = min(gap, room - at)
            at += gap
            kerf += gap
        return at, kerf, slanted

    def _slant(self, cut: SawCut) -> Fraction:
        """What a slanting blade takes along the tube over a square cut, mm, up to the grid."""
        blank = self.blanks[cut.mark]
        angle = (blank.end_a if cut.flipped else blank.end_b).angle_deg
        over = float(self.settings.kerf) * (1 / math.cos(math.radians(angle)) - 1)
        return grid_up(Fraction(over), self.settings.units) * GRID[self.settings.units]

    def _spoil(self, blank: Blank, tick: Tick, what: str) -> None:
        """Book a spoilt blank, and what is still good of it as a piece of its own."""
        if tick.left is not None:
            rest = tick.left
        else:
            rest = Fraction(0) if blank.bends else max(blank.length - self.settings.salvage, Fraction(0))
        if (name := self.keep_piece(blank.tube, rest)) is not None:
            self.book(Account(blank.tube, in_hand=rest, lost=blank.length - rest))
            self.said.append(f"{what}: what is left of it, {self._show(rest)}, is bar {name}; write that on it.")
        else:
            self.book(Account(blank.tube, lost=blank.length))
            self.said.append(f"{what}: none of it can be used.")

    def keep_piece(self, tube: str, length: Fraction) -> str | None:
        """A piece that is sawn at one end becomes a bar of its own: its name; None: it is too short for anything."""
        piece = StockRow(tube, length, None, 1, Source.RACK, "", Fraction(0), sawn=True)
        if length <= 0 or (usable(piece, self.settings) == 0 and length < self.settings.keep):
            return None
        name = self.numbers.next()
        self.named.append((name, replace(piece, label=f"bar {name}")))
        return name

    def book(self, account: Account) -> None:
        """Add to what became of one tube's millimetres."""
        self.accounts[account.tube] = self.accounts.get(account.tube, Account(account.tube)) + account

    def _report_bar(self, bar: Bar, note: BarNote, expected: Fraction, slanted: bool) -> None:
        if note.gone:
            self.said.append(f"Bar {bar.name} is struck out: {self._show(expected)} of {bar.tube} is out of use.")
        elif note.measured is not None and note.measured != expected:
            less = "less" if note.measured < expected else "more"
            self.said.append(
                f"Bar {bar.name} is corrected: {self._show(note.measured)} remain, "
                f"{self._show(abs(note.measured - expected))} {less} than expected."
            )
        if slanted and not note.gone:
            self.said.append(f"Bar {bar.name} ends in a mitre: square it first, at the mitre's short side.")

    def _report_done(self) -> None:
        numbers = [cut.number for cut in self.plan.cuts]
        done = sum(self.ticks[number].done for number in numbers)
        more = f", {len(self.plan.made)} before" if self.plan.made else ""
        self.said.insert(0, f"Cut and good: {done} of the {len(numbers)} on this list{more}.")
        if fitted := sum(good.fitted for good in self.good):
            self.said.insert(1, f"Fitted: {fitted} of the {len(numbers) + len(self.plan.made)}.")

    def _show(self, mm: Fraction) -> str:
        return measured(mm, self.settings)


def _settled(tick: Tick) -> Tick:
    return replace(tick, done=False, fitted=False) if tick.spoilt else tick


def _row_of(job: Job, bar: Bar) -> StockRow:
    """The stock row that ``bar`` is of; of rows alike but for their far end's trim, the one that yields as much."""
    start = bar.cuts[-1].end + job.settings.kerf if bar.cuts else Fraction(0)
    alike = [
        row
        for row in job.stock
        if (row.tube, row.length, row.source, row.label) == (bar.tube, bar.length, bar.source, bar.label)
        and bar.price in (None, row.price)
        and near_trim(row, job.settings) == bar.end_trim
    ]
    return min(alike, key=lambda row: abs(max(usable(row, job.settings) - start, Fraction(0)) - bar.usable))
