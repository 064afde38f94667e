"""Why a broker could not be reached over TLS, in a sentence for who has to put it right."""

import ssl

# X.509 verification results, as OpenSSL numbers them in x509_vfy.h.
_OF_THE_BROKER = {
    9: "the broker's certificate is not valid yet; is the clock of this machine right?",
    10: "the broker's certificate has expired",
    62: "the broker's certificate is not for {host}",
    64: "the broker's certificate is not for {host}",
}
_UNKNOWN_SIGNER = {7, 18, 19, 20, 21}

# Alerts of TLS (RFC 8446, section 6.2) by OpenSSL's words for them, and other failures of its.
_ALERTS = {
    "CERTIFICATE_REQUIRED": "the broker requires a client certificate",
    "HANDSHAKE_FAILURE": "the broker refused the TLS handshake; it may require a client certificate",
    "UNKNOWN_CA": "the broker does not trust who signed the client certificate",
    "CERTIFICATE_EXPIRED": "the broker finds the client certificate expired",
    "CERTIFICATE_REVOKED": "the broker finds the client certificate revoked",
    "PROTOCOL_VERSION": "the broker speaks no version of TLS from 1.2 on",
}
_CLOSED = "{host} closed in the middle of the TLS handshake; is it a TLS port?"
_FAILURES = {
    "UNSUPPORTED_PROTOCOL": _ALERTS["PROTOCOL_VERSION"],
    "WRONG_VERSION_NUMBER": "what answers at {host} speaks no TLS",
    "UNEXPECTED_EOF_WHILE_READING": _CLOSED,
}


def tls_reason(error: object, host: str) -> str | None:
    """What the exception of a try over TLS says; None where TLS has no part in it."""
    if isinstance(error, ConnectionResetError):
        return _CLOSED.format(host=host)
    if isinstance(error, ssl.SSLCertVerificationError):
        if error.verify_code in _UNKNOWN_SIGNER:
            return "the broker's certificate is signed by nobody in ca_file"
        known = _OF_THE_BROKER.get(error.verify_code)
        said = known or f"the broker's certificate is not accepted: {error.verify_message}"
        return said.format(host=host)
    if not isinstance(error, ssl.SSLError):
        return None
    reason = error.reason or ""
    _, is_alert, alert = reason.partition("_ALERT_")
    known = _ALERTS.get(alert) if is_alert else _FAILURES.get(reason)
    return (known or f"TLS failed: {reason.replace('_', ' ').lower() or 'no reason given'}").format(host=host)
