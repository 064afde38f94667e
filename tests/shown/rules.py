"""How each kind of command that a text shows is tried, and what its exit code may be.

What cannot run here is on a short list, with the reason; of it what can be held is held: the shell reads it,
and every file, image and service that it names is there.
"""

from __future__ import annotations

import argparse
import importlib
import importlib.util
import re
import shlex
import signal
import subprocess
import urllib.request
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import click
import pytest
import yaml

from agent.cli import main
from tests.service.processes import agent_on, eventually
from tests.service.site import ROOT
from tests.shown.texts import Shown
from tests.shown.world import World

ANY = {
    "MODULE": "n2",
    "LAYOUT": "two-pipe-twin-late",
    "COMMAND": "status",
}  # what words in capitals stand for
SURE: Mapping[str, int] = {  # in this world: liquid comes back, an agent runs, every module is new
    "status": 1,
    "ack": 0,
    "shelve": 0,
    "service": 0,
}

# Nobody can try these here; why, and what stands for it.
NOT_RUN: Mapping[str, str] = {
    r"sh deploy/demo\.sh.*": "makes an environment from PyPI; its parts are this world",
    r"sh deploy/test\.sh.*": "it is what runs this test",
    r"(python3 -m venv .* && )?\S*pip install .*": "takes from PyPI; tests/test_wheel.py installs the wheel",
    r"docker .*": "no docker runs here; tests/deploy/test_containers.py holds its files",
    r"(cp .* && )?systemctl .*": "no systemd runs here; tests/deploy/test_unit.py holds the unit",
    r"(useradd|sudo|install|chown) .*": "makes users and folders of the machine, as root",
    r"(mkdir -m|printf|chmod) .*deploy/secrets.*": "makes secrets for containers, as root",
    r"mosquitto -c mosquitto\.conf": "holds the machine's paths; tests/deploy/test_broker.py runs the file",
    r"python -m tests\.published": "takes nothing; tests/published checks the rows that it prints",
    r"python -m tests\.reference": "writes the checkout; tests/reference makes every page",
}
# These take minutes or hours: what they are given is parsed by their own parser.
LONG = r"python -m (tests\.\w+(?:\.\w+)?)(.*)"


def rule(command: str) -> Callable[[World, Shown], None] | None:
    """How a command is tried in a world; None: nothing here knows it."""
    return next((how for pattern, how in RULES.items() if re.fullmatch(pattern, command)), None)


def not_run(command: str) -> bool:
    """Whether it is on the list of what cannot run here."""
    return any(re.fullmatch(pattern, command) for pattern in NOT_RUN)


def hold(shown: Shown) -> None:
    """Of a command that cannot run here, what can be held."""
    read = subprocess.run(["bash", "-nc", shown.text], capture_output=True, text=True, check=False)
    assert read.returncode == 0, read.stderr
    words = shlex.split(shown.text.replace("&&", " "))
    for word in words:
        if (
            word.startswith(("deploy/", "config/"))
            and "secrets" not in word
            and word != "deploy/dewline-site.yaml"
        ):
            assert (ROOT / word).exists(), f"{word} is not in the checkout"
    if words[:2] == ["docker", "build"]:
        stage = words[words.index("--target") + 1]
        assert re.search(rf"^FROM .+ AS {stage}$", (ROOT / "deploy" / "Dockerfile").read_text(), re.MULTILINE)
    if words[:2] == ["docker", "compose"] and "exec" in words:
        services = yaml.safe_load((ROOT / "deploy" / "compose.yaml").read_text())["services"]
        assert words[words.index("exec") + 1] in services
    own = next((number for number, word in enumerate(words) if word.rpartition("/")[2] == "dewline"), None)
    if own is not None and len(words) > own + 1 and words[own + 1] in main.commands:
        _parsed(words[own + 1 :])
    if words[:2] == ["sh", "deploy/demo.sh"]:
        _parse_only(ROOT / "deploy" / "demo.py", words[2:])


def parse(command: str) -> bool:
    """Of a command that takes long: its own parser takes what it is given. False: it is no such command."""
    match = re.fullmatch(LONG, command)
    if match is None:
        return False
    _parse_only(match[1], shlex.split(match[2]))
    return True


class _Parsed(Exception):  # noqa: N818
    """The arguments were read, and nothing is to follow."""


def _parse_only(module: str | Path, arguments: list[str]) -> None:
    entry = _entry(module)
    if isinstance(entry, click.Command):
        entry.make_context("shown", arguments)
        return
    read = argparse.ArgumentParser.parse_args

    def and_no_more(parser: argparse.ArgumentParser, *given: Any) -> None:
        read(parser, arguments)
        raise _Parsed

    with pytest.MonkeyPatch.context() as patch, pytest.raises(_Parsed):
        patch.setattr(argparse.ArgumentParser, "parse_args", and_no_more)
        entry()


def _entry(module: str | Path) -> Any:
    if isinstance(module, Path):
        spec = importlib.util.spec_from_file_location(module.stem, module)
        assert spec is not None and spec.loader is not None
        loaded = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(loaded)
        return loaded.main
    found = importlib.import_module(module)
    return found.main if hasattr(found, "main") else importlib.import_module(f"{module}.__main__").main


