"""The broker over TLS: who is let in, who is not, and that each is told why without a secret."""

import logging
import ssl
from contextlib import contextmanager
from datetime import UTC, datetime

import pytest
import trustme

from agent.intake import Connection, Inbox
from agent.service.machine.tls import tls_context
from agent.settings.model import BrokerSettings
from agent.store import Store
from tests.certificates import PASSPHRASE, Authority, encrypted
from tests.intake.test_mqtt import Clock, peer, settings
from tests.mosquitto import Mosquitto, free_port, needs_mosquitto
from tests.service.processes import agent_on, eventually, process
from tests.service.site import configuration, write

LONG_AGO = datetime(2020, 1, 1, tzinfo=UTC)
HERE = "127.0.0.1"


@pytest.fixture
def authority(tmp_path):
    return Authority(tmp_path / "authority")


def told(authority, **more):
    return BrokerSettings(telemetry="plant", ca_file=str(authority.certificate), **more)


def shows(authority, certificate, key, **more):
    return told(authority, cert_file=str(certificate), key_file=str(key), **more)


class TestContext:
    """What the files become, or what is said of them."""

    def test_none_without_a_certificate_to_check_against(self):
        assert tls_context(BrokerSettings(telemetry="plant"), {}) is None

    def test_certificate_and_name_are_checked_from_tls_1_2_on(self, authority):
        context = tls_context(told(authority), {})
        assert context.verify_mode == ssl.CERT_REQUIRED
        assert context.check_hostname
        assert context.minimum_version == ssl.TLSVersion.TLSv1_2
        assert len(context.get_ca_certs()) == 1  # nobody whom the system trusts beside it

    def test_an_encrypted_key_opens_with_its_passphrase(self, authority, tmp_path):
        certificate, key = authority.issue("agent")
        locked = encrypted(key)
        (tmp_path / "passphrase").write_text(f"{PASSPHRASE}\n")
        for stated, environment in (
            ({"key_password_env": "PASSPHRASE"}, {"PASSPHRASE": PASSPHRASE}),
            ({"key_password_file": str(tmp_path / "passphrase")}, {}),
        ):
            configured = shows(authority, certificate, locked, **stated)
            connecting = settings(8883, tls=tls_context(configured, environment), password="a-long-secret")
            assert connecting.tls is not None
            assert_no_secret(f"{configured!r} {connecting!r}", key, "a-long-secret")

    @pytest.mark.parametrize(
        ("spoilt", "sentence"),
        [
            ("no ca_file", "ca_file .*/nowhere cannot be read: No such file or directory"),
            ("no cert_file", "cert_file .*/nowhere cannot be read: No such file or directory"),
            ("no key_file", "key_file .*/nowhere cannot be read: No such file or directory"),
            ("a folder", "ca_file .* cannot be read: Is a directory"),
            ("ca_file is text", "ca_file .*/text holds no certificate in PEM form"),
            ("cert_file is a key", "cert_file .*/agent.key holds no certificate in PEM form"),
            ("key_file is a certificate", "key_file .*/agent.pem holds no private key in PEM form"),
            ("key_file is cut off", "key_file .*/cut.key cannot be used: damaged"),
            (
                "another's key",
                r"key_file .*/other.key does not belong to the certificate in cert_file .*/agent.pem",
            ),
            ("a key of another kind", "key_file .*/rsa.key does not belong to the certificate"),
            (
                "locked",
                "key_file .*/agent.locked is encrypted; state key_password_env or key_password_file",
            ),
            ("wrongly opened", "key_file .*/agent.locked does not open with the passphrase that is stated"),
            ("no passphrase", "the environment variable PASSPHRASE does not hold a password"),
            ("two passphrases", "state key_password_env or key_password_file, not both"),
        ],
    )
    def test_what_is_wrong_is_said_without_a_secret(self, authority, tmp_path, spoilt, sentence):
        certificate, key = authority.issue("agent")
        text, cut = tmp_path / "text", tmp_path / "cut.key"
        text.write_text("just text")
        cut.write_bytes(key.read_bytes()[:150])
        nowhere = str(tmp_path / "nowhere")
        by_variable = {"key_password_env": "PASSPHRASE"}
        given = {
            "no ca_file": told(authority).model_copy(update={"ca_file": nowhere}),
            "no cert_file": shows(authority, nowhere, key),
            "no key_file": shows(authority, certificate, nowhere),
            "a folder": told(authority).model_copy(update={"ca_file": str(tmp_path)}),
            "ca_file is text": told(authority).model_copy(update={"ca_file": str(text)}),
            "cert_file is a key": shows(authority, key, key),
            "key_file is a certificate": shows(authority, certificate, certificate),
            "key_file is cut off": shows(authority, certificate, cut),
            "another's key": shows(authority, certificate, authority.issue("other")[1]),
            "a key of another kind": shows(
                authority, certificate, authority.issue("rsa", kind=trustme.KeyType.RSA)[1]
            ),
            "locked": shows(authority, certificate, encrypted(key)),
            "wrongly opened": shows(authority, certificate, encrypted(key), **by_variable),
            "no passphrase": shows(authority, certificate, encrypted(key), **by_variable),
            "two passphrases": shows(
                authority, certificate, encrypted(key), key_password_file=nowhere, **by_variable
            ),
        }[spoilt]
        wrong = "not-the-passphrase"
        environment = {"PASSPHRASE": wrong} if spoilt == "wrongly opened" else {}
        with pytest.raises(ValueError, match=f"^broker: {sentence}") as raised:
            tls_context(given, environment)
        assert_no_secret(str(raised.value), key, wrong)


