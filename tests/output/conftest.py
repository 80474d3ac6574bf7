"""Two plans made by hand, one in mm and one in inches, small enough to check on paper."""

from __future__ import annotations

import sys
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.geometry.model import BendMark, Blank, EndShape, Part
from cutplan.job.faults import Place, Remark
from cutplan.job.model import (
    INCH,
    Bend,
    Cut,
    End,
    Job,
    Member,
    Onto,
    Saddle,
    Settings,
    Source,
    StockRow,
    Tube,
    Units,
)
from cutplan.plan.model import Bar, Plan, Purchase, Recovery, SawCut, Spares, TubePlan

sys.path.insert(0, str(Path(__file__).parent))

F = Fraction


def cope(od: float, angle: float, onto: Onto, throat: float) -> EndShape:
    """A coped end with the figures that the sheets show."""
    return EndShape(Cut.COPE, od, angle, (Saddle(onto, angle),), 0.0, throat * 0.8, 1.5, throat, throat)


def sawn(
    name: str,
    tube: str,
    blanks: list[tuple[int, Blank]],
    length: Fraction,
    settings: Settings,
    *,
    source: Source = Source.BUY,
    label: str = "",
    price: Decimal | None = None,
    spares: int = 0,
    recovery: Recovery | None = None,
) -> Bar:
    """A bar with these numbered blanks on it, one after the other."""
    trim = settings.end_trim if source is Source.BUY and blanks else F(0)
    squared = length - trim
    start, cuts = F(0), []
    for number, blank in blanks:
        end = start + blank.length
        left = max(squared - end - settings.kerf, F(0))
        cuts.append(SawCut(number, blank.mark, blank.length, start, end, left, recovery))
        start = end + settings.kerf
    usable = squared - trim - settings.saw_hold - start
    return Bar(
        name=name,
        tube=tube,
        source=source,
        label=label,
        length=length,
        price=price,
        end_trim=trim,
        cuts=tuple(cuts),
        spares=spares,
        offcut=cuts[-1].left if cuts else length,
        usable=max(usable, F(0)),
    )


