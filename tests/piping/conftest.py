"""The two shipped arrangements that most tests are about."""

import pytest

from agent.piping import Layout
from tests.piping.layouts import shipped


@pytest.fixture
def late():
    return Layout.from_mapping(shipped("two-pipe-twin-late"))


@pytest.fixture
def early():
    return Layout.from_mapping(shipped("two-pipe-single-early"))
