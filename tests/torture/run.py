"""One recording, one undisturbed agent fed with it in order, and trial after trial compared with it."""

import time
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from random import Random
from typing import NamedTuple

from tests.service.processes import eventually
from tests.torture.count import Tally, compare
from tests.torture.stream import Message, disordered, in_order, now_us, readings_of, record
from tests.torture.trials import Trial
from tests.torture.world import PATIENCE_S, NotTriedError, World


class Outcome(NamedTuple):
    trial: Trial
    tally: Tally | None  # None: not tried, or broken off
    seen: list[str]
    broken: list[str]
    took_s: float = 0.0

    @property
    def is_kept(self) -> bool:
        """Whether all that was promised was kept."""
        return not self.broken and (self.tally is None or self.tally.is_whole or not self.trial.is_promised)


class Torture:
    """The recording and the undisturbed agent; a trial may be run at any time of the recording."""

    def __init__(
        self, directory: Path, seed: str, messages: Sequence[Message], end_us: int, calm: World
    ) -> None:
        self.directory = directory
        self.seed = seed
        self.messages = messages
        self.end_us = end_us
        self.calm = calm

    def run(self, trial: Trial) -> Outcome:
        number = sum(1 for _ in self.directory.iterdir())
        schedule = disordered(self.messages, self.end_us, Random(f"{self.seed}/{trial.name}"))
        began = time.monotonic()
        try:
            with World(
                self.directory / f"{number:02}",
                schedule,
                self.end_us,
                past_s=trial.past_s,
                persistence=trial.persistence,
                small_disk=trial.small_disk,
            ) as world:
                trial.run(world)
                until_us = world.finish()
                self._wait_for_calm(until_us)
                published = readings_of(world.feed.acknowledged())
                tally = compare(world.kept, published, self.calm.kept, until_us)
                return Outcome(trial, tally, world.seen, world.broken, time.monotonic() - began)
        except NotTriedError as reason:
            return Outcome(trial, None, [f"not tried: {reason}"], [])
        except Exception:
            return Outcome(trial, None, [], [traceback.format_exc()], time.monotonic() - began)

    def _wait_for_calm(self, until_us: int) -> None:
        kept = self.calm.kept
        count = len(readings_of(message for message in self.messages if message.sample_us <= until_us))
        eventually(
            lambda: (
                kept.count(until_us) >= count
                and kept.progress_us() >= until_us
                and not kept.has_dirty(until_us)
            ),
            "the undisturbed agent to have assessed as far",
            PATIENCE_S,
        )


@contextmanager
def torture(directory: Path, seed: str, backlog: str, live_s: int) -> Iterator[Torture]:
    """`live_s`: for how long the recording goes on after now; the trials must be over by then."""
    end_us = now_us()
    messages = record(directory / "stream.jsonl", end_us, backlog, live_s)
    with World(directory / "undisturbed", in_order(messages), end_us, past_s=5.0) as calm:
        yield Torture(directory, seed, messages, end_us, calm)
