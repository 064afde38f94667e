"""Payloads of all kinds: any bytes, any JSON, and packs that were right before something happened to them."""

import json

from hypothesis import strategies as st

LABELS = (
    "bn",
    "bt",
    "bu",
    "bv",
    "bs",
    "bver",
    "n",
    "u",
    "v",
    "vs",
    "vb",
    "vd",
    "s",
    "t",
    "ut",
    "x",
    "x_",
    "bx_",
)
NAMES = ("suction_pipe", "mode", "bypass_valve", "liquid_line")
NOW_S = 1_700_000_000

TIMES = (
    st.integers(NOW_S - 100_000, NOW_S + 1000)
    | st.integers(-1000, 10)
    | st.floats(NOW_S - 10, NOW_S)
    | st.integers(NOW_S * 1000 - 5000, NOW_S * 1000)
    | st.sampled_from([0, -1, 2**28, 2**28 - 1, 1e300, -1e300, 2**63, 99_999_999_999, 100_000_000_000])
)
TEXTS = st.text(max_size=20) | st.sampled_from(["", "aGkgCg", "a==", "-", "12.0 degC", "x" * 5000, *NAMES])
SCALARS = (
    st.none() | st.booleans() | st.integers(-(2**70), 2**70) | st.floats(allow_nan=False) | TIMES | TEXTS
)
DEEP = st.sampled_from([json.loads("[" * depth + "]" * depth) for depth in (254, 255, 900)])
ANY_JSON = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.sampled_from(LABELS) | st.text(max_size=5), inner, max_size=6)
    ),
    max_leaves=30,
)
LIKE_A_PACK = st.lists(st.dictionaries(st.sampled_from(LABELS), SCALARS, max_size=6), max_size=8)


@st.composite
def good_packs(draw: st.DrawFn) -> list[dict]:
    """What a gateway sends when all is well."""
    value = st.one_of(
        st.fixed_dictionaries({"v": st.integers(-100, 5000) | st.floats(-100, 5000)}),
        st.fixed_dictionaries({"vb": st.booleans()}),
        st.fixed_dictionaries({"vs": st.sampled_from(["cooling", "heating", "off"])}),
    )
    pack = [
        {
            "n": draw(st.sampled_from(NAMES)),
            **draw(value),
            **draw(st.sampled_from([{}, {"u": "Cel"}, {"t": -5}])),
        }
        for _ in range(draw(st.integers(1, 6)))
    ]
    pack[0] = draw(st.sampled_from([{}, {"bt": NOW_S}, {"bt": NOW_S, "bu": "Cel", "bver": 10}])) | pack[0]
    return pack


ODD_NUMBERS = st.sampled_from(
    [0, -1, 1e308, -1e308, 2**63 - 1, 2**63, 2**64 - 1, -(2**63), 0.1, 2**28, 1e300]
)
WELL_TYPED = {
    **dict.fromkeys(("v", "bv", "s", "bs", "ut"), ODD_NUMBERS),
    **dict.fromkeys(("t", "bt"), TIMES),
    **dict.fromkeys(("vs", "vd", "u", "bu", "bn"), TEXTS),
    "n": st.sampled_from(NAMES),
    "vb": st.booleans(),
}
ODD_PACKS = st.lists(
    st.fixed_dictionaries(
        {"n": WELL_TYPED["n"]},
        optional={label: WELL_TYPED[label] for label in ("v", "vs", "t", "bt", "bv", "u")},
    )
    | st.fixed_dictionaries({}, optional=WELL_TYPED),
    max_size=5,
)
"""Each field of the right type, and values at the ends of what that type can hold."""


