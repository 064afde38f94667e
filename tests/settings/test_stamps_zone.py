"""A gateway that stamps in local wall time: the configuration names its zone."""

import json

import pytest

from agent.settings import ConfigError
from tests.settings.site import changed, good, plan

ZONE = ("systems", "north", "stamps_zone")


def two_systems(first, second, topic="plant/all"):
    data = good()
    module = data["systems"]["north"]["modules"]["n1"]
    data["signal_sets"]["other"] = data["signal_sets"]["polled"] | {
        "signals": {
            name: signal | {"point": f"b_{name}"}
            for name, signal in data["signal_sets"]["polled"]["signals"].items()
        }
    }
    north = {"refrigerant": "R-410A", "modules": {"n1": module | {"topic": "plant/all"}}}
    south = {"refrigerant": "R-410A", "modules": {"s1": module | {"signal_set": "other", "topic": topic}}}
    data["systems"] = {
        "north": north | ({"stamps_zone": first} if first else {}),
        "south": south | ({"stamps_zone": second} if second else {}),
    }
    return data


def findings(folder, data):
    with pytest.raises(ConfigError) as raised:
        plan(folder, data)
    return [(finding.line > 1, finding.message) for finding in raised.value.findings]


def test_no_zone_is_utc(tmp_path):
    assert plan(tmp_path, good()).modules[0].zone is None


def test_the_zone_is_part_of_the_mapping_and_not_of_what_an_assessment_rests_on(tmp_path):
    without, with_zone = plan(tmp_path, good()), plan(tmp_path, changed(ZONE, "Europe/Berlin"))
    assert with_zone.modules[0].zone == "Europe/Berlin"
    of_pipe = [
        json.loads(p.mapping)["plant/hill-house/north/n1"]["suction_pipe"] for p in (without, with_zone)
    ]
    assert of_pipe == [
        ["hill-house/north/n1", "suction_pipe", "degC"],
        ["hill-house/north/n1", "suction_pipe", "degC", "Europe/Berlin"],
    ]
    assert with_zone.modules[0].revision == without.modules[0].revision


@pytest.mark.parametrize(
    ("zone", "message"),
    [
        ("Europe/Berln", "no time zone 'Europe/Berln'; did you mean 'Europe/Berlin'?"),
        ("europe/berlin", "no time zone 'europe/berlin'; did you mean 'Europe/Berlin'?"),
        (
            "+01:00",
            "no time zone '+01:00'; right would be a name of the IANA time zone database, as Europe/Berlin",
        ),
        ("../../etc/passwd", "no time zone '../../etc/passwd'; right would be a name"),
        ("", "no time zone ''; right would be a name"),
        (1, "found 1; right would be text"),
    ],
)
def test_an_unknown_zone(tmp_path, zone, message):
    ((has_place, found),) = findings(tmp_path, changed(ZONE, zone))
    assert has_place
    assert found.startswith(message)


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        ("Europe/Berlin", "Asia/Tokyo", "Asia/Tokyo here and Europe/Berlin in system north"),
        ("Europe/Berlin", None, "UTC here and Europe/Berlin in system north"),
        (None, "Asia/Tokyo", "Asia/Tokyo here and UTC in system north"),
    ],
)
def test_one_topic_is_of_one_zone(tmp_path, first, second, said):
    ((_, found),) = findings(tmp_path, two_systems(first, second))
    assert found == f"topic plant/all is stamped in {said}; right would be one stamps_zone"


def test_systems_of_one_zone_share_a_topic_and_those_of_two_have_one_each(tmp_path):
    shared = plan(tmp_path, two_systems("Europe/Berlin", "Europe/Berlin"))
    apart = plan(tmp_path, two_systems("Europe/Berlin", "Asia/Tokyo", topic="plant/south"))
    assert [module.zone for module in shared.modules] == ["Europe/Berlin"] * 2
    assert [module.zone for module in apart.modules] == ["Europe/Berlin", "Asia/Tokyo"]
