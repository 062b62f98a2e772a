"""BTHome v2 packets: values published in the format's own description (https://bthome.io/format, /encryption)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoneuse.live.heard import parse
from zoneuse.live.heard.adverts import Adverts
from zoneuse.live.heard.bthome import OBJECTS

# The page's examples of single objects: bytes, quantity, value.
PUBLISHED = (
    ("02ca09", "temperature_c", 25.06),
    ("03bf13", "humidity_pct", 50.55),
    ("2e23", "humidity_pct", 35.0),
    ("451101", "temperature_c", 27.3),
    ("05138a14", "light_lux", 13460.67),
    ("4632", "uv_index", 5.0),
    ("14020c", "soil_moisture_pct", 30.74),
    ("2f23", "soil_moisture_pct", 35.0),
)
ADDRESS, KEY = "54:48:E6:8F:80:A5", bytes.fromhex("231d39c1d7cc1ab1aee224cd096db932")


@pytest.mark.parametrize(("hexa", "quantity", "value"), PUBLISHED)
def test_each_published_object_has_its_published_value(hexa: str, quantity: str, value: float) -> None:
    assert parse(bytes.fromhex("40" + hexa)).values == {quantity: pytest.approx(value)}


def test_the_published_example_advert() -> None:
    # 020106 0B094449592D73656E736F72 0A16D2FC4002C40903BF13, its service data after the UUID.
    assert parse(bytes.fromhex("4002C40903BF13")).values == {"temperature_c": 25.0, "humidity_pct": 50.55}


def test_the_published_encrypted_example() -> None:
    # Key, address, counter 00112233 and plain text 02CA0903BF13 as the page has them; encrypted here anew as well.
    from cryptography.hazmat.primitives.ciphers.aead import AESCCM

    counter = bytes.fromhex("00112233")
    nonce = bytes.fromhex("5448E68F80A5") + bytes.fromhex("D2FC") + b"\x41" + counter
    sealed = AESCCM(KEY, tag_length=4).encrypt(nonce, bytes.fromhex("02CA0903BF13"), None)
    assert (b"\x41" + sealed[:-4] + counter + sealed[-4:]).hex() == "41a47266c95f730011223378237214"
    data = bytes.fromhex("41a47266c95f730011223378237214")
    assert parse(data, ADDRESS, KEY).values == {"temperature_c": 25.06, "humidity_pct": 50.55}
    assert parse(data, ADDRESS).trouble == "needs its key" and not parse(data, ADDRESS).values
    assert parse(data, ADDRESS, bytes(16)).trouble == "its key does not fit"


def test_an_unknown_object_ends_the_packet_and_what_came_before_it_counts() -> None:
    packet = parse(bytes.fromhex("40000902c409fe03bf13"))
    assert packet.values == {"temperature_c": 25.0} and packet.number == 9
    assert packet.trouble == "unknown object 0xfe"


def test_below_zero_and_cut_short() -> None:
    assert parse(bytes.fromhex("40020cfe")).values == {"temperature_c": -5.0}
    assert parse(bytes.fromhex("4002c40903bf")).values == {"temperature_c": 25.0}
    assert parse(bytes.fromhex("4002c40903bf")).trouble == "cut short"
    assert parse(b"").trouble == parse(b"\x20\x02").trouble == "not version 2"


@given(st.binary(max_size=40))
def test_nothing_a_device_sends_raises(data: bytes) -> None:
    found = parse(data, "not an address", KEY)
    assert set(found.values) <= {quantity for *_, quantity in OBJECTS.values()}


def test_a_packet_sent_several_times_counts_once() -> None:
    heard = Adverts({})
    one, two = bytes.fromhex("40000902c409"), bytes.fromhex("40000a02c409")
    found = [
        heard.new("A", data, at) is not None
        for data, at in ((one, 0), (one, 1), (two, 2), (two, 3), (two, 90))
    ]
    assert found == [True, False, True, False, True]
    plain = bytes.fromhex("4002c409")
    assert [heard.new("B", plain, at) is not None for at in (0.0, 2.0, 60.0)] == [True, False, True]
