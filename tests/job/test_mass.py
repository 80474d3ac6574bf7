"""Guards the mass of tube against section tables."""

from __future__ import annotations

import math

import pytest

from cutplan.job.material import KG_M3_PER_LB_IN3, KG_M_PER_LB_FT, mass_per_m

# Hot-finished circular hollow sections, EN 10210-2, a producer's table: od and wall in mm, kg/m.
EN_10210_2 = {
    21.3: {2.6: 1.20, 2.9: 1.32, 3.2: 1.43},
    26.9: {2.6: 1.56, 2.9: 1.72, 3.2: 1.87, 3.6: 2.07},
    33.7: {2.6: 1.99, 2.9: 2.20, 3.2: 2.41, 3.6: 2.67, 4.0: 2.93, 4.5: 3.24, 5.0: 3.54},
    42.4: {2.6: 2.55, 2.9: 2.82, 3.2: 3.09, 3.6: 3.44, 4.0: 3.79, 4.5: 4.21, 5.0: 4.61},
    48.3: {2.6: 2.93, 2.9: 3.25, 3.2: 3.56, 3.6: 3.97},
}
# Illinois Administrative Code 35, part 604, table A: od and wall in inches, lb/ft.
PART_604 = [
    (6.625, 0.280, 18.97),
    (8.625, 0.322, 28.55),
    (10.750, 0.365, 40.48),
    (12.750, 0.375, 49.56),
    (14.000, 0.375, 54.57),
]


@pytest.mark.parametrize(
    ("od", "wall", "mass"), [(od, wall, mass) for od, walls in EN_10210_2.items() for wall, mass in walls.items()]
)
def test_mass_in_kg_per_m_is_the_tables(od, wall, mass):
    """The formula gives every printed kg/m to its two decimals."""
    assert mass_per_m(od, wall) == pytest.approx(mass, abs=0.0051)


def test_mass_constant_is_the_norms():
    """0.0246615 (D - t) t kg/m, od and wall in mm. Source: EN 10210-2."""
    assert mass_per_m(2.0, 1.0) == pytest.approx(0.0246615, abs=1e-7)


# The density behind the 10.68 (D - t) t of such tables (API and ASTM form): 10.68 / (12 pi) lb/in3.
TABLE_DENSITY = 10.68 / (12 * math.pi) * KG_M3_PER_LB_IN3


@pytest.mark.parametrize(("od", "wall", "mass"), PART_604)
def test_mass_in_lb_per_ft_is_the_tables(od, wall, mass):
    """The formula, turned into inches and pounds, gives the printed lb/ft to its two decimals."""
    assert mass_per_m(od * 25.4, wall * 25.4, TABLE_DENSITY) / KG_M_PER_LB_FT == pytest.approx(mass, abs=0.011)


def test_mass_follows_density():
    """A tube of aluminium, 0.0975 lb/in3, weighs as its density says against steel."""
    density = 0.0975 * KG_M3_PER_LB_IN3
    assert density == pytest.approx(2698.8, abs=0.1)
    assert mass_per_m(38, 2.5, density) / mass_per_m(38, 2.5) == pytest.approx(density / 7850)
