"""Where the parts meet: the running agent, and what other processes see of it."""

from agent.service.agent import Agent
from agent.service.clock import now_us
from agent.service.listening import BrokerUnreachableError, Listening
from agent.service.lock import StoreTakenError
from agent.service.looking import UnknownModuleError, find, look, past, received

__all__ = [
    "Agent",
    "BrokerUnreachableError",
    "Listening",
    "StoreTakenError",
    "UnknownModuleError",
    "find",
    "look",
    "now_us",
    "past",
    "received",
]
