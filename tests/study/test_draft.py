"""Whatever is declared through the draft, study.toml stays whole and sound, with every comment of the keeper."""

from __future__ import annotations

import contextlib
import os
import tomllib
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.trust import cutting
from zoneuse.study.draft import forms, painting, things
from zoneuse.study.draft.draft import PENDING, Draft, open_draft
from zoneuse.study.draft.forms import Thing, Typing
from zoneuse.study.toml.edits import GONE, Edit, changed_values
from zoneuse.study.toml.file import read_declaration
from zoneuse.study.toml.toml_text import EditError, edited

NOW = datetime(2026, 4, 1, 18, tzinfo=UTC)
KEPT = """\
# My study, begun in March.
format = 1
title = "Two rooms"   # as on the shelf
timezone = "Europe/Vienna"

# --- what it is built of
[enclosure]
measured_in = "floor_cm2"
sketch = [
    "ccw",   # back wall
    "ccw",
]
lights = {on = "07:30", off = "19:00"} # the old timer

# the damp corner
[zones.moss]
label = "Moss"
key = "c"
amount = [{until = 2026-03-01, is = 900}, {from = 2026-03-01, is = 1200}]  # dug out in March

# the dish
[zones.dish]
label = "Dish"
key = "w"
amount = 300
# cleaned on Sundays

# --- who lives there
[animals.a1]
label = "Ida"
key = "1"
[animals.a2]
label = "Bo"
key = "2"
present = [{from = 2026-03-02}] # came from a friend

[behaviours.resting]
label = "Resting"
key = "r"
lasts = true

# one more room, put here later
[zones.bark]
label = "Bark"
key = "b"
amount = 500
[loggers.L1]
placed = [{zone = "moss"}]
accuracy = {temperature_c = 0.5}
[limits.moss]
humidity_pct = {low = 75} # as the vet said
# the end
"""
COMMENTS = [line[line.index("#") :].rstrip() for line in KEPT.splitlines() if "#" in line]


BEHIND_VALUES = {"# the old timer", "# as the vet said", "# came from a friend", "# back wall"}


def folder_with(tmp_path: Path, text: str = KEPT) -> Path:
    tmp_path.mkdir(exist_ok=True)
    (tmp_path / "study.toml").write_text(text, "utf-8")
    return tmp_path


def study_of(folder: Path) -> str:
    return (folder / "study.toml").read_text("utf-8")


# --- any edits at all ---------------------------------------------------------------------------------------

_TEXTS = st.one_of(
    st.sampled_from(["", "12", "12,5", "0", "-3", "c", "w", "z", "7", "7:30", "8-18", "ret", "y", "no", "now",
                     "2026-03-05", "moss", "Moss", "securi, hum", "0.5", "Europe/Wien", "europe/berlin",
                     "sat 12:00-13:00"]),
    st.text(st.characters(exclude_categories=("Cs",)), max_size=12),
)  # fmt: skip


def _step(draw: Any, draft: Draft) -> None:
    values = draft.now.values
    page = draw(st.sampled_from(list(things.PAGES)))
    there = things.listed(values, page)
    what = draw(st.sampled_from(["type", "type", "type", "add", "remove", "paint", "undo", "plain"]))
    since = draw(st.sampled_from([None, date(2026, 3, 20)]))
    if what == "undo":
        draft.undo()
    elif what == "add":
        kind = draw(st.sampled_from(list(things.ADDED)))
        draft.do(things.added(values, kind, draw(_TEXTS.filter(str.strip)), since)[1])
    elif what == "plain":
        rest = things.plain_behaviours(values)
        if rest:
            draft.do(things.chosen_behaviour(values, draw(st.sampled_from(rest))[0])[1])
    elif what == "paint":
        keys = [*things.keys_of(values, "zones"), ""]
        spots = painting.rectangle(*(draw(st.tuples(st.integers(0, 7), st.integers(0, 12))) for _ in "12"))
        cells = painting.painted(
            painting.canvas(painting.sketched(values, "enclosure")), spots, draw(st.sampled_from(keys))
        )
        draft.do(painting.drawn(values, "enclosure", cells))
    elif there:
        thing = draw(st.sampled_from(there)).thing
        if what == "remove" and thing.kind not in ("study", "enclosure", "watching"):
            until = since if things.can_be_dated(thing) else None
            # What has records is not taken out: only what came in this sitting goes without a date.
            if until or thing.id not in tomllib.loads(KEPT).get(thing.kind, {}):
                draft.do(things.removed(values, thing, until))
        elif what == "type":
            field = draw(st.sampled_from(forms.fields(values, thing)))
            new = forms.read_typed(values, field, draw(_TEXTS), Typing(NOW, forms_zone()))
            draft.do(forms.typed(values, thing, field, new, since if forms.dated_now(field) else None))


