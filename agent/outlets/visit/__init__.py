"""The site-visit brief: one self-contained HTML file for whoever goes to the module.

Pure: a `Brief` of plain data goes in, text comes out. matplotlib has its door here; it and the templates are
imported only where a brief is made.
"""

from agent.outlets.visit.brief import USUAL_SPAN, Brief, LayoutHeld, main_alarm
from agent.outlets.visit.course import Course, Kept, collect
from agent.outlets.visit.page import render_brief
from agent.outlets.visit.readings import Raw
from agent.outlets.visit.then_now import ThenNow, hours, then_now

__all__ = [
    "USUAL_SPAN",
    "Brief",
    "Course",
    "Kept",
    "LayoutHeld",
    "Raw",
    "ThenNow",
    "collect",
    "hours",
    "main_alarm",
    "render_brief",
    "then_now",
]
