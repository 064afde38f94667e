"""One agent after another on one configuration file: the next takes over when the file is loaded anew.

A file that cannot be used, or an agent that cannot start on it, leaves the configuration before in force.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from pathlib import Path

from agent.service.agent import Agent
from agent.service.machine.clock import now_us
from agent.service.machine.lock import StoreTakenError
from agent.settings import ConfigError, Plan, load
from agent.store import StoreError

CANNOT_START = (StoreError, StoreTakenError, OSError, ValueError)

_log = logging.getLogger(__name__)


class Runner:
    """Runs an agent until told to stop; told to reload, it runs another in its place."""

    def __init__(self, path: Path, clock: Callable[[], int] = now_us) -> None:
        self._path = path
        self._clock = clock
        self._agent: Agent | None = None
        self._began_us = clock()
        # No Events: a signal handler must not wait for a lock that its own thread holds.
        self._told_to_stop = False
        self._told_to_reload = False
        self._next: Plan | None = None
        self._news: bool | None = None  # whether a new configuration was taken over; None: nothing to tell

    def stop(self) -> None:
        """Make ``run`` end. A signal handler may call it."""
        self._told_to_stop = True
        if self._agent is not None:
            self._agent.stop()

    def reload(self) -> None:
        """Have the file loaded anew. A signal handler may call it."""
        self._told_to_reload = True

    def run(self) -> None:
        """Work until ``stop``. Raises ConfigError, and what ``Agent.run`` raises."""
        plan, before = load(self._path), None
        while not self._told_to_stop:
            self._agent, self._next = Agent(plan, self._clock, self._look, self._began_us), None
            if self._told_to_stop:  # by a signal that knew of no agent yet
                return
            try:
                self._agent.run()
            except CANNOT_START as error:
                if self._agent.started or before is None:
                    raise
                _log.error("the new configuration cannot start, the one before goes on: %s", error)
                plan, before, self._news = before, None, False
                continue
            if self._next is None:
                return
            plan, before, self._news = self._next, plan, True

    def _look(self) -> None:
        """What a running agent asks several times a second."""
        assert self._agent is not None
        if self._told_to_reload:
            self._told_to_reload = False
            self._next = self._loaded()
            if self._next is not None:
                self._agent.stop()
            else:
                self._news = False
        elif self._news:
            _log.info("configuration taken over")
        if self._news is not None and self._next is None:
            self._agent.metrics.show_reload(self._news)
            self._news = None

    def _loaded(self) -> Plan | None:
        try:
            return load(self._path)
        except ConfigError as error:
            for finding in error.findings:
                _log.error("%s", finding)
        except Exception:  # what watches the plant does not end over a file
            _log.exception("the configuration could not be loaded")
        _log.error("the configuration is refused; the one before stays in force")
        return None