def assert_no_secret(text, key, *secrets):
    kept = "".join(key.read_text().splitlines()[1:-1])
    for secret in (PASSPHRASE, kept[:20], kept[-20:], *secrets):
        assert secret not in text


class Listening(Mosquitto):
    """Mosquitto with a TLS listener on `tls_port` too; `require` a certificate of who comes in there."""

    def __init__(self, directory, authority, host=HERE, until=None, require=False, more=""):
        certificate, key = authority.issue(host, until=until)
        self.tls_port = free_port()
        lines = [
            more,
            f"listener {self.tls_port} {HERE}",
            f"certfile {certificate}",
            f"keyfile {key}",
            f"cafile {authority.certificate}",
            f"require_certificate {str(require).lower()}",
        ]
        super().__init__(directory, "\n".join(lines))


@contextmanager
def trying(port, tls, **login):
    made = Connection(settings(port, tls=tls, **login), Inbox(1_000_000), Clock())
    made.start()
    try:
        yield made
    finally:
        made.stop()


def refused(port, tls, reason, caplog, until=lambda: True, **login):
    """It does not come in and says why; returns what it warned of."""
    with caplog.at_level(logging.INFO, "agent"), trying(port, tls, **login) as made:
        eventually(lambda: made.facts().last_reason == reason, reason)
        eventually(until, "more tries")
        assert made.facts().connects == 0
    return [record.getMessage() for record in caplog.records if record.levelno == logging.WARNING]


