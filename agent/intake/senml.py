"""SenML JSON (RFC 8428, read under RFC 9100): a payload becomes resolved records.

Knows nothing of topics, signals, the broker or the store, and reads no clock: "now" is an argument.
Section numbers in this file are those of RFC 8428.
"""

import base64
import re
from decimal import Decimal
from typing import Any, NamedTuple

import orjson

NOT_UTF8 = "not-utf8"
NOT_JSON = "not-json"
NOT_A_PACK = "not-a-pack"
VERSION = "version"
PACK_REASONS = (NOT_UTF8, NOT_JSON, NOT_A_PACK, VERSION)

NOT_A_RECORD = "not-a-record"
WRONG_TYPE = "wrong-type"
MUST_UNDERSTAND = "must-understand"
BASE = "base"
NAME = "name"
NO_VALUE = "no-value"
SEVERAL_VALUES = "several-values"
NOT_BASE64 = "not-base64"
RECORD_REASONS = (
    NOT_A_RECORD,
    WRONG_TYPE,
    MUST_UNDERSTAND,
    BASE,
    NAME,
    NO_VALUE,
    SEVERAL_VALUES,
    NOT_BASE64,
)

HIGHEST_VERSION = 10  # section 4.4; what RFC 9100 adds to it are features that have to be understood
RELATIVE_BELOW_US = 2**28 * 1_000_000  # section 4.5.3: a smaller time counts from now

_NUMBER = ((int, float), "a JSON number, without quotes")
_TEXT = ((str,), "a JSON string")
_TYPES: dict[str, tuple[tuple[type, ...], str]] = {
    **dict.fromkeys(("bt", "bv", "bs", "bver", "v", "s", "t", "ut"), _NUMBER),
    **dict.fromkeys(("bn", "bu", "n", "u", "vs", "vd"), _TEXT),
    "vb": ((bool,), "true or false"),
}
_VALUES = ("v", "vs", "vb", "vd")
_REGULAR = frozenset({"n", "u", "t", "s", "ut", *_VALUES})
_BASE_FIELDS = frozenset({"bn", "bu", "bt", "bv", "bs", "bver"})
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:._/]*")  # section 4.5.1
_BASE64 = re.compile(r"[A-Za-z0-9_-]*={0,2}")  # RFC 4648 section 5


class PayloadError(ValueError):
    """A pack of which nothing can be used; `reason` is one of PACK_REASONS."""

    def __init__(self, reason: str, detail: str) -> None:
        super().__init__(f"{reason}: {detail}")
        self.reason = reason
        self.detail = detail


class Record(NamedTuple):
    """A resolved record: names joined, base values added, times absolute (section 4.6)."""

    name: str
    unit: str | None
    value: float | int | bool | str | None  # None where the record holds data, or nothing but a sum
    data: bytes | None
    sum: float | int | None
    time_us: int | None  # None where neither the record nor its base states a time
    update_time: float | int | None  # s
    relative: bool = False  # the time was stated as counted from now


class Problem(NamedTuple):
    """A record that cannot be used; `reason` is one of RECORD_REASONS."""

    position: int  # in the pack, from 0
    reason: str
    detail: str


class Resolved(NamedTuple):
    """What a pack holds, in the pack's order."""

    records: list[Record]
    errors: list[Problem]


class _RecordError(Exception):
    def __init__(self, reason: str, detail: str) -> None:
        self.reason = reason
        self.detail = detail


class _Base:
    """The base fields in force: each holds for later records until it is stated again."""

    def __init__(self) -> None:
        self.name = ""
        self.unit: str | None = None
        self.time_us: int | None = None
        self.value: float | int | None = None
        self.sum: float | int | None = None
        self.unusable: dict[str, int] = {}  # label: the record that broke it

    def state(self, label: str, value: Any) -> None:
        """Takes over a base field of the right type."""
        match label:
            case "bn":
                self.name = value
            case "bu":
                self.unit = value
            case "bt":
                self.time_us = _microseconds(value)
            case "bv":
                self.value = value
            case "bs":
                self.sum = value
        self.unusable.pop(label, None)


def resolve(payload: bytes, now_us: int) -> Resolved:
    """Reads a pack; a record that cannot be used takes none of the others with it.

    `now_us` is what relative times count from. Raises PayloadError where the pack as a whole is unusable.
    """
    pack = _pack(payload)
    base = _Base()
    records: list[Record] = []
    errors: list[Problem] = []
    for index, fields in enumerate(pack):
        try:
            record = _record(index, fields, base, now_us)
        except _RecordError as problem:
            errors.append(Problem(index, problem.reason, f"record {index}: {problem.detail}"))
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


