"""What a job may hold, declared once: every sheet, column and setting with its kind, its limits and its words.

The readers check by it, the empty workbook takes its drop-downs, checks and notes from it, the command line its
limits, and the manual is held against it. To add a column or a setting, declare it here and use it where it counts.
"""

from __future__ import annotations

from dataclasses import fields
from fractions import Fraction

from cutplan.job.column import NOTE, Column, Kind, Sheet, coordinate, reference
from cutplan.job.model import (
    INCH,
    LEAST_COPE_DEG,
    LONGEST_NOTE,
    MOST_BARS,
    MOST_COPE_DEG,
    MOST_MITRE_DEG,
    MOST_RANK,
    MOST_SPARES,
    MOST_STAGES,
    Cut,
    Fitted,
    Measured,
    Settings,
    Source,
    To,
    Units,
)

_LONGEST_LABEL = 80
_LONGEST_JOB_NAME = 80
_LONGEST_CURRENCY = 20
_THICKEST_TUBE = Fraction(2_000)
_MOST_STRETCH = Fraction(100)
"""A tube grows by a few mm in a bend of 90 degrees."""
_MOST_ALLOWANCE = INCH
"""More at one end is a slip of the decimal point: a fit is ground, a weld draws, by a few mm."""
_LONGEST_REST = Fraction(10_000)
_MOST_SURE = Fraction(100)


def _allowance(heading: str, says: str, more: str = "") -> Column:
    return Column(heading, says, Kind.LENGTH, most=_MOST_ALLOWANCE, more=more)


SETTINGS: tuple[Column, ...] = (
    Column("name", "what the job is called on every sheet", most=_LONGEST_JOB_NAME),
    Column(
        "units",
        "mm or in: for every length of this workbook",
        Kind.WORD,
        words=Units,
        more="Plain numbers are read in it, and every length is shown in it.",
    ),
    Column("kerf", "width of the cut the saw blade makes; measure it on a trial cut", Kind.LENGTH, most=INCH),
    Column("end trim", "what is cut off each mill end of a new bar to square it, kerf included", Kind.LENGTH),
    Column("saw hold", "the end of a bar that the vice must hold, so it cannot be cut", Kind.LENGTH),
    _allowance("fit cope", "extra at each coped end, to creep up on the fit by hand"),
    _allowance("fit mitre", "extra at each mitred end"),
    _allowance("shrink", "how much each welded end shrinks"),
    Column("step", "blanks are rounded up to this: what you can mark", Kind.LENGTH, positive=True, most=INCH),
    Column(
        "spares", "how many mistakes the tube kept uncut must cover: 0, 1, 2 ...", Kind.WHOLE, least=0, most=MOST_SPARES
    ),
    Column("fitted", "after all cuts, or one at a time (cut, cope, fit, tack, then the next)", Kind.WORD, words=Fitted),
    Column("keep", "the shortest offcut worth racking", Kind.LENGTH, most=_LONGEST_REST),
    Column("currency", "the currency of the prices, shown with them", most=_LONGEST_CURRENCY),
    Column(
        "salvage",
        "how much of a spoilt straight blank is lost when it is cut down for a shorter one",
        Kind.LENGTH,
        most=_LONGEST_REST,
    ),
    Column("die mark", "distance from the start of a bend to your bender's mark", Kind.LENGTH, most=_LONGEST_REST),
    _allowance(
        "meet within",
        "how far out the points of tubes that meet may be",
        "Up to that they are moved together, and a remark says so.",
    ),
    Column(
        "saw swing",
        "how many degrees off square your saw swings",
        Kind.DEGREES,
        least=0,
        most=MOST_MITRE_DEG,
        more=f"No rough cut asks for more. A grinder: up to {MOST_MITRE_DEG:g}.",
    ),
    Column("share mitres", "yes: two blanks whose facing ends have the same mitre may share one cut", Kind.YES),
    Column(
        "sure",
        "a blank with a ± of more than this is an estimate: measured before it is cut",
        Kind.LENGTH,
        most=_MOST_SURE,
    ),
    Column(
        "mirror",
        "the plane whose other side is the mirror image of the Nodes measured, such as y=0",
        Kind.PLANE,
        more="The `Nodes` of one half are measured, the other half follows: the page `nodes`.",
    ),
    Column(
        "tape",
        "the ± of a reading of Distances: nineteen readings in twenty are within it",
        Kind.LENGTH,
        positive=True,
        most=INCH,
    ),
)
"""What may be under ``setting``, in the order of :class:`~cutplan.job.model.Settings`, whose fields they are."""

SETTING_WORDS: tuple[str, ...] = tuple(setting.heading for setting in SETTINGS)
assert [field.name for field in fields(Settings)] == [setting.field for setting in SETTINGS]


