"""Studies and shared files behind an address of object storage, on an emulator on this machine."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.making import run
from zoneuse.across.ask import across
from zoneuse.across.executors import one_by_one
from zoneuse.study.problems import ProblemError

CLUB = Path(__file__).parents[2] / "demo_sessions" / "club"


@pytest.fixture(scope="module")
def storage() -> Iterator[str]:
    """Where the emulator answers, with the club in the bucket ``club`` under ``all``."""
    server = pytest.importorskip("moto.server", reason="moto (extra test) is not installed")
    pytest.importorskip("pyarrow.fs")
    from pyarrow import fs

    emulator = server.ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    emulator.start()
    host, port = emulator.get_host_and_port()
    store = fs.S3FileSystem(
        endpoint_override=f"{host}:{port}", scheme="http", region="us-east-1", allow_bucket_creation=True,
        access_key="x", secret_key="x",
    )  # fmt: skip
    store.create_dir("club/all")
    for path in CLUB.iterdir():
        with store.open_output_stream(f"club/all/{path.name}") as out:
            out.write(path.read_bytes())
    yield f"endpoint_override={host}%3A{port}&scheme=http&region=us-east-1"
    emulator.stop()


@pytest.fixture(autouse=True)
def _known_to_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in (
        ("AWS_ACCESS_KEY_ID", "x"), ("AWS_SECRET_ACCESS_KEY", "x"), ("AWS_EC2_METADATA_DISABLED", "true"),
        ("XDG_CACHE_HOME", str(tmp_path / "cache")),
    ):  # fmt: skip
        monkeypatch.setenv(name, value)


def test_a_bucket_gives_the_figures_of_the_folder(storage: str) -> None:
    behind = across([f"s3://club/all?{storage}"], executor=one_by_one).answer
    here = across([str(CLUB)], executor=one_by_one).answer
    assert behind.table.equals(here.table)
    assert behind.headline == here.headline


def test_a_bucket_from_the_shell(storage: str) -> None:
    done = run("across", f"s3://club/all?{storage}", "--json")
    assert done.exit_code == 0, done.stderr
    assert json.loads(done.stdout)["effort"]["enclosures"] == 12


def test_an_address_that_holds_nothing_is_named_and_no_folder_of_ours(storage: str) -> None:
    with pytest.raises(ProblemError) as found:
        across([f"s3://nobody/all?{storage}"], executor=one_by_one)
    assert "s3://nobody/all" in str(found.value)
    assert "zoneuse-" not in str(found.value)
