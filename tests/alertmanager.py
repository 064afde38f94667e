"""A real Alertmanager for one test: its own free port on loopback, its own directory, its own receivers."""

import json
import shutil
import ssl
import subprocess
import urllib.request
from base64 import b64encode
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import pytest
import yaml

from tests.mosquitto import free_port
from tests.service.processes import eventually

PROGRAM = shutil.which("prometheus-alertmanager")
MARKS = [
    pytest.mark.service,
    pytest.mark.skipif(PROGRAM is None, reason="prometheus-alertmanager is not installed"),
]
USER, PASSWORD = "crew", "open-sesame-4711"
_HASH = "$2b$04$abcdefghijklmnopqrstuuo6bT7LAS3oDMO8ApB/N/H/clbsiEgqi"  # of it, by bcrypt


class RealAlertmanager:
    """`config` is its own; `secured`: certificate and key, and then it asks for USER and PASSWORD."""

    def __init__(
        self, directory: Path, config: dict[str, Any] | str, secured: tuple[Path, Path] | None = None
    ):
        self.directory = directory
        self.port = free_port()
        self._config = config if isinstance(config, str) else yaml.safe_dump(config)
        self._secured = secured
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"{'https' if self._secured else 'http'}://127.0.0.1:{self.port}"

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def start(self) -> None:
        """Starts, or starts again on the same port with what it kept; returns when it answers."""
        assert PROGRAM is not None, "prometheus-alertmanager is not installed"
        self.directory.mkdir(parents=True, exist_ok=True)
        config = self.directory / "alertmanager.yml"
        config.write_text(self._config)
        arguments = [
            PROGRAM,
            f"--config.file={config}",
            f"--storage.path={self.directory / 'data'}",
            f"--web.listen-address=127.0.0.1:{self.port}",
            "--cluster.listen-address=",
        ]
        if self._secured:
            web = {"cert_file": str(self._secured[0]), "key_file": str(self._secured[1])}
            body = {"tls_server_config": web, "basic_auth_users": {USER: _HASH}}
            (self.directory / "web.yml").write_text(yaml.safe_dump(body))
            arguments.append(f"--web.config.file={self.directory / 'web.yml'}")
        with (self.directory / "alertmanager.log").open("ab") as log:
            self._process = subprocess.Popen(arguments, stdout=log, stderr=log, cwd=self.directory)
        began = self._process
        eventually(lambda: began.poll() is not None or self._is_ready(), "Alertmanager answers")
        if began.poll() is not None:
            raise RuntimeError((self.directory / "alertmanager.log").read_text())

    def _is_ready(self) -> bool:
        try:
            self.ask("/-/ready")
        except OSError:
            return False
        return True

    def alerts(self) -> list[dict[str, Any]]:
        """What it holds as standing."""
        found: list[dict[str, Any]] = self.ask("/api/v2/alerts?active=true")
        return found

    def stop(self) -> None:
        """As the system would: what it told is written."""
        if self._process is not None:
            self._process.terminate()
            try:
                self._process.wait(10)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait(10)
            self._process = None

    def ask(self, path: str, body: Any = None) -> Any:
        """What it answers, from JSON where it is such; ``body``: what is posted, as JSON."""
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(f"{self.url}{path}", data, {"Content-Type": "application/json"})
        context = None
        if self._secured:
            known = b64encode(f"{USER}:{PASSWORD}".encode()).decode()
            request.add_header("Authorization", f"Basic {known}")
            context = ssl.create_default_context()
            context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
        with urllib.request.urlopen(request, timeout=10, context=context) as answer:
            text = answer.read()
        return json.loads(text) if text[:1] in (b"{", b"[") else text.decode()
