"""Each package offers what its list says; no checker looks at that."""

import pkgutil
from importlib import import_module

import pytest

import agent

PACKAGES = sorted(
    found.name
    for found in pkgutil.walk_packages(agent.__path__, "agent.")
    if found.ispkg and "migrations" not in found.name
)


@pytest.mark.parametrize("name", PACKAGES)
def test_a_package_offers_what_its_list_says(name: str) -> None:
    package = import_module(name)
    listed = getattr(package, "__all__", [])
    assert [each for each in listed if not hasattr(package, each)] == []
    assert len(set(listed)) == len(listed)
