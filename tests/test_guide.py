"""Every command and every block of code of the guide, the notebook page and the README is run, in order."""

from __future__ import annotations

import os
import pty
import re
import select
import shlex
import sys
import time
from contextlib import redirect_stderr
from io import StringIO
from pathlib import Path

import pytest

from tests.making import demo_study
from zoneuse.cli import main

ROOT = Path(__file__).parent.parent
_BLOCK = re.compile(r"^```(\w+)(?: (\S+))?\n(.*?)^```$", re.MULTILINE | re.DOTALL)
# Commands that take over the terminal: what their first screen must show.
SCREENS = {"watch": "Begin", "review": "Zones"}


def blocks(page: Path) -> list[tuple[str, str, str]]:
    """(kind, file, text) of each fenced block."""
    return [(m[1], m[2] or "", m[3]) for m in _BLOCK.finditer(page.read_text(encoding="utf-8"))]


def run_line(line: str, folder: Path) -> None:
    """Run as the person types it, in this process: loading pandas anew for forty lines would take a minute."""
    words = shlex.split(line)
    assert words[0] == "zoneuse", line
    home = {"XDG_CACHE_HOME": str(folder / "cache"), "XDG_STATE_HOME": str(folder / "state")}
    if words[1] == "demo":
        # What it tells of the study takes seconds and is looked at in tests/cli.
        demo_study(folder / words[2])
        return
    if words[1] in SCREENS:
        command = [sys.executable, "-m", "zoneuse", *words[1:]]
        opens(command, SCREENS[words[1]], folder, {**os.environ, **home})
        return
    with (
        pytest.MonkeyPatch.context() as patch,
        Path(os.devnull).open() as nothing,
        redirect_stderr(StringIO()) as said,
    ):
        patch.chdir(folder)
        patch.setattr(sys, "stdin", nothing)
        for name, value in home.items():
            patch.setenv(name, value)
        patch.setattr(sys, "argv", words)
        with pytest.raises(SystemExit) as ended:
            main()
    assert not ended.value.code, (line, said.getvalue())


def opens(command: list[str], sign: str, folder: Path, env: dict[str, str]) -> None:
    """A screen in a pseudo-terminal, until it shows what it must."""
    pid, terminal = pty.fork()
    if pid == 0:
        os.chdir(folder)
        os.execve(command[0], command, {**env, "TERM": "xterm-256color", "COLUMNS": "80", "LINES": "24"})
    seen, until = b"", time.monotonic() + 60
    try:
        while sign.encode() not in seen:
            assert time.monotonic() < until, seen[-2000:].decode("utf-8", "replace")
            if select.select([terminal], [], [], 1)[0]:
                seen += os.read(terminal, 65536)
    finally:
        os.kill(pid, 9)
        os.waitpid(pid, 0)
        os.close(terminal)


def test_the_guide_can_be_followed(tmp_path: Path) -> None:
    lines = 0
    for kind, file, text in blocks(ROOT / "docs" / "guide.md"):
        if kind == "sh":
            for line in text.splitlines():
                run_line(line, tmp_path)
                lines += 1
        elif file:
            with (tmp_path / file).open("a", encoding="utf-8") as out:
                out.write(f"\n{text}" if kind == "toml" else text)
    assert lines > 20


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    demo_study(folder / "my-demo")
    return folder


def test_the_notebook_page_runs(
    demo: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(demo)
    names: dict[str, object] = {}
    for kind, _, text in blocks(ROOT / "docs" / "notebook.md"):
        assert kind == "python"
        exec(compile(text, "notebook.md", "exec"), names)
    assert "water-1" in capsys.readouterr().out


def test_an_answer_in_a_notebook_says_what_a_terminal_says(demo: Path) -> None:
    import zoneuse

    answer = zoneuse.open_study(demo / "my-demo").shifts(slot="night")
    shown = answer._repr_html_()
    assert shown.index(answer.headline) < shown.index("<table>") < shown.index("Careful:")
    assert shown.count("<tr>") == 1 + len(answer.first_rows or ())


def test_every_command_the_readme_names_is_run_here_or_in_the_guide() -> None:
    guide = "\n".join(text for kind, _, text in blocks(ROOT / "docs" / "guide.md") if kind == "sh")
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"zoneuse ([a-z]+)", readme)) & set(
        __import__("zoneuse.cli", fromlist=["x"]).COMMANDS
    )
    ours = set(re.findall(r"^zoneuse ([a-z]+)", guide, re.MULTILINE)) | {
        "sightings",
        "build",
        "share",
        "across",
        # Run by tests/tracks and tests/live.
        "listen",
        "tracks",
    }
    assert named <= ours, named - ours
