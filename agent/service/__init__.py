"""Where the parts meet: the running agent, and what other processes see of it."""

from agent.service.clock import now_us
from agent.service.commanding import refused_so_far
from agent.service.comparing import compared
from agent.service.evidence import evidence, first_hour_us
from agent.service.handhelds import follows_from, measured, of_newest_layout
from agent.service.listening import BrokerUnreachableError, Listening
from agent.service.listing import UnwatchedModuleError, give, happened, loads, outcome
from agent.service.lock import StoreTakenError, is_worked_on
from agent.service.looking import (
    find,
    first_reading_us,
    look,
    past,
    received,
    summed,
    unconfirmed_us,
)
from agent.service.measuring import FAR_K, MeasureError, Typed, doubted, taken
from agent.service.naming import Named, UnknownNameError, named
from agent.service.order import Kind
from agent.service.piped import identified, tracked
from agent.service.replaying import NothingToReplayError
from agent.service.running import CANNOT_START, Runner
from agent.service.secrets import absent
from agent.service.visiting import brief
from agent.settings import UnknownModuleError

__all__ = [
    "FAR_K",
    "CANNOT_START",
    "Kind",
    "MeasureError",
    "Typed",
    "doubted",
    "follows_from",
    "measured",
    "of_newest_layout",
    "taken",
    "Named",
    "NothingToReplayError",
    "Runner",
    "UnknownModuleError",
    "UnknownNameError",
    "UnwatchedModuleError",
    "absent",
    "brief",
    "compared",
    "evidence",
    "first_hour_us",
    "give",
    "happened",
    "identified",
    "is_worked_on",
    "loads",
    "outcome",
    "find",
    "first_reading_us",
    "look",
    "named",
    "now_us",
    "past",
    "received",
    "summed",
    "refused_so_far",
    "tracked",
    "unconfirmed_us",
    "Agent",
    "BrokerUnreachableError",
    "Listening",
    "StoreTakenError",
]
