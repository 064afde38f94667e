"""A stretch of time at a glance: lanes and curves over one time axis in the site's clock.

What a colour says, a label, a hatch or a line's pattern says too. Every column holds all of its time: a curve
reaches from the least to the most, a lane is filled where something was so at any time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from agent.alarms.catalogue import CATALOGUE, SUPERHEAT_HIGH, SUPERHEAT_LOW
from agent.alarms.highside import DISCHARGE_TEMPERATURE_HIGH, SUBCOOLING_HIGH, SUBCOOLING_LOW
from agent.assess import (
    AT_PROBE,
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    MODES,
    SUBCOOLING,
)
from agent.assess.frames import BoolArray
from agent.assess.mode_codes import CODE
from agent.outlets.shown import Display, spaced
from agent.outlets.visit.brief import Brief
from agent.outlets.visit.course import Course, Curve, happens, pixels, runs
from agent.outlets.visit.curves import ALARM, APART, FAINT, LINE, RULE, Pen, days
from agent.piping import RETURN, RISE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LANE_INCHES, _PANEL_INCHES, _EDGE_INCHES = 0.17, 1.02, 0.55
_TICK_POINTS = 26  # left of an axis, which its numbers take
_PATTERNS = ("solid", "dashed", "dotted", "dashdot")
_FARTHEST_K = 60.0  # the frame ends there, for one that reads hot gas; design choice, no source


@dataclass(frozen=True)
class Size:
    """A form of the figure. ``inches``: its width; ``pixels``: into how many parts the time is cut."""

    name: str
    inches: float
    pixels: int
    ticks: int  # at most; from 5 on there is a step of the clock for every span
    letters_pt: float


WIDE = Size("wide", 7.3, 720, 9, 8.0)
NARROW = Size("narrow", 3.6, 340, 5, 7.0)


@dataclass(frozen=True)
class _Lane:
    label: str
    where: BoolArray
    colour: str
    hatch: str


@dataclass(frozen=True)
class _Panel:
    title: str
    draw: Callable[[Any], None]
    limits: tuple[tuple[float | None, str], ...] = ()


class Sheet:
    """All panels over one time axis."""

    def __init__(self, brief: Brief, course: Course, size: Size, make: type[Figure]) -> None:
        self.brief = brief
        self.course = course
        self.display: Display = brief.display
        self.size = size
        self.edges_us = pixels(self.course, size.pixels)
        self.pen = Pen(course, brief.display, self.edges_us)
        lanes, panels = list(self._lanes()), list(self._panels())
        heights = [len(lanes) * _LANE_INCHES, *[_PANEL_INCHES] * len(panels)]
        total = sum(heights) + _EDGE_INCHES + 0.28 * len(panels)
        self.figure = make(figsize=(size.inches, total), facecolor="none")
        grid = self.figure.add_gridspec(
            len(heights),
            1,
            height_ratios=heights,
            left=(1.2 if size is WIDE else 1.0) / size.inches,
            right=1 - 0.08 / size.inches,
            top=1 - 0.06 / total,
            bottom=0.42 / total,
            hspace=0.28 / (sum(heights) / len(heights)),
        )
        first = self.figure.add_subplot(grid[0])
        axes = [first, *(self.figure.add_subplot(grid[n + 1], sharex=first) for n in range(len(panels)))]
        self._draw_lanes(first, lanes)
        for axis, panel in zip(axes[1:], panels, strict=True):
            self._frame(axis, panel)
        self._time_axis(axes)

    def _lanes(self) -> Iterator[_Lane]:
        """A lane for each mode that was, for what was decided while it ran, and for each alarm."""
        course = self.course
        for mode in dict.fromkeys(("cooling", "heating", "simultaneous", *MODES)):
            where = course.mode == CODE[mode]
            if where.any():
                is_known = mode not in ("off", "unknown")
                yield _Lane(spaced(mode), where, LINE if is_known else FAINT, "" if is_known else "----")
        returned = course.curves.get(RETURN)
        if returned is not None:
            undecided = course.is_running & ~returned.decided
            if undecided.any():
                yield _Lane("could not be told", undecided, APART, "////")
        for name, where in course.alarms.items():
            yield _Lane(name, where, ALARM, "xxxx")

    def _draw_lanes(self, axis: Axes, lanes: Sequence[_Lane]) -> None:
        edges = self.pen.edges
        for number, lane in enumerate(lanes):
            found = runs(happens(self.course, lane.where, self.edges_us))
            spans = [(edges[begin], edges[end] - edges[begin]) for begin, end in found]
            axis.broken_barh(
                spans,
                (number - 0.31, 0.62),
                facecolor="none" if lane.hatch else lane.colour,
                edgecolor=lane.colour,
                hatch=lane.hatch or None,
                linewidth=0.5,
            )
        axis.set_yticks(range(len(lanes)), [_short(lane.label) for lane in lanes])
        axis.set_ylim(len(lanes) - 0.4, -0.6)
        axis.tick_params(axis="y", length=0)

    def _panels(self) -> Iterator[_Panel]:
        unit = self.display.difference_unit
        curves = self.course.curves
        if _has(curves.get(RETURN)) or any(name.startswith(AT_PROBE) for name in curves):
            yield _Panel(
                f"return superheat [{unit}]",
                self._draw_superheat,
                (
                    (self._limit_k(SUPERHEAT_LOW.name), "low"),
                    (self._limit_k(SUPERHEAT_HIGH.name), "high"),
                ),
            )
        if _has(curves.get(RISE)):
            yield _Panel(f"oil-return rise [{unit}]", self._one(RISE))
        temperature = f"discharge temperature [{self.display.temperature_unit}]"
        for prefix, title in (
            (DISCHARGE_TEMPERATURE, temperature),
            (DISCHARGE_SUPERHEAT, f"discharge superheat [{unit}]"),
        ):
            names = [name for name in curves if name.startswith(prefix) and _has(curves[name])]
            if names:
                hottest = CATALOGUE[DISCHARGE_TEMPERATURE_HIGH.name].name
                limit = self._limit_c(hottest) if prefix == DISCHARGE_TEMPERATURE else None
                yield _Panel(title, self._each(prefix, names), ((limit, "high"),))
        if _has(curves.get(SUBCOOLING)):
            limits = (
                (self._limit_k(SUBCOOLING_LOW.name), "low"),
                (self._limit_k(SUBCOOLING_HIGH.name), "high"),
            )
            yield _Panel(f"subcooling [{unit}]", self._one(SUBCOOLING), limits)

    def _draw_superheat(self, axis: Axes) -> None:
        for number, name in enumerate(n for n in self.course.curves if n.startswith(AT_PROBE)):
            curve = self.course.curves[name]
            shown = np.where(self.course.is_running, curve.value, np.nan)
            label = f"{name.removeprefix(AT_PROBE)} (not fit)"
            self.pen.outline(axis, self.pen.thin(shown, shown), label, _PATTERNS[1 + number % 3])
        if RETURN in self.course.curves:
            self.pen.curve(axis, self.course.curves[RETURN], "value ± U", LINE, "solid")

    def _one(self, name: str) -> Callable[[Any], None]:
        def draw(axis: Axes) -> None:
            self.pen.curve(axis, self.course.curves[name], "value ± U", LINE, "solid")

        return draw

    def _each(self, prefix: str, names: Sequence[str]) -> Callable[[Any], None]:
        """A temperature is drawn wherever there is one; of the rest what had not settled is thin."""

        def draw(axis: Axes) -> None:
            for number, name in enumerate(names):
                curve = self.course.curves[name]
                is_bare = prefix == DISCHARGE_TEMPERATURE
                if not is_bare:
                    self.pen.unsettled(axis, curve)
                shown = curve.value if is_bare else np.where(curve.decided, curve.value, np.nan)
                colour = (LINE, APART)[number % 2]
                thin = self.pen.thin(shown, shown, is_temperature=is_bare)
                self.pen.fill(axis, thin, colour, name.removeprefix(prefix), _PATTERNS[number % 4])

        return draw

    def _frame(self, axis: Axes, panel: _Panel) -> None:
        panel.draw(axis)
        axis.autoscale_view()
        low, high = axis.get_ylim()
        if "temperature" not in panel.title:
            low, high = min(low, 0.0), min(high, self.display.difference(_FARTHEST_K))
        for limit, word in panel.limits:
            if limit is None:
                continue
            low, high = min(low, limit), max(high, limit)
            axis.axhline(limit, color=ALARM, linewidth=0.8, linestyle=(0, (6, 2)))
            axis.annotate(
                f"{word} {limit:.0f}",
                (0.0, limit),
                xycoords=("axes fraction", "data"),
                xytext=(-_TICK_POINTS, 0),
                textcoords="offset points",
                ha="right",
                va="center",
                color=ALARM,
                annotation_clip=False,
            )
        room = 0.06 * (high - low or 1.0)
        axis.set_ylim(low - room, high + 2.2 * room)
        axis.set_title(panel.title, loc="left", fontsize=self.size.letters_pt + 1, pad=3, fontweight="bold")
        axis.grid(axis="y", color=RULE, linewidth=0.5)
        _, labels = axis.get_legend_handles_labels()
        if self.size is not WIDE:  # what all panels have in common stands below the figure
            labels = [label for label in labels if label in self.brief.module.module.layout.compressors]
        if labels:
            handles = [
                h for h, label in zip(*axis.get_legend_handles_labels(), strict=True) if label in labels
            ]
            axis.legend(
                handles,
                labels,
                loc="lower right",
                bbox_to_anchor=(1.0, 0.985),
                ncols=len(labels),
                frameon=False,
                borderaxespad=0.0,
                handlelength=1.8 if self.size is WIDE else 1.1,
                columnspacing=1.2 if self.size is WIDE else 0.7,
                handletextpad=0.5,
            )

    def _time_axis(self, axes: Sequence[Axes]) -> None:
        from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

        zone = self.display.zone
        locator = AutoDateLocator(tz=zone, minticks=self.size.ticks // 2, maxticks=self.size.ticks)
        for axis in axes:
            axis.set_facecolor("none")
            axis.set_xlim(
                *days(
                    np.array(
                        [
                            self.course.from_us,
                            max(self.course.to_us, self.course.from_us + self.course.step_us),
                        ]
                    )
                )
            )
            axis.xaxis.set_major_locator(locator)
            axis.xaxis.set_major_formatter(ConciseDateFormatter(locator, tz=zone, show_offset=False))
            axis.grid(axis="x", color=RULE, linewidth=0.5)
            axis.tick_params(axis="x", labelbottom=axis is axes[-1], length=2)
            for side in ("top", "right"):
                axis.spines[side].set_visible(False)
        axes[-1].set_xlabel(f"site's clock ({self.display.offset(self.course.to_us)})")

    def _limit_k(self, name: str) -> float | None:
        entry = self.brief.module.catalogue.get(name)
        limit = entry.limits.limit_k if entry else None
        return None if limit is None else self.display.difference(limit)

    def _limit_c(self, name: str) -> float | None:
        entry = self.brief.module.catalogue.get(name)
        limit = entry.limits.limit_c if entry else None
        return None if limit is None else self.display.temperature(limit)


def _has(curve: Curve | None) -> bool:
    return curve is not None and not np.isnan(curve.value).all()


def _short(label: str) -> str:
    """A long name breaks, so that the time has the room."""
    return label if len(label) <= 18 else "-\n".join(label.rsplit("-", 1))
