"""Where pages, figures and history are served, and who may read them from another machine."""

from __future__ import annotations

from collections.abc import Callable
from ipaddress import ip_address
from typing import Annotated, Any, Self

from pydantic import AfterValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from agent.settings.kinds import File, Port, Section, Variable, WebAddress, pem_masked

Wrong = Callable[[tuple[str, ...], str], None]


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches an address."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def _host(value: str) -> str:
    if not value or set(value) & set("/@?# []") or (":" in value and not _is_address(value)):
        raise PydanticCustomError("host", "a name or an address, without a port")
    return value


def _is_address(value: str) -> bool:
    try:
        ip_address(value)
    except ValueError:
        return False
    return True


class HttpSettings(Section):
    """The pages, the metrics and the history; relative files start at the config's folder."""

    host: Annotated[str, AfterValidator(_host)] = Field(
        "127.0.0.1", description="address to listen on; beyond this machine with certificate and token only"
    )
    port: Port = Field(9464, description="port to listen on")
    token_env: Variable | None = Field(
        None, description="environment variable that holds the token which readers must show"
    )
    token_file: File | None = Field(None, description="file that holds it, instead of the variable")
    cert_file: File | None = Field(
        None, description="serve over TLS, with this certificate and those that sign it"
    )
    key_file: File | None = Field(None, description="the private key of cert_file")
    key_password_env: Variable | None = Field(
        None, description="environment variable that holds the passphrase of key_file"
    )
    key_password_file: File | None = Field(None, description="file that holds it, instead of the variable")
    public_url: WebAddress | None = Field(
        None, description="what people reach it by: links in notices begin with it, https://dewline.example"
    )

    @model_validator(mode="before")
    @classmethod
    def _mask(cls, data: Any) -> Any:
        return pem_masked(data)

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.token_env is not None and self.token_file is not None:
            raise PydanticCustomError("one_token", "token_env or token_file, not both")
        if (self.key_file is None) != (self.cert_file is None):
            raise PydanticCustomError("certificate", "http with cert_file and key_file, both or neither")
        passphrases = [each for each in (self.key_password_env, self.key_password_file) if each is not None]
        if len(passphrases) > 1:
            raise PydanticCustomError("one_password", "key_password_env or key_password_file, not both")
        if passphrases and self.key_file is None:
            raise PydanticCustomError("certificate", "http with key_file where it has a key password")
        return self

    @property
    def has_token(self) -> bool:
        """Whether readers must show a token."""
        return self.token_env is not None or self.token_file is not None

    @property
    def origin(self) -> str:
        """How a URL begins that is asked where it listens."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'http' if self.cert_file is None else 'https'}://{host}:{self.port}"


def check_http(http: HttpSettings, wrong: Wrong) -> None:
    """Off this machine nobody reads without a token, and no token goes over the wire in the clear."""
    if is_loopback(http.host):
        return
    lacks = [] if http.cert_file is not None else ["cert_file with key_file"]
    lacks += [] if http.has_token else ["token_env or token_file"]
    if lacks:
        text = f"other machines may reach {http.host}; right would be 127.0.0.1, or {' and '.join(lacks)} too"
        wrong(("http", "host"), text)