@st.composite
def altered_packs(draw: st.DrawFn) -> bytes:
    """A good pack in which values and labels were exchanged, and records lost, repeated or replaced."""
    pack: list = draw(good_packs())
    for _ in range(draw(st.integers(1, 3))):
        place = draw(st.integers(0, len(pack) - 1)) if pack else 0
        match draw(st.integers(0, 4)):
            case 0 if pack and isinstance(pack[place], dict):
                pack[place] = pack[place] | {draw(st.sampled_from(LABELS)): draw(SCALARS | DEEP)}
            case 1 if pack and isinstance(pack[place], dict) and pack[place]:
                del (record := dict(pack[place]))[draw(st.sampled_from(sorted(record)))]
                pack[place] = record
            case 2:
                pack.insert(place, draw(ANY_JSON))
            case 3:
                pack.insert(place, {draw(st.sampled_from(LABELS[:6])): draw(SCALARS)})
            case 4 if pack:
                pack.append(pack[place])
    return as_bytes(pack)


@st.composite
def broken_packs(draw: st.DrawFn) -> bytes:
    """A good pack in which bytes were lost, added, changed or cut off."""
    payload = bytearray(as_bytes(draw(good_packs())))
    for _ in range(draw(st.integers(1, 4))):
        place = draw(st.integers(0, len(payload)))
        put = draw(
            st.binary(max_size=3)
            | st.sampled_from([b'"', b"[", b"]", b"{", b"}", b",", b"\\ud800", b"9" * 400])
        )
        payload[place : place + draw(st.integers(0, 3))] = put
    return bytes(payload[: draw(st.integers(len(payload) // 2, len(payload)))])


def as_bytes(document: object) -> bytes:
    return json.dumps(document).encode()


PAYLOADS = (
    st.binary(max_size=200)
    | ANY_JSON.map(as_bytes)
    | LIKE_A_PACK.map(as_bytes)
    | ODD_PACKS.map(as_bytes)
    | good_packs().map(as_bytes)
    | altered_packs()
    | broken_packs()
)


# Plain JSON: a gateway's object, with members that are there, are not, or are something else.
POINTS = ("/at", "/pipes/suction", "/pipes/0", "/mode", "/valve~1a", "/", "/list/-")
MEMBERS = ("at", "pipes", "mode", "valve/a", "", "list", "suction")
NEAR_VALUES = st.sampled_from(
    [
        "12.0 degC",
        "12,0",
        "1,234",
        " 12 ",
        "NaN",
        "-inf",
        "1e999",
        "12 barg",
        "N/A",
        "-999",
        "true",
        "",
        " ",
        "12 K",
    ]
)
NEAR_TIMES = st.sampled_from(
    [
        "2023-11-14T22:13:20Z",
        "2023-11-14T22:13:20+14:00",
        "2023-11-14 22:13",
        "0001-01-01T00:00:00+14:00",
        "9999-12-31T23:59:59-14:00",
        "2024-03-31T02:30:00",
        "2023-11-14",
        "1700000000",
        "99999999999999999999.9",
        "T",
    ]
)
OBJECTS = st.dictionaries(
    st.sampled_from(MEMBERS), SCALARS | NEAR_VALUES | NEAR_TIMES | st.deferred(lambda: OBJECTS), max_size=6
)


@st.composite
def broken(draw: st.DrawFn, good: st.SearchStrategy[bytes]) -> bytes:
    """A payload in which bytes were lost, added, changed or cut off."""
    payload = bytearray(draw(good))
    for _ in range(draw(st.integers(1, 4))):
        place = draw(st.integers(0, len(payload)))
        put = draw(
            st.binary(max_size=3) | st.sampled_from([b'"', b"{", b"}", b",", b":", b"\\ud800", b'"at":1,'])
        )
        payload[place : place + draw(st.integers(0, 3))] = put
    return bytes(payload)


GOOD_JSON = (OBJECTS | st.lists(OBJECTS, max_size=4)).map(as_bytes)
JSON_PAYLOADS = (
    st.binary(max_size=200) | ANY_JSON.map(as_bytes) | DEEP.map(as_bytes) | GOOD_JSON | broken(GOOD_JSON)
)
BARE_VALUES = (
    st.binary(max_size=50)
    | st.text(max_size=20).map(str.encode)
    | (NEAR_VALUES | NEAR_TIMES).map(str.encode)
    | SCALARS.map(as_bytes)
    | broken(NEAR_VALUES.map(str.encode))
    | ANY_JSON.map(as_bytes)
)
