"""Standard uncertainty of an instrument from the limits its data sheet states.

Must not know what the instrument measures: the unit in is the unit out.
"""

from math import hypot, sqrt

# k of an expanded uncertainty: about 95 % of a normal distribution, JCGM 100:2008 6.3.3.
COVERAGE_FACTOR = 2.0


def standard_uncertainty(half_width: float, step: float = 0.0) -> float:
    """Standard uncertainty of a value that lies within +-half_width and is reported in whole steps.

    Unit out is unit in. Both are taken as rectangular: u^2 = half_width^2 / 3 + step^2 / 12.

    Raises ValueError where one is negative or not finite.
    Source: JCGM 100:2008, 4.3.7 (limits), F.2.2.1 (resolution), 5.1.2 (combination).
    """
    for name, size in (("half_width", half_width), ("step", step)):
        if not 0 <= size < float("inf"):
            raise ValueError(f"{name} {size} must be zero or above, and finite")
    return hypot(half_width / sqrt(3), step / sqrt(12))
