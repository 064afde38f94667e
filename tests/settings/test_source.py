"""YAML as a person writes it: scalars, anchors, merges, and where a value stands."""

from pathlib import Path

import pytest

from agent.settings.source import ConfigError, Finding, Source


def source(tmp_path, text):
    path = tmp_path / "some.yaml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return Source(path)


# YAML 1.2.2, section 10.3.2 (core schema), from memory; 010 and numbers beyond 64 bits are refused as
# numbers on purpose.
@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("yes", "yes"),
        ("no", "no"),
        ("on", "on"),
        ("off", "off"),
        ("y", "y"),
        ("true", True),
        ("False", False),
        ("TRUE", True),
        ("null", None),
        ("~", None),
        ("", None),
        ("0", 0),
        ("-12", -12),
        ("+5", 5),
        ("0.5", 0.5),
        (".5", 0.5),
        ("1.", 1.0),
        ("1e3", 1000.0),
        ("-1.5E-2", -0.015),
        ("010", "010"),
        ("1_000", "1_000"),
        ("12:30:00", "12:30:00"),
        ("2025-11-25", "2025-11-25"),
        ("1.2.3", "1.2.3"),
        ("0x1F", "0x1F"),
        ("9" * 18, 10**18 - 1),
        ("9" * 19, "9" * 19),
        ('"12"', "12"),
        ("'true'", "true"),
    ],
)
def test_scalar(tmp_path, written, value):
    found = source(tmp_path, f"key: {written}\n").data["key"]
    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize(
    "text",
    [b"\xef\xbb\xbfsite: q\n", b"site: q\r\n", b"---\nsite: q\n...\n", "site: q # Hügelhaus\n".encode()],
    ids=["byte-order-mark", "crlf", "document-marks", "accents"],
)
def test_text_of_many_editors(tmp_path, text):
    assert source(tmp_path, text).data == {"site": "q"}


def test_anchor_alias_and_merge(tmp_path):
    found = source(
        tmp_path,
        """
        one: &pipe {unit: degC, accuracy: 0.5}
        two: *pipe
        three: {<<: *pipe, accuracy: 1}
        four: {accuracy: 2, <<: *pipe}
        """,
    )
    assert found.data["two"] == {"unit": "degC", "accuracy": 0.5}
    assert found.data["three"] == {"unit": "degC", "accuracy": 1}
    assert found.data["four"] == {"unit": "degC", "accuracy": 2}


AT = """\
first: &pipe
  unit: degC
second: {<<: *pipe, accuracy: 1}
third:
  - a
  - [b, {c: d}]
values: {2: a, 2.50: b, true: c}
"""


@pytest.mark.parametrize(
    ("path", "line", "column"),
    [
        ((), 1, 1),
        (("first",), 1, 1),
        (("first", "unit"), 2, 9),
        (("first", "unit", "deeper"), 2, 9),
        (("first", "accuracy"), 1, 1),
        (("second", "unit"), 2, 9),
        (("second", "accuracy"), 3, 31),
        (("third", 0), 5, 5),
        (("third", 1, 1, "c"), 6, 13),
        (("third", 7), 4, 1),
        (("values", 2), 7, 13),
        (("values", "2"), 7, 13),
        (("values", 2.5), 7, 22),
        (("values", True), 7, 31),
        (("nowhere", "at", "all"), 1, 1),
    ],
)
def test_place_of_a_value_or_the_nearest_above_it(tmp_path, path, line, column):
    found = source(tmp_path, AT).at(path, "wrong")
    assert found == Finding(str(tmp_path / "some.yaml"), line, column, "wrong")


def test_place_of_a_key(tmp_path):
    found = source(tmp_path, AT).at(("second", "accuracy"), "wrong", at_key=True)
    assert (found.line, found.column) == (3, 21)


def test_every_duplicate_is_told(tmp_path):
    with pytest.raises(ConfigError) as raised:
        source(tmp_path, "a: 1\nb: {c: 1, c: 2}\na: 2\nb: 3\n")
    assert [(each.line, each.column) for each in raised.value.findings] == [(2, 11), (3, 1), (4, 1)]


def test_like_keys_in_other_mappings_are_no_duplicates(tmp_path):
    assert source(tmp_path, "a: {a: 1}\nb: [{a: 1}, {a: 2}]\n").data["b"] == [{"a": 1}, {"a": 2}]


def test_a_mapping_that_holds_itself_is_read(tmp_path):
    data = source(tmp_path, "a: &a {b: *a}\n").data
    assert data["a"]["b"] is data["a"]


def test_aliases_are_looked_at_once(tmp_path):
    """Thirty levels of ten aliases each: read at once, or never."""
    levels = [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 30)]
    assert len(source(tmp_path, "\n".join(["a0: &a0 [x]", *levels])).data) == 30


def test_no_such_file(tmp_path):
    with pytest.raises(ConfigError, match=r"nothing\.yaml:1:1: no such file$"):
        Source(tmp_path / "nothing.yaml")


def test_a_folder_is_no_file(tmp_path):
    with pytest.raises(ConfigError) as raised:
        Source(tmp_path)
    assert str(raised.value) == f"{tmp_path}:1:1: cannot be read: Is a directory"


def test_findings_are_sorted_by_place_and_told_once():
    late, early = Finding("a.yaml", 10, 2, "late"), Finding("a.yaml", 9, 30, "early")
    other = Finding("B.yaml", 99, 1, "other file")
    error = ConfigError([late, other, early, late])
    assert error.findings == [other, early, late]
    assert str(error).splitlines()[1] == "a.yaml:9:30: early"


def test_a_finding_names_the_file_as_it_was_given(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("some.yaml").write_text("a: 1\n", encoding="utf-8")
    assert str(Source(Path("some.yaml")).at(("a",), "wrong")) == "some.yaml:1:4: wrong"
