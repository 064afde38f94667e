"""A reading by hand on its way from what somebody types to what the running agent keeps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import orjson

from agent.alarms import RefusedError
from agent.assess.handheld import CLAMP_K, GAUGE_PA, Kind
from agent.service.handhelds import compared
from agent.service.hourly import epoch_at
from agent.service.said import module_line, when
from agent.service.watched import Watched
from agent.settings import ModulePlan, Plan, known_signals, meant
from agent.store import Command, Handheld, Store
from agent.thermo import absolute_pressure
from agent.units import Dimension, NoQuantityError, difference_to_si, quantity, to_si, unit_in, units_of

# Beyond these no pipe of such a module is; a slip of the hand or of the unit. Design choice, no source.
TEMPERATURES_C = (-60.0, 150.0)
PRESSURES_PA = (10e3, 6e6)
_DIMENSION = {
    Kind.PROBE: Dimension.TEMPERATURE,
    Kind.INLET: Dimension.TEMPERATURE,
    Kind.TRANSDUCER: Dimension.PRESSURE,
}


class MeasureError(ValueError):
    """Nothing of the kind can have been measured; says what would be right."""


class Typed(NamedTuple):
    """What somebody types. ``accuracy``: in the unit of the value; None: not stated."""

    kind: Kind
    place: str
    side: str | None
    value: str
    accuracy: float | None
    at_us: int


def taken(plan: Plan, module: ModulePlan, typed: Typed) -> dict[str, Any]:
    """What is put to the agent of it, in SI. Raises MeasureError."""
    check_place(module, typed.kind, typed.place, typed.at_us)
    value, half_width = _figures(plan, typed)
    return {
        "at_us": typed.at_us,
        "kind": typed.kind,
        "place": typed.place,
        "side": typed.side,
        "value": value,
        "half_width": half_width,
        "given": " ".join(typed.value.split()),
        "assumed": typed.accuracy is None,
    }


def check_place(module: ModulePlan, kind: Kind, place: str, at_us: int) -> None:
    """Whether the layout that held then has such a place. Raises MeasureError."""
    epoch = epoch_at(module, at_us)
    layout = epoch.module.layout
    if kind is Kind.INLET:
        known = sorted(layout.inlets)
    else:
        dimensions = known_signals(layout) | {n: c.dimension for n, c in epoch.conversions.items()}
        known = sorted(name for name, found in dimensions.items() if found is _DIMENSION[kind])
    if place not in known:
        hint = meant(place, known) if known else "; it has none"
        raise MeasureError(f"layout {layout.name} has no {kind} {place!r}{hint}")


def _figures(plan: Plan, typed: Typed) -> tuple[float, float]:
    """Value and limit of error in SI: degC and K, or Pa absolute and Pa."""
    words, _, reference = typed.value.strip().rpartition(" ")
    if typed.kind is not Kind.TRANSDUCER:
        words = typed.value
    elif reference not in ("gauge", "absolute"):
        right = 'right would be such as "8.2 bar gauge" or "920 kPa absolute"'
        raise MeasureError(f"{typed.value!r} does not say what it is counted from; {right}")
    number, unit = _quantity(words, _DIMENSION[typed.kind])
    value = float(to_si(number, unit))
    if reference == "gauge" and typed.kind is Kind.TRANSDUCER:
        if plan.settings.elevation_m is None:
            right = "state elevation_m beside site in the configuration, or give it as absolute"
            raise MeasureError(
                f"a gauge counts from the air around it, which takes the site's height; {right}"
            )
        value = absolute_pressure(value, "gauge-vented", plan.settings.elevation_m)
    least, most = PRESSURES_PA if typed.kind is Kind.TRANSDUCER else TEMPERATURES_C
    if not least <= value <= most:
        right = "between 10 kPa and 6 MPa absolute" if least > 0 else "between -60 and 150 degC"
        raise MeasureError(f"{typed.value!r} is nothing that a pipe of a module has; right would be {right}")
    if typed.accuracy is not None:
        return value, difference_to_si(typed.accuracy, unit)
    return value, GAUGE_PA if typed.kind is Kind.TRANSDUCER else CLAMP_K


def _quantity(words: str, dimension: Dimension) -> tuple[float, str]:
    right = f"right would be a number and one of {', '.join(units_of(dimension))}"
    try:
        number, unit = quantity(words)
    except NoQuantityError as error:
        raise MeasureError(f"{error}; {right}") from None
    if unit is None:
        raise MeasureError(f"{words!r} states no unit; {right}")
    if unit_in(unit, dimension) is None:
        raise MeasureError(f"{unit!r} is no unit of {dimension}; {right}")
    return number, unit


def take_down(store: Store, watched: Watched, command: Command, body: Mapping[str, Any], now_us: int) -> None:
    """Keep a reading, and say what it comes to. Raises RefusedError with a whole sentence."""
    handheld = handheld_of(command, body)
    check(watched.plan, handheld, watched.service.replaced_us)
    outcome = says(store, watched, handheld)
    entry = module_line(watched, command, outcome, now_us, handheld.at_us)
    store.finish_command(command, now_us, outcome, journal=[entry], handheld=handheld)


def handheld_of(command: Command, body: Mapping[str, Any]) -> Handheld:
    """What a command has kept. Raises RefusedError where it is not understood."""
    try:
        given = body["handheld"]
        kept = {"given": given["given"], "assumed": given["assumed"], "note": body.get("why", "")}
        return Handheld(
            given["at_us"],
            command.created_us,
            command.who,
            Kind(given["kind"]),
            given["place"],
            given["side"],
            given["value"],
            given["half_width"],
            orjson.dumps(kept).decode(),
        )
    except (KeyError, TypeError, ValueError):
        raise RefusedError("The reading is not understood by this version of the agent.") from None


def check(module: ModulePlan, handheld: Handheld, replaced_us: int | None) -> None:
    """Whether it can have been measured at this module. Raises RefusedError with a whole sentence."""
    check_time(handheld, replaced_us)
    try:
        check_place(module, Kind(handheld.kind), handheld.place, handheld.at_us)
    except MeasureError as error:
        raise RefusedError(f"It is not kept: {error}.") from None


def check_time(handheld: Handheld, replaced_us: int | None) -> None:
    """Whether it can have been measured then. Raises RefusedError with a whole sentence."""
    if handheld.at_us > handheld.given_us:
        raise RefusedError("Nothing can have been measured in the future.")
    if replaced_us is not None and handheld.at_us < replaced_us:
        raise RefusedError(f"Another unit stood there then: it was replaced at {when(replaced_us)}.")


def says(store: Store, watched: Watched, handheld: Handheld) -> str:
    """What a reading comes to, in sentences; with what follows from it and those before it."""
    found = compared(store, watched.plan, watched.module_id, watched.moved, handheld)
    this = next(each for each in reversed(found.readings) if each.given_us == handheld.given_us)
    what = f"{this.where} at {watched.plan.path}: {this.found.text}."
    follows = [each for each in found.concluded if handheld.place in (each.probe, each.inlet)]
    newest = [each for each in follows if each.at_us >= handheld.at_us]
    return " ".join([what, *(f"{each.text[0].upper()}{each.text[1:]}." for each in newest)])
