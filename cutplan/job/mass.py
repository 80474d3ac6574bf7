"""Mass of round tube from its section."""

from __future__ import annotations

import math

STEEL = 7850.0
"""Density of steel, kg/m3 (EN 1991-1-1, table A.4: 77 to 78.5 kN/m3)."""

KG_M3_PER_LB_IN3 = 0.45359237 / 0.0254**3
KG_M_PER_LB_FT = 0.45359237 / 0.3048
"""Both exact by definition of the pound and the inch (1959)."""


def mass_per_m(od_mm: float, wall_mm: float, density: float = STEEL) -> float:
    """Mass of one metre of round tube in kg: pi (D - t) t, in mm, by ``density`` in kg/m3.

    For steel that is the 0.0246615 (D - t) t of the section tables (EN 10210-2, EN 10220).
    """
    return math.pi * (od_mm - wall_mm) * wall_mm * density * 1e-6
