"""The works' own certificate: what tablets and servers make of it, who may read its keys, what is never overwritten."""

from __future__ import annotations

import ipaddress
import socket
import ssl
import stat
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.x509.oid import ExtendedKeyUsageOID

from discwright.acts.certificate import works_certificate
from discwright.errors import CallError
from discwright.files.certificate import CA_FILE, CA_KEY_FILE, CERT_FILE, KEY_FILE, certificate_names, clean_host

FILES = (CA_FILE, CA_KEY_FILE, CERT_FILE, KEY_FILE)


def read(place: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate(place.read_bytes())


def shake_hands(folder: Path, host: str, trusted: Path) -> str:
    """A client that trusts one authority alone, and a server with the certificate; the version of TLS they agree on."""
    serving = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    serving.load_cert_chain(folder / CERT_FILE, folder / KEY_FILE)
    asking = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    asking.verify_flags |= ssl.VERIFY_X509_STRICT
    asking.load_verify_locations(trusted)
    near, far = socket.socketpair()

    def serve() -> None:
        try:
            serving.wrap_socket(far, server_side=True).close()
        except OSError:
            far.close()

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        with asking.wrap_socket(near, server_hostname=host) as secured:
            return str(secured.version())
    finally:
        near.close()
        thread.join(10)


def test_a_tablet_that_trusts_the_works_trusts_the_desk(tmp_path: Path) -> None:
    made = works_certificate(tmp_path, ["Works-Desk.local.", "192.168.1.5", "fe80::5", "works-desk.local"])
    assert made.hosts == ("works-desk.local", "192.168.1.5", "fe80::5")
    for host in made.hosts:
        assert shake_hands(tmp_path, host, tmp_path / CA_FILE) == "TLSv1.3"
    with pytest.raises(ssl.SSLCertVerificationError, match="Hostname mismatch"):
        shake_hands(tmp_path, "elsewhere.local", tmp_path / CA_FILE)
    other = tmp_path / "other"
    other.mkdir()
    works_certificate(other, ["works-desk.local"])
    with pytest.raises(ssl.SSLCertVerificationError):
        shake_hands(tmp_path, "works-desk.local", other / CA_FILE)


def test_what_stands_in_them(tmp_path: Path) -> None:
    now = datetime(2031, 4, 2, 9, 0, tzinfo=UTC)
    made = works_certificate(tmp_path, ["works-desk.local", "192.168.1.5"], now=now)
    above, desk = read(tmp_path / CA_FILE), read(tmp_path / CERT_FILE)
    basic = above.extensions.get_extension_for_class(x509.BasicConstraints)
    assert basic.critical
    assert (basic.value.ca, basic.value.path_length) == (True, 0)
    assert not desk.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    names = desk.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert names.get_values_for_type(x509.DNSName) == ["works-desk.local"]
    assert names.get_values_for_type(x509.IPAddress) == [ipaddress.ip_address("192.168.1.5")]
    usage = desk.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(usage) == [ExtendedKeyUsageOID.SERVER_AUTH]
    # By hand: a day before, so that slow clocks do not refuse it; 397 days, as browsers take at most 398.
    assert desk.not_valid_before_utc == now - timedelta(days=1)
    assert desk.not_valid_after_utc == now + timedelta(days=397)
    assert above.not_valid_after_utc == now + timedelta(days=3650)
    assert (made.good_until, made.authority_until) == ("2032-05-03", "2041-03-30")
    assert certificate_names(tmp_path / CERT_FILE) == ("works-desk.local",)
    assert len(made.fingerprint) == 64


def test_keys_are_read_by_their_owner_alone(tmp_path: Path) -> None:
    works_certificate(tmp_path, ["works-desk"])
    modes = {name: stat.S_IMODE((tmp_path / name).stat().st_mode) for name in FILES}
    assert modes[CA_KEY_FILE] == modes[KEY_FILE] == 0o600
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(FILES)


@pytest.mark.parametrize("name", FILES)
def test_nothing_is_overwritten_unless_that_is_said(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("kept", encoding="utf-8")
    with pytest.raises(CallError, match="is there already, and tablets may trust it; add --renew"):
        works_certificate(tmp_path, ["works-desk"])
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text(encoding="utf-8") == "kept"


def test_a_new_one_under_the_same_authority(tmp_path: Path) -> None:
    first = works_certificate(tmp_path, ["works-desk"])
    before = {name: (tmp_path / name).read_bytes() for name in FILES}
    second = works_certificate(tmp_path, ["new-desk"], renew=True)
    after = {name: (tmp_path / name).read_bytes() for name in FILES}
    assert second.fingerprint == first.fingerprint
    assert {name for name in FILES if before[name] != after[name]} == {CERT_FILE, KEY_FILE}
    assert shake_hands(tmp_path, "new-desk", tmp_path / CA_FILE) == "TLSv1.3"


def test_an_authority_that_cannot_sign_again(tmp_path: Path) -> None:
    with pytest.raises(CallError, match=r"has no works-ca\.pem with its"):
        works_certificate(tmp_path, ["works-desk"], renew=True)
    works_certificate(tmp_path, ["works-desk"], now=datetime(2020, 1, 1, tzinfo=UTC))
    with pytest.raises(CallError, match="has expired; begin anew"):
        works_certificate(tmp_path, ["works-desk"], renew=True, now=datetime(2031, 1, 1, tzinfo=UTC))
    # Never longer than the authority itself.
    late = works_certificate(tmp_path, ["works-desk"], renew=True, now=datetime(2029, 12, 1, tzinfo=UTC))
    assert late.good_until <= late.authority_until
    whole = (tmp_path / CA_KEY_FILE).read_bytes()
    (tmp_path / CA_KEY_FILE).write_bytes((tmp_path / KEY_FILE).read_bytes())
    with pytest.raises(CallError, match="do not fit together"):
        works_certificate(tmp_path, ["works-desk"], renew=True, now=datetime(2021, 1, 1, tzinfo=UTC))
    (tmp_path / CA_KEY_FILE).write_bytes(whole[:60])
    with pytest.raises(CallError, match="are broken"):
        works_certificate(tmp_path, ["works-desk"], renew=True, now=datetime(2021, 1, 1, tzinfo=UTC))


@pytest.mark.parametrize("good", ["works-desk", "a.b.example", "192.168.1.5", "[fe80::1]", "xn--hrbar-lta.example"])
def test_hosts(good: str) -> None:
    assert clean_host(good) == good.strip("[]")


@pytest.mark.parametrize(
    "bad",
    ["", "*", "*.example", "a b", "-a", "a-", "https://works", "works:8333", "1.2.3", "ä.example", "a..b", "a" * 64],
)
def test_what_is_no_host(bad: str) -> None:
    with pytest.raises(CallError, match="is no name or address of a host"):
        clean_host(bad)


def test_bounds(tmp_path: Path) -> None:
    for days in (0, 826):
        with pytest.raises(CallError, match="browsers take certificates for 1 to 825 days"):
            works_certificate(tmp_path, ["works-desk"], days=days)
    with pytest.raises(CallError, match="give --name HOST"):
        works_certificate(tmp_path, [])
    with pytest.raises(CallError, match="is no folder"):
        works_certificate(tmp_path / "nowhere", ["works-desk"])
