"""A broker that asks for TLS and a password: what is wrong is said, tried again, and never the end."""

from __future__ import annotations

import datetime as dt
import ipaddress
import json
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from zoneuse.cli.intake.listening import secrets_of
from zoneuse.live.heard import Listener
from zoneuse.readings.store import read

from .broker import MOSQUITTO, PASSWD, Broker
from .hearing import STUDY, listener_at
from .test_broker import listening, quiet, until

aiomqtt = pytest.importorskip("aiomqtt")
pytestmark = pytest.mark.skipif(
    MOSQUITTO is None or PASSWD is None, reason="no mosquitto: apt-get install mosquitto"
)


def certified(folder: Path) -> None:
    """An authority of one's own (ca.pem), another one (other.pem), and the broker's certificate for 127.0.0.1."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import NameOID

    def named(text: str) -> Any:
        return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])

    now = dt.datetime.now(dt.UTC)

    def made(subject: str, key: Any, issuer: str, signed_by: Any, authority: bool) -> Any:
        builder = x509.CertificateBuilder(named(issuer), named(subject), key.public_key(), x509.random_serial_number(),
                                          now - dt.timedelta(days=1), now + dt.timedelta(days=1))  # fmt: skip
        builder = builder.add_extension(x509.BasicConstraints(ca=authority, path_length=None), critical=True)
        if not authority:
            alone = x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address("127.0.0.1"))])
            builder = builder.add_extension(alone, critical=False)
        return builder.sign(signed_by, hashes.SHA256())

    def pem(name: str, certificate: Any) -> None:
        (folder / name).write_bytes(certificate.public_bytes(serialization.Encoding.PEM))

    keys = {name: ec.generate_private_key(ec.SECP256R1()) for name in ("ca", "other", "broker")}
    pem("ca.pem", made("Cellar", keys["ca"], "Cellar", keys["ca"], True))
    pem("other.pem", made("Another", keys["other"], "Another", keys["other"], True))
    pem("broker.pem", made("broker", keys["broker"], "Cellar", keys["ca"], False))
    (folder / "broker.key").write_bytes(keys["broker"].private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    ))  # fmt: skip


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    certified(tmp_path)
    subprocess.run([PASSWD or "", "-c", "-b", tmp_path / "names", "keeper", "moss"], check=True)
    one = Broker(
        tmp_path, "allow_anonymous false", f"password_file {tmp_path / 'names'}",
        under=f"certfile {tmp_path / 'broker.pem'}\nkeyfile {tmp_path / 'broker.key'}",
    )  # fmt: skip
    yield one
    one.end()


def secured(folder: Path, port: int, ca: str, password: str) -> tuple[Listener, list[str]]:
    """A study whose secrets lie beside it, never in it."""
    secrets = folder / "secrets.toml"
    secrets.write_text(f'[mqtt]\nuser = "keeper"\npassword = "{password}"\n', "utf-8")
    text = STUDY.replace("PORT", str(port)).replace(
        "[live.mqtt]", f'[live]\nsecrets = "{secrets}"\n\n[live.mqtt]'
    )
    text = text.replace("[live.mqtt]\n", f'[live.mqtt]\ntls = true\nca = "{folder / ca}"\n', 1)
    (folder / "s").mkdir(exist_ok=True)
    (folder / "s" / "study.toml").write_text(text, "utf-8")
    one, _, said = listener_at(folder / "s", port)
    one.asked.user, one.asked.password, _ = secrets_of(one.declared)
    return quiet(one), said


async def test_readings_come_over_tls_with_a_password(tmp_path: Path, broker: Broker) -> None:
    import ssl

    one, said = secured(tmp_path, broker.port, "ca.pem", "moss")
    trusted = ssl.create_default_context(cafile=str(tmp_path / "ca.pem"))
    async with listening(one):
        await until(lambda: any("Listening to" in line for line in said))
        async with aiomqtt.Client(
            "127.0.0.1", broker.port, username="keeper", password="moss", tls_context=trusted
        ) as c:
            await c.publish("timed/bark", json.dumps({"values": [9.5], "at": 1_772_640_000}), qos=1)
        await until(lambda: len(read(tmp_path / "s", "L2").times) == 1)
    assert not any("trying again" in line.lower() for line in said)


@pytest.mark.parametrize(
    ("ca", "password", "tells"),
    [
        ("other.pem", "moss", "certificate that is not trusted"),
        ("ca.pem", "wrong", "refuses this name and password"),
        ("none.pem", "moss", "none.pem is not there"),
        ("names", "moss", "cannot be read as a certificate"),
    ],
)
async def test_what_a_broker_refuses_is_said_and_tried_again(
    tmp_path: Path, broker: Broker, ca: str, password: str, tells: str
) -> None:
    one, said = secured(tmp_path, broker.port, ca, password)
    async with listening(one):
        await until(lambda: any(tells in line for line in said))
        # Mended while it runs: the next try goes through.
        one.declared = replace(one.declared, live=replace(one.declared.live, ca=str(tmp_path / "ca.pem")))
        one.asked.password = "moss"
        await until(lambda: any("Listening to" in line for line in said))
    text = "\n".join(said)
    assert "moss" not in text.replace("home/+/moss", "") and "wrong" not in text  # no password is ever shown
    assert sum(tells in line for line in said) == 1  # and nothing twice
