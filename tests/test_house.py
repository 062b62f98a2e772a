"""The house rules that a machine can hold: imports run one way, the recorder stays light, demos are made."""

from __future__ import annotations

import ast
import importlib
import re
import shutil
import subprocess
import sys
import tomllib
from collections import Counter
from pathlib import Path

import pytest

from zoneuse.answers.registry import ANSWERS

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "zoneuse"
# Checksums of Parquet files, and of the records that hold them.
_CRC = re.compile(rb'"crc": "[0-9a-f]{8}"')
# The rooms from the ground up. A room may import those named here, all of them below it; stats stands alone, and
# what records a session knows no answer.
_BELOW = ("study", "journal", "readings", "live", "tables", "stats", "pictures")
FLOORS: dict[str, set[str]] = {
    "study": set(),
    "journal": {"study"},
    "readings": {"study"},
    "live": {"study", "journal", "readings"},
    "tables": {"study", "journal", "readings"},
    "stats": set(),
    "pictures": {"study"},
    "answers": {*_BELOW},
    "across": {*_BELOW, "answers"},
    "recording": {"study", "journal", "tables", "stats"},
    "figures": {*_BELOW, "answers"},
    "screens": {*_BELOW, "answers", "recording", "figures"},
    "page": {*_BELOW, "answers", "figures"},
    "export": {*_BELOW, "answers", "figures"},
    "cli": {*_BELOW, "answers", "across", "recording", "figures", "screens", "page", "export"},
}
HEAVY = ("pandas", "pyarrow", "scipy", "statsmodels", "matplotlib", "numpy")


def rooms_imported(path: Path) -> set[str]:
    """The rooms of zoneuse a file imports, wherever in it the import stands."""
    here = path.relative_to(PACKAGE).parts
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = list(here[: len(here) - node.level]) if node.level else []
            prefix = ["zoneuse", *base] if node.level else []
            names = [".".join([*prefix, *filter(None, [node.module])])]
            names += [f"{names[0]}.{alias.name}" for alias in node.names]
        else:
            continue
        found |= {n.split(".")[1] for n in names if n.startswith("zoneuse.")}
    return found & FLOORS.keys()


def test_the_floors_are_those_of_the_design_and_every_room_has_one() -> None:
    # From the ground up, as the design lists them; what a picture shows lies below the answers, its drawing above.
    design = [
        "study", "journal", "readings", "live", "tables", "stats", "pictures", "answers", "across", "recording",
        "figures", "screens", "page", "export", "cli",
    ]  # fmt: skip
    assert list(FLOORS) == design
    assert {p.parent.name for p in PACKAGE.glob("*/__init__.py")} == {*design}
    for place, room in enumerate(design):
        assert FLOORS[room] <= {*design[:place]}, room


@pytest.mark.parametrize("room", FLOORS)
def test_imports_run_downward_only(room: str) -> None:
    wrong = {
        f"{path.relative_to(ROOT)} imports {other}"
        for path in (PACKAGE / room).rglob("*.py")
        for other in rooms_imported(path) - FLOORS[room] - {room}
    }
    assert wrong == set()


def loaded(code: str) -> set[str]:
    """Top-level modules a fresh interpreter has loaded after running some code."""
    run = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys; print(*sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    )
    return {name.split(".")[0] for name in run.stdout.split()}


@pytest.mark.parametrize(
    "code",
    [
        "import zoneuse, zoneuse.cli",
        "import zoneuse.study.toml.file, zoneuse.study.names, zoneuse.journal.reader, zoneuse.journal.writer",
        "from zoneuse.cli.records import adjusting, mending, recording, watching",
    ],
)
def test_what_opens_beside_a_moving_animal_loads_nothing_heavy(code: str) -> None:
    assert not loaded(code) & set(HEAVY)


