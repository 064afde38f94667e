"""SenML JSON (RFC 8428, read under RFC 9100): a payload becomes resolved records.

Knows nothing of topics, signals, the broker or the store, and reads no clock: "now" is an argument.
Section numbers in this file are those of RFC 8428.
"""

import base64
import re
from functools import lru_cache
from typing import Any

import orjson

from agent.intake.records import LONGEST_TEXT, MOST_RECORDS, Problem, Record, Resolved
from agent.intake.stamps import microseconds

NOT_UTF8 = "not-utf8"
NOT_JSON = "not-json"
NOT_A_PACK = "not-a-pack"
RECORD_COUNT = "record-count"
VERSION = "version"
PACK_REASONS = (NOT_UTF8, NOT_JSON, NOT_A_PACK, RECORD_COUNT, VERSION)

NOT_A_RECORD = "not-a-record"
WRONG_TYPE = "wrong-type"
MUST_UNDERSTAND = "must-understand"
BASE = "base"
NAME = "name"
LENGTH = "length"
NO_VALUE = "no-value"
SEVERAL_VALUES = "several-values"
NOT_BASE64 = "not-base64"
RECORD_REASONS = (
    NOT_A_RECORD,
    WRONG_TYPE,
    MUST_UNDERSTAND,
    BASE,
    NAME,
    LENGTH,
    NO_VALUE,
    SEVERAL_VALUES,
    NOT_BASE64,
)

LONGEST_UNIT = 64  # characters
HIGHEST_VERSION = 10  # section 4.4; what RFC 9100 adds to it are features that have to be understood
RELATIVE_BELOW_US = 2**28 * 1_000_000  # section 4.5.3: a smaller time counts from now

_NUMBER = (int, float)
_REGULAR: dict[str, tuple[type, ...]] = {
    "n": (str,),
    "u": (str,),
    "t": _NUMBER,
    "s": _NUMBER,
    "ut": _NUMBER,
    "v": _NUMBER,
    "vs": (str,),
    "vb": (bool,),
    "vd": (str,),
}
_BASES: dict[str, tuple[type, ...]] = {
    "bn": (str,),
    "bu": (str,),
    "bt": _NUMBER,
    "bv": _NUMBER,
    "bs": _NUMBER,
    "bver": _NUMBER,
}
# A base name is written once, and repeated by us in each record.
_LONGEST_BASES = {"bn": LONGEST_TEXT, "bu": LONGEST_UNIT}
_RIGHT: dict[tuple[type, ...], str] = {
    _NUMBER: "a JSON number, without quotes",
    (str,): "a JSON string",
    (bool,): "true or false",
}
_VALUES = ("v", "vs", "vb", "vd")
_OTHER_VALUES = frozenset({"vs", "vb", "vd"})
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:._/]*")  # section 4.5.1
_BASE64 = re.compile(r"[A-Za-z0-9_-]*={0,2}")  # RFC 4648 section 5


class PayloadError(ValueError):
    """A pack of which nothing can be used; `reason` is one of PACK_REASONS."""

    def __init__(self, reason: str, detail: str) -> None:
        super().__init__(f"{reason}: {detail}")
        self.reason = reason
        self.detail = detail


class _RecordError(Exception):
    def __init__(self, reason: str, detail: str) -> None:
        self.reason = reason
        self.detail = detail


