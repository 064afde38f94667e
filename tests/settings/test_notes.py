"""What is worth knowing of a configuration that can be used, and where in the file it stands."""

import copy

import pytest

from agent.settings import alike, notes
from tests.settings.site import changed, good, plan

SIGNALS = ("signal_sets", "polled", "signals")
N1 = ("systems", "north", "modules", "n1")
SPEED = {"unit": "Hz"}
PIPE = {"unit": "degC", "accuracy": 0.5, "step": 0.1}


def whole():
    """The good configuration with every signal of its layout, and instruments that prove what they can."""
    data = copy.deepcopy(good())
    signals = data["signal_sets"]["polled"]["signals"]
    signals |= {"compressor_2_speed": SPEED, "outdoor_coil_gas": PIPE}
    losses = {"suction_pipe": 5.0, "outdoor_coil_gas": 5.0, "compressor_inlet": 0.0}
    data["systems"]["north"]["modules"]["n1"]["pressure_loss_kpa"] = losses
    return data


def noted(folder, data):
    found = plan(folder, data)
    return [(note.line, note.message) for note in notes(found, alike(found))]


def messages(folder, data):
    return [message for _, message in noted(folder, data)]


def test_nothing_to_say(tmp_path):
    assert noted(tmp_path, whole()) == []


def test_a_name_for_others_and_no_token(tmp_path):
    data = whole() | {"http": {"public_url": "https://dewline.example"}}
    (said,) = messages(tmp_path, data)
    assert "reads every page; right would be token_env or token_file under http" in said
    data["http"]["token_env"] = "DEWLINE_TOKEN"
    assert noted(tmp_path, data) == []


@pytest.mark.parametrize("host", ["127.0.0.1:9464", "localhost", "[::1]:9464", "127.0.0.2"])
def test_links_in_notices_that_open_on_this_machine_alone(tmp_path, host):
    data = whole() | {"http": {"public_url": f"http://{host}", "token_env": "DEWLINE_TOKEN"}}
    (said,) = messages(tmp_path, data)
    assert said.startswith(f"links in notices lead to http://{host}, which is this machine alone")


def test_sets_and_templates_that_no_module_uses(tmp_path):
    data = whole()
    data["signal_sets"]["other"] = {"every_s": 30, "max_age_s": 60, "signals": {}}
    data["templates"] = {"late": {"layout": "two-pipe-twin-late"}}
    assert messages(tmp_path, data) == ["no module uses signal set other", "no module uses template late"]


def test_values_that_come_too_rarely_to_show_hunting(tmp_path):
    data = whole()
    data["signal_sets"]["polled"] |= {"every_s": 120, "max_age_s": 300}
    said = "every 120 s is too slow to see superheat hunting; right would be every 60 s or faster"
    assert messages(tmp_path, data) == [said]
    one = whole()
    one["signal_sets"]["polled"]["signals"]["suction_pressure"] |= {"every_s": 90}
    assert messages(tmp_path, one) == [said.replace("120", "90")]
    air = whole()
    air["signal_sets"]["polled"]["signals"]["outdoor_air"] = PIPE | {"every_s": 90}
    assert messages(tmp_path, air) == []  # no superheat is made of it


def test_what_runs_is_told_by_nothing_by_pressures_or_in_part(tmp_path):
    data = whole()
    signals = data["signal_sets"]["polled"]["signals"]
    del signals["compressor_2_speed"]
    right = "compressor_2_speed or compressor_2_current"
    assert messages(tmp_path, data) == [f"no signal tells whether compressor 2 runs; right would be {right}"]
    del signals["compressor_1_speed"]
    right = f"compressor_1_speed or compressor_1_current, {right}"
    nothing, undecided_cooling, undecided_heating = messages(tmp_path, data)
    assert nothing == (
        f"no signal tells whether a compressor runs, so that no superheat is decided; right would be {right}"
    )
    for mode, message in (("cooling", undecided_cooling), ("heating", undecided_heating)):
        assert message == (
            f"hill-house/north/n1: return superheat is not decidable in {mode}: "
            "no signal tells whether a compressor runs"
        )
    signals["discharge_pressure"] = {"unit": "kPa", "reference": "absolute", "accuracy": 30}
    assert messages(tmp_path, data)[0] == nothing  # a check valve holds pressures apart too
    signals["discharge_1"] = PIPE
    (by_pressure,) = messages(tmp_path, data)
    assert by_pressure.startswith("only the pressures tell whether a compressor runs, and not which of them;")


