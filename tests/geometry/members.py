"""Members built directly, and what comes of them."""

from fractions import Fraction

from cutplan.geometry import Blank, Layout, lay_out
from cutplan.job.faults import Place
from cutplan.job.model import (
    Bend,
    Cut,
    End,
    Job,
    Measured,
    Member,
    Onto,
    Point,
    Saddle,
    Settings,
    Tube,
)

F = Fraction
PLAIN = Settings()
HOOP = Tube("H45", F(45), F(2), clr=F(150))
STAY = Tube("S38", F(38), F(2))
SQUARE = End()


def cope(
    onto: Onto | int, angle: float = 90.0, offset: Fraction | int = 0, measured: Measured = Measured.CENTRE
) -> End:
    """An end coped onto one tube."""
    landed = onto if isinstance(onto, Onto) else Onto(F(onto))
    return End(Cut.COPE, saddles=(Saddle(landed, angle, F(offset)),), measured=measured)


def member(mark: str = "M", tube: str = "S38", **more: object) -> Member:
    """A member at row 2 of its sheet, 1000 mm long unless another number is given."""
    if "bends" not in more and "points" not in more:
        more.setdefault("length", F(1000))
    return Member(mark, tube, place=Place("Members", 2), **more)  # type: ignore[arg-type]


def laid(*members: Member, settings: Settings = PLAIN, tubes: tuple[Tube, ...] = (HOOP, STAY)) -> Layout:
    return lay_out(Job(settings, tubes, (), members))


def blank(*members: Member, settings: Settings = PLAIN, tubes: tuple[Tube, ...] = (HOOP, STAY)) -> Blank:
    """The last member's blank of a job without faults."""
    layout = laid(*members, settings=settings, tubes=tubes)
    assert [str(fault) for fault in layout.faults] == []
    return layout.blanks[-1]


def net(made: Blank) -> float:
    return sum(part.length for part in made.parts[:-1])


def rows(*bends: tuple[object, ...]) -> tuple[Bend, ...]:
    """Rows of straight, to, angle, radius, rotation."""
    return tuple(Bend(F(row[0]), *row[1:], place=Place("Bends", 3 + i)) for i, row in enumerate(bends))  # type: ignore[arg-type]


def points(*xyz: tuple[object, ...]) -> tuple[Point, ...]:
    """Rows of x, y, z and perhaps a radius."""
    return tuple(
        Point(F(p[0]), F(p[1]), F(p[2]), F(p[3]) if len(p) > 3 else None, Place("Points", 2 + i))  # type: ignore[arg-type]
        for i, p in enumerate(xyz)
    )


def only_fault(layout: Layout) -> str:
    assert layout.blanks == () or len(layout.faults) == 1
    (fault,) = layout.faults
    return str(fault)


HOOP_MEMBER = member("H", "H45", points=points((0, -500, 0), (0, -500, 1000), (0, 500, 1000), (0, 500, 0)))
RAIL = member("R", "H45", points=points((-600, -900, 0), (-600, 900, 0)))


def found(*marks: str) -> End:
    """An end that takes its angles from coordinates."""
    return End(Cut.COPE, saddles=tuple(Saddle(Onto(F(45), mark, mark)) for mark in marks), from_points=True)
