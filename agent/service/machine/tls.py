"""TLS from the files that the configuration names: towards the broker, and of the pages that are served.

What is wrong with a file is one sentence with its key and its path, never its content. Must know
neither MQTT nor HTTP.
"""

from __future__ import annotations

import ssl
from collections.abc import Mapping
from pathlib import Path

from agent.service.machine.secrets import key_password
from agent.settings.http import HttpSettings
from agent.settings.model import BrokerSettings

# OpenSSL's words for a key that is not the certificate's, be it of another kind.
_NOT_ITS_KEY = {"KEY_VALUES_MISMATCH", "KEY_TYPE_MISMATCH", "NO_CERTIFICATE_ASSIGNED"}


class _Socket(ssl.SSLSocket):
    """Closes where the handshake fails, which the MQTT library leaves to the garbage collector."""

    def do_handshake(self, block: bool = False) -> None:
        try:
            super().do_handshake(block)
        except OSError:
            self.close()
            raise


def tls_context(broker: BrokerSettings, environment: Mapping[str, str]) -> ssl.SSLContext | None:
    """What the broker's certificate is checked against, and what the agent shows; None without ``ca_file``.

    Raises ValueError for a file that cannot be read or is not what its key says, a key of another
    certificate, and an encrypted key whose passphrase is not stated or does not open it.
    """
    if broker.ca_file is None:
        return None
    _check_certificate("broker: ca_file", broker.ca_file)
    context = ssl.create_default_context(cafile=broker.ca_file)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.sslsocket_class = _Socket
    if broker.cert_file is not None and broker.key_file is not None:
        passphrase = key_password("broker", broker, environment)
        _show(context, "broker", broker.cert_file, broker.key_file, passphrase)
    return context


def serving_context(http: HttpSettings, environment: Mapping[str, str]) -> ssl.SSLContext | None:
    """What is shown to who reads the pages; None without ``cert_file``. Raises as ``tls_context``."""
    if http.cert_file is None or http.key_file is None:
        return None
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    _show(context, "http", http.cert_file, http.key_file, key_password("http", http, environment))
    return context


def _show(context: ssl.SSLContext, section: str, certificate: str, key: str, passphrase: str | None) -> None:
    _check_certificate(f"{section}: cert_file", certificate)
    if b"PRIVATE KEY-----" not in _read(f"{section}: key_file", key):
        raise ValueError(f"{section}: key_file {key} holds no private key in PEM form")
    asked = False

    def answer() -> str:
        """Without it OpenSSL would ask at the terminal, and wait."""
        nonlocal asked
        asked = True
        if passphrase is None:
            raise ValueError(
                f"{section}: key_file {key} is encrypted; state key_password_env or key_password_file"
            )
        return passphrase

    try:
        context.load_cert_chain(certificate, key, password=answer)
    except ssl.SSLError as error:
        if error.reason in _NOT_ITS_KEY:
            text = f"does not belong to the certificate in cert_file {certificate}"
        elif asked:
            text = "does not open with the passphrase that is stated"
        else:
            text = f"cannot be used: {(error.reason or 'damaged').replace('_', ' ').lower()}"
        raise ValueError(f"{section}: key_file {key} {text}") from None


def _check_certificate(name: str, file: str) -> None:
    _read(name, file)
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT).load_verify_locations(cafile=file)
    except ssl.SSLError:
        raise ValueError(f"{name} {file} holds no certificate in PEM form") from None


def _read(name: str, file: str) -> bytes:
    try:
        return Path(file).read_bytes()
    except OSError as error:
        raise ValueError(f"{name} {file} cannot be read: {error.strerror}") from None
