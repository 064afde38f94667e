"""What lets somebody who was told of an alarm acknowledge it, and nothing else.

An alarm's id names module, alarm and occurrence. A token holds for one id up to its expiry: a keyed hash
(HMAC-SHA256, RFC 2104) of both, by a secret that never leaves the store. Must not know clock or store.
"""

from __future__ import annotations

import hmac
import re
from base64 import urlsafe_b64encode
from hashlib import sha256
from typing import NamedTuple, Self

from agent.alarms import Life
from agent.settings import ModulePath

HOLDS_DAYS = 7  # design choice, no source
SECRET = "ack"  # the store's name for it
_SECOND_US = 1_000_000
_HOLDS_US = HOLDS_DAYS * 86_400 * _SECOND_US
_BYTES = 16  # of the hash: RFC 2104, section 5, asks for half of it at least
_ID = re.compile(r"([a-z0-9_-]+)\.([a-z0-9_-]+)\.([a-z0-9_-]+)\.([a-z0-9-]+)\.([0-9]{1,19})", re.ASCII)
_TOKEN = re.compile(r"([0-9a-f]{1,12})\.[A-Za-z0-9_-]{22}", re.ASCII)


class AlarmId(NamedTuple):
    """One occurrence of an alarm of a module. As text it can stand in a URL as it is."""

    path: ModulePath
    alarm: str
    occurrence_us: int

    def __str__(self) -> str:
        return ".".join((*self.path, self.alarm, str(self.occurrence_us)))

    @classmethod
    def read(cls, text: str) -> Self | None:
        """From its text; None for what is none."""
        found = _ID.fullmatch(text)
        return None if found is None else cls(ModulePath(*found.groups()[:3]), found[4], int(found[5]))

    @classmethod
    def of(cls, path: ModulePath, alarm: str, life: Life) -> Self:
        """Of the newest occurrence: by when it became known, which late readings do not move."""
        return cls(path, alarm, life.known_us if life.known_us is not None else life.since_us or 0)


def token(secret: bytes, alarm_id: str, now_us: int) -> str:
    """What allows to acknowledge this occurrence from now on for `HOLDS_DAYS`."""
    return _token(secret, alarm_id, (now_us + _HOLDS_US) // _SECOND_US)


def expires_us(secret: bytes, alarm_id: str, given: str) -> int | None:
    """Until when a token holds for this occurrence; None where it does not and never did."""
    found = _TOKEN.fullmatch(given)
    if found is None:
        return None
    expires_s = int(found[1], 16)
    ours = _token(secret, alarm_id, expires_s)
    return expires_s * _SECOND_US if hmac.compare_digest(ours, given) else None


def _token(secret: bytes, alarm_id: str, expires_s: int) -> str:
    said = f"acknowledge {alarm_id} until {expires_s}".encode()
    digest = hmac.new(secret, said, sha256).digest()[:_BYTES]
    return f"{expires_s:x}.{urlsafe_b64encode(digest).decode().rstrip('=')}"
