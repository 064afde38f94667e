"""Where the parts meet: the running agent, and what other processes see of it."""

from agent.service.by_hand.handhelds import follows_from, measured, of_newest_layout
from agent.service.by_hand.measuring import FAR_K, MeasureError, Typed, doubted, taken
from agent.service.commands.commanding import refused_so_far
from agent.service.commands.giving import UnwatchedModuleError, give, outcome
from agent.service.listen.listening import BrokerUnreachableError, Listening
from agent.service.look.evidence import evidence, first_hour_us
from agent.service.look.listing import happened, loads
from agent.service.look.looking import (
    find,
    first_reading_us,
    look,
    past,
    received,
    summed,
    unconfirmed_us,
)
from agent.service.look.naming import Named, UnknownNameError, named
from agent.service.look.piped import identified, tracked
from agent.service.look.visiting import brief
from agent.service.machine.clock import now_us
from agent.service.machine.lock import is_worked_on
from agent.service.machine.secrets import absent
from agent.service.replay.comparing import compared
from agent.service.replay.replaying import NothingToReplayError
from agent.service.running import CANNOT_START, Runner
from agent.service.work.order import Kind
from agent.settings import UnknownModuleError

__all__ = [
    "CANNOT_START",
    "FAR_K",
    "BrokerUnreachableError",
    "Kind",
    "Listening",
    "MeasureError",
    "Named",
    "NothingToReplayError",
    "Runner",
    "Typed",
    "UnknownModuleError",
    "UnknownNameError",
    "UnwatchedModuleError",
    "absent",
    "brief",
    "compared",
    "doubted",
    "evidence",
    "find",
    "first_hour_us",
    "first_reading_us",
    "follows_from",
    "give",
    "happened",
    "identified",
    "is_worked_on",
    "loads",
    "look",
    "measured",
    "named",
    "now_us",
    "of_newest_layout",
    "outcome",
    "past",
    "received",
    "refused_so_far",
    "summed",
    "taken",
    "tracked",
    "unconfirmed_us",
]
