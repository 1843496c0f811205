"""What went wrong with a broker, in sentences that tell what to do."""

import socket
import ssl

_REFUSALS = {
    128: "without a reason; its log may tell more",
    132: "this version of MQTT: try the other 'protocol'",
    133: "the client id: set 'client_id' to letters and digits only, 23 at most",
    134: "the user name or password: check 'username' and 'password_file'",
    135: "to let us in: check 'username', 'password_file' and the broker's access rules",
    136: "because it is unavailable: it may be starting or shutting down",
    137: "because it is busy",
    138: "us for good (banned): ask who runs it",
    144: "our topics",
    151: "because a quota is used up: ask who runs it",
    159: "because we connect too often",
}
_GONE = {
    139: "is shutting down",
    141: "heard nothing from us within the keep-alive time",
    142: "gave our session to another client: 'client_id' must be used by one program only",
    147: "says that we held more messages than its receive maximum",
    149: "says that a packet is too large",
    152: "was told by its administrator to end the connection",
}


_ADD_TLS = "If it expects TLS, add the table 'tls'"


def refused(broker: str, code: int, words: str) -> str:
    """Explain a refused CONNECT (reason codes of MQTT 5, section 3.2.2.2).

    >>> refused("broker.lan:1883", 136, "Server unavailable")
    'broker.lan:1883 refused because it is unavailable: it may be starting or shutting down.'
    """
    return f"{broker} refused {_REFUSALS.get(code, f'the connection: {words} ({code})')}."


def gone(broker: str, code: int, said: str, *, connected: bool, encrypted: bool) -> str:
    """Explain the end of a connection.

    Args:
        code: reason code of the broker's DISCONNECT (MQTT 5); 0: it sent none.
        said: what the socket or the library said.
        connected: whether the broker had accepted us.
        encrypted: whether TLS is on.
    """
    if code in _GONE:
        return f"{broker} {_GONE[code]}."
    if "alert" in said.lower():
        return f"{broker} refused our certificate or our TLS version: {said}. Check cert_file and key_file."
    if not connected:
        hint = "If it asks for certificates, check cert_file and key_file" if encrypted else _ADD_TLS
        return f"{broker} closed the connection before it answered: {said}. {hint}."
    return (
        f"the connection to {broker} is lost: {said}. If this comes back every few seconds, another program may be "
        "using the same 'client_id'."
    )


def unreachable(broker: str, error: Exception, *, encrypted: bool) -> str:
    """Explain a connection that could not be made.

    >>> unreachable("broker.lan:1883", ConnectionRefusedError(), encrypted=False)
    'nothing listens on broker.lan:1883: is the broker running, and is the port right?'
    """
    if isinstance(error, ssl.SSLCertVerificationError):
        return (
            f"the certificate of {broker} is not trusted: {error.verify_message}. Check ca_file, the machine's clock, "
            "and that 'host' is a name in the certificate."
        )
    if isinstance(error, ssl.SSLError) or (encrypted and isinstance(error, ConnectionResetError)):
        return f"no encrypted connection to {broker}: {error}. Does the broker expect TLS on this port?"
    if isinstance(error, socket.gaierror | UnicodeError):
        return f"the name in {broker} cannot be found: check 'host' and the network's name server."
    if isinstance(error, ConnectionRefusedError):
        return f"nothing listens on {broker}: is the broker running, and is the port right?"
    if isinstance(error, TimeoutError):
        tls = ", and that it expects TLS on this port" if encrypted else ""
        return f"{broker} does not answer: check 'host', the network and any firewall{tls}."
    return f"no connection to {broker}: {error}."
