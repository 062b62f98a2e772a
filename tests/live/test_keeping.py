"""What is heard is kept at once, counted once, answered from at once, and becomes an ordinary intake."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.making import run
from zoneuse.live.heard import bind, values_of
from zoneuse.live.heard.payload import fits
from zoneuse.readings.store import intakes, read
from zoneuse.readings.store.live_days import LiveRow, append, decoded, encoded
from zoneuse.study.model import Heard
from zoneuse.study.toml.file import load_declaration

from .hearing import listener_at

NOW = 1_772_647_200_000


def body(t: float, h: float = 80.0) -> bytes:
    return json.dumps({"air": {"t": t, "rel hum": h}}).encode()


def test_a_message_is_on_the_disk_before_it_is_acknowledged(tmp_path: Path) -> None:
    one, _, said = listener_at(tmp_path / "s")
    acked: list[int] = []

    def ack() -> None:
        acked.append(len(read(tmp_path / "s", "L1").times))

    one.take_message("home/a/moss", body(21.4), ack, number=1)
    assert acked == []
    one.write()
    assert acked == [1] and "this is L1" in said[0]
    assert read(tmp_path / "s", "L1").values["temperature_c"].tolist() == [21.4]


def test_retained_messages_repeats_and_doubles_are_no_new_readings(tmp_path: Path) -> None:
    one, clocks, _ = listener_at(tmp_path / "s")
    acks: list[str] = []
    one.take_message("home/a/moss", body(20), lambda: acks.append("r"), retained=True)
    one.take_message("home/a/moss", body(21), lambda: acks.append("1"), number=7)
    one.write()
    clocks.go(1)
    one.take_message("home/a/moss", body(21), lambda: acks.append("dup"), number=7, again=True)
    clocks.go(1)
    one.take_message(
        "home/a/moss", body(21), lambda: acks.append("2"), number=8
    )  # the same again is a new reading
    timed = json.dumps({"values": [9.5], "at": "2026-03-04T17:59:00+00:00"}).encode()
    for _ in range(2):
        one.take_message("timed/bark", timed, lambda: acks.append("t"), number=9)
    one.write()
    assert acks == ["r", "1", "dup", "2", "t", "t"]
    assert len(read(tmp_path / "s", "L1").times) == 2
    bark = read(tmp_path / "s", "L2")
    assert len(bark.times) == 1 and bark.times[0] == 1_772_647_140_000  # the payload's own time
    again, clocks, _ = listener_at(tmp_path / "s")  # another process knows them as well
    clocks.go(60)
    again.take_message("home/a/moss", body(21), lambda: acks.append("dup"), number=8, again=True)
    assert not again.waiting


def test_what_comes_at_once_and_what_comes_in_two_messages_is_all_kept(tmp_path: Path) -> None:
    one, _, _ = listener_at(tmp_path / "s")
    for i in range(5):  # a broker sends what it kept within a millisecond
        one.take_message("home/a/moss", body(20 + i), lambda: None, number=i + 1)
    one.write()
    assert read(tmp_path / "s", "L1").values["temperature_c"].tolist() == [20, 21, 22, 23, 24]
    one.keeper.put([LiveRow(NOW, "L2", {"temperature_c": 5.0}, timed=True)])
    one.keeper.put([LiveRow(NOW, "L2", {"humidity_pct": 60.0}, timed=True)])  # the same time, told apart
    one.keeper.put([LiveRow(NOW, "L2", {"temperature_c": 5.0}, timed=True)])
    found = read(tmp_path / "s", "L2")
    assert len(found.times) == 1
    assert (found.values["temperature_c"][0], found.values["humidity_pct"][0]) == (5.0, 60.0)
    assert (tmp_path / "s/readings/live/2026-03-04.jsonl").read_text().count("\n") == 7


def test_what_was_kept_and_not_acknowledged_is_known_after_its_day_is_in_the_store(tmp_path: Path) -> None:
    one, _, _ = listener_at(tmp_path / "s")
    one.take_message("home/a/moss", body(21), lambda: None, number=7)
    one.stop()
    again, clocks, _ = listener_at(tmp_path / "s")
    clocks.go(60)
    again.connected(remembered=True)
    again.take_message("home/a/moss", body(21), lambda: None, number=7, again=True)
    assert not again.waiting
    # A broker that has forgotten begins its numbers anew: the same number and value are another reading.
    again.connected(remembered=False)
    again.take_message("home/a/moss", body(21), lambda: None, number=7, again=True)
    again.write()
    assert len(read(tmp_path / "s", "L1").times) == 2


def test_what_waited_at_the_broker_for_long_has_no_time_unless_it_says_one(tmp_path: Path) -> None:
    one, clocks, said = listener_at(tmp_path / "s")
    one.connected(remembered=True)
    one.gone()
    clocks.go(3 * 3600)
    one.connected(remembered=True)
    acks: list[int] = []
    for i in range(4):
        one.take_message("home/a/moss", body(20 + i), lambda: acks.append(1), number=i + 1)
    timed = json.dumps({"values": [9.5], "at": "2026-03-04T17:59:00+00:00"}).encode()
    one.take_message("timed/bark", timed, lambda: acks.append(1), number=9)
    clocks.go(10)
    one.look_around()
    one.take_message("home/a/moss", body(30), lambda: acks.append(1), number=12)
    one.write()
    assert len(acks) == 6 and "4 messages without a time of their own" in "\n".join(said)
    assert read(tmp_path / "s", "L1").values["temperature_c"].tolist() == [30.0]
    assert len(read(tmp_path / "s", "L2").times) == 1


def test_a_day_becomes_one_intake_and_the_answers_never_see_it_twice(tmp_path: Path) -> None:
    study = tmp_path / "s"
    one, clocks, said = listener_at(study)
    for i in range(50):
        one.take_message("home/a/moss", body(20 + i / 100, 60.0), lambda: None, number=i + 1)
        clocks.go(60)
    one.write()
    one.look_around()
    newest = json.loads((study / "readings" / "newest.json").read_text())["zones"]["moss"]
    assert newest["humidity_pct"]["value"] == 60.0
    before = read(study, "L1")
    assert [i.id for i in intakes(study)[0]] == ["~2026-03-04.jsonl"]
    clocks.go(6 * 3600)
    one.look_around()  # the day is over
    kept, problems = intakes(study)
    after = read(study, "L1")
    assert len(kept) == 1 and not kept[0].id.startswith("~") and not problems
    assert np.array_equal(before.times, after.times)
    assert np.array_equal(before.values["temperature_c"], after.values["temperature_c"])
    assert any("50 readings taken in" in line for line in said)
    one.take_message("home/a/moss", body(25), lambda: None, number=99)
    one.stop()
    assert len(read(study, "L1").times) == 51 and len(intakes(study)[0]) == 2
    assert run("readings", "--study", study, "--undo", kept[0].id).exit_code == 0
    assert len(read(study, "L1").times) == 1  # what was undone does not come back from its day file
    assert run("check", "--study", study).exit_code == 0


def test_a_timer_hears_of_a_broken_limit_from_the_day_file(tmp_path: Path) -> None:
    study = tmp_path / "s"
    one, clocks, _ = listener_at(study)
    clocks.now = datetime.now(UTC) - timedelta(hours=1)
    one.take_message("home/a/moss", body(21, 64), lambda: None, number=1)
    one.write()
    done = run("climate", "--study", study, "--alert")
    assert done.exit_code == 3 and "Readings have only begun: Moss: humidity 64.0 %" in done.stdout
    for minute in range(50):  # wetted since
        clocks.go(60)
        one.take_message("home/a/moss", body(21, min(64 + minute, 84)), lambda: None, number=2 + minute)
    one.write()
    again = run("climate", "--study", study, "--alert")
    assert again.exit_code != 3, again.output


def test_a_line_cut_short_is_told_and_the_next_one_is_whole(tmp_path: Path) -> None:
    study = tmp_path / "s"
    listener_at(study)
    append(study, [LiveRow(NOW, "L1", {"temperature_c": 20.0})])
    path = study / "readings" / "live" / "2026-03-04.jsonl"
    with path.open("ab") as stream:
        stream.write(encoded(LiveRow(NOW + 1000, "L1", {"temperature_c": 21.0}))[:-9])
    append(study, [LiveRow(NOW + 2000, "L1", {"temperature_c": 22.0})])
    one, _, said = listener_at(study)
    assert read(study, "L1").values["temperature_c"].tolist() == [20.0, 22.0]
    assert one.keeper.damaged == 1 and "1 line is damaged and left out (2026-03-04.jsonl, line 2)" in said[0]
    one.stop()
    assert intakes(study)[0][0].refused == 1


FEW = pytest.mark.parametrize("many", [3, pytest.param(60, marks=pytest.mark.calibration)])


def whole_day(study: Path, many: int) -> tuple[Path, list[LiveRow]]:
    """A day file of so many lines, and what stands in them."""
    listener_at(study)
    rows = [
        LiveRow(
            NOW + 1000 * i, "L1" if i % 2 else "L2", {"temperature_c": 20.0 + i / 8, "humidity_pct": 7.0 + i}, f"a-{i}"
        )
        for i in range(many)
    ]  # fmt: skip
    append(study, rows)
    return study / "readings" / "live" / "2026-03-04.jsonl", rows


def counted(study: Path) -> set[tuple[str, int, float, float]]:
    found = set()
    for logger in ("L1", "L2"):
        some = read(study, logger)
        both = (some.values.get(q, ()) for q in ("temperature_c", "humidity_pct"))
        found |= {(logger, int(at), t, h) for at, t, h in zip(some.times, *both, strict=True)}
    return found


@FEW
def test_every_flipped_byte_is_named_and_costs_its_line_alone(tmp_path: Path, many: int) -> None:
    study = tmp_path / "s"
    path, rows = whole_day(study, many)
    whole = path.read_bytes()
    sound = counted(study)
    ends = [i for i, byte in enumerate(whole) if byte == 10]
    for at in range(len(whole)):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ (1 << at % 8)]) + whole[at + 1 :])
        os.utime(path, ns=(at, at))
        line = sum(end < at for end in ends)
        # A line feed gone joins two lines to one; behind the last it costs that one.
        cost = {line, line + 1} if at in ends else {line}
        left = {(r.logger, r.at_ms, r.values["temperature_c"], r.values["humidity_pct"])
                for i, r in enumerate(rows) if i not in cost}  # fmt: skip
        assert left <= counted(study) <= sound, at
        (problem,) = intakes(study)[1]
        assert problem.code == "damaged-live" and f"line {line + 1}" in problem.place, at
    path.write_bytes(whole)
    os.utime(path, ns=(1, 1))
    assert counted(study) == sound and intakes(study)[1] == []


@FEW
def test_cut_at_every_byte_what_is_whole_counts_and_the_next_reading_is_whole(
    tmp_path: Path, many: int
) -> None:
    study = tmp_path / "s"
    path, _ = whole_day(study, many)
    whole = path.read_bytes()
    sound = sorted(counted(study), key=lambda row: row[1])
    for at in range(len(whole)):
        path.write_bytes(whole[:at])
        os.utime(path, ns=(at, at))
        lines = whole[:at].count(b"\n")
        assert sorted(counted(study), key=lambda row: row[1]) == sound[:lines]
        append(study, [LiveRow(NOW + 60_000, "L1", {"temperature_c": 1.0, "humidity_pct": 2.0})])
        os.utime(path, ns=(at, at + 1))
        now = counted(study)
        assert ("L1", NOW + 60_000, 1.0, 2.0) in now
        # A line that lacks nothing but its end is whole again.
        assert len(now) in (lines + 1, lines + 2) and now - {("L1", NOW + 60_000, 1.0, 2.0)} <= set(sound)


def test_every_bit_of_a_line_is_under_its_checksum() -> None:
    line = encoded(LiveRow(NOW, "L1", {"temperature_c": 20.5}, "ab"))[:-1]
    assert decoded(line) == LiveRow(NOW, "L1", {"temperature_c": 20.5}, "ab")
    for at in range(len(line)):
        assert decoded(line[:at] + bytes([line[at] ^ 1]) + line[at + 1 :]) is None


def test_a_clock_that_steps_a_silent_sensor_and_one_nobody_knows_are_told(tmp_path: Path) -> None:
    one, clocks, said = listener_at(tmp_path / "s")
    one.take_message("home/a/moss", body(21), lambda: None, number=1)
    one.take_message("new/box", b'{"t": 19.25}', lambda: None, number=2)
    one.write()
    one.look_around()
    clocks.go(2, step=3600)
    one.look_around()
    assert "silent" not in "\n".join(said)
    clocks.go(1000)
    one.look_around()
    text = "\n".join(said)
    assert "set forward by 3600 s" in text and "home/a/moss (L1): silent for" in text
    assert (
        "new/box: 19.2 °C; no logger of the study (press a to say which)" in text
        or "new/box: 19.3 °C" in text
    )
    assert len(read(tmp_path / "s", "L1").times) == 1  # no gap is filled


def test_a_key_binds_what_is_heard_to_a_logger(tmp_path: Path) -> None:
    import asyncio

    from zoneuse.cli.intake.listening import Keys

    one, clocks, said = listener_at(tmp_path / "s")
    one.take_message("new/box", b'{"t": 19.25}', lambda: None, number=2)
    one.take_advert("A4:C1:38:FF:FF:01", bytes.fromhex("4002c409"))
    keys = Keys(one, asyncio.Event())
    for key in ("a", "1", "b", "2"):
        keys.press(key)
    assert "new/box is which logger?  1 L1 (Moss)  2 L2 (Bark)" in said
    declared = load_declaration(tmp_path / "s")
    assert declared.live.devices["A4:C1:38:FF:FF:01"] == "L2"
    assert [h.logger for h in declared.live.topics if h.topic == "new/box"] == ["L1"]
    clocks.go(30)
    one.take_message("new/box", b'{"t": 19.5}', lambda: None, number=3)
    one.take_advert("A4:C1:38:FF:FF:01", bytes.fromhex("4002c509"))
    one.write()
    assert read(tmp_path / "s", "L1").values["temperature_c"].tolist() == [19.5]
    assert read(tmp_path / "s", "L2").values["temperature_c"].tolist() == [25.01]
    keys.press("?")
    assert "new/box: L1, 19.5 °C, once" in "\n".join(said)
    assert bind is not None


@pytest.mark.parametrize(
    ("payload", "values"),
    [
        (b'{"a":{"b":[1,"2.5"]}}', {"temperature_c": 2.5}),
        (b"[]", {}),
        (b"no", {}),
        (b'{"a":{"b":[1,true]}}', {}),
    ],
)
def test_paths_into_payloads(payload: bytes, values: dict[str, float]) -> None:
    found, _, trouble = values_of(Heard("t", "L1", {"temperature_c": "$.a.b[1]"}), payload)
    assert found == values and bool(trouble) != bool(values)


def test_filters_fit_topics_as_the_protocol_says() -> None:
    # MQTT 3.1.1, 4.7.1: its own examples.
    assert fits("sport/tennis/player1/#", "sport/tennis/player1/ranking") and fits("#", "a/b")
    assert (
        fits("sport/+", "sport/")
        and not fits("sport/+", "sport")
        and not fits("+", "/finance")
        and fits("+/+", "/finance")
    )


KILLED = """
import sys, time
from pathlib import Path
from zoneuse.live.heard.keeping import Keeper
from zoneuse.readings.store.live_days import LiveRow
keeper, start = Keeper(Path(sys.argv[1])), int(sys.argv[2])
for i in range(start, start + 100_000):
    keeper.put([LiveRow(1_772_647_200_000 + i * 1000, "L1", {"temperature_c": float(i)}, str(i))])
    print(i, flush=True)
    if i % 40 == 39:
        from datetime import UTC, datetime, timedelta
        keeper.commit_days(datetime.now(UTC))
"""


def killed(study: Path, times: int, seed: int) -> None:
    random, start, told = np.random.default_rng(seed), 0, set()
    for _ in range(times):
        process = subprocess.Popen(
            [sys.executable, "-c", KILLED, str(study), str(start)], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        first = process.stdout.readline()
        lines = [first] + [process.stdout.readline() for _ in range(int(random.integers(0, 120)))]
        os.kill(process.pid, signal.SIGKILL)
        lines += process.stdout.readlines()
        process.wait()
        told |= {int(line) for line in lines if line.strip()}
        start = max(told) + 1
        found = read(study, "L1")
        rows = set(found.values["temperature_c"].astype(int).tolist())
        assert told <= rows and len(rows) == len(found.times), (
            "an acknowledged reading is lost, or one is doubled"
        )
        counted = sum(part.rows for intake in intakes(study)[0] for part in intake.parts)
        assert counted == len(rows), "a reading lies in two intakes"


def test_killed_at_any_instant_no_acknowledged_reading_is_lost_or_doubled(tmp_path: Path) -> None:
    listener_at(tmp_path / "s")
    killed(tmp_path / "s", 2, 1)
