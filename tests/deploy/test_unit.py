"""The systemd unit by systemd's own checks, and against the agent that it starts.

Only what needs no running systemd: whether its kernel's confinements hold is not tested here.
"""

import configparser
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from agent.settings import load
from tests.deploy.broker import DEPLOY
from tests.service.site import ROOT

ANALYZE = shutil.which("systemd-analyze")
UNIT = DEPLOY / "dewline.service"
MOST_EXPOSED = 1.5  # of 10; an ordinary service without any of it has 9.6
needs_systemd = pytest.mark.skipif(ANALYZE is None, reason="systemd-analyze is not installed")


class Many(dict):
    """A key that stands several times, or to which an empty one is added, keeps all of its values."""

    def __setitem__(self, key, value):
        if isinstance(value, list) and key in self:
            self[key].extend(value)
        else:
            super().__setitem__(key, value)


def said(section, key):
    parser = configparser.RawConfigParser(strict=False, dict_type=Many, interpolation=None)
    parser.optionxform = str
    parser.read_string(UNIT.read_text())
    return parser.get(section, key).splitlines()


def analyze(*arguments):
    return subprocess.run([str(ANALYZE), *arguments], capture_output=True, text=True, check=False)


@needs_systemd
def test_systemd_finds_nothing_wrong_with_it(tmp_path):
    """With the program that is here in place of the one that a site installs."""
    program = shutil.which("true")
    text = UNIT.read_text()
    assert text.count("=/opt/dewline/bin/dewline ") == 1
    (tmp_path / UNIT.name).write_text(text.replace("=/opt/dewline/bin/dewline ", f"={program} "))
    done = analyze("verify", "--man=no", str(tmp_path / UNIT.name))
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


@needs_systemd
def test_a_mistake_in_it_would_be_found(tmp_path):
    (tmp_path / UNIT.name).write_text(UNIT.read_text().replace("ProtectHome=yes", "ProtectHome=perhaps"))
    assert (
        "Failed to parse protect home value"
        in analyze("verify", "--man=no", str(tmp_path / UNIT.name)).stderr
    )


@needs_systemd
def test_little_of_the_machine_is_exposed_to_it():
    threshold = f"--threshold={round(10 * MOST_EXPOSED)}"
    done = analyze("security", "--offline=true", threshold, str(UNIT))
    assert done.returncode == 0, done.stdout + done.stderr
    told = json.loads(analyze("security", "--offline=true", "--json=short", str(UNIT)).stdout)
    open_ends = {each["name"] for each in told if each["set"] is False}
    # What an agent needs: the network, the machine's own files to read, and names by a local socket.
    assert open_ends <= {
        "RootDirectory=/RootImage=",
        "PrivateMounts=",
        "PrivateNetwork=",
        "IPAddressDeny=",
        "DeviceAllow=",
        "RestrictAddressFamilies=~AF_UNIX",
        "RestrictAddressFamilies=~AF_(INET|INET6)",
    }


def test_it_starts_the_agent_on_a_configuration_whose_files_it_may_write(tmp_path):
    (start,) = said("Service", "ExecStart")
    program, *arguments = start.split()
    assert Path(program).name == "dewline"
    assert arguments == ["run", "-c", "/etc/dewline/site.yaml"]
    plan = at_home(tmp_path)
    (state,) = said("Service", "StateDirectory")
    assert plan.settings.store.url == f"sqlite:////var/lib/{state}/dewline.db"


def test_each_secret_of_the_configuration_is_handed_over(tmp_path):
    handed = {line.split(":")[0] for line in said("Service", "LoadCredential")}
    password = Path(str(at_home(tmp_path).settings.broker.password_file))
    assert str(password.parent) == f"/run/credentials/{UNIT.name}"
    assert handed == {password.name}


def at_home(directory):
    """deploy/site.yaml beside the layouts, as it lies in /etc/dewline."""
    shutil.copytree(ROOT / "config" / "layouts", directory / "layouts")
    shutil.copy(DEPLOY / "site.yaml", directory)
    return load(directory / "site.yaml")


def test_it_runs_where_no_page_may_be_written_and_then_run():
    """MemoryDenyWriteExecute: what the agent is built on asks for no such page when it is loaded and used.

    By the list of a process' own pages, in place of the kernel's refusal, which not every machine has.
    """
    done = subprocess.run(
        [sys.executable, "-c", PAGES], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout == "[]\n"


PAGES = """
import ssl
from pathlib import Path
import numpy as np
import agent.cli
from agent.thermo import dew_temperature
assert 5 < float(dew_temperature("R-410A", np.array([944_000.0]))[0]) < 6
np.linalg.svd(np.eye(50))
print([line for line in Path("/proc/self/maps").read_text().splitlines() if "w" in line.split()[1][:3]
       and "x" in line.split()[1][:3]])
"""
