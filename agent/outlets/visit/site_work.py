"""What holds for whoever measures at a module. Common practice, no source; the equipment's own
instructions come before it."""

from __future__ import annotations

ORDER = (
    "Isolate and lock out; wait until the drive's capacitors have discharged.",
    "Fit the clamp on bare, clean pipe, tight and insulated, and lead its cable out under the cover.",
    "Close every cover that was opened.",
    "Put it back into service once whoever is responsible agrees and the compressors' shells are warm "
    "again, as the maker says: isolating cuts the crankcase heaters too. Let it run steadily in one mode for "
    "a quarter of an hour.",
    "Read at a distance, and write the time beside the figure.",
    "Isolate and lock out again before the clamp comes off; close the covers and put it back into service.",
)
NOTES = (
    "Fit all the clamps in one stop, those ahead of and after an inlet too. A reading that nothing depends "
    "on is not worth one.",
    "Have whoever is responsible hold the mode: a change-over makes a cold pipe hot.",
    "Live parts are behind the covers: only people who may work there open them.",
    "Ladder, ice, wind and the dark: not alone.",
    "Gauges open the circuit: licensed people only, and only where the module's own figures leave a doubt.",
)
NO_ROOM = (
    "Where there are not ten diameters of straight pipe: clamp in the middle of what there is, on the side "
    "that faces away from the joining pipe, say so with --note, and take the reading as a hint that decides "
    "nothing."
)
HOT = "HOT NOW: it burns. Fit the clamp only with the unit isolated and the pipe cooled down."
