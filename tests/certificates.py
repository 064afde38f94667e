"""Certificates for one test: an authority of its own, and what it signs, as files."""

from datetime import datetime
from pathlib import Path

import trustme
from cryptography.hazmat.primitives import serialization

PASSPHRASE = "a-long-passphrase"


class Authority:
    """Signs for whom it is asked to; its files lie in `directory`, which it makes."""

    def __init__(self, directory: Path) -> None:
        directory.mkdir(parents=True)
        self.directory = directory
        self._authority = trustme.CA()
        self.certificate = directory / "ca.pem"
        self._authority.cert_pem.write_to_path(self.certificate)

    def issue(
        self, name: str, *, until: datetime | None = None, kind: trustme.KeyType = trustme.KeyType.ECDSA
    ) -> tuple[Path, Path]:
        """Certificate and key for a host name, an address or a client. `until` may lie in the past."""
        issued = self._authority.issue_cert(name, not_after=until, key_type=kind)
        certificate, key = self.directory / f"{name}.pem", self.directory / f"{name}.key"
        certificate.write_bytes(b"".join(part.bytes() for part in issued.cert_chain_pems))
        issued.private_key_pem.write_to_path(key)
        return certificate, key


def encrypted(key: Path) -> Path:
    """The same key behind PASSPHRASE, in a file beside it."""
    opened = serialization.load_pem_private_key(key.read_bytes(), password=None)
    locked = key.with_suffix(".locked")
    locked.write_bytes(
        opened.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.BestAvailableEncryption(PASSPHRASE.encode()),
        )
    )
    return locked