def forms_zone() -> Any:
    from zoneinfo import ZoneInfo

    return ZoneInfo("Europe/Vienna")


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_any_edits_leave_a_sound_file_with_every_comment_and_nothing_typed_is_lost(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    folder = folder_with(tmp_path_factory.mktemp("draft"))
    draft = open_draft(folder)
    for _ in range(data.draw(st.integers(1, 7))):
        _step(data.draw, draft)
        assert "cannot change" not in draft.told
        assert draft.now.values == tomllib.loads(draft.now.text)
    declared, problems = read_declaration(folder)
    assert declared is not None, problems
    for text in (study_of(folder), draft.now.text):
        kept = [
            line[line.index(c) :].rstrip()
            for line in text.splitlines()
            for c in COMMENTS
            if line.rstrip().endswith(c)
        ]
        # In their order still; a value that was taken away takes the words behind it along, and nothing else does.
        assert kept == [c for c in COMMENTS if c in kept]
        assert set(COMMENTS) - set(kept) <= BEHIND_VALUES
    assert draft.now.sound is (draft.now.text == study_of(folder))
    assert open_draft(folder).now.text == draft.now.text


def test_edits_of_text_and_of_values_must_agree() -> None:
    odd = 'zones.a.label = "A"\nzones.a.key = "a"\n'
    edit = Edit(("zones", "a", "label"), "B")
    assert tomllib.loads(edited(odd, [edit])) == changed_values(tomllib.loads(odd), [edit])
    with pytest.raises(EditError):
        edited("a = 1\n", [Edit(("a", "b", 3), 1)])


# --- dates --------------------------------------------------------------------------------------------------


def do(draft: Draft, thing: Thing, label: str, text: str, since: date | None = None) -> None:
    field = next(f for f in forms.fields(draft.now.values, thing) if f.label == label)
    new = forms.read_typed(draft.now.values, field, text, Typing(NOW, forms_zone()))
    assert draft.do(forms.typed(draft.now.values, thing, field, new, since))


def test_what_changes_keeps_what_it_was_before(tmp_path: Path) -> None:
    draft = open_draft(folder_with(tmp_path))
    since = date(2026, 4, 1)
    do(draft, Thing("zones", "dish"), "Amount", "250,5", since)
    do(draft, Thing("zones", "moss"), "Amount", "1300", since)
    do(draft, Thing("loggers", "L1"), "Lies in", "w", since)
    do(draft, Thing("enclosure"), "Lights on", "8", since)
    assert draft.do(things.removed(draft.now.values, Thing("animals", "a2"), since))
    now = tomllib.loads(study_of(tmp_path))
    assert now["zones"]["dish"]["amount"] == [{"until": since, "is": 300}, {"from": since, "is": 250.5}]
    assert now["zones"]["moss"]["amount"][1:] == [
        {"from": date(2026, 3, 1), "is": 1200, "until": since}, {"from": since, "is": 1300}
    ]  # fmt: skip
    assert now["loggers"]["L1"]["placed"] == [
        {"zone": "moss", "until": since},
        {"zone": "dish", "from": since},
    ]
    assert now["enclosure"]["lights"] == [
        {"until": since, "is": {"on": "07:30", "off": "19:00"}}, {"from": since, "is": {"on": "08:00", "off": "19:00"}}
    ]  # fmt: skip
    assert now["animals"]["a2"]["present"] == [{"from": date(2026, 3, 2), "until": since}]
    do(draft, Thing("zones", "dish"), "Amount", "260")
    assert tomllib.loads(study_of(tmp_path))["zones"]["dish"]["amount"][1]["is"] == 260


def test_a_key_that_changes_changes_in_the_sketch(tmp_path: Path) -> None:
    draft = open_draft(folder_with(tmp_path))
    values = draft.now.values
    assert draft.do([Edit(("zones", "dish", "key"), "d"), *things.rekeyed(values, "dish", "d")])
    assert tomllib.loads(study_of(tmp_path))["enclosure"]["sketch"] == ["ccd", "ccd"]
    assert '"ccd",   # back wall' in study_of(tmp_path)


def test_what_is_unfinished_waits_beside_and_comes_back(tmp_path: Path) -> None:
    draft = open_draft(folder_with(tmp_path))
    new, edits = things.added(draft.now.values, "zones", "Höhle hinten", None)
    assert draft.do(edits) and draft.unsaved
    assert study_of(tmp_path) == KEPT
    again = open_draft(tmp_path)
    assert new == Thing("zones", "hohle_hinten") and new.id in again.now.values["zones"]
    do(again, new, "Amount", "40")
    assert tomllib.loads(study_of(tmp_path))["zones"][new.id]["amount"] == 40
    assert not (tmp_path / PENDING).exists()
    # Back over what was unfinished: first the amount, then the zone.
    assert again.undo() and again.unsaved
    assert again.undo() and study_of(tmp_path) == KEPT and not again.unsaved


def test_a_change_made_elsewhere_meanwhile_is_kept(tmp_path: Path) -> None:
    draft = open_draft(folder_with(tmp_path))
    new, edits = things.added(draft.now.values, "zones", "Stone", None)
    draft.do(edits)
    (tmp_path / "study.toml").write_text(KEPT.replace('"Ida"', '"Ida Maria"'), "utf-8")
    do(draft, new, "Amount", "40")
    now = tomllib.loads(study_of(tmp_path))
    assert now["animals"]["a1"]["label"] == "Ida Maria" and now["zones"]["stone"]["amount"] == 40
    assert "changed elsewhere" in draft.told or not draft.unsaved


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_ends_of_lines_permissions_and_links_stay(tmp_path: Path, ends: str) -> None:
    real = tmp_path / "shared.toml"
    real.write_bytes(b"\xef\xbb\xbf" + KEPT.replace("\n", ends).encode())
    real.chmod(0o640)
    folder = tmp_path / "study"
    folder.mkdir()
    (folder / "study.toml").symlink_to(real)
    do(open_draft(folder), Thing("zones", "dish"), "Amount", "310")
    assert (folder / "study.toml").is_symlink() and real.stat().st_mode & 0o777 == 0o640
    after = real.read_bytes()
    assert after == b"\xef\xbb\xbf" + KEPT.replace("= 300", "= 310").replace("\n", ends).encode()
    assert sorted(p.name for p in folder.iterdir()) == ["journal", "readings", "study.toml"]


@pytest.mark.parametrize("kind", ["before", "after", "torn", "power", "full"])
def test_cut_at_any_write_it_is_the_old_study_or_the_new(tmp_path: Path, kind: str) -> None:
    """Every operation that writes goes wrong once, in a process of its own."""
    import pyarrow.parquet  # noqa: F401  once, and not in every child

    at, old = 1, KEPT
    new = KEPT.replace("= 300", "= 310")
    while True:
        folder = folder_with(tmp_path / f"{at}")
        child = os.fork()
        if child == 0:
            cut = cutting.Cut(kind, at, root=str(folder))
            cutting.install(cut)
            with contextlib.suppress(AssertionError):
                do(open_draft(folder), Thing("zones", "dish"), "Amount", "310")
            if kind == "power":
                cut.lose()
            os._exit(0 if cut.done < at else 1)
        _, status = os.waitpid(child, 0)
        assert study_of(folder) in (old, new)
        assert read_declaration(folder)[0] is not None
        if os.waitstatus_to_exitcode(status) == 0:
            break
        at += 1
    assert at > 5
    assert study_of(folder) == new


def test_gone_is_not_a_value() -> None:
    assert repr(GONE) == "GONE"