@pytest.fixture(scope="session")
def mm_plan() -> Plan:
    """A hoop, a pair of stays and a diagonal out of 6 m bars; one spare; text that looks like formulas."""
    settings = Settings(
        name="=rear bay", kerf=F(2), end_trim=F(5), saw_hold=F(60), fit_cope=F(1), spares=1, currency="EUR"
    )
    tubes = (
        Tube("45x2.5", F(45), F(5, 2), clr=F(135), grip=F(80), mass_per_m=2.62),
        Tube("38x2", F(38), F(2), mass_per_m=1.776),
    )
    stock = (
        StockRow("45x2.5", F(6000), Decimal("61.50")),
        StockRow("38x2", F(6000), Decimal("39.90")),
        StockRow("38x2", F(1720), None, 1, Source.RACK, "+shed 4"),
    )
    hoop_onto = Onto(F(45), "", "HOOP")
    hoop = Blank(
        "HOOP",
        "HOOP",
        "45x2.5",
        1,
        F(3210),
        (
            Part("straight 1", 900.0),
            Part("bend 1", 212.058, "135 x 90 x 3.141593/180"),
            Part("straight 2", 985.5),
            Part("bend 2", 212.058, "135 x 90 x 3.141593/180"),
            Part("straight 3", 900.0),
            Part("rounding up", 0.384, "to a step of 0.5"),
        ),
        EndShape(Cut.SQUARE, 45.0),
        EndShape(Cut.SQUARE, 45.0),
        bends=(
            BendMark(1, 900.0, 900.0, 900.0, 212.058, 90.0, 135.0, 0.0),
            BendMark(2, 985.5, 2097.558, 2097.558, 212.058, 90.0, 135.0, 0.0),
        ),
    )
    stays = tuple(
        Blank(
            f"BS-{side}",
            "BS",
            "38x2",
            1,
            F(3019, 2),
            (
                Part("measured, centre to tip", 1509.7),
                Part("end a: centre to tip", -1.7, "from the saddle"),
                Part("fitting allowance, end a", 1.0),
                Part("rounding up", 0.5, "to a step of 0.5"),
            ),
            cope(38.0, 60.0, hoop_onto, 21.3),
            EndShape(Cut.MITRE, 38.0, 45.0, (), -19.0, 19.0, 0.0, 38.0, 38.0),
            turn_deg=90.0,
            note="left and right" if side == "L" else "",
        )
        for side in "LR"
    )
    diagonal = Blank(
        "@DG",
        "@DG",
        "38x2",
        2,
        F(1180),
        (Part("measured, face to face", 1180.0),),
        cope(38.0, 45.0, Onto(F(38), "38x2"), 30.1),
        cope(38.0, 45.0, Onto(F(42)), 30.1),
        insured=False,
    )
    blanks = (hoop, *stays, diagonal)
    members = (
        Member(
            "HOOP",
            "45x2.5",
            bends=(Bend(F(900), angle_deg=90.0), Bend(F(1971, 2), angle_deg=90.0), Bend(F(900))),
            place=Place("Members", 2),
        ),
        Member("BS", "38x2", pair=True, length=F(15097, 10), end_a=End(Cut.COPE)),
        Member("@DG", "38x2", 2, length=F(1180)),
    )
    job = Job(settings, tubes, stock, members)
    whole = Recovery("4", "from what is left of bar 4")
    bars = (
        sawn("1", "45x2.5", [(1, hoop)], F(6000), settings, price=Decimal("61.50"), spares=0),
        sawn(
            "2",
            "38x2",
            [(2, stays[0]), (3, stays[1]), (4, diagonal)],
            F(6000),
            settings,
            price=Decimal("39.90"),
            recovery=whole,
        ),
        sawn("3", "38x2", [(5, diagonal)], F(6000), settings, price=Decimal("39.90"), spares=1, recovery=whole),
        sawn("4", "38x2", [], F(1720), settings, source=Source.RACK, label="+shed 4"),
    )
    return Plan(
        job,
        blanks,
        (
            TubePlan(
                "45x2.5", True, Decimal("61.50"), Decimal("61.50"), True, bars[:1], Spares(0, F(0), (), ("HOOP",))
            ),
            TubePlan(
                "38x2",
                True,
                Decimal("79.80"),
                Decimal("39.90"),
                False,
                bars[1:],
                Spares(1, F(3019, 2), ("BS-L", "BS-R", "@DG"), ()),
            ),
        ),
        (
            Purchase("45x2.5", F(6000), 1, Decimal("61.50"), Decimal("61.50")),
            Purchase("38x2", F(6000), 2, Decimal("39.90"), Decimal("79.80")),
        ),
        Decimal("141.30"),
        Decimal("101.40"),
        False,
        (Remark(Place("Tubes", 2), "the die's radius is under three times the outside diameter"),),
    )


@pytest.fixture(scope="session")
def inch_plan() -> Plan:
    """Six short rungs and two rails in inches, one bar, nothing priced, proven."""
    inch = INCH
    settings = Settings(
        name="ladder", units=Units.IN, kerf=inch / 16, step=inch / 32, spares=0, keep=12 * inch, end_trim=inch / 4
    )
    tube = Tube("1.5x.095", inch * F(3, 2), inch * F(95, 1000), mass_per_m=2.12)
    rail = Blank(
        "RAIL",
        "RAIL",
        "1.5x.095",
        2,
        inch * F(1913, 32),
        (Part("measured, face to face", 59.75 * 25.4), Part("rounding up", 0.03125 * 25.4, "to a step of 1/32")),
        EndShape(Cut.SQUARE, 38.1),
        EndShape(Cut.MITRE, 38.1, 22.5),
    )
    rung = Blank(
        "RUNG",
        "RUNG",
        "1.5x.095",
        6,
        inch * F(57, 4),
        (Part("measured, face to face", 14.25 * 25.4),),
        EndShape(Cut.SQUARE, 38.1),
        EndShape(Cut.SQUARE, 38.1),
    )
    job = Job(settings, (tube,), (StockRow("1.5x.095", 240 * inch),), (Member("RAIL", "1.5x.095", 2),))
    numbered = [(1, rail), (2, rail), *((n, rung) for n in range(3, 9))]
    bar = sawn("1", "1.5x.095", numbered, 240 * inch, settings)
    spares = Spares(0, F(0), (), ("RAIL", "RUNG"))
    return Plan(
        job,
        (rail, rung),
        (TubePlan("1.5x.095", False, Decimal(240), Decimal(240), True, (bar,), spares),),
        (Purchase("1.5x.095", 240 * inch, 1, None, None),),
        Decimal(240),
        Decimal(240),
        True,
    )
