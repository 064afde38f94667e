"""A piping as one SVG file: the same rows and lanes as the drawing in characters.

Self-contained: no script, no link, no font of its own. It reads on a light and on a dark ground, and what a
colour says a shape or a word says too. Its style holds inside it only, so that it may stand in a page.
"""

from __future__ import annotations

from collections.abc import Mapping
from xml.etree import ElementTree as Xml

from agent.piping import Drawing, Mark, Place, Row, Side, State

_HIGH = "high side"
_LANE, _ROW, _LETTER, _EDGE = 36, 30, 8.6, 20  # pixels; no letter of 14 px is wider than that
_STYLE = """
svg.piping { max-width: 100%; height: auto }
.piping text { font: 14px ui-monospace, "DejaVu Sans Mono", Menlo, Consolas, monospace; fill: #16202b }
.piping .ground { fill: #ffffff }
.piping .title { font-size: 17px; font-weight: bold }
.piping .head, .piping .name { font-weight: bold }
.piping .kind, .piping .note { fill: #55606b }
.piping .letter { font-size: 12px; font-weight: bold; text-anchor: middle }
.piping .pipe { fill: none; stroke: #16202b; stroke-width: 3 }
.piping .still { stroke: #7d8791; stroke-width: 2; stroke-dasharray: 3 5 }
.piping .high_side { stroke: #8c1d2f; stroke-width: 8 }
.piping .core { fill: none; stroke: #ffffff; stroke-width: 3 }
.piping .shape { fill: #ffffff; stroke: #16202b; stroke-width: 2 }
.piping .dot, .piping .arrow { fill: #16202b }
.piping .fit { fill: #1d6439; font-weight: bold }
.piping .partial, .piping .unproven, .piping .mixed { fill: #7a4b00 }
.piping .high { fill: #8c1d2f }
.piping .idle { fill: #55606b }
@media screen and (prefers-color-scheme: dark) {
  .piping text { fill: #e8edf2 }
  .piping .ground, .piping .shape { fill: #12181f }
  .piping .kind, .piping .note, .piping .idle { fill: #a3aeb9 }
  .piping .pipe, .piping .shape { stroke: #e8edf2 }
  .piping .still { stroke: #8b96a1 }
  .piping .core { stroke: #12181f }
  .piping .high_side { stroke: #f29a96 }
  .piping .dot, .piping .arrow { fill: #e8edf2 }
  .piping .fit { fill: #7fdc98 }
  .piping .partial, .piping .unproven, .piping .mixed { fill: #ffc766 }
  .piping .high { fill: #f29a96 }
}
"""
LEGEND = (
    "T temperature probe, P pressure transducer, box: equipment",
    "arrow from the side: joins here",
    "plain line: suction, double: high-pressure gas (hot), dotted: nothing flows",
    "\u25c4 return superheat is taken here",
)


def drawn_svg(
    drawing: Drawing, title: str, about: str = "", *, narrow: bool = False, now: bool = False
) -> str:
    """The drawing as the text of an SVG file, with a title and ``about`` in its description.

    ``narrow``: for a phone, without the kinds of places, and without the legend, which then stands beside it.
    ``now``: of what is the case at this moment; pipes and probes of the high side are labelled hot.
    """
    return _Canvas(drawing, title, about, narrow, now).text()


