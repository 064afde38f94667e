"""Dockerfile and compose file against a schema, and against the files, users, ports and paths that they name.

No container runs here: what these tests hold is that everything which is named is there, and fits.
"""

import fnmatch
import re
import shlex
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path, PurePosixPath

import yaml

from tests.deploy.broker import DEPLOY, stated
from tests.deploy.test_unit import at_home
from tests.mosquitto import Mosquitto, free_port, needs_mosquitto
from tests.service.processes import agent_on, eventually, process
from tests.service.site import ROOT, configuration, write

COMPOSE = DEPLOY / "compose.yaml"
MADE_BY_THE_SITE = {"dewline-site.yaml"}


def compose():
    return yaml.safe_load(COMPOSE.read_text())


def services():
    return compose()["services"]


def stages():
    """The instructions of each stage of the Dockerfile, by its name."""
    text = re.sub(r"\\\n\s*", " ", (DEPLOY / "Dockerfile").read_text())
    found = {}
    for line in text.splitlines():
        if line and not line.startswith("#"):
            word, rest = line.split(" ", 1)
            if word == "FROM":
                base, _, name = rest.split()
                found[name] = [("FROM", base)]
            else:
                found[name].append((word, rest))
    return found


def named(stage, word):
    return [rest for each, rest in stages()[stage] if each == word]


def users():
    """Numbers by name, as the Dockerfile makes them."""
    return {
        name: number
        for stage in stages()
        for run in named(stage, "RUN")
        for number, name in re.findall(r"useradd .*?--uid (\d+) .*?nologin (\w+)", run)
    }


def mounts(service):
    """Where from and where to: files of the folder, and volumes."""
    return [(each.split(":")[0], each.split(":")[1]) for each in services()[service].get("volumes", [])]


