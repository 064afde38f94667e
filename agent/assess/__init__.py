"""From readings to assessments, in event time on a fixed grid. Pure: no clock, no store, no log."""

from agent.assess.assess import ToAssess, assess, assess_together
from agent.assess.assessment import (
    AT_PROBE,
    CURRENT,
    CURRENT_BALANCE,
    DISCHARGE_MARGIN,
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    INJECTION,
    PRESSURE_RATIO,
    SATURATED_CONDENSING,
    SATURATED_SUCTION,
    SUBCOOLING,
    SWING,
    Assessment,
    Cause,
    Quantity,
    Said,
    Status,
    load_assessment,
    load_conditions,
    load_quantity,
    without_figures,
)
from agent.assess.by_hand.tracking import Side, Tracking, track
from agent.assess.byhour.baseline import DAY_US, Baseline, learn
from agent.assess.byhour.hours import HOUR_US, Hour
from agent.assess.byhour.summing import hours_of
from agent.assess.causes.causes import Causes, causes
from agent.assess.causes.signs import Sign
from agent.assess.causes.weighing import LikelyCause
from agent.assess.frames import Samples
from agent.assess.inference import tells_mode
from agent.assess.instruments import superheat_at
from agent.assess.mode_codes import CODE, MODES
from agent.assess.module import SECOND, Module, Settling, Signal
from agent.assess.plausible.oddities import period_us, smallest_step
from agent.assess.plausible.plausible import findings
from agent.assess.plausible.taken import Findings, Other, Suspicion, Taken
from agent.assess.signals import FLAGS, MODE_SIGNAL, OUTDOOR_FAN, REVERSING_VALVE
from agent.assess.stretch import Stretch
from agent.assess.typical import quiet_valves, typical, typical_dew_c

__all__ = [
    "AT_PROBE",
    "CODE",
    "CURRENT",
    "CURRENT_BALANCE",
    "DAY_US",
    "DISCHARGE_MARGIN",
    "DISCHARGE_SUPERHEAT",
    "DISCHARGE_TEMPERATURE",
    "FLAGS",
    "MODES",
    "MODE_SIGNAL",
    "HOUR_US",
    "INJECTION",
    "OUTDOOR_FAN",
    "REVERSING_VALVE",
    "PRESSURE_RATIO",
    "SATURATED_CONDENSING",
    "SATURATED_SUCTION",
    "SUBCOOLING",
    "SECOND",
    "SWING",
    "Assessment",
    "Baseline",
    "Cause",
    "Causes",
    "Findings",
    "Hour",
    "LikelyCause",
    "Module",
    "Other",
    "Quantity",
    "Said",
    "Samples",
    "Settling",
    "Side",
    "Sign",
    "Signal",
    "Status",
    "Stretch",
    "Tracking",
    "Suspicion",
    "Taken",
    "ToAssess",
    "assess",
    "assess_together",
    "causes",
    "findings",
    "hours_of",
    "learn",
    "load_assessment",
    "load_quantity",
    "load_conditions",
    "superheat_at",
    "quiet_valves",
    "tells_mode",
    "track",
    "typical",
    "typical_dew_c",
    "period_us",
    "smallest_step",
    "without_figures",
]
