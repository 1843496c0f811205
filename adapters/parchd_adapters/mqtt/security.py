"""The encrypted connection."""

import ssl

from parchd.contract import SourceLost
from parchd_adapters.mqtt.options import Tls


class _TidySocket(ssl.SSLSocket):
    """Closes itself when the handshake fails; the MQTT library would leave it open."""

    def do_handshake(self, block: bool = False) -> None:
        try:
            super().do_handshake(block)
        except BaseException:
            self.close()
            raise


def make_context(tls: Tls) -> ssl.SSLContext:
    """Prepare the encryption: TLS 1.2 or later, the broker's certificate and name are checked.

    Raises:
        SourceLost: a file cannot be read or does not fit; the text names it.
    """
    context = ssl.create_default_context()
    context.sslsocket_class = _TidySocket
    if tls.ca_file is not None:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        context.sslsocket_class = _TidySocket
        _load_authorities(context, tls)
    if tls.cert_file is not None:
        _load_identity(context, tls)
    return context


def _load_authorities(context: ssl.SSLContext, tls: Tls) -> None:
    try:
        context.load_verify_locations(cafile=tls.ca_file)
    except (OSError, ssl.SSLError) as error:
        raise SourceLost(f"ca_file {tls.ca_file} cannot be used: {error}. It must hold PEM certificates.") from error


def _load_identity(context: ssl.SSLContext, tls: Tls) -> None:
    assert tls.cert_file is not None
    password = tls.key_password.get_secret_value() if tls.key_password else ""
    try:
        context.load_cert_chain(tls.cert_file, tls.key_file, password=password)
    except (OSError, ssl.SSLError, ValueError) as error:
        files = " and ".join(str(file) for file in (tls.cert_file, tls.key_file) if file is not None)
        raise SourceLost(
            f"{files} cannot be used: {error}. The certificate and its key must be PEM and belong together; "
            "an encrypted key needs key_password_file."
        ) from error
