"""From study folders through shared files to what holds across keepers: by the shell, and number by number."""

from __future__ import annotations

import json
import random
from pathlib import Path

import jsonschema
import numpy as np
import pytest

import zoneuse
from tests.making import TWO_ZONES, run, scans, study_folder, tree
from zoneuse.across.ask import across
from zoneuse.across.executors import in_processes, on_scheduler, one_by_one
from zoneuse.across.shared import Shared, parse_shared, read_shared
from zoneuse.across.tokens import config_file
from zoneuse.study.problems import ProblemError

CLUB = Path(__file__).parents[2] / "demo_sessions" / "club"
SCHEMA = Path(zoneuse.__file__).parent / "answers" / "answer.schema.json"
SECRETS = ("Two zones", "Moss", "Bark", "Dot", "Line", "mk", "2026", "Vienna", "moss", "a1", "a2", "L1")


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("XDG_CONFIG_HOME", "XDG_CACHE_HOME"):
        monkeypatch.setenv(name, str(tmp_path / name))


def a_study(folder: Path, share: float = 0.5, species: str = "Salamandra salamandra", seed: int = 1) -> Path:
    chance = np.random.default_rng(seed)
    text = TWO_ZONES.replace('title = "Two zones"', f'title = "Two zones"\nspecies = "{species}"')
    text = text.replace('key = "m"', 'key = "m"\nas = "humid retreat"').replace(
        'key = "b"', 'key = "b"\nas = "open"'
    )
    study = study_folder(folder, text)
    for day in range(1, 9):
        rows = [tuple("moss" if chance.random() < share else "bark" for _ in range(2)) for _ in range(4)]
        scans(study, f"2026-02-0{day}T19:00", rows, animals=("a1", "a2"))
    return study


def test_what_is_shared_holds_numbers_and_no_names(tmp_path: Path) -> None:
    study = a_study(tmp_path / "study")
    before = tree(study)
    out = tmp_path / "mine.zoneuse.json"
    done = run("share", "-o", out, "--study", study, "--until", "2027-12-31")
    assert done.exit_code == 0, done.stderr
    assert tree(study) == before
    text = out.read_text("utf-8")
    assert text in done.stderr, "it is shown whole before it is written"
    raw = json.loads(text)
    # Tokens are random letters, and may spell anything.
    del raw["consent"], raw["keeper"], raw["enclosure"]["token"]
    assert [word for word in SECRETS if word in json.dumps(raw)] == []
    shared = read_shared(out)
    answer = json.loads(run("zones", "--json", "--study", study).stdout)
    ours = {row["zone"]: row for row in answer["rows"]}
    retreat = next(z for z in shared.enclosure.zones if z.name == "humid retreat")
    assert (retreat.used, retreat.offered, retreat.n_eff) == tuple(
        ours["moss"][n] for n in ("used", "available", "n_eff")
    )


def test_tokens_stay_and_a_study_that_moves_keeps_its_own(tmp_path: Path) -> None:
    study = a_study(tmp_path / "study")
    first = json.loads(run("share", "--study", study).stdout)
    moved = study.rename(tmp_path / "moved")
    again = json.loads(run("share", "--study", moved).stdout)
    other = json.loads(run("share", "--study", a_study(tmp_path / "other", seed=2)).stdout)
    assert (first["keeper"], first["enclosure"]["token"]) == (again["keeper"], again["enclosure"]["token"])
    assert other["keeper"] == first["keeper"]
    config_file().write_text("{broken")
    assert run("share", "--study", moved).exit_code == 1


def test_a_file_that_is_there_is_kept_without_force(tmp_path: Path) -> None:
    study, out = a_study(tmp_path / "study"), tmp_path / "x.json"
    out.write_text("mine")
    assert run("share", "-o", out, "--study", study).exit_code == 1
    assert out.read_text() == "mine"
    assert run("share", "-o", out, "--study", study, "--force").exit_code == 0


def test_the_club_of_the_demo_from_the_shell() -> None:
    done = run("across", CLUB, "--json")
    assert done.exit_code == 0, done.stderr
    answer = json.loads(done.stdout)
    assert (answer["effort"]["enclosures"], answer["effort"]["keepers"]) == (12, 7)
    rows = {row["name"]: row for row in answer["rows"]}
    assert rows["humid retreat"]["low"] > 1
    assert rows["humid retreat"]["next_low"] > 1
    verdicts = {f["about"][0]: f["verdict"] for f in answer["findings"]}
    assert verdicts["humid retreat"] == "holds across"
    assert verdicts["basking spot"] != "holds across"
    assert len(answer["parts"]["studies"]) == 3 * 12
    jsonschema.validate(answer, json.loads(SCHEMA.read_text("utf-8")))


