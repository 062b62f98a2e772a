"""What zoneuse is made of: few dependencies, each bounded below and declared; the wheel runs away from the tree."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from tests.floors import floors

ROOT = Path(__file__).parent.parent.parent
BROKER = ROOT / "zoneuse" / "live" / "heard" / "broker.py"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]


def declared(lines: list[str]) -> dict[str, str]:
    """Each requirement's bound by its name."""
    found = {}
    for line in lines:
        for sign in (">=", "=="):
            name, mark, bound = line.partition(sign)
            if mark:
                found[name.split("[")[0].lower()] = f"{sign}{bound}"
                break
        else:
            raise AssertionError(f"{line} has no lower bound")
    return found


def imported() -> set[str]:
    names = set()
    for path in (ROOT / "zoneuse").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import):
                names |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                names.add(node.module.split(".")[0])
    return {n for n in names if n not in sys.stdlib_module_names and n != "zoneuse"}


def test_dependencies_are_few_bounded_below_and_all_declared() -> None:
    needed = declared(PROJECT["dependencies"])
    optional = {
        n.replace("-", "_") for extra in PROJECT["optional-dependencies"].values() for n in declared(extra)
    }
    assert len(needed) <= 14
    assert imported() - needed.keys() <= optional & {
        "python_calamine", "distributed", "aiomqtt", "bleak", "cryptography",
    }  # fmt: skip


def test_every_package_a_user_may_need_has_a_floor_that_ci_installs() -> None:
    """`.ci/run` runs a part of the suite on these; python 3.11 is the lowest itself."""
    extras = {e: p for e, p in PROJECT["optional-dependencies"].items() if e not in ("test", "lint", "bench")}
    meant = declared(PROJECT["dependencies"]) | {
        n: b for extra in extras.values() for n, b in declared(extra).items()
    }
    assert {name.lower(): version for name, version in floors().items()} == {
        name: bound.lstrip(">=") for name, bound in meant.items()
    }
    assert "python -m tests.floors" in (ROOT / ".ci" / "run").read_text("utf-8")


def test_nothing_opens_a_connection_or_runs_text_as_code() -> None:
    """No library for the network is imported, nothing unpickled, evaluated or handed to a shell."""
    network = {
        "socket",
        "ssl",
        "http",
        "urllib",
        "urllib3",
        "requests",
        "ftplib",
        "smtplib",
        "xmlrpc",
        "webbrowser",
        "pickle",
        "shelve",
    }
    for path in (ROOT / "zoneuse").rglob("*.py"):
        tree = ast.parse(path.read_text("utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                if path == BROKER:  # asked for by `listen`, and by nothing else
                    continue
                assert not network & {a.name.split(".")[0] for a in node.names}, path
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                assert node.module.split(".")[0] not in network, path
            elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id not in ("eval", "exec", "compile", "__import__"), path
            elif isinstance(node, ast.keyword) and node.arg == "shell":
                raise AssertionError(path)


def test_the_wheel_runs_the_demo_from_outside_the_tree(tmp_path: Path) -> None:
    pytest.importorskip("hatchling")
    built = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert built.returncode == 0, built.stderr
    (wheel,) = tmp_path.glob("*.whl")
    installed, elsewhere = tmp_path / "installed", tmp_path / "elsewhere"
    with zipfile.ZipFile(wheel) as packed:
        names = packed.namelist()
        packed.extractall(installed)
    assert not [n for n in names if n.startswith("tests") or n.endswith(".pyc")]
    elsewhere.mkdir()
    code = f"import sys; sys.path.insert(0, {str(installed)!r}); import zoneuse; print(zoneuse.__file__)\n"
    code += "from zoneuse.cli import main; sys.argv = ['zoneuse', 'demo', 'my-demo']; main()"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=elsewhere, capture_output=True, text=True, check=False,
        env={k: v for k, v in os.environ.items() if k != "PYTHONPATH"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(str(installed)) and "Next session" in " ".join(done.stdout.split())
    assert (elsewhere / "my-demo" / "study.toml").exists()


# Words that name a licence an MIT package may rest on; any other is looked at by a person first.
_FITS = (
    "mit",
    "bsd",
    "apache",
    "mpl",
    "psf",
    "python software",
    "hpnd",
    "unlicense",
    "isc",
    "zlib",
    "public domain",
    "license agreement for matplotlib",
)


def _needs(name: str, seen: dict[str, str]) -> dict[str, str]:
    """Every distribution that comes with one, by its licence as its own metadata says it; extras left out."""
    import importlib.metadata as metadata
    import re

    key = re.sub(r"[-_.]+", "-", name).lower()
    if key in seen:
        return seen
    try:
        found = metadata.metadata(name)
    except metadata.PackageNotFoundError:
        return seen
    told = [found.get("License-Expression") or "", found.get("License") or ""]
    told += [c for c in found.get_all("Classifier") or [] if c.startswith("License")]
    seen[key] = " ".join(told)[:400].lower()
    for line in metadata.requires(name) or []:
        if "extra ==" not in line:
            _needs(re.split(r"[ ;<>=!~\[(]", line, maxsplit=1)[0], seen)
    return seen


def test_every_runtime_dependency_has_a_licence_that_fits() -> None:
    import re
    import tomllib

    declared = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    seen: dict[str, str] = {}
    for line in [*declared["dependencies"], *declared["optional-dependencies"].get("xlsx", [])]:
        _needs(re.split(r"[ ;<>=!~\[(]", line, maxsplit=1)[0], seen)
    assert len(seen) > 15
    unfit = {n: said for n, said in seen.items() if not any(word in said for word in _FITS)}
    assert unfit == {}
    # A copyleft licence is named as such even where another word fits beside it (LGPL by linking is fine).
    copyleft = re.compile(r"(?<!l)gpl|(?<!lesser )general public")
    assert not {n: said for n, said in seen.items() if copyleft.search(said) and " or " not in said}