class _Base:
    """The base fields in force: each holds for later records until it is stated again."""

    __slots__ = ("name", "sum", "time_us", "unit", "unusable", "value")

    def __init__(self) -> None:
        self.name = ""
        self.unit: str | None = None
        self.time_us: int | None = None
        self.value: float | int | None = None
        self.sum: float | int | None = None
        self.unusable: dict[str, int] = {}  # label: the record that broke it

    def read(self, label: str, value: Any, position: int) -> _RecordError | None:
        """Takes over a base field; of the other labels only those that have to be understood are a problem.

        One that cannot be read would give all later records a wrong name or time, so it is remembered.
        """
        kinds = _BASES.get(label)
        if kinds is None:
            if not label.endswith("_"):
                return None
            problem = _RecordError(
                MUST_UNDERSTAND, f"the label {_shown(label)} has to be understood (it ends in _) and is not"
            )
        elif type(value) not in kinds:
            problem = _wrong_type(label, value, kinds)
        elif label in _LONGEST_BASES and len(value) > _LONGEST_BASES[label]:
            problem = _too_long(label, value, _LONGEST_BASES[label])
        else:
            self._state(label, value)
            return None
        if label.startswith("b"):
            self.unusable[label] = position
        return problem

    def _state(self, label: str, value: Any) -> None:
        match label:
            case "bn":
                self.name = value
            case "bu":
                self.unit = value
            case "bt":
                self.time_us = microseconds(value)
            case "bv":
                self.value = value
            case "bs":
                self.sum = value
        self.unusable.pop(label, None)


def resolve(payload: bytes, now_us: int) -> Resolved:
    """Reads a pack; a record that cannot be used takes none of the others with it.

    `now_us` is what relative times count from. Raises PayloadError where the pack as a whole is unusable.
    """
    base = _Base()
    records: list[Record] = []
    errors: list[Problem] = []
    for position, fields in enumerate(_pack(payload)):
        try:
            record = _plain(fields, base) or _record(position, fields, base, now_us)
        except _RecordError as problem:
            errors.append(Problem(position, problem.reason, f"record {position}: {problem.detail}"))
        else:
            if record is not None:
                records.append(record)
    return Resolved(records, errors)


def _pack(payload: bytes) -> list[Any]:
    try:
        pack = orjson.loads(payload)
    except orjson.JSONDecodeError as error:
        try:
            payload.decode()
        except UnicodeDecodeError as undecodable:
            raise PayloadError(
                NOT_UTF8, f"byte {undecodable.start} is not UTF-8; SenML JSON is always UTF-8"
            ) from error
        raise PayloadError(NOT_JSON, f"{error}; SenML is a JSON array of records") from error
    if not isinstance(pack, list):
        raise PayloadError(
            NOT_A_PACK, f"found {_shown(pack)}; SenML is a JSON array of records, also for a single one"
        )
    if len(pack) > MOST_RECORDS:
        raise PayloadError(
            RECORD_COUNT, f"found {len(pack)} records; right are at most {MOST_RECORDS} in a message"
        )
    versions = [fields["bver"] for fields in pack if isinstance(fields, dict) and "bver" in fields]
    for version in versions:
        if type(version) not in (int, float) or version < 1 or version != int(version):
            raise PayloadError(VERSION, f'"bver" is {_shown(version)}; right is a whole number from 1 up')
        if version > HIGHEST_VERSION:
            raise PayloadError(
                VERSION, f'"bver" is {_shown(version)}; versions above {HIGHEST_VERSION} are not understood'
            )
        if version != versions[0]:
            raise PayloadError(
                VERSION,
                f'"bver" is {_shown(versions[0])} and then {_shown(version)}; a pack has one version',
            )
    return pack


def _plain(fields: Any, base: _Base) -> Record | None:
    """What `_record` makes of a name and a number under an absolute base time, as nearly all records are.

    None for any other: this is only quicker.
    """
    if type(fields) is not dict or len(fields) != 2:
        return None
    name, value, time_us = fields.get("n"), fields.get("v"), base.time_us
    if type(name) is not str or type(value) not in _NUMBER or base.unusable or base.value is not None:
        return None
    name = base.name + name
    if time_us is None or time_us < RELATIVE_BELOW_US or len(name) > LONGEST_TEXT or not _is_name(name):
        return None
    return Record(name, base.unit, value, None, base.sum, time_us)


