"""How many blanks a second geometry lays out: straight members, a cope on one straight tube at each end; and how long
a node of four tubes takes.

Run by hand: python tests/benchmarks/geometry_blanks.py [count]. Every end differs from every other; half have an
offset, which has no closed form. The best of several runs is reported, and the processor's time beside the clock's.
"""

import sys
import time
from fractions import Fraction
from random import Random

from cutplan.geometry import lay_out
from cutplan.job.model import Cut, End, Job, Measured, Member, Onto, Point, Saddle, Settings, Tube


def end(chance: Random) -> End:
    """A random cope."""
    od = Fraction(chance.randint(420, 600), 10)
    offset = Fraction(chance.randint(-15, 15), 10) if chance.random() < 0.5 else Fraction(0)
    measured = chance.choice([Measured.CENTRE, Measured.FACE, Measured.LONG, Measured.TIP])
    return End(Cut.COPE, saddles=(Saddle(Onto(od), chance.uniform(20.0, 90.0), offset),), measured=measured)


def job(count: int) -> Job:
    """``count`` members of one tube."""
    chance = Random(1)
    members = tuple(
        Member(f"M{i}", "T", length=Fraction(chance.randint(3000, 20000), 10), end_a=end(chance), end_b=end(chance))
        for i in range(count)
    )
    settings = Settings(fit_cope=Fraction(1), shrink=Fraction(1, 2))
    return Job(settings, (Tube("T", Fraction(38), Fraction(2)),), (), members)


def node() -> Job:
    """Four tubes at one node by points: a post, and three that land on it and on those before them."""

    def onto(*marks: str) -> End:
        saddles = tuple(Saddle(Onto(Fraction(38 if mark == "POST" else 30), mark, mark)) for mark in marks)
        return End(Cut.COPE, saddles=saddles, from_points=True)

    def points(*xyz: tuple[int, int, int]) -> tuple[Point, ...]:
        return tuple(Point(*map(Fraction, one)) for one in xyz)

    foot = (0, 0, 450)
    members = (
        Member("POST", "P", points=points((0, 0, 0), (0, 0, 900))),
        Member("X", "B", points=points(foot, (700, 0, 450)), end_a=onto("POST")),
        Member("Y", "B", points=points(foot, (0, 700, 450)), end_a=onto("POST", "X")),
        Member("D", "B", points=points(foot, (500, 500, 900)), end_a=onto("POST", "X", "Y")),
    )
    tubes = (Tube("P", Fraction(38), Fraction(2)), Tube("B", Fraction(30), Fraction(2)))
    return Job(Settings(), tubes, (), members)


def best_ms(job: Job) -> float:
    """The quickest of many runs, in milliseconds."""
    runs = []
    for _ in range(40):
        started = time.perf_counter()
        lay_out(job)
        runs.append(time.perf_counter() - started)
    return 1000 * min(runs)


def main() -> None:
    """Lay out, and tell the rate."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    made = job(count)
    clock, processor = float("inf"), float("inf")
    for _ in range(3):
        started, worked = time.perf_counter(), time.process_time()
        layout = lay_out(made)
        clock = min(clock, time.perf_counter() - started)
        processor = min(processor, time.process_time() - worked)
        assert len(layout.blanks) == count
    print(f"{count} blanks: {count / clock:.0f} a second by the clock, {count / processor:.0f} of processor time")
    print(f"a node of four tubes, each on those before it: {best_ms(node()):.1f} ms")


if __name__ == "__main__":
    main()
