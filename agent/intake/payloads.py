"""The kinds of payload behind one small signature: a message goes in, records come out.

Which kind comes on a topic is said by the mapping; it is never guessed.
"""

from collections.abc import Callable, Iterable

from jsonpointer import JsonPointer

from agent.intake import plain_json, refusals, scalar, senml
from agent.intake.inbox import Message
from agent.intake.records import Resolved
from agent.intake.refusals import UnusableError
from agent.settings import Payload

Read = Callable[[Message], Resolved]  # raises UnusableError; reasons are those of refusals

_REASON_OF_PACK = {senml.RECORD_COUNT: refusals.RECORD_COUNT}  # the others are not SenML
_REASON_OF_RECORD = {senml.NO_VALUE: refusals.NO_VALUE, senml.LENGTH: refusals.LENGTH}  # the others are bad


def reader(payload: Payload, names: Iterable[str]) -> Read:
    """What reads a topic's payloads; `names`: those that are mapped there."""
    if payload.kind == "json":
        points = {name: JsonPointer(name) for name in names}
        time = JsonPointer(payload.time) if payload.time is not None else None
        return lambda message: plain_json.resolve(message.payload, points, time)
    if payload.kind == "scalar":
        return lambda message: scalar.resolve(message.payload)
    return read_senml


def read_senml(message: Message) -> Resolved:
    try:
        resolved = senml.resolve(message.payload, message.arrival_us)
    except senml.PayloadError as error:
        reason = _REASON_OF_PACK.get(error.reason, refusals.NOT_SENML)
        raise UnusableError(reason, error.detail) from error
    if resolved.errors:
        errors = [
            each._replace(reason=_REASON_OF_RECORD.get(each.reason, refusals.BAD_RECORD))
            for each in resolved.errors
        ]
        return Resolved(resolved.records, errors)
    return resolved
