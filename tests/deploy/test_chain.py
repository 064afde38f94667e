"""From the gateway to the mail of whoever is on call: every part the real one, on the files in deploy/.

The site is invented: liquid comes back to n2 of its north circuit, and nowhere else.
"""

import os
import signal
import sys
from contextlib import ExitStack

from tests.deploy.alertmanager import MARKS as ALERTMANAGER
from tests.deploy.alertmanager import alertmanager
from tests.deploy.test_alertmanager import NEVER_QUIET, ON_CALL
from tests.deploy.watching import watching
from tests.mosquitto import MARKS as MOSQUITTO
from tests.mosquitto import Mosquitto, free_port
from tests.prometheus import MARKS as PROMETHEUS
from tests.service.processes import agent_on, eventually, process
from tests.service.site import demo_configuration, write

pytestmark = [*MOSQUITTO, *PROMETHEUS, *ALERTMANAGER]

POSTED = {"site": "quince-court", "system": "north", "module": "n2", "priority": "high"}
LOADED_S = 180  # patience on a machine that has much else to do
RULES = ("prometheus-rules.yml", "prometheus-rules-alarms.yml")


def test_liquid_at_a_compressor_and_then_an_agent_that_is_gone_reach_who_is_on_call(tmp_path):
    metrics_port = free_port()
    with Mosquitto(tmp_path / "broker") as broker, alertmanager(tmp_path / "told", NEVER_QUIET) as told:
        config = write(tmp_path, demo_configuration(broker.port, metrics_port, "chain", "watch/dewline"))
        feed = [sys.executable, "-m", "demo_feed", "--port", str(broker.port), "--backlog", "2h"]
        with ExitStack() as running:
            agent = running.enter_context(process(agent_on(config), tmp_path / "agent.log"))
            eventually(
                lambda: "watching" in (tmp_path / "agent.log").read_text(), "the agent watches", LOADED_S
            )
            prometheus = watching(tmp_path / "prometheus", metrics_port, told.port, RULES, hurried=True)
            running.enter_context(prometheus)
            running.enter_context(process(feed, tmp_path / "feed.log"))
            eventually(lambda: agent.poll() is not None or wet(told), "the alarm is in the mail", LOADED_S)
            assert agent.poll() is None, (tmp_path / "agent.log").read_text()
            (to, subject, text), *_ = wet(told)
            assert to == ON_CALL
            assert subject.startswith("HIGH quince-court/north: superheat-low n2")
            assert "HIGH superheat-low n2\nsuperheat-low (high) at quince-court/north/n2\n" in text
            assert "The figures are no permission to work on the equipment." in text
            assert [mail for mail in told.mails if "n1" in mail[1] and "superheat" in mail[1]] == []

            told.post("superheat-low", **POSTED)  # as an agent that posts its alarms itself would
            told.settle()
            at_n2 = [each["labels"] for each in told.ask("/api/v2/alerts") if is_wet(each["labels"])]
            assert at_n2 == [{"alertname": "superheat-low", **POSTED}], "one alarm, whoever tells it"
            assert all(text.count("HIGH superheat-low n2\n") == 1 for _, _, text in wet(told))

            before = len(told.mails)  # a busy machine may have missed a scrape, and found it answering again
            os.killpg(agent.pid, signal.SIGKILL)
            silent = "HIGH: DewlineNotAnswering"
            eventually(lambda: mails(told, silent, before), "the silence is in the mail", LOADED_S)
            told.settle()
            assert mails(told, "OVER", before) == []


def mails(told, subject, since=0):
    return [mail for mail in told.mails[since:] if mail[1].startswith(subject)]


def wet(told):
    return [mail for mail in mails(told, "HIGH quince-court/north") if "superheat-low n2" in mail[1]]


def is_wet(labels):
    return labels["alertname"] == "superheat-low" and labels["module"] == "n2"
