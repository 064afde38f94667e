"""A piping as one drawing in flow order: a row per place, a lane per pipe, and what a situation makes of it.

It knows nothing of characters, pixels or colours; renderers for text and SVG work from the same rows.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from agent.piping.choice import RETURN, choose
from agent.piping.fitness import Fitness, streams
from agent.piping.flow_order import Node, Pipe, Side, flow_order, pipes_of
from agent.piping.graph import RUN_ENDS, Graph, Place
from agent.piping.pressure import pressure_lost
from agent.piping.situation import Situation, role_not_known

MOST_LANES = 6  # pipes side by side; where a layout has more, a pipe is cut and both ends say so


class State(StrEnum):
    """What a pipe carries."""

    SUCTION = "suction"
    STILL = "still"
    HIGH_SIDE = "high_side"


@dataclass(frozen=True)
class Mark:
    """What one situation makes of a place: a word, a sentence, and for a probe its fitness."""

    word: str = ""
    reason: str = ""
    fitness: Fitness | None = None
    speaks: bool = False  # return superheat is taken here


@dataclass(frozen=True)
class Row:
    """One row of the drawing. ``above`` and ``below``: lanes that hold a pipe at its edges, and their state.

    The place sits in ``lane``. Lanes of ``joins`` end there, lanes of ``opens`` begin there; every other lane
    passes by. Without a place it is pipes that meet or part.
    """

    side: Side
    lane: int
    place: Place | None = None
    above: Mapping[int, State] = field(default_factory=dict)
    below: Mapping[int, State] = field(default_factory=dict)
    joins: tuple[int, ...] = ()
    opens: tuple[int, ...] = ()
    detail: str = ""  # of an inlet: what it does, and which valve tells
    notes: tuple[str, ...] = ()
    marks: tuple[Mark, ...] = ()  # one per situation


@dataclass(frozen=True)
class Drawing:
    """All rows from the evaporators to the high side, and the situations that they are marked for."""

    situations: tuple[Situation, ...]
    rows: tuple[Row, ...]

    @property
    def lanes(self) -> int:
        used = [lane for row in self.rows for lane in (row.lane, *row.above, *row.below)]
        return max(used, default=0) + 1


def draw(
    layout: Graph,
    situations: Sequence[Situation],
    available: Collection[str] | None = None,
    configured_probe: str | None = None,
) -> Drawing:
    """Draw a layout, with a mark at each place for each situation.

    ``available`` holds the probes that give readings (None: all); ``configured_probe`` is the site's own.
    """
    pen = _Pen(layout, _Marks(layout, situations, available), configured_probe)
    return Drawing(tuple(situations), pen.rows())


class _Marks:
    """What the situations make of each place and each pipe."""

    def __init__(
        self, layout: Graph, situations: Sequence[Situation], available: Collection[str] | None
    ) -> None:
        self.layout = layout
        self.situations = situations
        self.available = set(layout.suction_probes if available is None else available)
        self.choices = [choose(layout, situation, available) for situation in situations]
        self.carrying = [self._carrying(situation) for situation in situations]

    def of(self, node: Node) -> tuple[Mark, ...]:
        return tuple(self._mark(node, number) for number in range(len(self.situations)))

    def detail(self, node: Node) -> str:
        inlet = self.layout.inlets.get(node.place.name) if node.place.kind == "inlet" else None
        if inlet is None:
            return ""
        effect = {"warms": "warms", "cools": "cools", "either": "may warm or cool"}[inlet.effect]
        stream = "; a stream of its own" if inlet.is_stream else ""
        return f"{effect}; {f'valve {inlet.valve}' if inlet.valve else 'always open'}{stream}"

    def state(self, pipe: Pipe) -> State:
        """What a pipe carries in all the situations; where they differ it is drawn as suction."""
        if pipe[0].side is Side.DISCHARGE or pipe[1].side is Side.DISCHARGE:
            return State.HIGH_SIDE
        states = {self._state(pipe, number) for number in range(len(self.situations))}
        return states.pop() if len(states) == 1 else State.SUCTION

    def shut_off(self, node: Node) -> list[str]:
        """The named pipes that end here and are on the high side in every situation."""
        found: set[str] = set()
        for up, down in self.layout.suction:
            ends = node == (Side.SUCTION, down) and down.kind in RUN_ENDS and down.kind != "segment"
            if ends and self.state((Node(Side.SUCTION, up), node)) is State.HIGH_SIDE:
                found |= self.layout.runs_after(up)
        return sorted(found)

    def _mark(self, node: Node, number: int) -> Mark:
        side, place = node
        situation, choices = self.situations[number], self.choices[number]
        if place.kind == "probe" and place.name in choices.fitness:
            if side is Side.SUCTION and place.name not in self.available:
                return Mark("no readings", f"the module has no signal {place.name}")
            found = choices.fitness[place.name]
            speaks = place.name in choices.places[RETURN].probes
            return Mark(found.verdict.replace("_", " "), found.reason, found.verdict, speaks)
        if side is Side.DISCHARGE:
            return Mark()
        if place.kind == "evaporator":
            return self._of_evaporator(place.name, situation)
        if place.kind == "segment":
            words = {State.SUCTION: "suction gas", State.STILL: "still", State.HIGH_SIDE: "high side"}
            return Mark(words[self._state((node, node), number)])
        if place.kind == "transducer":
            lost = pressure_lost(self.layout, situation)
            return Mark("high side", lost) if lost else Mark()
        return Mark()

    def _of_evaporator(self, name: str, situation: Situation) -> Mark:
        piping = self.layout.modes.get(situation.mode)
        by_valve = {coil.name: coil for coil in self.layout.coils_by_valve(situation.mode)}
        if name in by_valve and situation.role(by_valve[name]) is None:
            return Mark("not known", role_not_known(name))
        if name in streams(self.layout, situation):
            return Mark("evaporates")
        if piping and name in piping.condensers:
            return Mark("may condense" if name in by_valve else "condenses")
        return Mark("-", "it feeds no vapour to the suction line")

    def _state(self, pipe: Pipe, number: int) -> State:
        upstream, downstream = pipe[0].place, pipe[1].place
        piping = self.layout.modes.get(self.situations[number].mode)
        if piping and self.layout.runs_after(upstream) & piping.high_side:
            return State.HIGH_SIDE
        if piping and downstream.kind == "segment" and downstream.name in piping.high_side:
            return State.HIGH_SIDE
        carrying = self.carrying[number]
        return State.SUCTION if upstream in carrying and downstream in carrying else State.STILL

    def _carrying(self, situation: Situation) -> set[Place]:
        """The places that vapour passes on its way to a running compressor."""
        flowing = streams(self.layout, situation)
        names = self.layout.compressors if situation.running is None else situation.running
        pulling = {Place("compressor", name) for name in names}
        open_inlets = {name for name, i in self.layout.inlets.items() if not situation.is_shut(i)}
        sources = {Place("evaporator", name) for name in flowing} | {Place("inlet", n) for n in open_inlets}
        reached = sources.union(*(self.layout.downstream(source) for source in sources & self.layout.places))
        return {
            p for p in reached & self.layout.places if p in pulling or self.layout.downstream(p) & pulling
        }


class _Pen:
    """Puts the places on lanes, in flow order."""

    def __init__(self, layout: Graph, marks: _Marks, configured_probe: str | None) -> None:
        self.marks = marks
        self.configured_probe = configured_probe
        self.order = flow_order(layout)
        self.number = {node: number for number, node in enumerate(self.order)}
        self.pipes = pipes_of(layout)
        self.lanes: dict[int, Pipe] = {}
        self.cut: set[Pipe] = set()
        self.drawn: list[Row] = []

    def rows(self) -> tuple[Row, ...]:
        for node in self.order:
            self.draw_place(node)
        return tuple(self.drawn)

    def draw_place(self, node: Node) -> None:
        arriving = sorted(lane for lane, pipe in self.lanes.items() if pipe[1] == node)
        if len(arriving) > 1 and node.place.kind != "junction":
            self.meet(node.side, arriving)
            arriving = arriving[:1]
        lane = arriving[0] if arriving else self.free(0)
        above = self.states()
        notes = self.notes(node)
        for each in arriving:
            del self.lanes[each]
        leaving, cut = self.leave(node, lane)
        splits = node.place.kind == "split" and len(arriving) <= 1
        first = leaving if splits else leaving[:1]
        self.lanes |= dict(first)
        row = Row(
            node.side,
            lane,
            node.place,
            above,
            self.states(),
            tuple(arriving[1:]),
            tuple(each for each, _ in first if each != lane),
            self.marks.detail(node),
            notes + cut,
            self.marks.of(node),
        )
        self.drawn.append(row)
        if len(first) < len(leaving):
            self.part(node.side, lane, leaving[1:])
        self.meet_early(node)

    def leave(self, node: Node, lane: int) -> tuple[list[tuple[int, Pipe]], tuple[str, ...]]:
        """The lanes of the pipes that leave a place, and notes on those that cannot be drawn."""
        found: list[tuple[int, Pipe]] = []
        notes: list[str] = []
        leaving = sorted((p for p in self.pipes if p[0] == node), key=lambda pipe: self.number[pipe[1]])
        for pipe in leaving:
            taken = {each for each, _ in found}
            free = lane if lane not in taken and lane not in self.lanes else self.free(lane + 1, taken)
            drawn_before = self.number[pipe[1]] <= self.number[node]
            if drawn_before or free >= MOST_LANES:
                self.cut.add(pipe)
                notes.append(f"goes on to {_called(pipe[1])}, {'above' if drawn_before else 'further down'}")
            else:
                found.append((free, pipe))
        return found, tuple(notes)

    def notes(self, node: Node) -> tuple[str, ...]:
        """What the drawing cannot show with lines, and whether the site takes its superheat here."""
        cut = sorted(pipe for pipe in self.cut if pipe[1] == node)
        found = [f"comes from {_called(pipe[0])}, further up" for pipe in cut]
        found += [f"shut off here from {pipe}: high side" for pipe in self.marks.shut_off(node)]
        if node.side is Side.SUCTION and node.place == Place("probe", self.configured_probe or ""):
            found.append("the site takes superheat here")
        return tuple(found)

    def meet_early(self, node: Node) -> None:
        """Lead pipes to one place together as soon as they run side by side, unless it comes next."""
        following = self.number[node] + 1
        targets = {pipe[1] for pipe in self.lanes.values()}
        for target in sorted(targets, key=self.number.__getitem__):
            arriving = sorted(lane for lane, pipe in self.lanes.items() if pipe[1] == target)
            if len(arriving) > 1 and self.number[target] != following:
                self.meet(node.side, arriving)

    def meet(self, side: Side, arriving: Sequence[int]) -> None:
        """A row in which lanes come together in the first of them."""
        above = self.states()
        for lane in arriving[1:]:
            del self.lanes[lane]
        self.drawn.append(Row(side, arriving[0], None, above, self.states(), tuple(arriving[1:])))

    def part(self, side: Side, lane: int, leaving: Iterable[tuple[int, Pipe]]) -> None:
        """A row in which lanes part from one."""
        above, opening = self.states(), dict(leaving)
        self.lanes |= opening
        self.drawn.append(Row(side, lane, None, above, self.states(), (), tuple(opening)))

    def free(self, start: int, taken: Collection[int] = ()) -> int:
        """The first lane without a pipe, from ``start`` on if it can be; MOST_LANES where all are taken."""
        empty = [n for n in range(MOST_LANES) if n not in self.lanes and n not in taken]
        return next((n for n in empty if n >= start), empty[0] if empty else MOST_LANES)

    def states(self) -> dict[int, State]:
        return {lane: self.marks.state(pipe) for lane, pipe in sorted(self.lanes.items())}


def _called(node: Node) -> str:
    return f"{node.place.kind} {node.place.name}"
