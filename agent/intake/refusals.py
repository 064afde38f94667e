"""Why something received cannot be used, in a closed list of words, and which refusals are kept.

Each refusal is counted by its reason; kept are only so many a minute, or a flood of them would fill the disk.
"""

from agent.intake.inbox import Message
from agent.readings import Refusal

PAYLOAD_SIZE = "payload-size"
NOT_SENML = "not-senml"
NOT_UTF8 = "not-utf8"
NOT_JSON = "not-json"
DUPLICATE_KEY = "duplicate-key"
RECORD_COUNT = "record-count"
BAD_RECORD = "bad-record"
LENGTH = "length"
NO_VALUE = "no-value"
STRUCTURE = "structure"
UNMAPPED = "unmapped"
RETAINED_WITHOUT_TIME = "retained-without-time"
BAD_TIME = "bad-time"
NO_SUCH_TIME = "no-such-time"
FUTURE = "future"
ANCIENT = "ancient"
DATA_VALUE = "data-value"
NOT_FINITE = "not-finite"
TOO_LARGE = "too-large"
UNIT = "unit"
TEXT = "text"
BOOLEAN = "boolean"
REASONS = (  # each becomes the label of a counter, so there are no others
    PAYLOAD_SIZE,
    NOT_SENML,
    NOT_UTF8,
    NOT_JSON,
    DUPLICATE_KEY,
    RECORD_COUNT,
    BAD_RECORD,
    LENGTH,
    NO_VALUE,
    STRUCTURE,
    UNMAPPED,
    RETAINED_WITHOUT_TIME,
    BAD_TIME,
    NO_SUCH_TIME,
    FUTURE,
    ANCIENT,
    DATA_VALUE,
    NOT_FINITE,
    TOO_LARGE,
    UNIT,
    TEXT,
    BOOLEAN,
)

KEPT_PER_MINUTE = 20
UNMAPPED_KEPT = 1000
HEAD_BYTES = 256
TOPIC_CHARACTERS = 512  # a topic may have 65,535 bytes
DETAIL_CHARACTERS = 512

_MINUTE_US = 60_000_000


class UnusableError(Exception):
    """Something that cannot be used; `reason` is one of REASONS."""

    def __init__(self, reason: str, detail: str) -> None:
        super().__init__(f"{reason}: {detail}")
        self.reason = reason
        self.detail = detail


class Keeper:
    """Chooses the refusals that are kept; used from one thread."""

    def __init__(self, per_minute: int) -> None:
        self._per_minute = per_minute
        self._minute = 0
        self._kept = 0
        self._unmapped: set[tuple[str, str]] = set()

    def refusal(self, message: Message, reason: str, detail: str) -> Refusal | None:
        """None when this minute has its share."""
        minute = message.arrival_us // _MINUTE_US
        if minute != self._minute:
            self._minute, self._kept = minute, 0
        if self._kept >= self._per_minute:
            return None
        self._kept += 1
        return Refusal(
            message.arrival_us,
            message.topic[:TOPIC_CHARACTERS],
            reason,
            detail[:DETAIL_CHARACTERS],
            message.payload[:HEAD_BYTES],
        )

    def unmapped(self, message: Message, name: str) -> Refusal | None:
        """Once for each topic and name: a gateway may send thousands that nobody asked for."""
        key = (message.topic, name)
        if key in self._unmapped or len(self._unmapped) >= UNMAPPED_KEPT:
            return None
        detail = "a payload on a topic that no signal is mapped to; map it, or ignore it"
        if name:
            detail = (
                f"the record {name[:60]} on a topic and name that no signal is mapped to; map it, or "
                "ignore it"
            )
        refusal = self.refusal(message, UNMAPPED, detail)
        if refusal is not None:
            self._unmapped.add(key)
        return refusal