def test_a_valve_that_no_signal_gives_and_what_that_costs(tmp_path):
    data = whole()
    del data["signal_sets"]["polled"]["signals"]["bypass_valve"]
    assert messages(tmp_path, data) == [
        "no signal gives bypass_valve of layout two-pipe-twin-late, so that hot_gas_bypass is never known "
        "shut; with it better: oil-return rise in cooling and heating"
    ]


def test_a_probe_that_no_signal_gives_and_what_it_would_be_good_for(tmp_path):
    data = whole()
    del data["signal_sets"]["polled"]["signals"]["outdoor_coil_gas"]
    first, blind = messages(tmp_path, data)
    assert first == (
        "no signal gives probe outdoor_coil_gas of layout two-pipe-twin-late; with it better: return "
        "superheat in heating, oil-return rise in heating"
    )
    assert blind.startswith(
        "hill-house/north/n1: return superheat is not measurable in heating: no probe is fit"
    )


def test_a_site_s_own_probe_that_is_not_fit(tmp_path):
    data = whole()
    data["systems"]["north"]["modules"]["n1"]["configured_probe"] = "compressor_inlet"
    assert messages(tmp_path, data) == [
        "compressor_inlet is mixed in cooling and heating: oil_return (warms) joins upstream; "
        "alarm probe-unfit will stand then"
    ]
    data["systems"]["north"]["modules"]["n1"]["configured_probe"] = "suction_pipe"
    (in_heating,) = messages(tmp_path, data)
    assert in_heating.startswith("suction_pipe is high side in heating: gas_pipe carries high-pressure gas")


def test_instruments_that_cannot_prove_dry_suction(tmp_path):
    data = whole()
    del data["systems"]["north"]["modules"]["n1"]["pressure_loss_kpa"]
    (heating,) = messages(tmp_path, data)
    assert heating.startswith(
        "hill-house/north/n1, heating at -5 degC dew temperature: these instruments cannot prove dry suction "
        "near the limit of 2 K: the uncertainty downward is 2.1 K, "
        "for a probe that sits tight and is insulated"
    )
    assert heating.endswith("; a stated pressure_loss_kpa would narrow it")
    coarse = whole()
    coarse["signal_sets"]["polled"]["signals"]["suction_pressure"]["accuracy"] = 60
    assert len(messages(tmp_path, coarse)) == 2
    assert not any("narrow" in message for message in messages(tmp_path, coarse))
    assert messages(tmp_path, coarse | {"limits": {"superheat-low": {"limit_k": 5}}}) == []


def test_a_module_whose_piping_nobody_has_described(tmp_path):
    data = changed((*N1, "layout"), "unknown")
    assert messages(tmp_path, data) == ["nobody has described the piping, so that nothing is judged"]


def test_modules_that_are_alike_are_looked_at_once_and_spoken_of_once(tmp_path):
    data = whole()
    module = data["systems"]["north"]["modules"].pop("n1")
    del module["pressure_loss_kpa"]
    data["systems"]["north"]["modules"] = {"n[1..20]": module, "other": module}
    found = plan(tmp_path, data)
    (group,) = alike(found)
    assert len(group.modules) == 21
    (note,) = notes(found, [group])
    assert note.message.startswith("hill-house/north/n1 and 20 more like it, heating at -5 degC")
    assert "n[1..20]" in (tmp_path / "site.yaml").read_text().splitlines()[note.line - 1]


def test_a_note_stands_where_its_value_was_written(tmp_path):
    data = whole()
    module = data["systems"]["north"]["modules"].pop("n1")
    data["templates"] = {"late": module | {"configured_probe": "compressor_inlet"}}
    data["systems"]["north"]["modules"] = {"n[1..3]": {"template": "late"}}
    found = plan(tmp_path, data)
    (note,) = notes(found, alike(found))
    assert (
        "configured_probe: compressor_inlet"
        in (tmp_path / "site.yaml").read_text().splitlines()[note.line - 1]
    )