@needs_mosquitto
class TestBroker:
    """Against a real mosquitto."""

    def test_readings_arrive_from_a_broker_that_asks_for_a_certificate(self, authority, tmp_path):
        """The whole agent, its files stated as they lie beside the configuration."""
        certificate, key = authority.issue("agent")
        locked = encrypted(key)
        (authority.directory / "passphrase").write_text(PASSPHRASE)
        log = tmp_path / "agent.log"
        with Listening(tmp_path / "broker", authority, require=True) as broker:
            section = {
                "telemetry": "plant",
                "port": broker.tls_port,
                "ca_file": "authority/ca.pem",
                "cert_file": f"authority/{certificate.name}",
                "key_file": f"authority/{locked.name}",
                "key_password_file": "authority/passphrase",
            }
            body = configuration(broker=section, http={"port": free_port()})
            config = write(tmp_path, body)
            with process(agent_on(config), log) as agent, peer(broker.port, "dewline/agent/#") as gateway:
                eventually(lambda: gateway.seen, "the agent says that it is online")
                gateway.publish("plant/hill-house/one/m1", b'[{"n":"suction_pipe","u":"Cel","v":13.4}]')
                eventually(lambda: stored(tmp_path / "store.db") == 1, "the reading is in the store")
                agent.terminate()
                assert agent.wait(30) == 0
        said = log.read_text()
        assert f"connected to {HERE}:{broker.tls_port}" in said
        assert_no_secret(said, key)

    def test_an_unknown_signer_is_refused(self, authority, tmp_path, caplog):
        other = Authority(tmp_path / "other")
        with Listening(tmp_path / "broker", authority) as broker:
            reason = "the broker's certificate is signed by nobody in ca_file"
            broker_log = broker.directory / "mosquitto.log"
            said = refused(
                broker.tls_port,
                tls_context(told(other), {}),
                reason,
                caplog,
                until=lambda: broker_log.read_text().count("alert unknown ca") >= 2,
            )
        # once, and not with each try
        assert said == [f"no connection to {HERE}:{broker.tls_port}: {reason}"]

    def test_a_certificate_for_another_host_is_refused(self, authority, tmp_path, caplog):
        with Listening(tmp_path / "broker", authority, host="broker.hill-house.example") as broker:
            reason = f"the broker's certificate is not for {HERE}"
            said = refused(broker.tls_port, tls_context(told(authority), {}), reason, caplog)
        assert said == [f"no connection to {HERE}:{broker.tls_port}: {reason}"]

    def test_an_expired_certificate_is_refused(self, authority, tmp_path, caplog):
        with Listening(tmp_path / "broker", authority, until=LONG_AGO) as broker:
            reason = "the broker's certificate has expired"
            said = refused(broker.tls_port, tls_context(told(authority), {}), reason, caplog)
        assert said == [f"no connection to {HERE}:{broker.tls_port}: {reason}"]

    @pytest.mark.parametrize(
        ("latest", "reason"),
        [
            (ssl.TLSVersion.TLSv1_3, "the broker requires a client certificate"),
            (
                ssl.TLSVersion.TLSv1_2,
                "the broker refused the TLS handshake; it may require a client certificate",
            ),
        ],
    )
    def test_without_a_client_certificate_nobody_comes_in(self, authority, tmp_path, caplog, latest, reason):
        tls = tls_context(told(authority), {})
        tls.maximum_version = latest
        with Listening(tmp_path / "broker", authority, require=True) as broker:
            said = refused(broker.tls_port, tls, reason, caplog)
        assert said == [f"no connection to {HERE}:{broker.tls_port}: {reason}"]

    def test_a_client_certificate_of_another_signer_is_refused(self, authority, tmp_path, caplog):
        tls = tls_context(shows(authority, *Authority(tmp_path / "other").issue("agent")), {})
        with Listening(tmp_path / "broker", authority, require=True) as broker:
            reason = "the broker does not trust who signed the client certificate"
            said = refused(broker.tls_port, tls, reason, caplog)
        assert said == [f"no connection to {HERE}:{broker.tls_port}: {reason}"]

    def test_an_expired_client_certificate_is_refused(self, authority, tmp_path, caplog):
        tls = tls_context(shows(authority, *authority.issue("agent", until=LONG_AGO)), {})
        with Listening(tmp_path / "broker", authority, require=True) as broker:
            reason = "the broker finds the client certificate expired"
            said = refused(broker.tls_port, tls, reason, caplog)
        assert said == [f"no connection to {HERE}:{broker.tls_port}: {reason}"]

    def test_wrong_credentials_are_refused_over_tls_too(self, authority, tmp_path, caplog):
        passwords = tmp_path / "passwords"
        passwords.write_text("")
        more = f"password_file {passwords}"
        login = {"username": "dewline", "password": "a-long-secret"}
        with Listening(tmp_path / "broker", authority, more=more) as broker:
            tls = tls_context(told(authority), {})
            said = refused(broker.tls_port, tls, "Not authorized", caplog, **login)
        assert set(said) == {
            "the broker refused the connection: Not authorized; are user name and password right?"
        }
        assert login["password"] not in caplog.text

    def test_a_port_without_tls_is_told(self, authority, tmp_path, caplog):
        with Mosquitto(tmp_path / "broker") as broker:
            reason = f"{HERE} closed in the middle of the TLS handshake; is it a TLS port?"
            said = refused(broker.port, tls_context(told(authority), {}), reason, caplog)
        assert said == [f"no connection to {HERE}:{broker.port}: {reason}"]

    def test_a_refusal_that_ends_is_followed_by_a_connection(self, authority, tmp_path):
        broker = Listening(tmp_path / "broker", authority, until=LONG_AGO)
        with broker, trying(broker.tls_port, tls_context(told(authority), {})) as made:
            eventually(lambda: made.facts().last_reason, "a reason")
            broker.stop()
            authority.issue(HERE)
            broker.start()
            eventually(lambda: made.facts().connected, "connected")


def stored(store):
    with Store.open_readonly(f"sqlite:///{store}") as opened:
        return len(opened.latest_reading(opened.signals().values(), 0))