def _dewline(world: World, shown: Shown) -> None:
    """As it stands, but with this world's file, and shortly; of one that is only named, its words."""
    command = shown.text.replace(".venv/demo/bin/", "").replace("config/demo.yaml", "site.yaml")
    command = command.replace("--limits FILE", "--limits proposed.yaml").replace("-c FILE", "-c site.yaml")
    command = command.replace("backup FILE", "backup FILE.db").replace("--for 2m", "--for 35s")
    command = re.sub(r"\b[A-Z]{4,}\b", lambda word: ANY.get(word[0], word[0]), command)
    words = shlex.split(command)[1:]
    if not shown.in_block and not _is_whole(words):
        return
    if words[0] == "run":
        _run_and_end(world)
        return
    if command in world.typed:
        return
    world.typed.add(command)
    done = world.type(command)
    assert "Traceback" not in done.said, done.said
    if "--help" in words:
        assert done.code == 0, done.said
        return
    allowed = promised(words[0]) - {2}
    if words[0] in SURE and "--causes" not in words:
        allowed = {SURE[words[0]]}
    assert done.code in allowed, f"exit code {done.code}, and not one of {sorted(allowed)}:\n{done.said}"


def promised(name: str) -> set[int]:
    """The exit codes that a command's help promises."""
    _, stated, rest = " ".join((main.commands[name].help or "").split()).partition("Exit code ")
    assert stated, f"dewline {name} --help says nothing of its exit code"
    return {int(code) for code in re.findall(r"(?:^|; )(\d+):", rest)}


def _is_whole(words: list[str]) -> bool:
    """Whether all that it needs is stated; one that is only named has no word but its own and options."""
    try:
        _parsed(words)
    except click.MissingParameter:
        if any(not word.startswith("-") for word in words[1:]):
            raise
        _context(words, resilient_parsing=True)
        return False
    return True


def _parsed(words: list[str]) -> None:
    assert words[0] in main.commands, f"there is no command {words[0]}"
    if "--help" not in words:
        _context([*words, "-c", "site.yaml"])


def _context(words: list[str], **how: Any) -> None:
    """Raises click's own error for what the command does not take."""
    above = main.make_context("dewline", words[:1], resilient_parsing=True)
    main.commands[words[0]].make_context(words[0], words[1:], above, **how)


def _run_and_end(world: World) -> None:
    """An agent of its own: it comes up, loads its file again on SIGHUP, and ends when it is told to."""
    config, port = world.second_agent()
    log = world.folder / "own.log"
    with log.open("wb") as output:
        agent = subprocess.Popen(agent_on(config), stdout=output, stderr=output)
    try:
        eventually(lambda: agent.poll() is not None or _answers(port), "the second agent answers")
        agent.send_signal(signal.SIGHUP)
        eventually(lambda: "configuration" in log.read_text(), "it has loaded its file again")
        agent.send_signal(signal.SIGTERM)
        assert agent.wait(60) == 0, log.read_text()
    finally:
        if agent.poll() is None:
            agent.kill()
            agent.wait(10)


def _answers(port: int) -> bool:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/healthz", timeout=2) as answer:
            return int(answer.status) == 200
    except OSError:
        return False


def _plainly(world: World, shown: Shown) -> None:
    """In the folder, or among the files of deploy/ where it stands in the head of one."""
    folder = ROOT / "deploy" if shown.where.startswith("deploy/") else world.folder
    _fine(world, shown.text, folder)


def _fine(world: World, command: str, folder: Path | None = None) -> None:
    done = world.type(command, folder)
    assert done.code == 0, done.said


def _publish(world: World, shown: Shown) -> None:
    _fine(world, shown.text.replace("mosquitto_pub", f"mosquitto_pub -p {world.broker.port}"))


def _users(world: World, shown: Shown) -> None:
    """With the password that it would ask for, and in a folder of ours."""
    command = shown.text.replace("/etc/mosquitto", str(world.folder))
    _fine(world, f"{command.replace('mosquitto_passwd', 'mosquitto_passwd -b')} invented")


def _on_a_copy(world: World, shown: Shown) -> None:
    _fine(world, shown.text, world.copy_of_the_store(re.sub(r"\W", "", shown.text)))


def _aside(world: World, shown: Shown) -> None:
    """The lines of a restore: the first in a folder with a store, the second with the copy beside it."""
    folder = world.folder / "restored"
    if not folder.exists():
        world.copy_of_the_store("restored")
    (folder / "FILE").write_bytes(b"a copy")
    _fine(world, shown.text, folder)


def _boards(world: World, shown: Shown) -> None:
    _fine(world, f"{shown.text} --to {shlex.quote(str(world.folder))}", ROOT)


def _own_file(world: World, shown: Shown) -> None:
    _fine(
        world, shown.text.replace("deploy/dewline-site.yaml", str(world.folder / "dewline-site.yaml")), ROOT
    )


def _packages(world: World, shown: Shown) -> None:
    _fine(world, shown.text.replace("apt-get", "apt-get --simulate"))


RULES: Mapping[str, Callable[[World, Shown], None]] = {
    r"(\.venv/demo/bin/)?dewline .*": _dewline,
    r"mosquitto_pub .*": _publish,
    r"mosquitto_passwd .*": _users,
    r"sqlite3 dewline\.db .*": _on_a_copy,
    r"mkdir aside .*|cp FILE dewline\.db": _aside,
    r"cp deploy/site\.yaml deploy/dewline-site\.yaml": _own_file,
    r"python deploy/grafana/make\.py": _boards,
    r"apt-get install .*": _packages,
    r"(promtool|amtool) .*|pip freeze": _plainly,
}
