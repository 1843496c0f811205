"""Throw-away certificates. Needs the package ``cryptography``."""

import ipaddress
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from parchd.clock import SystemClock, to_datetime

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric import ec

_VALID = timedelta(days=2)


@dataclass(frozen=True, slots=True)
class Identity:
    """A certificate and its key, PEM files."""

    cert_file: Path
    key_file: Path


class Authority:
    """A certificate authority that lives in a folder and signs whatever a test needs.

    Args:
        folder: where its files go.
        name: common name; two authorities in one folder need two names.
    """

    def __init__(self, folder: Path, name: str = "Quillmere test authority") -> None:
        self._folder = folder
        self._name = name
        self._key = _new_key()
        self.ca_file = folder / f"{name.replace(' ', '-')}.pem"
        self._certificate = self._sign(name, self._key, authority=True)
        _write_certificate(self.ca_file, self._certificate)

    def server(self, *hosts: str) -> Identity:
        """Issue a certificate for a server with these names and addresses; default: the loopback's."""
        return self._issue("server", hosts or ("localhost", "127.0.0.1"), password=None)

    def client(self, name: str = "parchd", password: str | None = None) -> Identity:
        """Issue a certificate for a client, its key encrypted if there is a password."""
        return self._issue(name, (), password)

    def _issue(self, name: str, hosts: tuple[str, ...], password: str | None) -> Identity:
        key = _new_key()
        stem = f"{self.ca_file.stem}-{name}"
        identity = Identity(self._folder / f"{stem}.crt", self._folder / f"{stem}.key")
        _write_certificate(identity.cert_file, self._sign(name, key, hosts=hosts))
        _write_key(identity.key_file, key, password)
        return identity

    def _sign(
        self, name: str, key: "ec.EllipticCurvePrivateKey", *, hosts: tuple[str, ...] = (), authority: bool = False
    ) -> "x509.Certificate":
        from cryptography import x509
        from cryptography.hazmat.primitives import hashes

        now = to_datetime(SystemClock().now_us())
        builder = (
            x509.CertificateBuilder()
            .subject_name(_named(name))
            .issuer_name(_named(self._name))
            .public_key(key.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(now - _VALID)
            .not_valid_after(now + _VALID)
            .add_extension(x509.BasicConstraints(ca=authority, path_length=None), critical=True)
            .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
            .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(self._key.public_key()), critical=False)
        )
        if authority:
            builder = builder.add_extension(_may_sign(), critical=True)
        if hosts:
            names = x509.SubjectAlternativeName([_general_name(host) for host in hosts])
            builder = builder.add_extension(names, critical=False)
        return builder.sign(self._key, hashes.SHA256())


def _new_key() -> "ec.EllipticCurvePrivateKey":
    from cryptography.hazmat.primitives.asymmetric import ec

    return ec.generate_private_key(ec.SECP256R1())


def _named(name: str) -> "x509.Name":
    from cryptography import x509
    from cryptography.x509.oid import NameOID

    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def _may_sign() -> "x509.KeyUsage":
    from cryptography import x509

    return x509.KeyUsage(
        digital_signature=True,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=True,
        crl_sign=True,
        encipher_only=False,
        decipher_only=False,
    )


def _general_name(host: str) -> "x509.GeneralName":
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)


def _write_certificate(path: Path, certificate: "x509.Certificate") -> None:
    from cryptography.hazmat.primitives.serialization import Encoding

    path.write_bytes(certificate.public_bytes(Encoding.PEM))


def _write_key(path: Path, key: "ec.EllipticCurvePrivateKey", password: str | None) -> None:
    from cryptography.hazmat.primitives import serialization

    encryption: serialization.KeySerializationEncryption = serialization.NoEncryption()
    if password is not None:
        encryption = serialization.BestAvailableEncryption(password.encode())
    path.touch(mode=0o600)
    path.write_bytes(key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, encryption))
