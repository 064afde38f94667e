"""A reading by hand on its way from what somebody types to what the running agent keeps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import orjson

from agent.alarms import RefusedError
from agent.assess.by_hand.handheld import AS_IT_IS, CLAMP_K, GAUGE_PA, Kind, Shown
from agent.outlets import Measured
from agent.outlets.shown import SI, Display
from agent.piping import NOT_KNOWN
from agent.readings import EVER_US
from agent.service.by_hand.handhelds import compared, follows_from, withdrawn
from agent.service.by_hand.written import WrittenError, pressure, temperature
from agent.service.work.hourly import epoch_at
from agent.service.work.order import Order
from agent.service.work.registering import moved_signals
from agent.service.work.watched import Watched
from agent.settings import ModulePlan, Plan, known_signals, meant
from agent.store import Command, Handheld, Store
from agent.thermo import absolute_pressure
from agent.units import Dimension, difference_to_si, to_si

# Beyond these no pipe of such a module is; a slip of the hand or of the unit. Design choice, no source.
TEMPERATURES_C = (-60.0, 150.0)
PRESSURES_PA = (10e3, 6e6)
FAR_K = 40.0  # from telemetry; then it is asked whether it is so. Design choice, no source.
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


def taken(plan: Plan, module: ModulePlan, typed: Typed, display: Display = SI) -> dict[str, Any]:
    """What is put to the agent of it, in SI. Raises MeasureError, in the site's units."""
    check_place(module, typed.kind, typed.place, typed.at_us)
    value, half_width, shown = _figures(plan, typed, display)
    return {
        "at_us": typed.at_us,
        "kind": typed.kind,
        "place": typed.place,
        "side": typed.side,
        "value": value,
        "half_width": half_width,
        "given": " ".join(typed.value.split()),
        "shown": list(shown),
        "assumed": typed.accuracy is None,
    }


def check_place(module: ModulePlan, kind: Kind, place: str, at_us: int) -> None:
    """Whether the layout that held then has such a place. Raises MeasureError."""
    epoch = epoch_at(module, at_us)
    layout = epoch.module.layout
    dimensions = known_signals(layout) | {n: c.dimension for n, c in epoch.conversions.items()}
    known = {each: sorted(n for n, d in dimensions.items() if d is _DIMENSION[each]) for each in Kind}
    known[Kind.INLET] = sorted(layout.inlets)
    if place in known[kind]:
        return
    if layout.name == NOT_KNOWN and kind is Kind.INLET:
        raise MeasureError(
            f"the piping of {module.path} is not described, so that no inlet is known; write the nearest "
            "layout first (`dewline explain LAYOUT` draws those there are) and name it in the configuration"
        )
    other = next((each for each in Kind if place in known[each]), None)
    if other is not None:
        article = "an" if other is Kind.INLET else "a"
        side = " --side ahead, or after" if other is Kind.INLET else ""
        raise MeasureError(
            f"layout {layout.name} has no {kind} {place!r}; it is {article} {other}: give it with --{other} "
            f"{place}{side}"
        )
    hint = meant(place, known[kind]) if known[kind] else "; it has none"
    raise MeasureError(f"layout {layout.name} has no {kind} {place!r}{hint}")


def _figures(plan: Plan, typed: Typed, display: Display) -> tuple[float, float, Shown]:
    """Value and limit of error in SI (degC and K, or Pa absolute and Pa), and how a pressure is shown."""
    is_pressure = typed.kind is Kind.TRANSDUCER
    try:
        written = pressure(typed.value, display) if is_pressure else temperature(typed.value, display)
    except WrittenError as error:
        raise MeasureError(str(error)) from None
    value, reference_pa = float(to_si(written.number, written.unit)), 0.0
    if written.reference == "gauge":
        if plan.settings.elevation_m is None:
            right = "state elevation_m beside site in the configuration, or give it as absolute"
            raise MeasureError(
                f"a gauge counts from the air around it, which takes the site's height; {right}"
            )
        reference_pa = absolute_pressure(0.0, "gauge-vented", plan.settings.elevation_m)
        value += reference_pa
    least, most = PRESSURES_PA if is_pressure else TEMPERATURES_C
    if not least <= value <= most:
        right = "between 10 kPa and 6 MPa absolute" if least > 0 else "between -60 and 150 degC"
        raise MeasureError(
            f"{typed.value!r} is nothing that a pipe of a module has; right would be {display.words(right)}"
        )
    shown = AS_IT_IS
    if is_pressure:
        name = f"{written.unit} {written.reference}"
        shown = Shown(name, written.unit, difference_to_si(1.0, written.unit), reference_pa)
    if typed.accuracy is not None:
        return value, difference_to_si(typed.accuracy, written.unit), shown
    return value, GAUGE_PA if is_pressure else CLAMP_K, shown


