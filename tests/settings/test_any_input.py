"""Whatever stands in a configuration file: it loads, or it is refused with findings. Nothing else."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from agent.settings import ConfigError, load
from tests.settings.site import GOOD, LAYOUTS, changed, good, write

ODD = (None, [], {}, "Some text", "", 5, -1.5, True, [{}], {"a": None}, {1: 2, None: 3}, float("inf"), 2**70)


def paths(value, path=()):
    if path:
        yield path
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from paths(inner, (*path, key))


def refused_or_loaded(file):
    """Number of findings; each has its place in the file."""
    lines = file.read_text(encoding="utf-8").split("\n")
    try:
        load(file)
    except ConfigError as error:
        assert error.findings
        for finding in error.findings:
            assert finding.file == str(file)
            assert 1 <= finding.line <= len(lines)
            assert finding.column >= 1
            assert finding.message
        return len(error.findings)
    return 0


@pytest.mark.parametrize("path", list(paths(good())), ids=lambda path: ".".join(map(str, path)))
def test_an_odd_value_anywhere(tmp_path, path):
    refused = [refused_or_loaded(write(tmp_path, changed(path, odd))) > 0 for odd in ODD]
    assert sum(refused) >= len(ODD) / 2


def test_the_good_file_loads():
    assert refused_or_loaded(GOOD) == 0


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    edits=st.lists(
        st.tuples(
            st.floats(0, 1), st.integers(0, 2), st.sampled_from("{}[]:,&*#!|>'\"%@`-?<~ \n\t0aA.é\x07")
        ),
        min_size=1,
        max_size=4,
    )
)
def test_slips_of_the_hand(tmp_path, edits):
    text = GOOD.read_text(encoding="utf-8").replace("../../config/layouts", str(LAYOUTS))
    for share, removed, typed in edits:
        place = int(share * len(text))
        text = text[:place] + typed + text[place + removed :]
    file = tmp_path / "slip.yaml"
    file.write_text(text, encoding="utf-8")
    refused_or_loaded(file)
