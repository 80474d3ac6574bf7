"""All that is shown of a plan, worked out once: every sheet, list, file and drawing is laid out from these tables.

A table is rows of a frozen dataclass, lengths exact and in mm (see :mod:`cutplan.plan.tables.columns`). For Python
users each is a data frame of pandas in the job's units, for everyone a CSV file. The check of a plan and of a saw list
(``plan/verify``, ``output/compare.py``) uses none of this.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING

from cutplan.geometry.inside import Insides, insides
from cutplan.geometry.model import Blank
from cutplan.job.faults import Remark, listed
from cutplan.job.model import Job, Settings
from cutplan.plan import wording
from cutplan.plan.model import Plan
from cutplan.plan.rough import with_rough_ends
from cutplan.plan.tables.bars import (
    BarRow,
    BuyRow,
    OffcutRow,
    SpareRow,
    bar_rows,
    buy_rows,
    left_over,
    offcut_rows,
    spare_rows,
)
from cutplan.plan.tables.card_words import meaning
from cutplan.plan.tables.cards import Card, cards
from cutplan.plan.tables.columns import frame
from cutplan.plan.tables.early import early
from cutplan.plan.tables.making import BendRow, Making, MarkRow, RoughRow, bend_rows, making, third_said
from cutplan.plan.tables.members import (
    MemberRow,
    PartRow,
    StandingRow,
    assumed,
    member_rows,
    part_rows,
    standing_rows,
)
from cutplan.plan.tables.order import Order, order
from cutplan.plan.tables.pictures import Picture, end_pictures
from cutplan.plan.tables.saw_list import MadeRow, SawRow, StageRow, made_rows, saw_rows, stage_rows
from cutplan.plan.tables.shops import ShopRow, charges_said, shop_rows
from cutplan.plan.tables.steps import square_for_now
from cutplan.plan.tables.wraps import Wrap, shared_wraps

if TYPE_CHECKING:
    import pandas as pd

    from cutplan.plan.tables.sheet import Sheet

__all__ = [
    "TABLES",
    "BarRow",
    "Making",
    "MarkRow",
    "MemberRow",
    "RoughRow",
    "SawRow",
    "SpareRow",
    "StandingRow",
    "Tables",
    "assumed",
    "bends_of",
    "members_of",
    "standing_rows",
    "tables",
]


class Tables:
    """The tables of ``plan``, each worked out when it is first asked for."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan

    @property
    def settings(self) -> Settings:
        """Those of the job."""
        return self.plan.job.settings

    @property
    def totalled(self) -> bool:
        """Whether there is one sum for all that is bought."""
        return self.plan.cost is not None

    @property
    def priced(self) -> bool:
        """Whether that sum is money, and leaves nothing out."""
        return self.plan.priced and not self.plan.unpriced

    @property
    def cost(self) -> str:
        """What the plan costs, with its proof, in words."""
        return wording.plan_cost(self.plan)

    @property
    def unit_name(self) -> str:
        """The unit of all lengths, in a sentence."""
        return wording.unit_name(self.settings)

    def frame_sheets(self, paper: tuple[float, float]) -> tuple[Sheet, ...]:
        """The whole frame of the job on sheets, what is cut already with it; none without points. ``paper``: its long
        and its short side in mm."""
        from cutplan.geometry import lay_out
        from cutplan.plan.tables.drawings import frame_drawings

        layout = lay_out(self.plan.job)
        return frame_drawings(self.plan.job, (*layout.blanks, *layout.standing), paper)

    @property
    def spares_said(self) -> tuple[str, ...]:
        """What the spares cover, tube by tube."""
        return tuple(f"{row.tube}: {' '.join(row.covers)}" for row in self.spares)

    @cached_property
    def left_over_said(self) -> tuple[str, ...]:
        """What is left when everything is cut, a sentence a tube."""
        return tuple(left_over(self.offcuts, self.settings))

    @cached_property
    def plain_marks(self) -> str:
        """The marks that nothing is done to after the saw: straight, and square at both ends."""
        known = {blank.mark for blank in self.plan.to_make if not blank.estimated}
        return ", ".join(one.mark for one in self.making if one.mark in known and not (one.marks or one.bends))

    @cached_property
    def third_said(self) -> tuple[str, ...]:
        """Where the rule of a third does not serve for the rough cuts."""
        return tuple(third_said(self.making))

    @property
    def left_rule(self) -> str:
        """What the column "left" of the saw list says, against a tape."""
        return wording.left_rule(self.plan)

    @property
    def remarks(self) -> Sequence[Remark]:
        """Those on the job."""
        return self.plan.remarks

    @property
    def changes(self) -> Sequence[str]:
        """What became of the plan before this one."""
        return self.plan.changes

    @cached_property
    def early(self) -> str:
        """What is said of the members sawn before something they land on, if there are any."""
        return early(self.plan)

    @property
    def waiting(self) -> str:
        """What is said of the estimated members, if there are any."""
        marks = [blank.mark for blank in self.plan.blanks if blank.estimated]
        if not marks:
            return ""
        its, them = ("its", "it") if len(marks) == 1 else ("their", "them")
        of_nodes = {member.mark for member in self.plan.job.members if member.route is not None}
        taped = [blank.mark for blank in self.plan.blanks if blank.estimated and blank.member in of_nodes]
        more = (
            f" The nodes of {listed(taped)} are known by tape: more readings near them in Distances make the ± smaller "
            "(see cutplan nodes JOB), and once it is within the setting sure, the blank is cut as calculated."
        )
        return (
            f"Measure first: {listed(marks)}. The plan keeps room for {its} greatest length. Measure {them} before "
            "cutting, write what you measured in the job, and plan again; once cutting has begun: cutplan recut "
            f"SAWLIST --job JOB.{more if taped else ''}"
        )

    @cached_property
    def _insides(self) -> Mapping[str, Insides]:
        """Where the insides of the bends of every blank, made or not, are."""
        blanks = (*self.plan.blanks, *(made.blank for made in self.plan.made))
        return insides_of(self.plan.job, blanks)

    @cached_property
    def buy(self) -> tuple[BuyRow, ...]:
        """What to buy."""
        return tuple(buy_rows(self.plan.job, self.plan.buy))

    @cached_property
    def saw_list(self) -> tuple[SawRow, ...]:
        """The cuts in the order of sawing."""
        return tuple(saw_rows(self.plan, self._insides))

    @cached_property
    def stages(self) -> tuple[StageRow, ...]:
        """The rounds of building, where the job has them."""
        return tuple(stage_rows(self.plan))

    @cached_property
    def made(self) -> tuple[MadeRow, ...]:
        """What was cut before this plan was made."""
        return tuple(made_rows(self.plan, self._insides))

    @cached_property
    def bars(self) -> tuple[BarRow, ...]:
        """The bars, tube by tube."""
        return tuple(bar_rows(self.plan))

    @cached_property
    def members(self) -> tuple[MemberRow, ...]:
        """The blanks."""
        return tuple(member_rows(self.plan.job, self.plan.blanks, self._insides))

    @cached_property
    def standing(self) -> tuple[StandingRow, ...]:
        """The members that are made already."""
        return tuple(standing_rows(self.plan.job))

    @cached_property
    def parts(self) -> tuple[PartRow, ...]:
        """What the blanks are made up of."""
        return tuple(part_rows(self.members))

    @cached_property
    def making(self) -> tuple[Making, ...]:
        """What is done to each blank."""
        return making(self.plan, self._insides)

    @cached_property
    def marks(self) -> tuple[MarkRow, ...]:
        """The lines of all ends that are not square."""
        return tuple(row for made in self.making for row in made.marks)

    @cached_property
    def rough_cuts(self) -> tuple[RoughRow, ...]:
        """The rough cuts of all saddles, where the plan has them (see `plan.rough`)."""
        return tuple(row for made in self.making for row in made.rough_cuts)

    @cached_property
    def bends(self) -> tuple[BendRow, ...]:
        """All bends."""
        return tuple(row for made in self.making for row in made.bends)

    @cached_property
    def offcuts(self) -> tuple[OffcutRow, ...]:
        """What is left of the bars."""
        return tuple(offcut_rows(self.plan))

    @cached_property
    def order(self) -> Order:
        """What to ask a shop for."""
        return order(self.plan)

    @cached_property
    def orders(self) -> tuple[ShopRow, ...]:
        """What is ordered from each shop that the job describes."""
        return tuple(shop_rows(self.plan.job, self.plan.orders))

    @property
    def charged(self) -> bool:
        """Whether a shop charges for an order: then only the whole has a proof, and no tube by itself."""
        return self.plan.charged

    @property
    def charges(self) -> tuple[str, ...]:
        """The orders in words, a sentence each."""
        return charges_said(self.plan)

    @cached_property
    def end_pictures(self) -> Mapping[tuple[str, str], Picture]:
        """Both ends of each blank as they are cut, by mark and end."""
        return end_pictures(self.plan.blanks, self.square_for_now)

    @cached_property
    def square_for_now(self) -> Mapping[str, tuple[str, ...]]:
        """The mitred ends that the saw leaves square, by mark."""
        blanks = self.plan.by_mark()
        return {
            mark: square_for_now(
                self.plan.job,
                blanks[mark],
                made,
                self._insides[mark],
                [row for row in self.saw_list if row.mark == mark],
            )
            for made in self.making
            for mark in made.alike
            if mark in blanks  # else it is cut already
        }

    @cached_property
    def cards(self) -> tuple[Card, ...]:
        """A card for each piece unlike the others."""
        return tuple(cards(self.plan, self.making, self.saw_list, self._insides))

    @cached_property
    def card_words(self) -> tuple[str, ...]:
        """What the words on the cards mean."""
        shapes = {row.shape.split()[0] for row in self.marks}
        return tuple(
            meaning(
                self.settings,
                copes="cope" in shapes,
                mitres="mitre" in shapes,
                bends=any(self.bends),
                stages=any(blank.stage for blank in self.plan.to_make),
            )
        )

    @cached_property
    def wraps(self) -> tuple[Wrap, ...]:
        """The paper wraps of all blanks."""
        return shared_wraps(self.plan.job, self.plan.blanks)

    @cached_property
    def spares(self) -> tuple[SpareRow, ...]:
        """What is kept, tube by tube."""
        return tuple(spare_rows(self.plan))


