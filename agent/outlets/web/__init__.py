"""What is read over HTTP: pages for people, metrics and history for programs."""

from agent.outlets.web.connections import Door, Patient
from agent.outlets.web.server import Site, app

__all__ = ["Door", "Patient", "Site", "app"]