def test_a_picture_and_a_table_are_written(tmp_path: Path) -> None:
    picture, table = tmp_path / "forest.svg", tmp_path / "rows.csv"
    assert run("across", CLUB, "--plot", picture, "--csv", table).exit_code == 0
    assert "Humid retreat" in picture.read_text("utf-8")
    assert len(table.read_text("utf-8").splitlines()) == 1 + 3


def test_thousands_of_files_of_a_stranger_are_numbers_or_refused() -> None:
    chance = random.Random(8)
    whole = (CLUB / "tub_01.zoneuse.json").read_bytes()
    odd = (
        b"-1",
        b"1e308",
        b"NaN",
        b'"\\u001b[2J"',
        b"[[[[",
        b"{}",
        b"null",
        b"true",
        b"9" * 400,
        b'"../x"',
        b"\xff",
    )
    taken = 0
    for _ in range(3000):
        data = bytearray(whole)
        for _ in range(chance.choice((1, 1, 2, 5))):
            at = chance.randrange(len(data))
            end = at + chance.choice((0, 1, 4, 40))
            data[at:end] = chance.choice((bytes([chance.randrange(256)]), chance.choice(odd), b""))
        try:
            found = parse_shared(bytes(data), "x")
        except ProblemError:
            continue
        taken += 1
        for zone in found.enclosure.zones:
            assert isinstance(zone.used, float) and abs(zone.used) < 1e12 and zone.name.isprintable()
    assert 0 < taken < 3000


def test_folders_and_their_shared_files_give_the_same_figures(tmp_path: Path) -> None:
    studies = [
        a_study(tmp_path / "all" / f"keeper{i}" / "tub", share=0.4 + 0.05 * i, seed=i) for i in range(5)
    ]
    files = tmp_path / "files"
    files.mkdir()
    for i, study in enumerate(studies):
        raw = json.loads(run("share", "--study", study).stdout)
        raw["keeper"] = f"{i:016x}"
        (files / f"{i}.zoneuse.json").write_text(json.dumps(raw))
    by_folder = across([str(tmp_path / "all")], executor=one_by_one).answer.table
    by_file = across([str(files)], executor=one_by_one).answer.table
    assert by_folder.drop(columns="what").equals(by_file.drop(columns="what"))
    assert (by_folder["keepers"] == 5).all()


def test_a_tub_more_of_one_keeper_is_no_keeper_more(tmp_path: Path) -> None:
    for i, where in enumerate(("anna/one", "anna/two", "ben/one")):
        a_study(tmp_path / "club" / where, seed=i)
    found = across([str(tmp_path / "club")], executor=one_by_one).answer
    assert (found.effort["keepers"], found.effort["enclosures"]) == (2, 3)
    assert found.table["mean"].isna().all(), "fewer than three keepers: a list only"


def test_processes_and_a_cluster_give_what_one_process_gives(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    for i in range(3):
        a_study(tmp_path / "all" / f"k{i}" / "tub", share=0.3 + 0.2 * i, seed=i)
    where = [str(tmp_path / "all")]
    one = across(where, executor=one_by_one).answer.to_dict()
    # What is kept must not answer for it.
    for name in (tmp_path / "XDG_CACHE_HOME").rglob("*.json"):
        name.unlink()
    assert across(where, executor=in_processes(2)).answer.to_dict() == one
    with distributed.LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        processes=False,
        host="127.0.0.1",
        protocol="tcp",
        dashboard_address=None,
    ) as cluster:
        on_cluster = on_scheduler(cluster.scheduler_address)
        assert across(where, executor=on_cluster).answer.to_dict() == one


@pytest.mark.parametrize("address", ["tcp://192.0.2.1:8786", "tcp://example.org:1"])
def test_a_scheduler_off_this_machine_is_refused_without_tls(address: str) -> None:
    with pytest.raises(ProblemError, match="TLS"):
        on_scheduler(address)


def test_a_study_that_fails_is_named_and_left_out(tmp_path: Path) -> None:
    for i in range(3):
        a_study(tmp_path / "all" / f"k{i}" / "tub", seed=i)
    (tmp_path / "all" / "k3").mkdir()
    (tmp_path / "all" / "k3" / "study.toml").write_text("format = [")
    done = run("across", tmp_path / "all", "--jobs", "1")
    assert done.exit_code == 0
    assert "k3" in done.stderr
    assert "3 enclosures of 3 keepers" in " ".join(done.stdout.split())


