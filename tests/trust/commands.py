"""Every command that writes, on a small study, in a forked process that may fail or be killed."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from tests.making import TWO_ZONES, scans, study_folder
from tests.tracks.made import STUDY as TRACKED
from tests.trust.cutting import REAL, Cut, install
from zoneuse.cli import cli, main
from zoneuse.journal.reader import read_journals
from zoneuse.readings.store.store import intakes, read
from zoneuse.study.draft.draft import open_draft
from zoneuse.study.toml.edits import Edit
from zoneuse.study.toml.file import load_declaration

SIGHTINGS = "at,session,animal,zone,behaviour\n" + "".join(
    f"2026-03-0{day}T19:0{scan},{day},{animal},{zone},resting\n"
    for day in (1, 2, 3)
    for scan in (0, 1, 2)
    for animal, zone in (("a1", "moss"), ("a2", "bark"))
)
EXPORT = "Time,Temp (C),RH (%)\n" + "".join(
    f"2026-04-0{day} {hour:02d}:00,{20 + hour / 10},{80 - hour / 2}\n" for day in (1, 2) for hour in range(24)
)
WATCHED = "1 m r\n2 b w\n! 1 x\n1 b\n2 -\nundo\nnote fed 1\n1 m\nY m3 b2 -1\nfinish\n"


@dataclass(frozen=True)
class Trial:
    """A command: its words (``{study}`` and ``{new}`` filled in), what it says once it is done, and what it is fed.

    ``again``: whether the same command given twice leaves what once leaves. ``pieces``: it may stop between
    whole pieces (several files, several sessions), each of them all there or not at all. ``call``: what is run in the
    command's place, where that is a screen and needs a terminal.
    """

    name: str
    words: tuple[str, ...]
    says: str
    again: bool = False
    pieces: bool = False
    fed: str = ""
    makes: str = "study"
    call: Callable[[Path], None] | None = None


SPENT = "date,session,animal,behaviour,minutes,of minutes\n" + "".join(
    f"2026-03-0{day},{day},{animal},resting,{4 + day},10\n" for day in (1, 2, 3) for animal in ("a1", "a2")
)


def declare(study: Path) -> None:
    """What `build` does when a label is changed: into study.toml at once, and said."""
    try:
        draft = open_draft(study)
    except OSError as error:
        print(f"Fault: {error}", file=sys.stderr, flush=True)
        raise SystemExit(1) from None
    draft.do([Edit(("zones", "moss", "label"), "Deep moss")])
    if draft.told or draft.unsaved:
        print(f"Fault: {draft.told}", file=sys.stderr, flush=True)
        raise SystemExit(1)
    print("Saved: Deep moss", flush=True)


TRIALS = {
    trial.name: trial
    for trial in (
        Trial("new", ("new", "{new}"), "", makes="new"),
        Trial("seen", ("seen", "a1", "moss", "resting"), "Saved:"),
        Trial("seen, the first", ("seen", "a1", "moss", "resting"), "Saved:", makes="bare"),
        Trial("look", ("look", "a1=moss,r", "a2=-", "young=m3,b2,-1"), "Saved:"),
        Trial("note", ("note", "weighed", "a1", "23.5"), "Saved:"),
        Trial("note over", ("note", "shedding", "a2", "over"), "Saved:"),
        Trial("mend", ("mend", "2026-02-01", "2", "--zone", "bark"), "Now:"),
        Trial("mend a session", ("mend", "2026-02-01", "--take-back"), "Taken back"),
        Trial("adjust", ("adjust", "water", "moss", "2", "l", "--expects", "moss:up"), "on record for"),
        Trial("adjust by lot", ("adjust", "heat", "bark", "--draw-from", "2026-06-01", "--draw-until", "2026-06-30"),
              "the lot fell"),
        Trial("sightings", ("sightings", "{beside}/old.csv", "--yes"), "rows taken in", True, True),
        Trial("sightings --undo", ("sightings", "{beside}/before.csv", "--undo"), "taken back out"),
        Trial("readings", ("readings", "{beside}/L1.csv", "{beside}/L2.csv", "--yes"), "L2.csv: ", True, True),
        Trial("readings --undo", ("readings", "--undo", "{beside}/L1_march.csv"), "taken out again", True),
        Trial("readings --salt-point", ("readings", "--salt-point", "L1", "NaCl", "20", "78"), "noted in study.toml",
              True),
        Trial("export", ("export", "{beside}/out/tables"), "adjustments.parquet", True, True, makes="out"),
        Trial("report", ("report", "-o", "{beside}/out/page.html"), "", True, makes="out"),
        Trial("zones --csv", ("zones", "--csv", "{beside}/out/zones.csv"), "", True, makes="out"),
        Trial("plan --ics", ("plan", "--ics", "{beside}/out/plan.ics", "--now", "2026-03-01"), "", True, makes="out"),
        Trial("sightings of minutes", ("sightings", "{beside}/spent.csv", "--yes"), "rows taken in", True, True),
        Trial("tracks", ("tracks", "{beside}/cameras.csv", "--yes"), "on record", True, True, makes="tracked"),
        Trial("build", (), "Saved:", True, call=declare),
        Trial("share", ("share", "-o", "{beside}/out/shared.json", "--force"), "", True, makes="out"),
        Trial("across --csv", ("across", "{beside}/study", "--csv", "{beside}/out/across.csv"), "", True, makes="out"),
        Trial("zones --plot", ("zones", "--plot", "{beside}/out/zones.svg"), "", True, makes="out"),
        Trial("watch", ("watch", "--plain", "--quiet", "0"), "Saved", pieces=True, fed=WATCHED),
    )
}  # fmt: skip


def make_base(folder: Path) -> Path:
    """A study with something of everything, made once and copied; the tables lie beside it."""
    study = study_folder(folder / "study", TWO_ZONES)
    scans(study, "2026-02-01T19:00", [("moss", "bark"), ("moss", None)], animals=("a1", "a2"))
    study_folder(folder / "bare", TWO_ZONES)
    (folder / "out").mkdir()
    (folder / "old.csv").write_text(SIGHTINGS)
    (folder / "spent.csv").write_text(SPENT)
    study_folder(folder / "tracked", TRACKED)
    # Two nights: a session each.
    (folder / "cameras.csv").write_text(
        "time,ax,ay,bx,by\n"
        + "".join(
            f"2026-03-0{night}T22:{second // 60:02d}:{second % 60:02d},{15 + 25 * (second // 600 % 2)},20,55,30\n"
            for night in (1, 2)
            for second in range(0, 1800, 2)
        )
    )
    (folder / "before.csv").write_text(SIGHTINGS.replace("2026-03", "2026-01"))
    (folder / "L1.csv").write_text(EXPORT)
    (folder / "L2.csv").write_text(EXPORT.replace(",2", ",1"))
    (folder / "L1_march.csv").write_text(EXPORT.replace("2026-04", "2026-03"))
    at = ["--study", str(study)]
    for words in (
        ["sightings", str(folder / "before.csv"), "--yes", *at],
        ["readings", str(folder / "L1_march.csv"), "--yes", *at],
        ["note", "shedding", "a2", "--at", "2026-02-03T20:00", *at],
    ):
        cli([*words], standalone_mode=False)
    return folder


@dataclass
class Ended:
    """How a command ended: its exit status (-9: killed), what it said, and its operations."""

    status: int
    out: str
    err: str
    seconds: float
    told: list[str] = field(default_factory=list)
    reads: int = 0

    @property
    def gone(self) -> bool:
        return self.status in (137, -9)


def run(
    trial: Trial, place: Path, cut: Cut, kill_after: float | None = None, shown: Path | None = None
) -> Ended:
    """The command in a process of its own, with the failing file system under it. ``shown``: where its words go."""
    out, err, fed, told = (place / f".{name}" for name in ("out", "err", "fed", "told"))
    out = shown or out
    fed.write_text(trial.fed)
    for path in (out, err):
        if path != shown:
            path.write_text("")
    told.unlink(missing_ok=True)
    words = [w.format(study=place / "study", new=place / "fresh", beside=place) for w in trial.words]
    if trial.makes != "new" and words[:1] != ["across"]:
        words += ["--study", str(place / (trial.makes if trial.makes in ("bare", "tracked") else "study"))]
    cut.root = str(place)
    begun = time.monotonic()
    pid = os.fork()
    if pid == 0:
        _child(trial, words, cut, (fed, out, err, told))
    if kill_after is not None:
        time.sleep(kill_after)
        os.kill(pid, signal.SIGKILL)
    end = begun + 60
    while not (done := os.waitpid(pid, os.WNOHANG))[0]:
        if time.monotonic() > end:
            os.kill(pid, signal.SIGKILL)
            raise AssertionError(f"{trial.name} did not end: {cut.kind} at {cut.at}")
        time.sleep(0.0005)
    status = os.waitstatus_to_exitcode(done[1])
    # Killed at that very instant it is there and empty.
    reads, *lines = (told.read_text().splitlines() if told.exists() else []) or ["0"]
    return Ended(
        status, "" if shown else out.read_text(), err.read_text(), time.monotonic() - begun, lines, int(reads)
    )


def _child(trial: Trial, words: list[str], cut: Cut, streams: tuple[Path, ...]) -> None:
    """Never returns."""
    # The keeper's own tokens and kept summaries are files like any other.
    os.environ |= {"XDG_CONFIG_HOME": f"{cut.root}/config", "XDG_CACHE_HOME": f"{cut.root}/cache"}
    # matplotlib's own folder is not: it wants one before it can be imported.
    os.environ.setdefault("MPLCONFIGDIR", tempfile.gettempdir())
    fed, out, err, told = streams
    for number, path, flags in ((0, fed, os.O_RDONLY), (1, out, os.O_WRONLY), (2, err, os.O_WRONLY)):
        os.dup2(os.open(path, flags | (os.O_CREAT | os.O_TRUNC if number else 0)), number)
    for number, mode, name in ((0, "r", "stdin"), (1, "w", "stdout"), (2, "w", "stderr")):
        setattr(sys, name, os.fdopen(number, mode, closefd=False))
    status = 70
    try:
        sys.argv = ["zoneuse", *words]
        install(cut)
        if trial.call:
            trial.call(Path(cut.root) / "study")
            status = 0
        else:
            main()
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else int(end.code is not None)
    except BaseException:
        import traceback

        traceback.print_exc()
    finally:
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
        if cut.kind == "power" and cut.at > cut.done:
            cut.lose()
        if not cut.kind:
            handle = REAL["open"](told, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o644)
            REAL["write"](handle, "\n".join([str(cut.reads), *cut.told]).encode())
        os._exit(status)


# What differs each time a command is given: ids, and the time it was.
_OWN = ("of", "replaces", "adjustment", "day", "seed", "until")


def holds(place: Path, trial: Trial) -> Counter[str]:
    """What the study holds, without ids and times of writing. Raises AssertionError where it is not sound."""
    if trial.makes == "new":
        fresh = place / "fresh"
        if not fresh.exists():
            return Counter()
        load_declaration(fresh)
        return Counter(str(p.relative_to(fresh)) for p in fresh.rglob("*"))
    if trial.makes == "out":
        return _files(place / "out")
    study = place / trial.makes
    declared = load_declaration(study)
    journals = read_journals(study)
    assert all(p.hint for p in journals.problems), journals.problems
    taken, problems = intakes(study)
    assert not problems, problems
    held: Counter[str] = Counter([f"zone {zone.id} {zone.label}" for zone in declared.zones.values()])
    for session in journals.sessions.values():
        for entry in (*session.entries, *session.void):
            record = entry.record
            if record.kind in ("opened", "closed"):
                continue
            fields = {k: v for k, v in record.fields.items() if k not in _OWN}
            held[f"{'' if entry in session.entries else 'void '}{record.kind} {fields}"] += 1
    for intake in taken:
        for part in intake.parts:
            rows = read(study, part.logger, intaken=[intake])
            assert len(rows.times) == part.rows
            held[f"readings {intake.file} {part.logger} {part.rows}"] += 1
    for logger in declared.loggers.values():
        for point in logger.salt_points:
            held[f"salt {logger.id} {point.salt} {point.shown_pct}"] += 1
    return held


def _files(folder: Path) -> Counter[str]:
    """What was written to take away, each of it whole or not there."""
    held: Counter[str] = Counter()
    package = folder / "tables" / "datapackage.json"
    if package.exists():
        for table in json.loads(package.read_text())["resources"]:
            data = (package.parent / table["path"]).read_bytes()
            size, digest = (
                table.get("bytes", table.get("size")),
                table.get("hash", f"sha256:{table.get('sha256')}"),
            )
            assert len(data) == size and digest == f"sha256:{hashlib.sha256(data).hexdigest()}"
            held[table["name"]] += 1
    for name, end in (("page.html", "</html>"), ("zones.csv", ""), ("plan.ics", "END:VCALENDAR"),
                      ("shared.json", "}"), ("across.csv", ""), ("zones.svg", "</svg>")):  # fmt: skip
        if (folder / name).exists():
            text = (folder / name).read_text().rstrip()
            assert text.endswith(end), text[-200:]
            held[f"{name} {text.count(chr(10)) if name.endswith('.csv') else 'whole'}"] += 1
    return held


def fresh_copy(base: Path, place: Path) -> Path:
    shutil.rmtree(place, ignore_errors=True)
    shutil.copytree(base, place)
    return place


@dataclass
class Counts:
    """Of many cuts or kills: how many there were, and what they met."""

    tried: int = 0
    done_anyway: int = 0
    undone: int = 0
    partly: int = 0
    acknowledged: int = 0
    left: int = 0
    left_unasked: int = 0


def judge(
    trial: Trial,
    place: Path,
    base: tuple[Counter[str], Counter[str]],
    ended: Ended,
    counts: Counts,
    unreadable: bool = False,
) -> None:
    """The study after a cut: sound, whole, everything acknowledged there; the command again completes it."""
    before, after = base
    assert "Traceback" not in ended.err, ended.err
    now = holds(place, trial)
    counts.tried += 1
    counts.done_anyway += now == after
    counts.undone += now == before
    counts.partly += now not in (before, after)
    left = sum(1 for p in place.rglob("*.tmp"))
    counts.left += left
    counts.left_unasked += 0 if ended.gone else left
    if unreadable and now not in (before, after):
        # It goes on with what it could read, and says what it could not.
        assert "Fault: " in ended.err, ended
    elif not trial.pieces:
        assert now in (before, after), f"half there: {now - before}"
    else:
        assert not before - now or trial.name == "watch", f"gone: {before - now}"
        assert not now - after or trial.name == "watch", f"too much: {now - after}"
    if trial.name == "watch":
        said = len(re.findall(r"^Saved:", ended.out, re.M))
        counts.acknowledged += said
        assert sum((now - before).values()) >= said, (ended.out, now - before)
        return
    if unreadable and now != after:
        assert "Fault: " in ended.err, ended
        return
    acknowledged = bool(re.search(trial.says, ended.out)) if trial.says else ended.status == 0
    counts.acknowledged += acknowledged
    if acknowledged or ended.status == 0:
        assert now == after, f"said to be done: {ended.out}"
    elif not ended.gone and not trial.again:
        assert now == before, f"said to have failed, and is there: {ended.err} {now - before}"
    if trial.again or now == before:
        once_more = run(trial, place, Cut())
        assert "Traceback" not in once_more.err, once_more.err
        assert holds(place, trial) == after, (
            once_more,
            holds(place, trial) - after,
            after - holds(place, trial),
        )


def prepared(trial: Trial, base: Path, place: Path) -> tuple[tuple[Counter[str], Counter[str]], Ended]:
    """What the study holds before and after the command when nothing goes wrong, and how that went."""
    fresh_copy(base, place)
    before = holds(place, trial)
    whole = run(trial, place, Cut())
    assert whole.status == 0, whole
    return (before, holds(place, trial)), whole