def test_the_compose_file_is_one_by_its_published_schema():
    """The Compose Specification's own JSON Schema, as check-jsonschema brings it."""
    command = [
        sys.executable,
        "-m",
        "check_jsonschema",
        "--builtin-schema",
        "vendor.compose-spec",
        str(COMPOSE),
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_every_file_that_is_mounted_is_there_and_cannot_be_written():
    for service, body in services().items():
        for each in body["volumes"]:
            source, *rest = each.split(":")
            if source.startswith("./"):
                assert (COMPOSE.parent / source).is_file() or source[2:] in MADE_BY_THE_SITE, (
                    f"{service}: {source}"
                )
                assert rest[1:] == ["ro"], f"{service}: {source}"
            else:
                assert source in compose()["volumes"], f"{service}: {source}"
    for each in compose()["secrets"].values():
        assert each["file"].startswith("./secrets/")


def test_what_a_configuration_names_is_where_the_container_has_it(tmp_path):
    broker = stated()
    secrets = {
        service: {each["target"] for each in body.get("secrets", [])} for service, body in services().items()
    }
    places = {service: {target for _, target in mounts(service)} for service in services()}
    assert PurePosixPath(broker["persistence_location"]) in map(PurePosixPath, places["broker"])
    assert broker["acl_file"] in places["broker"]
    assert secrets["broker"] == {broker["password_file"]}

    settings = at_home(tmp_path).settings
    assert str(PurePosixPath(settings.store.url.removeprefix("sqlite:///")).parent) in places["agent"]
    assert secrets["agent"] == {settings.broker.password_file}

    for service in ("prometheus", "alertmanager"):
        for option in services()[service]["command"]:
            if option.startswith(("--config.file=", "--storage.tsdb.path=", "--storage.path=")):
                assert option.split("=")[1] in places[service], option
    rules = {PurePosixPath(place).name for place in places["prometheus"]}
    assert rules >= {"prometheus-rules.yml", "prometheus-rules-alarms.yml"}
    (template,) = yaml.safe_load((DEPLOY / "alertmanager.yml").read_text())["templates"]
    assert f"/etc/prometheus/{template}" in places["alertmanager"]


def test_ports_agree_and_nothing_listens_beyond_this_machine(tmp_path):
    def option(service, name):
        (found,) = [each for each in services()[service]["command"] if each.startswith(f"{name}=")]
        return found.split("=", 1)[1]

    prometheus = yaml.safe_load((DEPLOY / "prometheus.yml").read_text())
    ((agent,), (alertmanager,)) = (
        prometheus["scrape_configs"][0]["static_configs"][0]["targets"],
        prometheus["alerting"]["alertmanagers"][0]["static_configs"][0]["targets"],
    )
    assert option("alertmanager", "--web.listen-address") == alertmanager
    assert option("alertmanager", "--cluster.listen-address") == ""
    (source,) = yaml.safe_load((DEPLOY / "grafana/provisioning/datasources/dewline.yml").read_text())[
        "datasources"
    ]
    assert source["url"] == f"http://{option('prometheus', '--web.listen-address')}"
    settings = at_home(tmp_path).settings
    assert stated()["listener"] == f"{settings.broker.port} {settings.broker.host}"
    (healthcheck,) = named("agent", "HEALTHCHECK")
    assert f"http://{agent}/healthz" in healthcheck
    for service, port in {"broker": settings.broker.port, "prometheus": 9090, "alertmanager": 9093}.items():
        assert services()[service]["healthcheck"]["test"][-1].endswith(f"/dev/tcp/127.0.0.1/{port}")
    for body in services().values():
        assert body["network_mode"] == "host"
        assert "ports" not in body


def test_every_container_is_confined_and_none_runs_as_root():
    numbers = users()
    assert set(numbers) == {"dewline", "mosquitto", "prometheus"}
    runs_as = {service: body["user"] for service, body in services().items()}
    assert runs_as == {
        "agent": f"{numbers['dewline']}:{numbers['dewline']}",
        "broker": f"{numbers['mosquitto']}:{numbers['mosquitto']}",
        "prometheus": f"{numbers['prometheus']}:{numbers['prometheus']}",
        "alertmanager": f"{numbers['prometheus']}:{numbers['prometheus']}",
    }
    assert named("agent", "USER") == [numbers["dewline"]]
    for service, body in services().items():
        assert body["read_only"], service
        assert body["cap_drop"] == ["ALL"], service
        assert "cap_add" not in body, service
        assert "privileged" not in body, service
        assert "environment" not in body, service  # what is in it can be read by whoever may list containers
        assert body["security_opt"] == ["no-new-privileges:true"], service
    head = COMPOSE.read_text().split("name:")[0]
    assert f"chown {numbers['dewline']} deploy/secrets/broker-password" in head
    assert f"chown {numbers['mosquitto']} deploy/secrets/mosquitto.passwd" in head


def test_the_images_are_built_from_a_stage_that_is_there():
    for body in services().values():
        build = body["build"]
        assert (COMPOSE.parent / build["context"]).resolve() == ROOT
        assert (ROOT / build["dockerfile"]).is_file()
        assert build["target"] in stages()


def ignored(path):
    """As the ignore file beside the Dockerfile has it: the last line that fits decides."""
    result = False
    for line in (DEPLOY / "Dockerfile.dockerignore").read_text().splitlines():
        if not line or line.startswith("#"):
            continue
        pattern = line.removeprefix("!")
        whole = pattern.removeprefix("**/")
        parts = [str(PurePosixPath(*path.parts[: count + 1])) for count in range(len(path.parts))]
        fits = any(fnmatch.fnmatch(part, pattern) for part in parts) or whole in path.parts
        if fits:
            result = not line.startswith("!")
    return result


def test_no_secret_and_no_store_can_come_into_an_image():
    for name in (
        ".git/config",
        ".demo/dewline.db",
        "deploy/secrets/broker-password",
        "deploy/dewline-site.yaml",
        "config/demo.yaml",
        "tests/conftest.py",
        "agent/__pycache__/x.pyc",
    ):
        assert ignored(PurePosixPath(name)), name
    assert not ignored(PurePosixPath("agent/cli/run.py"))
    for stage in stages():
        for run in named(stage, "RUN") + named(stage, "ENV"):
            assert not re.search(r"password|token|secret", run, re.IGNORECASE), run


def test_what_is_copied_in_is_enough_to_build_the_program(tmp_path):
    """The build stage's own COPY lines, less what is ignored, into a folder; then the wheel out of it."""
    for line in named("build", "COPY"):
        *sources, target = line.split()
        for source in sources:
            assert not ignored(PurePosixPath(source)), source
            to = tmp_path / target
            if (ROOT / source).is_dir():
                shutil.copytree(ROOT / source, to, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                file = to / Path(source).name if target.endswith(("/", ".")) else to
                file.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(ROOT / source, file)
    (install,) = [run for run in named("build", "RUN") if "pip install" in run]
    pip = shlex.split(install.split("&&")[-1])
    assert pip[-3:] == ["-c", "deploy/constraints.txt", "."]
    assert (tmp_path / "deploy" / "constraints.txt").is_file()
    command = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", "wheels", "."]
    subprocess.run(command, cwd=tmp_path, check=True, capture_output=True, timeout=300)
    (wheel,) = (tmp_path / "wheels").glob("dewline-*.whl")
    assert "agent/store/migrations/versions/r0001_first.py" in zipfile.ZipFile(wheel).namelist()


@needs_mosquitto
def test_the_health_check_tells_an_agent_that_answers_from_one_that_does_not(tmp_path):
    (healthcheck,) = named("agent", "HEALTHCHECK")
    program, *arguments = yaml.safe_load(healthcheck[healthcheck.index("[") :])
    assert program == "python3"
    metrics_port = free_port()
    check = [sys.executable, *(each.replace("9464", str(metrics_port)) for each in arguments)]

    def is_healthy():
        return subprocess.run(check, capture_output=True, check=False).returncode == 0

    assert not is_healthy()
    with Mosquitto(tmp_path / "broker") as broker:
        body = configuration(
            broker={"telemetry": "plant", "port": broker.port},
            http={"host": "127.0.0.1", "port": metrics_port},
        )
        with process(agent_on(write(tmp_path, body)), tmp_path / "agent.log"):
            eventually(is_healthy, "the agent is healthy")
