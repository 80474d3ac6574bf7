"""Mass of round tube per length."""

from __future__ import annotations

from math import pi

STEEL = 7850.0
"""Density of steel in kg/m³, as EN 10210-2 reckons."""


def mass_per_m(od_mm: float, wall_mm: float, density_kg_m3: float = STEEL) -> float:
    """Kg per metre: pi·density·(D - t)·t, with D and t in metres (EN 10210-2; 0.0246615·(D - t)·t for steel in mm).

    Raises ValueError where the wall is not more than 0 and at most half of the outside diameter.
    """
    if not 0.0 < wall_mm <= od_mm / 2.0:
        raise ValueError(f"a wall is more than 0 and at most half the OD of {od_mm} mm, got {wall_mm}")
    return pi * density_kg_m3 * (od_mm - wall_mm) * wall_mm / 1e6