def doubted(
    store: Store, plan: Plan, module: ModulePlan, body: Mapping[str, Any], who: str, display: Display = SI
) -> str:
    """Why somebody is asked whether it is so: it lies far from telemetry; empty: nobody need be asked."""
    module_id = store.module_ids().get(module.path)
    if module_id is None:
        return ""
    command = Command(EVER_US, who, "measure", module_id, None, "{}")
    handheld = handheld_of(command, {"handheld": body})
    found = compared(store, module, module_id, moved_signals(store, plan), handheld, display)
    this = next(each for each in reversed(found.readings) if each.given_us == EVER_US)
    far_k = this.found.far_k
    if far_k is None or far_k < FAR_K:
        return ""
    if this.found.telemetry is None:
        apart = display.words(f"the nearest probe of the suction line reads {far_k:.0f} K otherwise")
    else:
        apart = "telemetry says " + _figure(this, this.found.telemetry, display)
    by_hand = _figure(this, this.value, display)
    return (
        f"{this.where}: {by_hand} by hand, and {apart}. Nothing is kept; if it was read so, say it once more "
        "with --sure."
    )


def _figure(this: Measured, value: float, display: Display) -> str:
    if this.kind is Kind.TRANSDUCER:
        return this.shown.figure(value)
    return f"{display.temperature(value):.1f} {display.temperature_unit}"


def take_down(order: Order) -> None:
    """Keep a reading, and say what it comes to. Raises RefusedError with a whole sentence."""
    handheld = handheld_of(order.command, order.body)
    check(order.watched.plan, handheld, order.watched.service.replaced_us, order.display)
    line = order.line(says(order.store, order.watched, handheld), handheld.at_us)
    outcome = says(order.store, order.watched, handheld, order.display)
    order.done(outcome, journal=[line], handheld=handheld)


def withdraw(order: Order) -> None:
    """Take a reading back: it stays where it is, and is not used. Raises RefusedError."""
    command = order.command
    kept = withdrawable(order.store, command, order.body, order.display)
    changed = orjson.loads(kept.body) | {"withdrawn": [command.created_us, command.who, order.why]}
    outcome, in_journal = (
        f"Reading {kept.id} of {order.path} ({_in_short(kept, of)}) is withdrawn by {command.who}: it "
        "stays in the list, and is not used."
        for of in (order.display, SI)
    )
    line = order.line(f"{in_journal} {order.why}".strip(), kept.at_us)
    order.done(outcome, journal=[line], withdrawn=kept._replace(body=orjson.dumps(changed).decode()))


def withdrawable(store: Store, command: Command, body: Mapping[str, Any], display: Display) -> Handheld:
    """The reading that is meant. Raises RefusedError."""
    every = store.handhelds(command.module_id or 0, 0, EVER_US)
    kept = next((each for each in every if each.id == body.get("handheld_id")), None)
    if kept is None:
        raise RefusedError("It has no such reading; `dewline measure MODULE --list` has them.")
    if before := withdrawn(kept):
        raise RefusedError(f"It is withdrawn already, by {before.by} at {display.when(before.at_us)}.")
    return kept


def _in_short(kept: Handheld, display: Display) -> str:
    side = "" if kept.side is None else f"{'ahead of' if kept.side == 'ahead' else 'after'} "
    return f"{orjson.loads(kept.body)['given']}, {side}{kept.place}, {display.when(kept.at_us)}"


def handheld_of(command: Command, body: Mapping[str, Any]) -> Handheld:
    """What a command has kept. Raises RefusedError where it is not understood."""
    try:
        given = body["handheld"]
        kept = {"given": given["given"], "assumed": given["assumed"], "note": body.get("why", "")}
        kept["shown"] = list(Shown(*given.get("shown", AS_IT_IS)))
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


def check(module: ModulePlan, handheld: Handheld, replaced_us: int | None, display: Display) -> None:
    """Whether it can have been measured at this module. Raises RefusedError with a whole sentence."""
    check_time(handheld, replaced_us, display)
    try:
        check_place(module, Kind(handheld.kind), handheld.place, handheld.at_us)
    except MeasureError as error:
        raise RefusedError(f"It is not kept: {error}.") from None


def check_time(handheld: Handheld, replaced_us: int | None, display: Display) -> None:
    """Whether it can have been measured then. Raises RefusedError with a whole sentence."""
    if handheld.at_us > handheld.given_us:
        raise RefusedError("Nothing can have been measured in the future.")
    if replaced_us is not None and handheld.at_us < replaced_us:
        raise RefusedError(f"Another unit stood there then: it was replaced at {display.when(replaced_us)}.")


def says(store: Store, watched: Watched, handheld: Handheld, display: Display = SI) -> str:
    """What a reading comes to, in sentences; with what follows from it and those before it."""
    found = compared(store, watched.plan, watched.module_id, watched.moved, handheld, display)
    this = next(each for each in reversed(found.readings) if each.given_us == handheld.given_us)
    what = f"{this.where} at {watched.plan.path}: {this.found.text}."
    said = [f"{each.text[0].upper()}{each.text[1:]}." for each in follows_from(found, this)]
    return display.words(" ".join([what, *said]))