class _Canvas:
    def __init__(self, drawing: Drawing, title: str, about: str, narrow: bool, now: bool) -> None:
        self.drawing = drawing
        self.narrow = narrow
        self.legend = () if narrow else LEGEND
        self.title = title
        self.modes = [situation.mode for situation in drawing.situations]
        rows = drawing.rows
        self.names = _EDGE + _LANE * drawing.lanes + 8
        names = [len(row.place.name) for row in rows if row.place]
        kinds = [0 if narrow else len(row.place.kind) for row in rows if row.place]
        self.now = now
        words = [len(self.said(mark)) for row in rows for mark in row.marks]
        self.kinds = self.names + _LETTER * (2 + max(names, default=0))
        self.marks = self.kinds + _LETTER * (2 + max(kinds, default=0))
        self.column = _LETTER * (2 + max([*words, *map(len, self.modes)], default=0))
        longest = max(
            [
                self.marks + self.column * len(self.modes),
                *(self.marks + _LETTER * len(row.detail) for row in rows),
                *(self.names + _LETTER * (len(note) + 2) for row in rows for note in row.notes),
                *(_EDGE + _LETTER * len(line) for line in self.legend),
                _EDGE + 10 * len(title),
            ]
        )
        self.width = longest + _EDGE
        self.y = 0.0
        self.root = Xml.Element(
            "svg", {"xmlns": "http://www.w3.org/2000/svg", "class": "piping", "role": "img"}
        )
        self.add("title", {}, title)
        modes = ", ".join(self.modes) or "no mode"
        probes = ", ".join(_described(row, self.modes) for row in rows if _is_probe(row)) or "none"
        self.add("desc", {}, f"{about} Drawn in flow order for {modes}. Probes: {probes}.".strip())
        self.add("style", {}, _STYLE)
        self.ground = self.add("rect", {"class": "ground", "x": "0", "y": "0"})

    def text(self) -> str:
        self.y = 34.0
        self.words(_EDGE, self.title, "title")
        self.y += _ROW
        side = None
        for row in self.drawing.rows:
            if row.side is not side:
                side = row.side
                self.heading(row)
            self.row(row)
        for line in ("", *self.legend):
            self.words(_EDGE, line, "note")
            self.y += 22
        size = {"width": f"{self.width:.0f}", "height": f"{self.y:.0f}"}
        self.ground.attrib |= size
        self.root.attrib |= size | {"viewBox": f"0 0 {size['width']} {size['height']}"}
        return Xml.tostring(self.root, encoding="unicode") + "\n"

    def add(self, tag: str, attributes: Mapping[str, str], text: str | None = None) -> Xml.Element:
        element = Xml.SubElement(self.root, tag, dict(attributes))
        element.text = text
        return element

    def words(self, x: float, text: str, style: str, tip: str = "") -> None:
        if not text:
            return
        element = self.add("text", {"x": f"{x:.0f}", "y": f"{self.y + 5:.0f}", "class": style}, text)
        if tip:
            Xml.SubElement(element, "title").text = tip

    def said(self, mark: Mark) -> str:
        if self.now and mark.word == _HIGH:
            return f"{_HIGH}, HOT NOW"
        return f"{mark.word} \u25c4" if mark.speaks else mark.word

    def heading(self, row: Row) -> None:
        self.passing(row.above)
        on_suction = row.side is Side.SUCTION
        self.words(self.names, "suction side" if on_suction else "discharge side", "head")
        for number, mode in enumerate(self.modes if on_suction else ()):
            self.words(self.marks + number * self.column, mode, "head")
        self.y += _ROW

    def row(self, row: Row) -> None:
        self.pipes(row)
        if row.place:
            self.shape(row, row.place)
            self.words(self.names, row.place.name, "name")
            self.words(self.kinds, "" if self.narrow else row.place.kind, "kind")
            self.words(self.marks, row.detail, "detail")
            for number, mark in enumerate(row.marks):
                style = str(mark.fitness).partition("_")[0] if mark.fitness else "mark"
                style = "high" if mark.word == _HIGH and self.now else style
                self.words(self.marks + number * self.column, self.said(mark), style, mark.reason)
        self.y += _ROW
        for note in row.notes:
            self.passing(row.below)
            self.words(self.names, f"\u21b3 {note}", "note")
            self.y += _ROW

    def pipes(self, row: Row) -> None:
        top, bottom, middle = self.y - _ROW / 2, self.y + _ROW / 2, self.y
        centre = _centre(row.lane)
        for lane, state in row.above.items():
            end = f"H{centre}" if lane in row.joins else ""
            self.pipe(f"M{_centre(lane)} {top:g}V{middle:g}{end}", state)
        for lane, state in row.below.items():
            start = f"M{centre} {middle:g}H{_centre(lane)}" if lane in row.opens else ""
            self.pipe(f"{start or f'M{_centre(lane)} {middle:g}'}V{bottom:g}", state)

    def passing(self, states: Mapping[int, State]) -> None:
        for lane, state in states.items():
            self.pipe(f"M{_centre(lane)} {self.y - _ROW / 2:g}v{_ROW}", state)

    def pipe(self, path: str, state: State) -> None:
        self.add("path", {"class": f"pipe {state}", "d": path})
        if state is State.HIGH_SIDE:  # a light core makes the line double
            self.add("path", {"class": "core", "d": path})

    def shape(self, row: Row, place: Place) -> None:
        x, y = _centre(row.lane), self.y
        if place.kind in ("probe", "transducer"):
            self.add("circle", {"class": "shape", "cx": f"{x}", "cy": f"{y:g}", "r": "10"})
            letter = "T" if place.kind == "probe" else "P"
            self.add("text", {"class": "letter", "x": f"{x}", "y": f"{y + 4.5:g}"}, letter)
        elif place.kind in ("junction", "split"):
            self.add("circle", {"class": "dot", "cx": f"{x}", "cy": f"{y:g}", "r": "5"})
        elif place.kind == "inlet":
            self.add("path", {"class": "pipe", "d": f"M{x - 16} {y:g}H{x - 6}"})
            self.add("path", {"class": "arrow", "d": f"M{x - 9} {y - 6:g}L{x - 1} {y:g}L{x - 9} {y + 6:g}Z"})
        elif place.kind != "segment":
            box = {"x": f"{x - 12}", "y": f"{y - 9:g}", "width": "24", "height": "18", "rx": "2"}
            self.add("rect", {"class": "shape", **box})


def _centre(lane: int) -> int:
    return _EDGE + _LANE * lane + _LANE // 2


def _is_probe(row: Row) -> bool:
    return row.place is not None and row.place.kind == "probe"


def _described(row: Row, modes: list[str]) -> str:
    words = [f"{mark.word} in {mode}" for mark, mode in zip(row.marks, modes, strict=True)]
    return f"{row.place.name if row.place else ''} ({'; '.join(words)})"
