"""What to measure by hand, where to clamp, and the line that gives it to the agent."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from typing import NamedTuple

from agent.assess.identity import Conclusion
from agent.outlets.visit.brief import Brief
from agent.piping import RETURN, RISE, STEADY_MODES, Fitness, whereabouts
from agent.units import Dimension

SUSPECT = "this signal is under suspicion"
_GAUGE = "gauges open the circuit: only certified people, and only where the display leaves a doubt"


class ToMeasure(NamedTuple):
    """One place. ``where`` and ``why`` in words, ``command`` to copy, with the value to be filled in."""

    what: str
    where: str
    why: str
    command: str
    is_first: bool  # it confirms or denies the verdict


def to_measure(brief: Brief) -> list[ToMeasure]:
    """The places that confirm most, first."""
    every = [*_probes(brief), *_inlets(brief), *_gauges(brief)]
    return sorted(every, key=lambda each: not each.is_first)


def _probes(brief: Brief) -> Iterator[ToMeasure]:
    layout, signals = brief.module.module.layout, brief.module.module.signals
    chosen, suspect = _chosen(brief), _suspect(brief)
    unit = brief.display.temperature_unit
    on_pipes = (*layout.suction_probes, *layout.discharge_probes, *layout.liquid_probes)
    for probe in on_pipes if layout.is_known else _temperatures(brief):
        if probe not in signals:
            continue
        why = chosen.get(probe) or (SUSPECT if probe in suspect else _worth(brief, probe))
        command = f'--probe {shlex.quote(probe)} --value "____ {unit}"'
        is_first = probe in chosen or probe in suspect
        yield ToMeasure(probe, _where(brief, probe), why, _line(brief, command), is_first)


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


def _chosen(brief: Brief) -> dict[str, str]:
    """The probes that figures of now, or else of any mode, are taken at."""
    found: dict[str, str] = {}
    assessment = brief.view.assessment
    returned = assessment.quantities.get(RETURN) if assessment else None
    if assessment is not None and returned is not None and returned.said.probes:
        mode = assessment.mode.replace("_", " ")
        found |= dict.fromkeys(returned.said.probes, f"return superheat is taken here now, in {mode}")
    for mode, case in brief.explanation.places.get(RETURN, {}).items():
        for probe in case.found.probes:
            found.setdefault(probe, f"return superheat is taken here in {mode}")
    for case in brief.explanation.places.get(RISE, {}).values():
        for probe in case.found.probes[:1]:
            found.setdefault(probe, "returning oil is seen here: with the one before it tells the rise")
    if brief.module.configured_probe:
        found.setdefault(brief.module.configured_probe, "the site takes its superheat here")
    return found


def _worth(brief: Brief, probe: str) -> str:
    by_mode = brief.explanation.probes.get(probe, {})
    fit = [mode for mode in STEADY_MODES if mode in by_mode and by_mode[mode].found.verdict is Fitness.FIT]
    return f"fit in {' and '.join(fit)}" if fit else "to compare"


def _suspect(brief: Brief) -> set[str]:
    failed = set(brief.view.assessment.failed) if brief.view.assessment else set()
    found = brief.evidence.suspected.suspicions if brief.evidence else ()
    return failed.union(*(each.signals for each in found))


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
            command = f'--inlet {shlex.quote(inlet)} --side {side} --value "____ {unit}"'
            yield ToMeasure(
                f"{word} {inlet}",
                f"on the suction line, {word} the place where {inlet} joins, as the gas flows",
                "both within 10 minutes tell on which side of it the probes sit",
                _line(brief, command),
                is_first or bool(layout.unproven),
            )


def _gauges(brief: Brief) -> Iterator[ToMeasure]:
    module, suspect = brief.module.module, _suspect(brief)
    unit = f"{brief.display.pressure_unit} {'gauge' if brief.height_known else 'absolute'}"
    for name in (module.layout.suction_transducer, module.layout.discharge_transducer):
        if name and name in module.signals:
            why = SUSPECT if name in suspect else "every superheat rests on it"
            why = why if name == module.layout.suction_transducer or name in suspect else "to compare"
            command = f'--transducer {shlex.quote(name)} --value "____ {unit}"'
            yield ToMeasure(name, f"at its service port; {_GAUGE}", why, _line(brief, command), name in suspect)


def _line(brief: Brief, what: str) -> str:
    return f"dewline measure {shlex.quote(brief.name)} {what} --at now --by NAME"
