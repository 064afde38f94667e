"""A piping drawn with characters: lanes to the left, each place with its name, and a column per situation.

Every sign has one of plain ASCII in its stead, so that both forms are the same drawing.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping

from rich.text import Text

from agent.piping import Drawing, Fitness, Mark, Row, Side, State

WIDEST = 80
LEAST_NAME = 9
STYLES = {
    Fitness.FIT: "bold green",
    Fitness.PARTIAL: "yellow",
    Fitness.UNPROVEN: "yellow",
    Fitness.MIXED: "yellow",
    Fitness.HIGH_SIDE: "red",
    Fitness.IDLE: "dim",
}
_ASCII = str.maketrans(
    "│║┊─═┄├┤╠╣┐┌┬╗╔╦┘└┴╝╚╩●■►◄↳",
    "|H:-=.++++......''''''o#><\\",
)
# Per state of a pipe: upright, across, and where it turns (from the left edge, the right edge, in between) or
# where others meet it.
_SIGNS = {
    State.SUCTION: {"up": "│", "across": "─", "ends": "└┘┴", "begins": "┌┐┬", "tee": "├┤"},
    State.STILL: {"up": "┊", "across": "┄", "ends": "└┘┴", "begins": "┌┐┬", "tee": "├┤"},
    State.HIGH_SIDE: {"up": "║", "across": "═", "ends": "╚╝╩", "begins": "╔╗╦", "tee": "╠╣"},
}
_GLYPHS = {"probe": "(T)", "transducer": "(P)"}
_LEGEND = (
    "(T) temperature probe   (P) pressure transducer   [■] equipment   ► joins here",
    "│ suction line   ║ high-pressure gas   ┊ nothing flows   ↳ goes on from above",
    "◄ return superheat is taken here",
)


def in_ascii(line: Text) -> Text:
    """The same line in ASCII, sign for sign; what has none in its stead is a question mark."""
    signs = line.plain.translate(_ASCII).encode("ascii", "replace").decode()
    return Text(signs, style=line.style, spans=line.spans)


def can_show(encoding: str | None) -> bool:
    """Whether a terminal of this encoding has the signs of the drawing."""
    try:
        "".join(map(chr, _ASCII)).encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def drawn(drawing: Drawing) -> list[Text]:
    """The drawing and what its signs mean, in lines of at most 80 characters."""
    return list(_Sheet(drawing).lines())


class _Sheet:
    def __init__(self, drawing: Drawing) -> None:
        self.drawing = drawing
        self.modes = [situation.mode for situation in drawing.situations]
        marks = [len(_said(mark)) for row in drawing.rows for mark in row.marks]
        self.column = 2 + max([*map(len, self.modes), *marks], default=0)
        self.tracks = 3 * drawing.lanes + 1
        places = [row.place for row in drawing.rows if row.place]
        room = WIDEST - self.tracks - self.column * len(self.modes)
        longest = max((len(place.name) for place in places), default=0)
        # where six pipes run side by side in three modes, long names and kinds go on below
        self.kind = min(room - LEAST_NAME, 1 + max((len(place.kind) for place in places), default=0))
        self.name = max(LEAST_NAME, min(room - self.kind, 2 + longest))
        self.rest = WIDEST - self.tracks - self.name - self.kind

    def lines(self) -> Iterator[Text]:
        side = None
        for row in self.drawing.rows:
            if row.side is not side:
                side = row.side
                yield self.heading(row)
            yield from self.row(row)
        yield Text()
        for line in _LEGEND:
            yield from (Text(each, style="dim") for each in textwrap.wrap(line, WIDEST))

    def heading(self, row: Row) -> Text:
        on_suction = row.side is Side.SUCTION
        title = ("suction side" if on_suction else "discharge side").ljust(self.name + self.kind)
        modes = "".join(mode.ljust(self.column) for mode in self.modes) if on_suction else ""
        return self.line(self.passing(row.above), Text(f"{title}{modes}", style="bold"))

    def row(self, row: Row) -> Iterator[Text]:
        """A row, and as many more as its words take."""
        tracks, passing = "".join(_cells(row, self.drawing.lanes)), self.passing(row.below)
        if row.place is None:
            yield self.line(tracks, Text())
            return
        names, kinds = _folded(row.place.name, self.name - 1), _folded(row.place.kind, self.kind - 1)
        details = textwrap.wrap(row.detail, self.rest)
        for number in range(max(len(names), len(kinds), len(details))):
            name, kind, detail = (
                each[number] if number < len(each) else "" for each in (names, kinds, details)
            )
            words = Text.assemble((name.ljust(self.name), "bold"), (kind.ljust(self.kind), "dim"), detail)
            if number == 0 and not row.detail:
                words.append_text(self.marked(row.marks))
            yield self.line(passing if number else tracks, words)
        for note in row.notes:
            for each in textwrap.wrap(f"↳ {note}", WIDEST - self.tracks, subsequent_indent="  "):
                yield self.line(passing, Text(each, style="bold"))

    def marked(self, marks: tuple[Mark, ...]) -> Text:
        line = Text()
        for mark in marks:
            line.append(_said(mark).ljust(self.column), style=STYLES[mark.fitness] if mark.fitness else "")
        return line

    def passing(self, states: Mapping[int, State]) -> str:
        return "".join(f" {_upright(states, lane)} " for lane in range(self.drawing.lanes))

    def line(self, tracks: str, words: Text) -> Text:
        line = Text.assemble(tracks.ljust(self.tracks), words)
        line.rstrip()
        return line


def _said(mark: Mark) -> str:
    return f"{mark.word} ◄" if mark.speaks else mark.word


def _upright(states: Mapping[int, State], lane: int) -> str:
    return _SIGNS[states[lane]]["up"] if lane in states else " "


def _cells(row: Row, lanes: int) -> Iterator[str]:
    """Three characters for each lane of a row."""
    states = {**row.below, **row.above}
    moving = (*row.joins, *row.opens)
    carried = {states[lane] for lane in moving}
    across = _SIGNS[carried.pop() if len(carried) == 1 else State.SUCTION]["across"]
    first, last = min((row.lane, *moving)), max((row.lane, *moving))
    for lane in range(lanes):
        left = across if first < lane <= last else " "
        right = across if first <= lane < last else " "
        if lane == row.lane:
            yield _glyph(row, left, right)
        elif lane in moving:
            turns = _SIGNS[states[lane]]["ends" if lane in row.joins else "begins"]
            yield left + turns[2 if left == right else 1 if right == " " else 0] + right
        else:  # a pipe that passes is not connected with what runs across
            yield left + (_upright(states, lane).strip() or left) + right


def _glyph(row: Row, left: str, right: str) -> str:
    """A place in its lane, or the point where pipes meet or part."""
    state = row.above.get(row.lane, row.below.get(row.lane, State.SUCTION))
    signs = _SIGNS[state]
    if row.place is None:
        return f"{left}{signs['tee'][0 if left == ' ' else 1]}{right}"
    if row.place.kind in ("junction", "split"):
        return f"{left}●{right}"
    if row.place.kind == "inlet":
        return f"►{signs['up'] if row.lane in row.above else signs['begins'][1]}{right}"
    if row.place.kind == "segment":
        return f"{left}{_SIGNS[row.below.get(row.lane, state)]['up']}{right}"
    return _GLYPHS.get(row.place.kind, "[■]")


def _folded(name: str, width: int) -> list[str]:
    """A name in pieces that fit, cut after a word where it can be; later ones show that they go on."""
    pieces, mark = [], ""
    while len(mark + name) > width:
        room = width - len(mark)
        after = max(name.rfind("_", 0, room), name.rfind("-", 0, room)) + 1
        cut = after if after > room // 2 else room
        pieces.append(mark + name[:cut])
        name, mark = name[cut:], "↳ "
    return [*pieces, mark + name]
