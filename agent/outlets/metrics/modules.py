"""What Prometheus is told of modules: quantities, words and alarms. What has no value is absent."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from prometheus_client.core import GaugeMetricFamily, Metric

from agent.alarms import Priority, StateName
from agent.assess import SATURATED_SUCTION, Assessment, Quantity
from agent.outlets.highside import KELVINS, OF_A_COMPRESSOR, OF_A_MODULE, highside_quantities, of_compressors
from agent.outlets.view import ModuleView, unfit
from agent.piping import ACCUMULATOR_OUTLET, COMPRESSOR_INLET, RETURN, RISE, Fitness
from agent.settings import ModulePath

MODULE = ("site", "system", "module")
_PLACES = {
    RETURN: "Superheat of the vapour coming back, ahead of the accumulator",
    ACCUMULATOR_OUTLET: "Superheat after the accumulator, ahead of every inlet",
    COMPRESSOR_INLET: "Superheat after the inlets: for gas density, not for vapour quality",
    RISE: "Temperature gained between the fit reference and a probe after the oil return",
}
_NOT_SUCTION = (Fitness.HIGH_SIDE, Fitness.IDLE)


class Told(NamedTuple):
    """All of a module that its metrics are made of, and nothing else: where it is alike, so are they."""

    path: ModulePath
    assessment: Assessment | None  # None: there is none, or it is too old to be shown
    standing: tuple[tuple[str, Priority], ...]  # alarms hold through a gap, where values have gone stale
    states: tuple[tuple[str, StateName], ...]  # of the alarms that are not normal
    shadow: bool

    @classmethod
    def of(cls, view: ModuleView, oldest_us: int) -> Told:
        """A view, without an assessment from before ``oldest_us``."""
        assessment, lives = view.assessment, view.lives
        return cls(
            view.path,
            assessment if assessment is not None and assessment.grid_us >= oldest_us else None,
            tuple((alarm.name, alarm.priority) for alarm in view.alarms),
            tuple((name, lives.standing(name)) for name in lives.listed),
            lives.shadow,
        )


Assessed = Sequence[tuple[ModulePath, Assessment]]


def module_families(modules: Iterable[Told]) -> Iterator[Metric]:
    """Always every family, in the same order; the samples of each in the order of the modules."""
    every = list(modules)
    assessed = [(each.path, each.assessment) for each in every if each.assessment is not None]
    yield from _values(assessed)
    yield from _highside(assessed)
    yield from _words(assessed)
    yield from _instruments(assessed)
    yield from _alarms(every)


def _values(assessed: Assessed) -> Iterator[Metric]:
    for place, text in _PLACES.items():
        family = _gauge(f"{place}_kelvin", f"{text}; only where decided")
        for path, quantity in _of_each(assessed, place):
            if quantity.decided and quantity.value is not None:
                family.add_metric(path, quantity.value)
        yield family
    saturated = _gauge("saturated_suction_celsius", "Dew temperature at suction pressure")
    for path, quantity in _of_each(assessed, SATURATED_SUCTION):
        if quantity.value is not None:
            saturated.add_metric(path, quantity.value)
    yield saturated
    text = "What a probe on the suction side that is not fit would have shown"
    apparent = _gauge("apparent_superheat_kelvin", text, "probe")
    for path, assessment in assessed:
        for probe, quantity in unfit(assessment):
            if quantity.value is not None and assessment.fitness[probe][0] not in _NOT_SUCTION:
                apparent.add_metric((*path, probe), quantity.value)
    yield apparent


def _highside(assessed: Assessed) -> Iterator[Metric]:
    for name, (metric, text, decided_only) in OF_A_MODULE.items():
        family = _gauge(metric, f"{text}; only where decided" if decided_only else text)
        for path, quantity in _of_each(assessed, name):
            if quantity.value is not None and (quantity.decided or not decided_only):
                family.add_metric(path, quantity.value)
        yield family
    for prefix, (metric, text, decided_only) in OF_A_COMPRESSOR.items():
        family = _gauge(metric, f"{text}; only where decided" if decided_only else text, "compressor")
        for path, assessment in assessed:
            for compressor, quantity in of_compressors(assessment, prefix):
                if quantity.value is not None and (quantity.decided or not decided_only):
                    family.add_metric((*path, compressor), quantity.value)
        yield family


def _words(assessed: Assessed) -> Iterator[Metric]:
    text = "Expanded uncertainty (k = 2) to one side of a decided superheat, subcooling or margin"
    spread = _gauge("superheat_uncertainty_kelvin", text, "place", "side")
    chosen = _gauge("chosen_probe", "The probe that speaks for a place", "place", "probe")
    text = "Whether a quantity is decided, not settled, not decidable, missing or not measurable"
    status = _gauge("quantity_status", text, "place", "status")

    def add(path: ModulePath, name: str, quantity: Quantity, *, is_spread: bool) -> None:
        status.add_metric((*path, name, quantity.said.status), 1)
        for side, figure in (("below", quantity.below), ("above", quantity.above)):
            if is_spread and quantity.decided and figure is not None:
                spread.add_metric((*path, name, side), figure)

    for path, assessment in assessed:
        for place in _PLACES:
            if (found := assessment.quantities.get(place)) is not None:
                name = place.removesuffix("_superheat")
                add(path, name, found, is_spread=name != place)
                for probe in found.said.probes:
                    chosen.add_metric((*path, name, probe), 1)
        for name, quantity in highside_quantities(assessment):
            add(path, name, quantity, is_spread=name.startswith(KELVINS))
    yield from (spread, chosen, status)


def _instruments(assessed: Assessed) -> Iterator[Metric]:
    fitness = _gauge("probe_fitness", "What a probe is worth now", "probe", "fitness")
    failed = _gauge("probe_failed", "A probe or transducer that has failed", "probe", "kind")
    mode = _gauge("mode", "The mode in force", "mode")
    for path, assessment in assessed:
        mode.add_metric((*path, assessment.mode), 1)
        for probe, (verdict, _) in assessment.fitness.items():
            fitness.add_metric((*path, probe, verdict), 1)
        for probe, (kind, _) in assessment.failed.items():
            failed.add_metric((*path, probe, kind), 1)
    yield from (fitness, failed, mode)


def _alarms(modules: Sequence[Told]) -> Iterator[Metric]:
    active = _gauge("alarm_active", "An alarm that stands", "alarm", "priority")
    text = "An alarm that is not normal, by the state's name in ISA-18.2 and IEC 62682"
    states = _gauge("alarm_state", text, "alarm", "state")
    shadow = _gauge("shadow", "A new module whose alarms are shown and not sent")
    for each in modules:
        for alarm in each.standing:
            active.add_metric((*each.path, *alarm), 1)
        for state in each.states:
            states.add_metric((*each.path, *state), 1)
        if each.shadow:
            shadow.add_metric(each.path, 1)
    yield from (active, states, shadow)


def _gauge(name: str, text: str, *labels: str) -> GaugeMetricFamily:
    return GaugeMetricFamily(f"dewline_{name}", text, labels=(*MODULE, *labels))


def _of_each(assessed: Assessed, name: str) -> Iterator[tuple[ModulePath, Quantity]]:
    for path, assessment in assessed:
        if name in assessment.quantities:
            yield path, assessment.quantities[name]
