"""The quantities of the high side: what they are called, as status lines and as columns."""

from __future__ import annotations

from collections.abc import Iterator

from agent.alarms.highside_facts import diluted
from agent.assess import (
    DISCHARGE_MARGIN,
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    PRESSURE_RATIO,
    SATURATED_CONDENSING,
    SATURATED_SUCTION,
    SUBCOOLING,
    Assessment,
    Quantity,
    Status,
)
from agent.outlets.figures import NONE, WORDS, difference, level, told
from agent.outlets.shown import SI, Display

# Quantity: metric, what it is, and whether only a decided value is shown.
OF_A_MODULE = {
    SATURATED_CONDENSING: ("saturated_condensing_celsius", "Dew temperature at discharge pressure", False),
    PRESSURE_RATIO: ("pressure_ratio", "Discharge to suction pressure, both absolute", True),
    SUBCOOLING: ("subcooling_kelvin", "Liquid below bubble temperature at discharge pressure", True),
}
OF_A_COMPRESSOR = {
    DISCHARGE_TEMPERATURE: ("discharge_temperature_celsius", "At the compressor's discharge", False),
    DISCHARGE_SUPERHEAT: ("discharge_superheat_kelvin", "Discharge above dew temperature", True),
    DISCHARGE_MARGIN: (
        "discharge_margin_kelvin",
        "Discharge superheat above the middle of what saturated suction would give",
        True,
    ),
}
KELVINS = (SUBCOOLING, DISCHARGE_SUPERHEAT, DISCHARGE_MARGIN)


def highside_quantities(assessment: Assessment) -> Iterator[tuple[str, Quantity]]:
    """Those of this page that an assessment has."""
    for name, quantity in assessment.quantities.items():
        if name in OF_A_MODULE or name.startswith(tuple(OF_A_COMPRESSOR)):
            yield name, quantity


def highside_columns(assessment: Assessment) -> Iterator[tuple[str, str, Quantity]]:
    """For a table: what each is called with its unit, and what without."""
    for name, quantity in highside_quantities(assessment):
        prefix, colon, compressor = name.partition(":")
        metric = OF_A_COMPRESSOR[prefix + colon][0] if colon else OF_A_MODULE[name][0]
        stem, _, unit = metric.rpartition("_")
        of = f"_{compressor}" if colon else ""
        bare = metric if name == PRESSURE_RATIO else stem + of
        yield metric if name == PRESSURE_RATIO else f"{stem}{of}_{unit}", bare, quantity


def of_compressors(assessment: Assessment | None, prefix: str) -> Iterator[tuple[str, Quantity]]:
    """A quantity of every compressor, by the compressor's name."""
    for name, quantity in assessment.quantities.items() if assessment else ():
        if name.startswith(prefix):
            yield name.removeprefix(prefix), quantity


def highside_lines(assessment: Assessment, display: Display = SI) -> Iterator[tuple[str, str, str]]:
    """For the status: what, figure and words; a line for each compressor, subcooling, and saturation."""
    for compressor, shown in of_compressors(assessment, DISCHARGE_SUPERHEAT):
        yield _discharge(assessment, compressor, shown, display)
    subcooling = assessment.quantities.get(SUBCOOLING)
    if subcooling is not None:
        yield "subcooling", told(subcooling, display), _reason(subcooling, display)
    if SATURATED_CONDENSING in assessment.quantities:
        yield _saturation(assessment, display)


def _discharge(
    assessment: Assessment, compressor: str, shown: Quantity, display: Display
) -> tuple[str, str, str]:
    name, hot = f"discharge {compressor}", assessment.quantities.get(DISCHARGE_TEMPERATURE + compressor)
    margin = assessment.quantities.get(DISCHARGE_MARGIN + compressor)
    figure = told(shown, display)
    at = f"{level(hot.value, display)}; " if hot is not None and hot.value is not None else ""
    if not shown.decided:
        return name, figure, at + _reason(shown, display)
    verdict = display.words(_verdict(shown, margin))
    return name, figure, f"{at}superheat at {', '.join(shown.said.probes)}{verdict}"


def _verdict(shown: Quantity, margin: Quantity | None) -> str:
    """What discharge superheat says of the gas that came in."""
    if margin is None:
        return ""
    value, below, above = margin.value, margin.below, margin.above
    if not margin.decided or value is None or below is None or above is None:
        return f"; wet or dry {WORDS.get(margin.said.status, '')}: {margin.said.text}"
    superheat = shown.value or 0.0
    band = f"{superheat - value - above:.0f} to {superheat - value + below:.0f} K"
    if value + above < 0:
        verdict = "below it: wet"
    elif value - below > 0:
        verdict = "above it: dry"
    else:
        verdict = f"wet or dry not decided{diluted(superheat)}"
    return f"; saturated suction would give {band}: {verdict}"


def _saturation(assessment: Assessment, display: Display) -> tuple[str, str, str]:
    several = (SATURATED_SUCTION, SATURATED_CONDENSING, PRESSURE_RATIO)
    suction, condensing, ratio = (assessment.quantities.get(name) for name in several)
    ends = [
        NONE if each is None or each.value is None else level(each.value, display)
        for each in (suction, condensing)
    ]
    by = f"{ratio.value:.2f}" if ratio and ratio.value is not None else NONE
    why = "; ".join(
        each.said.text for each in (suction, condensing) if each is not None and each.value is None
    )
    words = f"saturated suction {ends[0]}, condensing {ends[1]}, pressure ratio {by}"
    return "saturation", "", f"{words}{'; ' if why else ''}{display.words(why)}"


def _reason(quantity: Quantity, display: Display) -> str:
    said = quantity.said
    probes = f"{', '.join(said.probes)}: " if said.probes else ""
    now = ""
    if said.status is Status.NOT_SETTLED and quantity.value is not None:
        now = f" (now {difference(quantity.value, display)})"
    return f"{probes}{display.words(said.text)}{now}"