def _record(index: int, fields: Any, base: _Base, now_us: int) -> Record | None:
    """The resolved record, or None where it only states base fields."""
    if not isinstance(fields, dict):
        raise _RecordError(NOT_A_RECORD, f"found {_shown(fields)}; a record is a JSON object")
    _read_labels(index, fields, base)
    if base.unusable:
        label, where = next(iter(base.unusable.items()))
        raise _RecordError(
            BASE, f'it depends on "{label}" of record {where}, which cannot be used; state it again'
        )
    if _REGULAR.isdisjoint(fields) and not _BASE_FIELDS.isdisjoint(fields):
        return None

    name = base.name + fields.get("n", "")
    if not _NAME.fullmatch(name):
        raise _RecordError(
            NAME,
            f'the name ("bn" and "n" joined) is {_shown(name)}; right is a letter or digit, '
            "then letters, digits and - : . / _",
        )
    values = [label for label in _VALUES if label in fields]
    if len(values) > 1:
        raise _RecordError(
            SEVERAL_VALUES, f"{name} has {', '.join(values)}; right is one of {', '.join(_VALUES)}"
        )
    if not values and "s" not in fields:
        raise _RecordError(NO_VALUE, f"{name} has no value; right is one of {', '.join(_VALUES)}, or a sum")

    value = fields.get("v", fields.get("vs", fields.get("vb")))
    if "v" in fields and base.value is not None:
        value = base.value + fields["v"]
    total = fields.get("s", base.sum)
    if "s" in fields and base.sum is not None:
        total = base.sum + fields["s"]
    time_us, relative = _time(fields.get("t"), base.time_us, now_us)
    return Record(
        name=name,
        unit=fields.get("u", base.unit),
        value=value,
        data=_data(name, fields["vd"]) if "vd" in fields else None,
        sum=total,
        time_us=time_us,
        update_time=fields.get("ut"),
        relative=relative,
    )


def _read_labels(index: int, fields: dict[str, Any], base: _Base) -> None:
    """Takes over the base fields. Refuses wrong types and labels that have to be understood (section 4.4);
    other unknown ones pass.

    A base field that cannot be read would give all later records a wrong name or time, so it is remembered.
    """
    problem = None
    for label, value in fields.items():
        expected = _TYPES.get(label)
        if expected is None:
            if not label.endswith("_"):
                continue
            problem = problem or _RecordError(
                MUST_UNDERSTAND, f"the label {_shown(label)} has to be understood (it ends in _) and is not"
            )
        elif type(value) in expected[0]:
            if label in _BASE_FIELDS:
                base.state(label, value)
            continue
        else:
            problem = problem or _RecordError(
                WRONG_TYPE, f'"{label}" is {_shown(value)}; right is {expected[1]}'
            )
        if label.startswith("b"):
            base.unusable[label] = index
    if problem is not None:
        raise problem


def _time(stated: float | int | None, base_us: int | None, now_us: int) -> tuple[int | None, bool]:
    if stated is None and base_us is None:
        return None, False
    time_us = (base_us or 0) + (0 if stated is None else _microseconds(stated))
    if time_us < RELATIVE_BELOW_US:
        return now_us + time_us, True
    return time_us, False


def _microseconds(seconds: float | int) -> int:
    """Through the decimal that was written: the nearest double of a time in 2026 is off by up to 0.1 us."""
    if isinstance(seconds, int):
        return seconds * 1_000_000
    return int(Decimal(repr(seconds)).scaleb(6).to_integral_value())


def _data(name: str, text: str) -> bytes:
    if not _BASE64.fullmatch(text) or len(text.rstrip("=")) % 4 == 1:
        raise _RecordError(
            NOT_BASE64, f'{name} has "vd" {_shown(text)}; right is base64 with the URL-safe alphabet'
        )
    unpadded = text.rstrip("=")
    return base64.urlsafe_b64decode(unpadded + "=" * (-len(unpadded) % 4))


def _shown(value: Any) -> str:
    """A found value as JSON, short enough for a log line."""
    text = orjson.dumps(value).decode()
    return text if len(text) <= 60 else text[:57] + "..."
