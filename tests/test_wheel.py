"""The built wheel works with the checkout out of the way: packages, migrations and the command are inside."""

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

TRY = """
import sys
from pathlib import Path
import agent, demo_feed
from agent.store import Store
from agent.cli import main
from agent.outlets.web.page import render_page

for package in (agent, demo_feed):
    assert Path(package.__file__).is_relative_to(Path.cwd()), package.__file__
with Store.open(f"sqlite:///{Path.cwd() / 'new.db'}") as store:
    assert store.modules() == []
assert "No module needs anybody now" in render_page("empty", [], 0)
main(["--help"])
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    command = [
        sys.executable,
        "-m",
        "pip",
        "wheel",
        "--quiet",
        "--no-deps",
        "--wheel-dir",
        str(folder),
        str(ROOT),
    ]
    subprocess.run(command, check=True, capture_output=True, timeout=300)
    return next(folder.glob("dewline-*.whl"))


def test_holds_the_two_packages_and_nothing_else(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert {name.split("/")[0] for name in names if ".dist-info" not in name} == {"agent", "demo_feed"}
    assert "agent/store/migrations/env.py" in names
    assert {
        f"agent/outlets/web/templates/{name}" for name in ("page.html", "module.html", "style.css")
    } <= set(names)
    assert {f"agent/outlets/visit/templates/brief.{end}" for end in ("html", "css")} <= set(names)


def test_runs_without_the_checkout(wheel: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(tmp_path)
    done = subprocess.run(
        [sys.executable, "-c", TRY],
        cwd=tmp_path,
        env={"PYTHONPATH": str(tmp_path), "PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "Watches the vapour" in done.stdout
