"""What to measure by hand, where to clamp, and the line that gives it to the agent."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from typing import NamedTuple

from agent.assess.identity import Conclusion
from agent.outlets.visit.brief import Brief
from agent.outlets.visit.tables import used_modes
from agent.piping import RETURN, RISE, STEADY_MODES, Fitness, whereabouts
from agent.units import Dimension

FIRST, THEN, TO_COMPARE, LAST = range(4)
SUSPECT = "this signal is under suspicion"
_GAUGE = "gauges open the circuit: only certified people, and only where the display leaves a doubt"


class ToMeasure(NamedTuple):
    """One place. ``where`` and ``why`` in words; ``command``: its parts, to copy and to fill in."""

    what: str
    where: str
    why: str
    command: tuple[str, ...]
    rank: int  # 0: it confirms or denies the verdict

    @property
    def is_first(self) -> bool:
        """Whether it is to be measured before the others."""
        return self.rank == FIRST


def to_measure(brief: Brief) -> list[ToMeasure]:
    """The places that confirm most, first; what opens the circuit, last."""
    every = [*_probes(brief), *_inlets(brief), *_gauges(brief)]
    return sorted(every, key=lambda each: each.rank)


def _probes(brief: Brief) -> Iterator[ToMeasure]:
    layout, signals = brief.module.module.layout, brief.module.module.signals
    chosen, suspect = _chosen(brief), brief.suspects
    unit = brief.display.temperature_unit
    on_pipes = (*layout.suction_probes, *layout.discharge_probes, *layout.liquid_probes)
    for probe in on_pipes if layout.is_known else _temperatures(brief):
        if probe not in signals:
            continue
        rank, why = chosen.get(probe, (TO_COMPARE, _worth(brief, probe)))
        if probe in suspect:
            rank, why = FIRST, SUSPECT
        command = _line(brief, f"--probe {shlex.quote(probe)}", f'--value "____ {unit}"')
        yield ToMeasure(probe, _where(brief, probe), why, command, rank)


def _temperatures(brief: Brief) -> list[str]:
    """Of a module whose piping nobody has described: whatever comes in as a temperature."""
    conversions = brief.module.conversions
    return [name for name, each in conversions.items() if each.dimension is Dimension.TEMPERATURE]


def _where(brief: Brief, probe: str) -> str:
    layout = brief.module.module.layout
    if not layout.is_known:
        return "beside the probe; write down between what and what it sits"
    if probe in layout.discharge_probes:
        return "on the discharge pipe: it burns, fit the clamp only with the unit isolated"
    where = whereabouts(layout, probe) or "on the liquid pipe, beside the probe"
    by_mode = brief.explanation.probes.get(probe, {})
    hot = [mode for mode, case in by_mode.items() if case.found.verdict is Fitness.HIGH_SIDE]
    return f"{where}; HOT in {' and '.join(hot)} (high side)" if hot else where


def _chosen(brief: Brief) -> dict[str, tuple[int, str]]:
    """The probes that figures are taken at, those of the mode of now first, with why."""
    found: dict[str, tuple[int, str]] = {}
    places, now = brief.explanation.places, used_modes(brief)
    words = (
        (RETURN, slice(None), "return superheat is taken here in {}"),
        (RISE, slice(1), "returning oil is seen here in {}, against the one before it"),
    )
    for place, several, why in words:
        modes: dict[str, list[str]] = {}
        for mode, case in places.get(place, {}).items():
            for probe in case.found.probes[several]:
                modes.setdefault(probe, []).append(mode)
        for probe, names in modes.items():
            rank = FIRST if set(names) & set(now) else THEN
            found.setdefault(probe, (rank, why.format(" and ".join(names))))
    if brief.module.configured_probe:
        found.setdefault(brief.module.configured_probe, (THEN, "the site takes its superheat here"))
    return found


def _worth(brief: Brief, probe: str) -> str:
    by_mode = brief.explanation.probes.get(probe, {})
    fit = [mode for mode in STEADY_MODES if mode in by_mode and by_mode[mode].found.verdict is Fitness.FIT]
    return f"fit in {' and '.join(fit)}" if fit else "to compare"


def _inlets(brief: Brief) -> Iterator[ToMeasure]:
    """Two clamps tell on which side of an inlet probes sit: where that is open, or in doubt."""
    layout = brief.module.module.layout
    doubted = brief.identity is not None and brief.identity.conclusion is not Conclusion.SUPPORTED
    unconfirmed = brief.view.lives.unconfirmed_us is not None
    if not layout.is_known or not (doubted or unconfirmed or layout.unproven):
        return
    is_first = brief.identity is not None and brief.identity.conclusion is Conclusion.DOUBTED
    unit = brief.display.temperature_unit
    for inlet in layout.inlets:
        for side, word in (("ahead", "ahead of"), ("after", "after")):
            where = (f"--inlet {shlex.quote(inlet)}", f"--side {side}")
            yield ToMeasure(
                f"{word} {inlet}",
                f"on the suction line, {word} the place where {inlet} joins, as the gas flows",
                "both within 10 minutes tell on which side of it the probes sit",
                _line(brief, *where, f'--value "____ {unit}"'),
                FIRST if is_first or layout.unproven else THEN,
            )


def _gauges(brief: Brief) -> Iterator[ToMeasure]:
    module, suspect = brief.module.module, brief.suspects
    unit = f"{brief.display.pressure_unit} {'gauge' if brief.ambient_pa is not None else 'absolute'}"
    for name in (module.layout.suction_transducer, module.layout.discharge_transducer):
        if name and name in module.signals:
            why = SUSPECT if name in suspect else "every superheat rests on it"
            why = why if name == module.layout.suction_transducer or name in suspect else "to compare"
            command = _line(brief, f"--transducer {shlex.quote(name)}", f'--value "____ {unit}"')
            rank = FIRST if name in suspect else LAST
            yield ToMeasure(name, f"at its service port; {_GAUGE}", why, command, rank)


def _line(brief: Brief, *what: str) -> tuple[str, ...]:
    return (f"dewline measure {shlex.quote(brief.name)}", *what, "--at now", "--by NAME")
