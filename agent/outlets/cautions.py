"""What whoever may go to the module is told each time, whatever the figures say."""

from __future__ import annotations

from collections.abc import Iterable

from agent.thermo import REFRIGERANTS

HEAD = "Before anyone goes to the module:"
_FIRST = (
    "Dewline is an aid: no diagnosis and no permission to work. Do not change the refrigerant charge on "
    "these figures alone.",
    "Refrigerant is under high pressure; parts are very hot and very cold. The discharge line is hot near "
    "the places where a clamp goes.",
    "Refrigerant displaces the air that you breathe, and must not be vented.",
)
_FLAMMABLE = "{} is mildly flammable (A2L): keep every source of ignition away."
_LAST = (
    "Fans start without warning, and electricity kills. Isolate and lock out, then wait until the drive's "
    "capacitors have discharged.",
    "On a roof, alone or at night, the rules for such work come first.",
    "Opening the circuit is for certified people. Local codes and the equipment's own instructions prevail; "
    "in the US EPA Clean Air Act section 608, in the EU Regulation (EU) 2024/573 and Implementing Regulation "
    "(EU) 2024/2215.",
)


def cautions(refrigerants: Iterable[str]) -> list[str]:
    """The cautions for modules with these refrigerants, a sentence or two each."""
    flammable = sorted({name for name in refrigerants if REFRIGERANTS[name].safety_class == "A2L"})
    return [*_FIRST, *(_FLAMMABLE.format(name) for name in flammable), *_LAST]


def short_caution(refrigerants: Iterable[str]) -> str:
    """A line for what calls nobody to the module."""
    flammable = sorted({name for name in refrigerants if REFRIGERANTS[name].safety_class == "A2L"})
    mild = "".join(f"; {name} is mildly flammable" for name in flammable)
    return f"{HEAD} pressure, heat, fans, electricity{mild}. An aid, no permission to work."
