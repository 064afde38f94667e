"""What a new revision of a module corrects, and from when on: two revision bodies compared.

Limits and versions are no correction: they hold from now on. What changes the figures of the past does.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import orjson

CATCH_UP_DAYS = 31  # so far back the past is gone over; before that, only what readings touch is assessed

TOLD = {"layout": "layout", "signals": "signals", "refrigerant": "refrigerant", "elevation_m": "elevation"}


class Correction(NamedTuple):
    """From when on a revision differs in what makes the figures; None: nowhere."""

    from_us: int | None
    reason: str


# In a revision opened to go over the past once more: which span, by whom and why.
REASSESSED = "reassessed"


def reassessed(body: str, said: dict[str, Any]) -> str:
    """The body of a revision that is the same, opened to have a span assessed anew."""
    return orjson.dumps(orjson.loads(body) | {REASSESSED: said}, option=orjson.OPT_SORT_KEYS).decode()


def reassessed_from_us(body: str) -> int | None:
    """From when on a revision was opened to assess the past anew; None: it was not."""
    said = orjson.loads(body).get(REASSESSED)
    return None if said is None else int(said["from_us"])


def is_same(before: str, after: str) -> bool:
    """Whether two revision bodies say the same of a module, whyever they were opened."""
    old, new = orjson.loads(before), orjson.loads(after)
    old.pop(REASSESSED, None)
    new.pop(REASSESSED, None)
    return bool(old == new)


def correction(before: str, after: str) -> Correction:
    """Compare two revision bodies (JSON). The reason is a few words for a person."""
    old, new = orjson.loads(before), orjson.loads(after)
    if "layouts" not in old:  # of a version that kept no dates
        return Correction(None, "program changed")
    boundaries = sorted({each["from_us"] for each in (*old["layouts"], *new["layouts"])})
    differ = [at for at in boundaries if _then(old, at) != _then(new, at)]
    if not differ:
        return Correction(None, "limits or program changed")
    then_old, then_new = _then(old, differ[0]), _then(new, differ[0])
    what = [name for key, name in TOLD.items() if then_old[key] != then_new[key]]
    reason = f"{' and '.join(what) or 'module'} changed"
    newest = new["layouts"][-1]
    if "layout" in what and newest["why"]:
        reason += f": {newest['why']} ({newest['by']})"
    return Correction(differ[0], reason)


def _then(body: dict[str, Any], at_us: int) -> dict[str, Any]:
    """All that the figures of a time rest on beside the readings."""
    epoch = [each for each in body["layouts"] if each["from_us"] <= at_us][-1]
    return {
        "layout": epoch["layout"],
        "signals": epoch["signals"],
        "refrigerant": body["refrigerant"],
        "elevation_m": body["elevation_m"],
        "module": body["module"],
        "assess": body["assess"],
    }
