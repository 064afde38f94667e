"""Sends what waits, and is killed after the receiver's answer and before the mark in the store."""

import os
import signal
import sys
import threading
from pathlib import Path

from agent.outlets.notices.routes import open_routes
from agent.service.tell.notifying import Notifier
from agent.settings import load
from agent.store import Store


class Killed(Store):
    def notices_sent(self, entry_ids, sent_us):
        os.kill(os.getpid(), signal.SIGKILL)


if __name__ == "__main__":
    plan = load(Path(sys.argv[1]))
    now_us = int(sys.argv[2])
    with Killed.open(plan.store_url) as store:
        routes = open_routes(plan.settings.notices.routes, os.environ)
        Notifier(store, routes, lambda: now_us, plan).work(threading.Event())
