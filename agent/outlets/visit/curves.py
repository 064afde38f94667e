"""Curves on a panel of a figure, each thinned to the least and the most of its pixels.

What could be told is drawn full, with its uncertainty. What had not settled is thin, and squeezes nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from agent.assess.frames import FloatArray, IntArray
from agent.outlets.shown import Display
from agent.outlets.visit.course import Course, Curve, Envelope, envelope, runs

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Stand-ins in the SVG for variables of the page; each with its value where there is no page.
COLOURS = {
    "ink": "#16202b",
    "faint": "#7d8791",
    "line": "#174f7a",
    "band": "#abc9dd",
    "apart": "#a3560f",
    "alarm": "#8c1d2f",
    "rule": "#c9d0d6",
}
INK, FAINT, LINE, BAND, APART, ALARM, RULE = COLOURS.values()
UNSETTLED = "not settled"


class Pen:
    """Draws a course's columns over the pixels of a time axis, in the site's units."""

    def __init__(self, course: Course, display: Display, edges_us: IntArray) -> None:
        self.course = course
        self.display = display
        self.edges_us = edges_us
        self.edges = days(edges_us)

    def curve(self, axis: Axes, curve: Curve, label: str, colour: str, pattern: str) -> None:
        """Settled values with their band; the others thin."""
        self.unsettled(axis, curve)
        low = np.where(curve.decided, curve.value - np.nan_to_num(curve.below), np.nan)
        high = np.where(curve.decided, curve.value + np.nan_to_num(curve.above), np.nan)
        self._patches(axis, self.thin(low, high), facecolor=BAND, edgecolor="none", alpha=0.55, linewidth=0)
        value = np.where(curve.decided, curve.value, np.nan)
        self.fill(axis, self.thin(value, value), colour, label, pattern)

    def thin(self, least: FloatArray, most: FloatArray, *, is_temperature: bool = False) -> Envelope:
        told = self.display.temperature if is_temperature else self.display.difference
        found = envelope(self.course, least, most, self.edges_us)
        return Envelope(found.edges_us, _each(told, found.least), _each(told, found.most))

    def fill(self, axis: Axes, thin: Envelope, colour: str, label: str, pattern: str) -> None:
        self._patches(
            axis, thin, facecolor=colour, edgecolor=colour, alpha=0.9, linewidth=0.7, linestyle=pattern
        )
        axis.plot([], [], color=colour, linewidth=1.6, linestyle=pattern, label=label)

    def outline(self, axis: Axes, thin: Envelope, label: str, pattern: str) -> None:
        self._patches(axis, thin, facecolor="none", edgecolor=APART, linewidth=0.8, linestyle=pattern)
        axis.plot([], [], color=APART, linewidth=1.0, linestyle=pattern, label=label)

    def unsettled(self, axis: Axes, curve: Curve) -> None:
        """Values of running that could not be relied on."""
        value = np.where(self.course.is_running & ~curve.decided, curve.value, np.nan)
        if np.isnan(value).all():
            return
        thin = self.thin(value, value)
        self._patches(axis, thin, as_data=False, facecolor=FAINT, edgecolor=FAINT, linewidth=0.35)
        if UNSETTLED not in axis.get_legend_handles_labels()[1]:
            axis.plot([], [], color=FAINT, linewidth=0.6, label=UNSETTLED)

    def _patches(self, axis: Axes, thin: Envelope, *, as_data: bool = True, **style: Any) -> None:
        """An outline for each run of pixels; nothing where nothing is known."""
        from matplotlib.collections import PolyCollection

        shapes = []
        for begin, end in runs(~np.isnan(thin.least)):
            middle = (self.edges[begin:end] + self.edges[begin + 1 : end + 1]) / 2
            x = np.concatenate(([self.edges[begin]], middle, [self.edges[end]]))
            low, high = (np.concatenate(([c[begin]], c[begin:end], [c[end - 1]])) for c in thin[1:])
            shapes.append(np.column_stack((np.concatenate((x, x[::-1])), np.concatenate((low, high[::-1])))))
        if shapes:
            axis.add_collection(PolyCollection(shapes, **style), autolim=as_data)


def days(times_us: IntArray) -> FloatArray:
    """Times as matplotlib counts them: days of UTC since 1970."""
    return times_us / 86_400e6


def _each(told: Callable[[float], float], values: FloatArray) -> FloatArray:
    return np.array([told(float(value)) for value in values])
