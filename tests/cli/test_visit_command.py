"""`dewline visit`: a file, or what is wrong with the request; heavy parts are loaded only for it."""

import subprocess
import sys

import pytest
from click.testing import CliRunner

from agent.cli import main
from tests.service.site import configuration, minute, told, world, write


@pytest.fixture
def site(tmp_path, monkeypatch):
    with world(tmp_path) as one:
        one.receive(told(0, 60))
        one.work(60)
    monkeypatch.setattr("agent.cli.visit.now_us", lambda: minute(60))
    return write(tmp_path, configuration())


def visit(site, *arguments):
    return CliRunner().invoke(main, ["visit", *arguments, "-c", str(site)])


def test_writes_one_file_and_says_so(site, tmp_path):
    file = tmp_path / "m1.html"
    done = visit(site, "m1", "--since", "1h", "-o", str(file))
    assert done.exit_code == 0, done.output
    assert f"{file}: the brief of hill-house/one/m1" in done.output
    assert file.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_a_module_that_is_not_there(site, tmp_path):
    done = visit(site, "m9", "-o", str(tmp_path / "x.html"))
    assert done.exit_code == 2 and "module 'm9' is not configured; there are hill-house/one/m1" in done.output


def test_a_file_that_cannot_be_written(site, tmp_path):
    done = visit(site, "m1", "-o", str(tmp_path / "none" / "x.html"))
    assert done.exit_code == 2 and "x.html cannot be written: No such file or directory" in done.output


def test_no_store_yet(tmp_path):
    done = visit(write(tmp_path, configuration()), "m1", "-o", str(tmp_path / "x.html"))
    assert done.exit_code == 2 and "no store at" in done.output and not (tmp_path / "x.html").exists()


def test_no_length_of_time(site, tmp_path):
    done = visit(site, "m1", "--since", "soon", "-o", str(tmp_path / "x.html"))
    assert done.exit_code == 2 and "right would be 30m, 24h or 7d" in done.output


def test_what_draws_is_loaded_only_where_something_is_drawn():
    code = "import sys, agent.cli; print('matplotlib' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_a_home_that_cannot_be_written_is_no_hindrance(site, tmp_path):
    """As under a hardened unit: matplotlib's list of letters goes to a temporary folder, without a word."""
    file = tmp_path / "m1.html"
    code = "from agent.cli import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, "visit", "m1", "-o", str(file), "-c", str(site)],
        env={"HOME": "/proc/none", "PATH": "/usr/bin:/bin", "PYTHONPATH": ":".join(filter(None, sys.path))},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == "" and file.exists()
