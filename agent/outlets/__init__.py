"""What leaves the agent: metrics, MQTT messages, and what a terminal shows. Reads views, decides nothing."""

from agent.outlets.alarm_words import unit_words
from agent.outlets.drawn_svg import drawn_svg
from agent.outlets.messages import alarm_messages, as_mapping, assessment_message, status_topic
from agent.outlets.metrics.scrape import Metrics
from agent.outlets.terminal.alarm_list import (
    Happened,
    alarms_mapping,
    is_unacknowledged,
    render_alarms,
    render_happened,
    render_rates,
)
from agent.outlets.terminal.by_hand import (
    Measured,
    MeasuredByHand,
    Withdrawn,
    by_hand_mapping,
    render_answer,
    render_by_hand,
)
from agent.outlets.terminal.causes import causes_mapping, render_causes
from agent.outlets.terminal.checking import check_mapping, render_check, render_wrong
from agent.outlets.terminal.drawn_text import can_show, in_ascii
from agent.outlets.terminal.evidence import (
    evidence_mapping,
    no_hours_mapping,
    render_evidence,
    render_no_hours,
)
from agent.outlets.terminal.explained_data import explained_mapping
from agent.outlets.terminal.explaining import explained, explanation_of
from agent.outlets.terminal.history import FORMATS, assessment_rows, reading_rows, write_rows
from agent.outlets.terminal.identity import identity_mapping, render_identity
from agent.outlets.terminal.listening import listen_progress, render_heard
from agent.outlets.terminal.listening_data import heard_mapping
from agent.outlets.terminal.replay import render_replay
from agent.outlets.terminal.replay_data import replay_mapping
from agent.outlets.terminal.status import is_unwatched, render
from agent.outlets.terminal.summaries import Counted, Summed, summary_rows
from agent.outlets.view import Lives, ModuleView, StandingAlarm, stale_alarm, view

__all__ = [
    "FORMATS",
    "Happened",
    "Lives",
    "Measured",
    "MeasuredByHand",
    "Metrics",
    "by_hand_mapping",
    "render_answer",
    "render_by_hand",
    "Withdrawn",
    "unit_words",
    "no_hours_mapping",
    "render_no_hours",
    "ModuleView",
    "StandingAlarm",
    "alarm_messages",
    "alarms_mapping",
    "is_unacknowledged",
    "render_alarms",
    "render_happened",
    "render_rates",
    "as_mapping",
    "assessment_message",
    "assessment_rows",
    "can_show",
    "causes_mapping",
    "evidence_mapping",
    "drawn_svg",
    "explained",
    "explained_mapping",
    "explanation_of",
    "in_ascii",
    "check_mapping",
    "Counted",
    "Summed",
    "summary_rows",
    "reading_rows",
    "render",
    "render_causes",
    "render_evidence",
    "render_replay",
    "replay_mapping",
    "render_check",
    "render_wrong",
    "heard_mapping",
    "identity_mapping",
    "render_identity",
    "listen_progress",
    "render_heard",
    "is_unwatched",
    "stale_alarm",
    "status_topic",
    "view",
    "write_rows",
]
