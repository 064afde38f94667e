"""Layouts that no one would build: tangled pipes, many lanes, long names, two sides."""

from hypothesis import strategies as st

from agent.piping import Layout

WORDS = st.text("abcxyz019_-", min_size=1, max_size=40).map(lambda text: f"n{text}")


@st.composite
def tangles(draw):
    """Evaporators lead to compressors over places in between, each feeding any of those that follow."""
    ahead = [{"evaporator": f"e{n}"} for n in range(draw(st.integers(1, 10)))]
    kinds = st.sampled_from(
        ("segment", "probe", "junction", "vessel", "filter", "exchanger", "inlet", "split")
    )
    middle = [{draw(kinds): f"{draw(WORDS)}{n}"} for n in range(draw(st.integers(0, 12)))]
    middle.insert(draw(st.integers(0, len(middle))), {"transducer": f"{draw(WORDS)}_p"})  # no probe ends so
    compressors = [{"compressor": n} for n in range(1, draw(st.integers(1, 9)) + 1)]
    nodes = [*ahead, *middle, *compressors]
    paths = []
    for number, node in enumerate(nodes[: -len(compressors)]):
        later = st.sampled_from(nodes[max(number + 1, len(ahead)) :])
        paths += [[node, other] for other in draw(st.lists(later, min_size=1, max_size=8, unique_by=str))]
    for number, node in enumerate(nodes[len(ahead) :], len(ahead)):
        if not any(path[1] == node for path in paths):
            earlier = st.sampled_from(nodes[: min(number, len(nodes) - len(compressors))])
            paths.append([draw(earlier), node])
    inlets = {
        name: {"effect": "warms", "kind": "oil_return", **({"valve": f"valve_of_{name}"} if valve else {})}
        for place, valve in ((p, draw(st.booleans())) for p in middle)
        for kind, name in place.items()
        if kind == "inlet"
    }
    high = [{draw(st.sampled_from(("probe", "junction", "condenser"))): f"h{n}"} for n in range(4)]
    after = [*compressors, *high]
    ends = st.tuples(st.sampled_from(after), st.sampled_from(high)).filter(lambda pair: pair[0] != pair[1])
    return Layout.from_mapping(
        {
            "layout": "tangled",
            "suction_side": paths,
            "discharge_side": [list(pair) for pair in draw(st.lists(ends, max_size=8))],
            "inlets": inlets,
            "modes": {
                mode: {"evaporators": ["e0"]}
                for mode in draw(st.sampled_from((["cooling"], ["cooling", "heating", "simultaneous"])))
            },
        }
    )
