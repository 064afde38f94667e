"""What leaves the agent: metrics, MQTT messages, and what a terminal shows. Reads views, decides nothing."""

from agent.outlets.history import FORMATS, assessment_rows, reading_rows, write_rows
from agent.outlets.listening import listen_progress, render_heard
from agent.outlets.listening_data import heard_mapping
from agent.outlets.messages import alarm_messages, as_mapping, assessment_message, status_topic
from agent.outlets.metrics import Metrics
from agent.outlets.status import render, silent_for
from agent.outlets.view import ModuleView, StandingAlarm, stale_alarm, view

__all__ = [
    "FORMATS",
    "Metrics",
    "ModuleView",
    "StandingAlarm",
    "alarm_messages",
    "as_mapping",
    "assessment_message",
    "assessment_rows",
    "heard_mapping",
    "listen_progress",
    "reading_rows",
    "render",
    "render_heard",
    "silent_for",
    "stale_alarm",
    "status_topic",
    "view",
    "write_rows",
]