def test_help_loads_no_command() -> None:
    code = "import sys; sys.argv = ['zoneuse', '--help']\nfrom zoneuse.cli import cli\ncli(standalone_mode=False)"
    assert not loaded(code) & {*HEAVY, "textual", "rich"}
    # As a person starts it: what it says beside the answer reads no study.toml.
    code = (
        "import contextlib, sys; sys.argv = ['zoneuse', '--help']\nfrom zoneuse.cli import main\n"
        "with contextlib.suppress(SystemExit):\n    main()"
    )
    assert not loaded(code) & {*HEAVY, "textual", "rich", "tomllib", "tomlkit", "zoneinfo"}


def test_answers_do_without_what_is_slow_to_load() -> None:
    # scipy.stats costs 1.5 s to import and any piece of statsmodels over 2 s.
    run = subprocess.run(
        [
            sys.executable,
            "-c",
            "import zoneuse.answers.zones.ask, zoneuse.answers.preference.ask, sys; print(*sys.modules)",
        ],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert not {"scipy.stats", "statsmodels", "matplotlib"} & set(run.stdout.split())


def test_only_the_agreed_things_stand_at_the_top() -> None:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode:
        pytest.skip("not a git checkout")
    top = {name.split("/")[0] for name in listed.stdout.split("\0") if name}
    agreed = {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "zoneuse",
        "tests",
        "demo_sessions",
        "docs",
    }
    assert {name for name in top if not name.startswith(".")} <= agreed


def test_the_demo_studies_are_what_their_script_makes(tmp_path: Path) -> None:
    made = tmp_path / "demo_sessions"
    shutil.copytree(ROOT / "demo_sessions", made)
    subprocess.run([sys.executable, str(made / "make_demo.py")], check=True, cwd=ROOT)
    for study in ("cellar", "skink"):
        names = {p.relative_to(made) for p in (made / study).rglob("*") if p.is_file()}
        kept = {
            p.relative_to(ROOT / "demo_sessions")
            for p in (ROOT / "demo_sessions" / study).rglob("*")
            if p.is_file()
        }
        assert names == kept
        for name in names:
            # Parquet holds the version of the library that wrote it; its readings are compared by the answers.
            if name.suffix != ".parquet":
                one, other = ((folder / name).read_bytes() for folder in (made, ROOT / "demo_sessions"))
                assert _CRC.sub(b"", one) == _CRC.sub(b"", other), name


# --- shapes of files and functions --------------------------------------------------------------------------

SOURCES = sorted(PACKAGE.rglob("*.py"))
# Imported under another name than it is installed by; tzdata is data, read by zoneinfo.
IMPORTED_AS = {"tzdata": "zoneinfo"}


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_files_are_small_and_functions_take_five_by_place(path: Path) -> None:
    text = path.read_text("utf-8")
    assert len(text.splitlines()) <= 400
    long = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            given = [a.arg for a in (*node.args.posonlyargs, *node.args.args) if a.arg not in ("self", "cls")]
            long += [f"{node.name}:{node.lineno}"] if len(given) > 5 else []
    assert long == []


def test_folders_hold_no_more_files_than_a_person_sees_at_once() -> None:
    files = [path for path in SOURCES if path.name != "__init__.py"]
    held = Counter(path.parent.relative_to(PACKAGE).as_posix() for path in files)
    full = {folder: n for folder, n in held.items() if n > 15}
    assert full == {}, "group them by what they do"


def test_no_function_has_more_than_fifteen_ways_through_it() -> None:
    visit = pytest.importorskip("radon.complexity").cc_visit
    tangled = {
        f"{path.relative_to(PACKAGE).as_posix()}:{one.fullname}": one.complexity
        for path in SOURCES
        for block in visit(path.read_text("utf-8"))
        for one in (block, *getattr(block, "methods", ()))
        if one.letter != "C" and one.complexity > 15
    }
    assert tangled == {}


def imports_of(path: Path, known: set[str]) -> set[str]:
    """The modules of zoneuse a file imports, wherever the import stands, for types too."""
    package = ["zoneuse", *path.relative_to(PACKAGE).parts[:-1]]
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            names = {f"{module}.{alias.name}" for alias in node.names}
            found |= (names & known) or ({module} & known)
    return found


def known_modules() -> dict[str, Path]:
    """The package's files by their dotted names."""
    dotted = {".".join(("zoneuse", *p.relative_to(PACKAGE).with_suffix("").parts)): p for p in SOURCES}
    return {name.removesuffix(".__init__"): path for name, path in dotted.items()}


def circles(imports: set[tuple[str, str]]) -> set[str]:
    """What stands in a circle of imports, or between two."""
    above = {name: {other for one, other in imports if one == name} for pair in imports for name in pair}
    # What imports nothing that is left can be taken away, and what nothing that is left imports.
    while free := {n for n, on in above.items() if not on}:
        above = {n: on - free for n, on in above.items() if n not in free}
    while top := {n for n in above if not any(n in on for on in above.values())}:
        above = {n: on for n, on in above.items() if n not in top}
    return set(above)


def test_no_files_and_no_stages_of_a_room_import_each_other_in_a_circle() -> None:
    assert circles({("a", "b"), ("b", "c"), ("c", "b"), ("c", "d")}) == {"b", "c"}
    names = known_modules()
    imports = {(one, other) for one, path in names.items() for other in imports_of(path, set(names)) - {one}}
    assert circles(imports) == set()
    for room in {name.rpartition(".")[0] for name in names} - {""}:
        # What stands side by side in a room: its files, and its folders as wholes.
        inside = [tuple(n[len(room) + 1 :].split(".")[0] for n in p) for p in imports if within(room, *p)]
        assert circles({(one, other) for one, other in inside if one != other}) == set(), room


def within(room: str, *names: str) -> bool:
    """Whether all of these stand in a room."""
    return all(name.startswith(f"{room}.") for name in names)


def test_an_array_of_numbers_is_named_once() -> None:
    named = [p.relative_to(PACKAGE).as_posix() for p in SOURCES if "\nFloats = " in p.read_text("utf-8")]
    assert named == ["stats/arrays.py"]


def test_what_is_declared_is_imported_and_what_is_imported_is_declared() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = [d for name in ("xlsx", "cluster", "live") for d in project["optional-dependencies"][name]]
    declared = {re.split(r"[^\w-]", d)[0].replace("-", "_") for d in (*project["dependencies"], *extras)}
    imported = {
        name.split(".")[0]
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        for name in (
            [a.name for a in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom) and not node.level
            else []
        )
    }
    outside = {n for n in imported if n and n not in sys.stdlib_module_names and n != "zoneuse"}
    assert outside <= declared, "imported and not declared"
    assert {IMPORTED_AS.get(d, d) for d in declared} - imported == set()


# What others ask of a room stands at its door. Commands and screens are no rooms to ask: they ask others.
DOORS = (
    "study", "journal", "tables", "pictures", "figures", "page", "export", "recording", "live.tracks", "live.heard",
    *(f"readings.{name}" for name in ("recognise", "times", "read", "store", "trust")),
    *sorted(f"stats.{p.name}" for p in (PACKAGE / "stats").iterdir() if (p / "__init__.py").exists()),
    *(f"answers.{kind.folder}" for kind in ANSWERS),
)  # fmt: skip


@pytest.mark.parametrize("room", DOORS)
def test_each_room_names_its_public_functions_at_its_door(room: str) -> None:
    door = importlib.import_module(f"zoneuse.{room}")
    assert door.__all__ and len(set(door.__all__)) == len(door.__all__)
    for name in door.__all__:
        found = getattr(door, name)
        # Defined in the room itself: a door hands on nothing of another's.
        assert getattr(found, "__module__", f"zoneuse.{room}.").startswith(f"zoneuse.{room}."), name
        assert not callable(found) or (found.__doc__ or "").strip(), name
    with pytest.raises(AttributeError):
        door.no_such_thing  # noqa: B018
