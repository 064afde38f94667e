"""Our sentences in the units of a site: each of them, those that real scenes make, and some by hand.

Exact by definition: 1 degF = 5/9 K and 0 degC = 32 degF; 1 psi = 6.894757 kPa, 1 bar = 100 kPa (NIST SP 811,
appendix B.8).
"""

import re
from collections.abc import Callable
from io import StringIO
from zoneinfo import ZoneInfo

import pytest
from rich.console import Console, RenderableType

from agent.alarms import CATALOGUE
from agent.outlets import render, render_causes, render_check, render_evidence, render_identity
from agent.outlets.cautions import cautions
from agent.outlets.shown import SI, Display
from agent.outlets.terminal.explaining import explained, explanation_of
from agent.service import evidence, identified, look
from agent.settings import alike, load, load_layout, notes
from demo_feed.bench import Fault, FaultKind
from tests.assess.causes.test_causes import PUBLISHED, moved
from tests.assess.causes.test_causes import told as caused
from tests.assess.failing.test_failures import after, judged
from tests.assess.ordinary import PRESSURES, TEMPERATURES, changed, running, standing, swapped
from tests.assess.ordinary import look as looked
from tests.assess.plausible.test_suspicions import hours, suspicions, this
from tests.assess.signed_hours import MODULE
from tests.bench_site import Bench, sent, settings
from tests.outlets.sentences import sentences
from tests.scenarios.scenario import DAY_US, HOUR_US, START_US
from tests.service.site import ROOT

DENVER = Display("degF", "psi", ZoneInfo("America/Denver"))
BERLIN = Display("degC", "bar", ZoneInfo("Europe/Berlin"))
LEFT = re.compile(r"(?:\d\)?|\bfew) (?:K|degC|kPa)\b")
OURS = re.compile(r"(?<![\w.])([+-]?\d+(?:\.\d+)?) (K|degC|kPa)\b")
THEIRS = re.compile(r"(?<![\w.])([+-]?\d+(?:\.\d+)?) (degF|psi)\b")


def decimals(number: str) -> int:
    return len(number.partition(".")[2])


def holds_the_same(ours: str, theirs: str) -> None:
    """Figure by figure, as far as the decimals of either go."""
    assert LEFT.search(theirs) is None, theirs
    pairs = list(zip(OURS.findall(ours), THEIRS.findall(theirs), strict=True))
    for (said, unit), (told, other) in pairs:
        factor, zero = {"K": (1.8, 0.0), "degC": (1.8, 32.0), "kPa": (1 / 6.894757, 0.0)}[unit]
        assert other == ("psi" if unit == "kPa" else "degF"), (ours, theirs)
        right = factor * float(said) + zero
        reach = 0.5 * 10 ** -decimals(told) + factor * 0.5 * 10 ** -decimals(said)
        assert float(told) == pytest.approx(right, abs=reach + 1e-6), (ours, theirs)


def test_no_sentence_of_the_source_is_left_in_our_units():
    every = list(sentences())
    assert len(every) > 80
    for where, text in every:
        if "(?P<" in text or text.startswith(("in ", ", with gauge or absolute behind it")):
            continue  # a pattern; names of units that a gateway may send
        assert LEFT.search(DENVER.words(text)) is None, where
        if "MPa" not in text:
            holds_the_same(text, DENVER.words(text))