def _end(side: str) -> tuple[Column, ...]:
    return (
        Column(f"end {side}", "square, mitre or cope (blank: square)", Kind.WORD, words=Cut),
        Column(
            f"angle {side}",
            "a mitre's from square, a cope's between the axes: 63, 250 over 400, 300 and 400 across 500; joined by +",
            Kind.DEGREES,
            least=0,
            most=MOST_COPE_DEG,
            doubt=True,
            more=f"A mitre's is what the saw's scale reads, 0 to {MOST_MITRE_DEG:g}. "
            f"A cope's is {LEAST_COPE_DEG:g} to {MOST_COPE_DEG:g}; {MOST_COPE_DEG:g} is a square tee.",
        ),
        Column(
            f"onto {side}",
            "what a cope sits on: a tube, a mark or an outside diameter; several joined by +; or a plane",
            more="With nodes or points also a plane that the end is flat on: `z=0`, `plane A + B + C` (page `nodes`).",
        ),
        Column(
            f"offset {side}", "distance between the axes at a cope (blank: 0)", Kind.LENGTH, signed=True, doubt=True
        ),
        Column(
            f"measured {side}",
            "what you measured to at this end, if different from measured",
            Kind.WORD,
            words=Measured,
        ),
    )


JOB = Sheet(
    "Job", (Column("setting", "one of the settings", needed=True), Column("value", "its value", needed=True), NOTE)
)
TUBES = Sheet(
    "Tubes",
    (
        Column("tube", "a name for the section", Kind.NAME, needed=True),
        Column("od", "outside diameter", Kind.LENGTH, needed=True, positive=True, most=_THICKEST_TUBE),
        Column("wall", "wall thickness", Kind.LENGTH, needed=True, positive=True),
        Column(
            "clr", "centreline radius of the die", Kind.LENGTH, positive=True, more="Used where a bend gives no radius."
        ),
        Column("stretch", "growth in length per 90° of bend, from a test bend", Kind.LENGTH, most=_MOST_STRETCH),
        Column("grip", "straight the bender must hold at each end", Kind.LENGTH),
        Column("mass", "kg/m (lb/ft in inches); blank: from od, wall and density", Kind.NUMBER, least=0),
        Column("density", "kg/m³ (lb/in³ in inches); blank: steel", Kind.NUMBER, least=0),
        Column(
            "grade", "what to ask for, such as the steel or how it was drawn; shown on the order", most=_LONGEST_LABEL
        ),
        NOTE,
    ),
)
STOCK = Sheet(
    "Stock",
    (
        reference("tube", "a name from Tubes", "Tubes"),
        Column("length", "length of the bar as it is", Kind.LENGTH, needed=True, positive=True),
        Column(
            "price",
            "price of one bar",
            Kind.NUMBER,
            least=0,
            more="Give all bars of a tube that are for sale a price, or none: then the least length is bought.",
        ),
        Column(
            "available", "how many (blank: as many as needed; from the rack: one)", Kind.WHOLE, least=0, most=MOST_BARS
        ),
        Column("from", "buy or rack (blank: buy)", Kind.WORD, words=Source, more="What is on the rack costs nothing."),
        Column("label", "what is written on the bar", most=_LONGEST_LABEL),
        Column(
            "end trim",
            "cut off each end of this bar, if different from the setting",
            Kind.LENGTH,
            more="A rack piece is treated as squared: 0, unless you say so here.",
        ),
        Column(
            "shop", "which shop of Shops sells it (blank: one that charges for its bars alone)", most=_LONGEST_LABEL
        ),
        NOTE,
    ),
)
SHOPS = Sheet(
    "Shops",
    (
        Column("shop", "its name, as in Stock", Kind.NAME, needed=True),
        Column("delivery", "what it charges to deliver an order (blank: nothing)", Kind.NUMBER, least=0),
        Column(
            "free from",
            "an order of this much or more is delivered free",
            Kind.NUMBER,
            least=0,
            more="Only the price of its bars counts.",
        ),
        Column(
            "minimum",
            "an order of less is charged as this much",
            Kind.NUMBER,
            least=0,
            more="Delivery is added to that.",
        ),
        Column(
            "cut",
            "what it charges for one cut, where it cuts bars to be carried (blank: it cuts none)",
            Kind.NUMBER,
            least=0,
            more="0: it cuts free of charge.",
        ),
        Column("kerf", "the kerf of its saw (blank: the same as yours)", Kind.LENGTH, most=INCH),
        Column(
            "carry",
            "the longest bar that you can carry home yourself, in place of delivery",
            Kind.LENGTH,
            positive=True,
            more="Longer bars are cut there, or delivered, or cannot be had there. Blank: all is delivered where that "
            "is charged, else any bar can be carried.",
        ),
        NOTE,
    ),
    needed=False,
)
MEMBERS = Sheet(
    "Members",
    (
        Column("mark", "the piece mark", Kind.NAME, needed=True, more="Each member has its own."),
        reference("tube", "a name from Tubes", "Tubes"),
        Column("qty", "how many (blank: 1)", Kind.WHOLE, least=1, most=100_000),
        Column(
            "pair",
            "yes: a left and a right",
            Kind.YES,
            more="They are marked `-L` and `-R`; with a `qty`, so many of each.",
        ),
        reference(
            "from",
            "the node at end a, in place of a length",
            "Nodes",
            "Its ends are worked out: the page `nodes`.",
            needed=False,
        ),
        Column("via", "nodes on the way where it bends, joined by +; B radius 150 where the radius is not the tube's"),
        reference("to", "the node at end b", "Nodes", needed=False),
        Column("past a", "how far it runs on past its node at end a (below 0: short of it)", Kind.LENGTH, signed=True),
        Column("past b", "the same at end b", Kind.LENGTH, signed=True),
        Column(
            "rank",
            "of tubes that end at one node, the one of higher rank runs through (blank: 0)",
            Kind.WHOLE,
            least=-MOST_RANK,
            most=MOST_RANK,
        ),
        Column(
            "length",
            "as measured, with its ± if known, or a range; blank where Bends, Points or Nodes give it",
            Kind.LENGTH,
            positive=True,
            doubt=True,
            more="`1186 ± 1` or `1186 +/- 1` if you know how accurate it is, `1080 to 1160` if only roughly.",
        ),
        Column(
            "measured",
            "what you measured between: centre, face, long, short or tip (blank: centre)",
            Kind.WORD,
            words=Measured,
        ),
        *_end("a"),
        *_end("b"),
        Column(
            "turn",
            "degrees from end a's short side round to end b's, clockwise looking from a to b (blank: 0)",
            Kind.DEGREES,
            least=-360,
            most=360,
            more="**A brace across a corner has 0, a diagonal between two parallel rails 180.**",
        ),
        Column("insured", "no: a spare need not cover it (blank: yes)", Kind.YES),
        Column(
            "stage",
            "the stage of the build it is made in: 1, 2 ... (blank: after all that it lands on)",
            Kind.WHOLE,
            least=1,
            most=MOST_STAGES,
            more="See below.",
        ),
        Column(
            "made", "yes: it is there already, so it is neither cut nor bought (blank: no)", Kind.YES, more="See below."
        ),
        Column("note", "anything; shown with the member", most=LONGEST_NOTE),
    ),
)
BENDS = Sheet(
    "Bends",
    (
        reference("mark", "a bent member's mark", "Members", "Its `length` is then blank."),
        Column(
            "straight",
            "length before the bend; the last row is the last straight",
            Kind.LENGTH,
            needed=True,
            doubt=True,
        ),
        Column(
            "to",
            "what it was measured to: tangent, apex or outside (blank: tangent)",
            Kind.WORD,
            words=To,
            more="`tangent`: where the bend begins; `apex`: where the centrelines would cross; "
            "`outside`: where the outer faces would cross.",
        ),
        Column("angle", "degrees of bend; blank in the last row", Kind.DEGREES, least=0, most=180, doubt=True),
        Column("radius", "centreline radius (blank: the tube's clr)", Kind.LENGTH, positive=True),
        Column(
            "rotation",
            "degrees round the tube from the bend before; for the first bend, from end a's short side",
            Kind.DEGREES,
            least=-360,
            most=360,
            more="Clockwise as seen from end a to end b.",
        ),
        NOTE,
    ),
    needed=False,
)
POINTS = Sheet(
    "Points",
    (
        reference("mark", "the member's mark", "Members", "Its `length` is then blank."),
        coordinate("x"),
        coordinate("y"),
        coordinate("z"),
        Column("radius", "centreline radius at an inner point (blank: the tube's clr)", Kind.LENGTH, positive=True),
        NOTE,
    ),
    needed=False,
)
NODES = Sheet(
    "Nodes",
    (
        Column(
            "name",
            "a name for a point of the frame where tubes meet, end or bend",
            Kind.NAME,
            needed=True,
            more="Such as `A` or `front foot`.",
        ),
        *(
            Column(
                heading,
                "this coordinate, with its ± if known; with Distances also blank, about 400, > 0, < 0 or > A",
                Kind.LENGTH,
                signed=True,
                more="`about 400`: known only roughly. `> 0`, `< 0`, `> A`: known only which side of 0 or A it is on.",
            )
            for heading in ("x", "y", "z")
        ),
        NOTE,
    ),
    needed=False,
)
DISTANCES = Sheet(
    "Distances",
    (
        reference("from", "a node", "Nodes"),
        reference(
            "to", "another node, centre to centre", "Nodes", "With a mirror also one of the other side, such as `A-R`."
        ),
        Column(
            "distance",
            "as the tape reads, with its ± if it is not the setting tape",
            Kind.LENGTH,
            needed=True,
            positive=True,
        ),
        NOTE,
    ),
    needed=False,
)
SHEETS: tuple[Sheet, ...] = (JOB, TUBES, STOCK, SHOPS, MEMBERS, BENDS, POINTS, NODES, DISTANCES)
COLUMNS = {sheet.name: {column.heading: column for column in sheet.columns} for sheet in SHEETS}
"""The columns of each sheet by heading."""