def insides_of(job: Job, blanks: Iterable[Blank]) -> Mapping[str, Insides]:
    """Where the insides of the bends of ``blanks`` are, by mark."""
    return {blank.mark: insides(blank, job) for blank in blanks}


def members_of(job: Job, blanks: Iterable[Blank]) -> tuple[MemberRow, ...]:
    """The blanks of a job that has no plan yet."""
    every = tuple(blanks)
    return tuple(member_rows(job, every, insides_of(job, every)))


def bends_of(job: Job, blank: Blank) -> tuple[BendRow, ...]:
    """The bends of one of them."""
    return tuple(bend_rows(blank, job, insides(blank, job), (blank.mark,)))


TABLES: Mapping[str, tuple[type, Callable[[Tables], Sequence[object]]]] = {
    "buy": (BuyRow, lambda tables: tables.buy),
    "orders": (ShopRow, lambda tables: tables.orders),
    "saw list": (SawRow, lambda tables: tables.saw_list),
    "stages": (StageRow, lambda tables: tables.stages),
    "bars": (BarRow, lambda tables: tables.bars),
    "members": (MemberRow, lambda tables: tables.members),
    "made already": (StandingRow, lambda tables: tables.standing),
    "parts": (PartRow, lambda tables: tables.parts),
    "marks": (MarkRow, lambda tables: tables.marks),
    "rough cuts": (RoughRow, lambda tables: Tables(with_rough_ends(tables.plan)).rough_cuts),
    "bends": (BendRow, lambda tables: tables.bends),
    "offcuts": (OffcutRow, lambda tables: tables.offcuts),
    "spares": (SpareRow, lambda tables: tables.spares),
}
"""By name, the class of the rows and the rows."""


def tables(plan: Plan) -> dict[str, pd.DataFrame]:
    """Every table of ``plan`` by its name, as a data frame in the job's units."""
    shown = Tables(plan)
    return {name: frame(rows(shown), row, shown.settings.units) for name, (row, rows) in TABLES.items()}