@pytest.mark.parametrize(
    ("ours", "denver", "berlin"),
    [
        # 2 x 1.8 = 3.6: a limit is exact. 0.4 x 1.8 = 0.72, 1.7 x 1.8 = 3.06, 0.7 x 1.8 = 1.26
        (
            "return superheat 0.4 K (-1.7 +0.7) at suction_pipe, even with all uncertainty under 2 K",
            "return superheat 0.7 degF (-3.1 +1.3) at suction_pipe, even with all uncertainty under 3.6 degF",
            None,
        ),
        # 105 x 1.8 + 32 = 221, 115 x 1.8 + 32 = 239, 101.3 x 1.8 + 32 = 214.34
        (
            "discharge of compressor 1 is 101.3 degC at discharge_1, limit 105 degC, urgent from 115 degC",
            "discharge of compressor 1 is 214.3 degF at discharge_1, limit 221 degF, urgent from 239 degF",
            None,
        ),
        # 3.2 x 1.8 = 5.76, 2.9 x 1.8 = 5.22, 3.5 x 1.8 = 6.3
        (
            "usual at like speed: 3.2 K (2.9 to 3.5 in 48 hours)",
            "usual at like speed: 5.8 degF (5.2 to 6.3 in 48 hours)",
            None,
        ),
        # 6 x 1.8 = 10.8, 32 x 1.8 = 57.6: a band that is told in whole numbers
        ("suction would give 6 to 32 K: wet", "suction would give 11 to 58 degF: wet", None),
        # -0.5 x 1.8 = -0.9, 1.2 x 1.8 = 2.16
        ("-0.5 to +1.2 K when learnt", "-0.9 to +2.2 degF when learnt", None),
        # -40 degC are -40 degF; 10 x 1.8 + 32 = 50
        ("at -40 to 10 degC", "at -40 to 50 degF", None),
        # -60 x 1.8 + 32 = -76, 150 x 1.8 + 32 = 302
        ("between -60 and 150 degC", "between -76 and 302 degF", None),
        # a spread of a temperature is a difference: 0.5 x 1.8 = 0.9; 20 x 1.8 + 32 = 68
        ("at 20.0 degC ±0.5", "at 68.0 degF ±0.9", None),
        ("it is known to -1.5 +0.8 K", "it is known to -2.7 +1.4 degF", None),
        ("within ±1.0 K", "within ±1.8 degF", None),
        ("looks like a few K of superheat", "looks like a few degF of superheat", None),
        # 12 x 1.8 + 32 = 53.6, 14 x 1.8 + 32 = 57.2, 11.8 x 1.8 + 32 = 53.24
        (
            "ahead of oil 12.0 degC by hand, after it 14.0, suction_pipe 11.8 by telemetry: it",
            "ahead of oil 53.6 degF by hand, after it 57.2 degF, suction_pipe 53.2 degF by telemetry: it",
            None,
        ),
        # 944 / 6.894757 = 136.9; below 20 psi a tenth is told: 35 / 6.894757 = 5.08
        ("reads 944 kPa absolute", "reads 137 psi absolute", "reads 9.44 bar absolute"),
        ("reads 35 kPa more than", "reads 5.1 psi more than", "reads 0.35 bar more than"),
        # below vacuum, where a gauge was taken for absolute: -20 / 6.894757 = -2.90
        ("is -20 kPa absolute taken as", "is -2.9 psi absolute taken as", "is -0.20 bar absolute taken as"),
        # as a person gave it, in the journal: 8.2 x 14.50377 = 118.93; 0.66 x 14.50377 = 9.57
        (
            "8.20 bar gauge by hand: 0.66 bar more than by hand (2.3 K of dew temperature)",
            "118.9 psi gauge by hand: 9.6 psi more than by hand (4.1 degF of dew temperature)",
            None,
        ),
        # counted from outdoor air it is a difference: 12 x 1.8 = 21.6, 10 x 1.8 = 18
        (
            "condensing 2.0 K above usual (12.0 K, usually 10.0 K, counted from outdoor air)",
            "condensing 3.6 degF above usual (21.6 degF, usually 18.0 degF, counted from outdoor air)",
            None,
        ),
        # 21.35 x 1.8 + 32 = 70.43
        ("stood at 21.35 degC to the last digit", "stood at 70.43 degF to the last digit", None),
        # 3.2 x 1.8 = 5.76
        ("reads 3.2 K of saturation too low", "reads 5.8 degF of saturation too low", None),
        ("it would be ordinary if it came in K, or taken as kPa gauge", None, None),
        ("R-32 of 3 Kings, probe_1 K, 95 % in 12 hours", None, None),
    ],
)  # fmt: skip
def test_sentences_by_hand(ours, denver, berlin):
    assert DENVER.words(ours) == (denver or ours)
    assert BERLIN.words(ours) == (berlin or ours)
    assert SI.words(ours) == ours


def seen(shown: RenderableType) -> str:
    out = StringIO()
    Console(file=out, width=2000, highlight=False).print(shown)
    return out.getvalue()


def in_both(show: Callable[[Display], RenderableType]) -> str:
    """As Denver reads it, held against what SI says."""
    ours, theirs = seen(show(SI)), seen(show(DENVER))
    holds_the_same(ours, theirs)
    return theirs