def test_species_are_never_pooled_and_a_withdrawal_counts(tmp_path: Path) -> None:
    files = tmp_path / "files"
    files.mkdir()
    for path in CLUB.iterdir():
        (files / path.name).write_bytes(path.read_bytes())
    odd = json.loads((CLUB / "tub_01.zoneuse.json").read_text())
    odd["species"], odd["enclosure"]["token"] = "Lissotriton vulgaris", "0" * 16
    (files / "odd.zoneuse.json").write_text(json.dumps(odd))
    found = across([str(files)]).answer
    assert found.effort["enclosures"] == 12
    assert any("Lissotriton vulgaris (1)" in c.says for c in found.cautions)
    assert across([str(files)], species="lissotriton vulgaris").answer.effort["enclosures"] == 1
    assert across([str(files)], without=[odd["keeper"]]).answer.effort["keepers"] == 6


def test_a_second_run_reads_only_what_changed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study = a_study(tmp_path / "k0" / "tub")
    across([str(study)], executor=one_by_one)

    def fails(*_: object) -> Shared:
        raise AssertionError("worked out again")

    monkeypatch.setattr("zoneuse.across.summary.summarise", fails)
    assert not across([str(study)], executor=one_by_one).problems
    scans(study, "2026-03-01T19:00", [("moss", "bark")], animals=("a1", "a2"))
    with pytest.raises(ProblemError, match="worked out again"):
        across([str(study)], executor=one_by_one)


def test_a_tree_behind_an_address_is_fetched_and_read(tmp_path: Path) -> None:
    study = a_study(tmp_path / "store" / "k0" / "tub")
    found = across([f"file://{tmp_path / 'store'}"], executor=one_by_one)
    assert found.answer.effort["enclosures"] == 1
    assert [r.name for r in found.rows] == [r.name for r in across([str(study)], executor=one_by_one).rows]


def _changed(**fields: object) -> bytes:
    raw = json.loads((CLUB / "tub_01.zoneuse.json").read_text())
    for name, value in fields.items():
        if name in raw:
            raw[name] = value
        else:
            raw["enclosure"][name] = value
    return json.dumps(raw).encode()


@pytest.mark.parametrize(
    "data",
    [
        b"", b"[]", b"{", b"[" * 100_000, b'{"format": 2}', b"\xff\xfe", b" " * 3_000_000,
        _changed(keeper="../../etc"), _changed(species="x" * 200), _changed(species="\x1b[2J"),
        _changed(zones=[{"name": 3}]), _changed(zones=[{}] * 5000), _changed(zones="x"), _changed(animals=1.5),
        _changed(sessions=10**30), _changed(sessions=True),
        (CLUB / "tub_01.zoneuse.json").read_bytes().replace(b'"used": 0.', b'"used": NaN, "x": 0.', 1),
    ],
)  # fmt: skip
def test_a_strangers_file_is_numbers_or_it_is_left_out(tmp_path: Path, data: bytes) -> None:
    bad = tmp_path / "bad.zoneuse.json"
    bad.write_bytes(data)
    with pytest.raises(ProblemError):
        read_shared(bad)
    good = tmp_path / "good.zoneuse.json"
    good.write_bytes((CLUB / "tub_01.zoneuse.json").read_bytes())
    done = run("across", good, bad)
    assert done.exit_code == 0
    assert "bad.zoneuse.json" in done.stderr
    assert "1 enclosure of 1 keeper" in " ".join(done.stdout.split())


def test_an_object_too_large_is_named_and_not_fetched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    a_study(tmp_path / "store" / "k0" / "tub")
    large = tmp_path / "store" / "k1" / "tub" / "readings" / "large.parquet"
    a_study(tmp_path / "store" / "k1" / "tub", seed=2)
    large.parent.mkdir(exist_ok=True)
    with large.open("wb") as stream:
        stream.truncate(3_000_000)
    monkeypatch.setattr("zoneuse.across.sources.MOST_OBJECT", 2_000_000)
    fetched: list[int] = []
    found = across(
        [f"file://{tmp_path / 'store'}"], executor=one_by_one, progress=lambda n, of: fetched.append(n)
    )
    assert [p.code for p in found.problems] == ["too-large"]
    assert found.answer.effort["enclosures"] == 2
    assert fetched == [1, 2]
