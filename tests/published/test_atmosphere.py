"""Atmospheric pressure against the US Standard Atmosphere 1976, and what a wrong height does to superheat."""

from functools import partial

from agent.thermo import absolute_pressure, atmospheric_pressure, superheat
from tests.published.rows import Row, agrees, each_of

STANDARD = "US Standard Atmosphere 1976 (NOAA-S/T 76-1562), by geopotential height, to five figures"
LISTED_PA = {0: 101325, 500: 95461, 1000: 89875, 1500: 84556, 2000: 79495, 3000: 70109, 11000: 22632}


def low_by_k(height_m: float) -> float:
    """What superheat is low by at a true 8.00 bar(a) where a vented transducer is read as at sea level."""
    stated_pa = 800e3 - atmospheric_pressure(height_m)
    right, wrong = (
        superheat("R-410A", 10.0, absolute_pressure(stated_pa, "gauge-vented", at_m)).value
        for at_m in (height_m, 0.0)
    )
    return right - wrong


ROWS = [
    *(
        Row(
            f"pressure at {height_m} m",
            pressure_pa,
            "Pa",
            0.5,
            STANDARD,
            partial(atmospheric_pressure, height_m),
        )
        for height_m, pressure_pa in LISTED_PA.items()
    ),
    Row(
        "R-410A at 8.00 bar(a) and 1500 m, sea level assumed: superheat too low by",
        0.65,
        "K",
        0.005,
        f"{STANDARD}; Lemmon, Int. J. Thermophys. 24(4):991-1006, 2003, worked out with CoolProp 8.0.0",
        partial(low_by_k, 1500.0),
    ),
]


@each_of(ROWS)
def test_published(row):
    assert agrees(row)