@pytest.fixture(scope="module")
def wet(tmp_path_factory):
    """Two days of a module whose expansion valve sticks on the second one, and what a supervisor shows."""
    fault = Fault(FaultKind.VALVE_STUCK_OPEN, 0.7, START_US + DAY_US, grows_s=600.0)
    name = "two-pipe-twin-late"
    payloads = sent(name, 1.5, faults=(fault,))
    with Bench(tmp_path_factory.mktemp("wet"), settings(name, payloads[0][1])) as bench:
        bench.live(payloads)
        yield bench


def test_a_module_that_liquid_comes_back_to(wet):
    now_us = START_US + 36 * HOUR_US
    views = look(wet.store, wet.plan, now_us)
    found = evidence(wet.store, wet.plan, wet.module, now_us)
    assert found is not None and any(alarm.name == "superheat-low" for alarm in views[0].alarms)
    shown = in_both(lambda display: render(views, now_us, display=display))
    assert "under 3.6 degF" in shown and " degF" in shown
    shown = in_both(lambda display: render_evidence(found, views[0], display))
    assert "which ends 04 Nov 17:00 -07:00," in shown


def test_likely_causes():
    for mode in ("cooling", "heating"):
        for pattern in PUBLISHED.values():
            found = caused(moved(pattern), mode=mode)
            shown = in_both(lambda display, found=found: render_causes("m1", found, "R-410A", display))
            assert "degF" in shown
    sensor = caused({"return_superheat": 4.0, "oil_return_rise": -4.0}, of=MODULE)
    in_both(lambda display: render_causes("m1", sensor, "R-410A", display))


def test_suspicions_and_what_cannot_be_told():
    kelvin = changed(running(), TEMPERATURES, lambda value: value + 273.15)
    several = [
        looked(kelvin),
        looked(changed(running(), TEMPERATURES, lambda value: 1.8 * value + 32)),
        looked(changed(running(), PRESSURES, lambda value: value / 100)),
        looked(changed(standing(), PRESSURES, lambda value: value - 101.325)),
        looked(swapped(running(), "suction_pipe", "outdoor_coil_gas")),
        suspicions(this(), hours(swapped(running(), "suction_pipe", "outdoor_coil_gas"))),
        suspicions(this(), hours(running(), standing())),
    ]
    texts = [
        text for found in several for each in found.suspicions for text in (each.seen, each.would, each.look)
    ]
    texts += [text for found in several for text in found.cannot_tell]
    assert len(texts) > 15
    for text in texts:
        holds_the_same(text, DENVER.words(text))


def test_failed_instruments():
    found = [
        judged(minutes=20, suction_pipe=after(5, 8.0, 150.0)),
        judged(minutes=20, suction_pressure=20e3),
        judged(suction_pipe=after(60, 8.0, 28.0)),
        judged(compressor_inlet=after(30, 12.0, -30.0)),
    ]
    texts = {words.text for stretch in found for words in stretch.failures.words if words.text}
    assert len(texts) >= 3 and any(OURS.search(text) for text in texts)
    for text in texts:
        holds_the_same(text, DENVER.words(text))


def test_how_a_module_is_piped(wet):
    found = identified(wet.store, wet.plan, wet.module, START_US, START_US + 36 * HOUR_US)
    shown = in_both(lambda display: render_identity(found, "m1", "R-410A", display))
    assert "degF warmer than suction_pipe (U " in shown


def test_what_a_configuration_comes_to():
    plan = load(ROOT / "config" / "demo.yaml")
    groups = alike(plan)
    noted = notes(plan, groups)
    shown = in_both(lambda display: render_check(plan, groups, noted, display))
    assert "at a dew temperature of 41 degF" in shown  # 5 x 1.8 + 32
    for module in plan.modules:
        of = explanation_of(module.module.layout, module)
        ours, theirs = (
            " ".join(line.plain.strip() for line in explained(of, module, display=display))
            for display in (SI, DENVER)
        )
        holds_the_same(ours, theirs)
        assert "superheat-low: 3.6 degF" in theirs


def test_the_texts_of_the_catalogue_the_cautions_and_every_layout():
    texts = [
        text
        for entry in CATALOGUE.values()
        for text in (entry.cause, entry.consequence, entry.first_response)
    ]
    texts += cautions(["R-32", "R-410A"])
    for path in sorted((ROOT / "config" / "layouts").glob("*.yaml")):
        of = explanation_of(load_layout(path))
        texts.append(" ".join(line.plain.strip() for line in explained(of)))
    assert len(texts) > 50
    for text in texts:
        holds_the_same(text, DENVER.words(text))
