"""What all tests share: with DEWLINE_EVERY_TEST=1 a skipped test fails the run."""

import os

import pytest


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    if os.environ.get("DEWLINE_EVERY_TEST") and skipped and exitstatus == pytest.ExitCode.OK:
        for report in skipped:
            reporter.write_line(f"skipped, and none may be: {report.nodeid} {report.longrepr[-1]}")
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
