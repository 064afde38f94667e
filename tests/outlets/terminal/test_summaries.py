"""What signals came to by the quarter of an hour, as people and as programs are told."""

import csv
import io
import json
from zoneinfo import ZoneInfo

from agent.outlets import Counted, Summed, summary_rows, write_rows
from agent.outlets.shown import Display
from agent.units import Dimension
from tests.outlets.views import NOON_US

FOUND = [
    Summed(NOON_US, "suction_pipe", (-40.0, 0.0, 37.0), Dimension.TEMPERATURE, None, 30),
    Summed(NOON_US, "suction_pressure", (0.0, 689_475.729, 1_378_951.459), Dimension.PRESSURE, None, 30),
    Summed(NOON_US, "supervisor_superheat", (0.0, 5.0, 10.0), Dimension.DIFFERENCE, None, 30),
    Summed(NOON_US, "expansion", (0.1, 0.25, 0.5), Dimension.RATIO, None, 30),
    Summed(NOON_US, "flow", (1.0, 2.0, 3.0), None, "l/min", 30),
    Counted(NOON_US, "mode", "auto", 12),
]
KEYS = ["time", "signal", "least", "mean", "most", "unit", "value", "readings"]


def written(form, display=None):
    out = io.StringIO()
    write_rows(summary_rows(FOUND, display), form, out, display or Display())
    return out.getvalue()


def test_programs_get_si_and_what_is_no_number_has_no_figures():
    rows = json.loads(written("json"))
    assert [list(row) for row in rows] == [KEYS] * len(FOUND)
    assert [list(row.values())[2:] for row in rows] == [
        [-40.0, 0.0, 37.0, "degC", None, 30],
        [0.0, 689_475.729, 1_378_951.459, "Pa", None, 30],
        [0.0, 5.0, 10.0, "K", None, 30],
        [0.1, 0.25, 0.5, "/", None, 30],
        [1.0, 2.0, 3.0, "l/min", None, 30],
        [None, None, None, None, "auto", 12],
    ]
    same = list(csv.DictReader(io.StringIO(written("csv"), newline="")))
    assert [row["mean"] for row in same] == ["0.0", "689475.729", "5.0", "0.25", "2.0", ""]
    assert [row["value"] for row in same] == [""] * 5 + ["auto"]


def test_people_get_the_sites_units_and_clock():
    """By definition: -40 degC are -40 degF, 37 degC 98.6 degF; 100 psi are 689 475.729 Pa (NIST SP 811)."""
    table = written("table", Display("degF", "psi", ZoneInfo("Europe/Berlin")))
    lines = [line.split() for line in table.splitlines() if "13:00:00" in line]
    assert [line[4:] for line in lines] == [
        ["-40.0", "32.0", "98.6", "degF", "30"],
        ["0.0", "100.0", "200.0", "psi", "absolute", "30"],
        ["0.0", "9.0", "18.0", "degF", "30"],
        ["0.1", "0.25", "0.5", "/", "30"],
        ["1", "2", "3", "l/min", "30"],
        ["auto", "12"],
    ]
