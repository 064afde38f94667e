"""An explanation as plain data, for a program that asks for it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from agent.assess import Tracking
from agent.assess.by_hand.handheld import HandheldCompared
from agent.outlets.terminal.by_hand import found_mapping
from agent.outlets.terminal.instrumentation import uncertainties
from agent.piping import Advice, Case, Choice, Explanation, ProbeFitness
from agent.settings import ModulePlan


def explained_mapping(
    explanation: Explanation,
    module: ModulePlan | None = None,
    sides: Sequence[Tracking] = (),
    by_hand: Sequence[HandheldCompared] = (),
) -> dict[str, Any]:
    """What `explaining.explained` says, by name and by mode."""
    layout = explanation.layout
    body: dict[str, Any] = {
        "layout": layout.name,
        "about": layout.about,
        "modes": explanation.modes,
        "places": {
            place: {
                "modes": {mode: _case(case, _choice) for mode, case in by_mode.items()},
                "lacking": [_advice(advice) for advice in explanation.advice[place]],
            }
            for place, by_mode in explanation.places.items()
        },
        "probes": {
            probe: {mode: _case(case, _fitness) for mode, case in by_mode.items()}
            for probe, by_mode in explanation.probes.items()
        },
        "without_readings": [*explanation.silent, *explanation.silent_valves],
    }
    if sides:
        body["sides"] = [each._asdict() for each in sides]
    if by_hand:
        body["sides_by_hand"] = [found_mapping(each) for each in by_hand]
    if module:
        body["module"] = str(module.path)
        body["refrigerant"] = module.module.refrigerant
        body["configured_probe"] = module.configured_probe
        body["superheat_uncertainty_k"] = {
            probe: {"below": measured.below, "above": measured.above}
            for probe, measured in uncertainties(module).items()
        }
        body["limits"] = {entry.name: vars(entry.limits) for entry in module.catalogue.values()}
    return body


def _case(case: Case[Any], form: Callable[[Any], dict[str, Any]]) -> dict[str, Any]:
    return form(case.found) | {"changes": [{"when": when, **form(found)} for when, found in case.changes]}


def _choice(choice: Choice) -> dict[str, Any]:
    return {"standing": choice.standing, "probes": choice.probes, "reason": choice.reason}


def _fitness(fitness: ProbeFitness) -> dict[str, Any]:
    return {
        "fitness": fitness.verdict,
        "reason": fitness.reason,
        "streams": sorted(fitness.streams),
        "joined": sorted(fitness.joined),
    }


def _advice(advice: Advice) -> dict[str, Any]:
    return {
        "modes": advice.modes,
        "standing": advice.standing,
        "where": advice.where,
        "probe": advice.probe,
        "position": _position(advice),
    }


def _position(advice: Advice) -> Mapping[str, Any] | None:
    if advice.position is None:
        return None
    after, ahead_of, runs = advice.position
    return {"after": dict([after]), "ahead_of": dict([ahead_of]), "on": sorted(runs)}
