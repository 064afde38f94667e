"""The quantities of the high side as metrics, status lines and columns. What has no value is absent."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from prometheus_client.core import GaugeMetricFamily, Metric

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
from agent.outlets.shown import SI, Display
from agent.outlets.view import ModuleView

# Quantity: metric, what it is, and whether only a decided value is shown.
_OF_A_MODULE = {
    SATURATED_CONDENSING: ("saturated_condensing_celsius", "Dew temperature at discharge pressure", False),
    PRESSURE_RATIO: ("pressure_ratio", "Discharge to suction pressure, both absolute", True),
    SUBCOOLING: ("subcooling_kelvin", "Liquid below bubble temperature at discharge pressure", True),
}
_OF_A_COMPRESSOR = {
    DISCHARGE_TEMPERATURE: ("discharge_temperature_celsius", "At the compressor's discharge", False),
    DISCHARGE_SUPERHEAT: ("discharge_superheat_kelvin", "Discharge above dew temperature", True),
    DISCHARGE_MARGIN: (
        "discharge_margin_kelvin",
        "Discharge superheat above the middle of what saturated suction would give",
        True,
    ),
}
KELVINS = (SUBCOOLING, DISCHARGE_SUPERHEAT, DISCHARGE_MARGIN)
WORDS = {
    Status.NOT_SETTLED: "not settled",
    Status.NOT_DECIDABLE: "not decidable",
    Status.MISSING: "missing",
    Status.NOT_MEASURABLE: "not measurable",
}


def highside_metrics(views: Sequence[ModuleView], module_labels: Sequence[str]) -> Iterator[Metric]:
    """A family for each quantity."""
    for name, (metric, text, decided_only) in _OF_A_MODULE.items():
        family = GaugeMetricFamily(f"dewline_{metric}", _about(text, decided_only), labels=module_labels)
        for view, quantity in _of_each(views, name):
            if quantity.value is not None and (quantity.decided or not decided_only):
                family.add_metric(view.path, quantity.value)
        yield family
    for prefix, (metric, text, decided_only) in _OF_A_COMPRESSOR.items():
        labels = (*module_labels, "compressor")
        family = GaugeMetricFamily(f"dewline_{metric}", _about(text, decided_only), labels=labels)
        for view in views:
            for compressor, quantity in of_compressors(view.assessment, prefix):
                if quantity.value is not None and (quantity.decided or not decided_only):
                    family.add_metric((*view.path, compressor), quantity.value)
        yield family


def highside_quantities(assessment: Assessment) -> Iterator[tuple[str, Quantity]]:
    """Those of this page that an assessment has."""
    for name, quantity in assessment.quantities.items():
        if name in _OF_A_MODULE or name.startswith(tuple(_OF_A_COMPRESSOR)):
            yield name, quantity


def highside_columns(assessment: Assessment) -> Iterator[tuple[str, str, Quantity]]:
    """For a table: what each is called with its unit, and what without."""
    for name, quantity in highside_quantities(assessment):
        prefix, colon, compressor = name.partition(":")
        metric = _OF_A_COMPRESSOR[prefix + colon][0] if colon else _OF_A_MODULE[name][0]
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
        yield "subcooling", figure(subcooling, display), _reason(subcooling, display)
    if SATURATED_CONDENSING in assessment.quantities:
        yield _saturation(assessment, display)


def _discharge(
    assessment: Assessment, compressor: str, shown: Quantity, display: Display
) -> tuple[str, str, str]:
    name, hot = f"discharge {compressor}", assessment.quantities.get(DISCHARGE_TEMPERATURE + compressor)
    margin = assessment.quantities.get(DISCHARGE_MARGIN + compressor)
    told = figure(shown, display)
    at = f"{_level(hot, display)}; " if hot is not None and hot.value is not None else ""
    if not shown.decided:
        return name, told, at + _reason(shown, display)
    verdict = display.words(_verdict(shown, margin))
    return name, told, f"{at}superheat at {', '.join(shown.said.probes)}{verdict}"


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
    ends = [_level(each, display) for each in (suction, condensing)]
    by = f"{ratio.value:.2f}" if ratio and ratio.value is not None else "-"
    why = "; ".join(
        each.said.text for each in (suction, condensing) if each is not None and each.value is None
    )
    words = f"saturated suction {ends[0]}, condensing {ends[1]}, pressure ratio {by}"
    return "saturation", "", f"{words}{'; ' if why else ''}{display.words(why)}"


def _level(temperature: Quantity | None, display: Display) -> str:
    if temperature is None or temperature.value is None:
        return "-"
    return f"{display.temperature(temperature.value):.1f} {display.temperature_unit}"


def _reason(quantity: Quantity, display: Display) -> str:
    said = quantity.said
    probes = f"{', '.join(said.probes)}: " if said.probes else ""
    now = ""
    if said.status is Status.NOT_SETTLED and quantity.value is not None:
        now = f" (now {display.difference(quantity.value):.1f} {display.difference_unit})"
    return f"{probes}{display.words(said.text)}{now}"


def figure(quantity: Quantity, display: Display = SI) -> str:
    """A decided difference with its uncertainty, or which of the four reasons there is none."""
    if not quantity.decided or quantity.value is None:
        return WORDS.get(quantity.said.status, "-")
    return valued(quantity, display)


def valued(quantity: Quantity, display: Display = SI) -> str:
    """A difference with its uncertainty, decided or not; a dash where there is none."""
    if quantity.value is None:
        return "-"
    value = f"{display.difference(quantity.value):5.1f} {display.difference_unit}"
    if quantity.below is None or quantity.above is None:
        return value
    below, above = (f"{display.difference(each):.1f}" for each in (quantity.below, quantity.above))
    return f"{value} {f'±{above}' if below == above else f'-{below} +{above}'}"


def _about(text: str, decided_only: bool) -> str:
    return f"{text}; only where decided" if decided_only else text


def _of_each(views: Sequence[ModuleView], name: str) -> Iterator[tuple[ModuleView, Quantity]]:
    for view in views:
        if view.assessment is not None and name in view.assessment.quantities:
            yield view, view.assessment.quantities[name]
