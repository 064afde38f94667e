"""The reference pages say what the code says; a page that does not is mended by one command."""

import re

import pytest

from agent.alarms import CATALOGUE
from tests.reference import FOLDER, MEND, PAGES, page


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_what_the_code_gives(name):
    assert (FOLDER / name).read_text(encoding="utf-8") == page(name), f"make it anew: {MEND}"


def test_there_is_no_page_that_nothing_makes():
    assert {path.name for path in FOLDER.iterdir()} == set(PAGES)


def test_every_alarm_of_the_catalogue_has_its_place():
    assert re.findall(r"^## (.+)$", page("alarms.md"), re.MULTILINE) == list(CATALOGUE)
