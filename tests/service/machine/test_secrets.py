"""Where the broker's password comes from, and that it shows nowhere else."""

import pytest

from agent.service.machine.secrets import key_password, password
from agent.settings.model import BrokerSettings

SECRET = "a-long-secret"


def broker(**more):
    return BrokerSettings(telemetry="plant", **more)


def test_none_is_configured():
    assert password(broker(), {"PASSWORD": SECRET}) is None


def test_from_the_environment_or_a_file(tmp_path):
    (tmp_path / "secret").write_text(f"{SECRET}\n")
    assert password(broker(password_env="PASSWORD"), {"PASSWORD": SECRET}) == SECRET
    assert password(broker(password_file=str(tmp_path / "secret")), {}) == SECRET


def test_the_key_has_a_passphrase_of_its_own():
    key = {"ca_file": "ca", "cert_file": "certificate", "key_file": "key"}
    settings = broker(**key, password_env="PASSWORD", key_password_env="PASSPHRASE")
    environment = {"PASSWORD": SECRET, "PASSPHRASE": "another-long-secret"}
    assert password(settings, environment) == SECRET
    assert key_password("broker", settings, environment) == "another-long-secret"
    assert key_password("broker", broker(**key), environment) is None


def test_what_is_wrong_is_said_without_the_secret(tmp_path):
    (tmp_path / "empty").touch()
    (tmp_path / "bytes").write_bytes(SECRET.encode() + b"\xff")
    wrong = [
        ({"password_env": "PASSWORD"}, "the environment variable PASSWORD does not hold a password"),
        ({"password_file": str(tmp_path / "empty")}, "is empty"),
        ({"password_file": str(tmp_path / "nowhere")}, "cannot be read"),
        ({"password_file": str(tmp_path / "bytes")}, "the file of password_file in .* is not UTF-8 text$"),
        ({"password_env": "a_long_secret"}, "the environment variable of password_env does not hold"),
        ({"password_file": SECRET}, "the file of password_file in .* cannot be read"),
        ({"password_env": "OTHER", "password_file": str(tmp_path / "empty")}, "not both"),
    ]
    for given, sentence in wrong:
        with pytest.raises(ValueError, match=sentence) as raised:
            password(broker(**given), {"OTHER": SECRET})
        assert SECRET not in str(raised.value).replace("_", "-")