def _record(position: int, fields: Any, base: _Base, now_us: int) -> Record | None:
    """The resolved record, or None where it only states base fields."""
    if not isinstance(fields, dict):
        raise _RecordError(NOT_A_RECORD, f"found {_shown(fields)}; a record is a JSON object")
    problem = None
    regular = False
    for label, value in fields.items():
        kinds = _REGULAR.get(label)
        if kinds is None:
            found = base.read(label, value, position)
            problem = problem or found
        else:
            regular = True
            if type(value) not in kinds:
                problem = problem or _wrong_type(label, value, kinds)
    if problem is not None:
        raise problem
    if base.unusable:
        label, where = next(iter(base.unusable.items()))
        raise _RecordError(
            BASE, f'it depends on "{label}" of record {where}, which cannot be used; state it again'
        )
    if not regular and not _BASES.keys().isdisjoint(fields):
        return None

    name = base.name + fields.get("n", "")
    if len(name) > LONGEST_TEXT:
        raise _too_long("n", name, LONGEST_TEXT)
    if not _is_name(name):
        raise _RecordError(
            NAME,
            f'the name ("bn" and "n" joined) is {_shown(name)}; right is a letter or digit, '
            "then letters, digits and - : . / _",
        )
    value, data = fields.get("v"), None
    if value is None or not _OTHER_VALUES.isdisjoint(fields):
        value, data = _other_value(name, fields)
    elif base.value is not None:
        value += base.value
    total = fields.get("s", base.sum)
    if "s" in fields and base.sum is not None:
        total = base.sum + fields["s"]
    unit = fields.get("u", base.unit)
    if unit is not None and len(unit) > LONGEST_UNIT:
        raise _too_long("u", unit, LONGEST_UNIT)

    time_us, relative = base.time_us, False
    if "t" in fields:
        time_us = (time_us or 0) + microseconds(fields["t"])
    if time_us is not None and time_us < RELATIVE_BELOW_US:
        time_us, relative = now_us + time_us, True
    return Record(name, unit, value, data, total, time_us, relative)


def _other_value(name: str, fields: dict[str, Any]) -> tuple[str | bool | None, bytes | None]:
    """A value that is no number, or data; neither of them where the record holds nothing but a sum."""
    values = [label for label in _VALUES if label in fields]
    if len(values) > 1:
        raise _RecordError(
            SEVERAL_VALUES, f"{name} has {', '.join(values)}; right is one of {', '.join(_VALUES)}"
        )
    if not values and "s" not in fields:
        raise _RecordError(NO_VALUE, f"{name} has no value; right is one of {', '.join(_VALUES)}, or a sum")
    if len(fields.get("vs", "")) > LONGEST_TEXT:
        raise _too_long("vs", fields["vs"], LONGEST_TEXT)
    data = _data(name, fields["vd"]) if "vd" in fields else None
    return fields.get("vs", fields.get("vb")), data


@lru_cache(maxsize=1024)
def _is_name(name: str) -> bool:
    """Remembered, because a gateway sends the same few names for years."""
    return _NAME.fullmatch(name) is not None


def _data(name: str, text: str) -> bytes:
    if not _BASE64.fullmatch(text) or len(text.rstrip("=")) % 4 == 1:
        raise _RecordError(
            NOT_BASE64, f'{name} has "vd" {_shown(text)}; right is base64 with the URL-safe alphabet'
        )
    unpadded = text.rstrip("=")
    return base64.urlsafe_b64decode(unpadded + "=" * (-len(unpadded) % 4))


def _wrong_type(label: str, value: Any, kinds: tuple[type, ...]) -> _RecordError:
    return _RecordError(WRONG_TYPE, f'"{label}" is {_shown(value)}; right is {_RIGHT[kinds]}')


def _too_long(label: str, text: str, longest: int) -> _RecordError:
    return _RecordError(
        LENGTH, f'"{label}" is {_shown(text)} with {len(text)} characters; right are at most {longest}'
    )


def _shown(value: Any) -> str:
    """A found value as JSON, short enough for a log line."""
    try:
        text = orjson.dumps(value).decode()
    except orjson.JSONEncodeError:  # it reads lists in lists 1024 deep, and writes them 254 deep
        return "lists or objects too deep to show"
    return text if len(text) <= 60 else text[:57] + "..."
