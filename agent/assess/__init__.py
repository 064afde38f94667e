"""From readings to assessments, in event time on a fixed grid. Pure: no clock, no store, no log."""

from agent.assess.assess import assess
from agent.assess.assessment import (
    AT_PROBE,
    SATURATED_SUCTION,
    SWING,
    Assessment,
    Cause,
    Quantity,
    Said,
    Status,
    load_assessment,
    load_conditions,
)
from agent.assess.frames import Samples
from agent.assess.modes import CODE, MODE_SIGNAL, MODES
from agent.assess.module import SECOND, Module, Settling, Signal
from agent.assess.oddities import period_us, smallest_step
from agent.assess.plausible import findings
from agent.assess.stretch import Stretch
from agent.assess.taken import Findings, Other, Suspicion, Taken

__all__ = [
    "AT_PROBE",
    "CODE",
    "MODES",
    "MODE_SIGNAL",
    "SATURATED_SUCTION",
    "SECOND",
    "SWING",
    "Assessment",
    "Cause",
    "Findings",
    "Module",
    "Other",
    "Quantity",
    "Said",
    "Samples",
    "Settling",
    "Signal",
    "Status",
    "Stretch",
    "Suspicion",
    "Taken",
    "assess",
    "findings",
    "load_assessment",
    "load_conditions",
    "period_us",
    "smallest_step",
]
