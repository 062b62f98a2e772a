"""Findings are data: no code reads a sentence back to decide anything."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from zoneuse.answers.finding import Confounder, Finding
from zoneuse.answers.reasons import REASONS
from zoneuse.answers.registry import ANSWERS, verdicts_of

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "zoneuse"
# What people are told: sentences of findings, cautions and notes, and headlines.
SPOKEN = {"says", "headline"}
# What asks something of a text.
ASKING = {"startswith", "endswith", "split", "rsplit", "partition", "rpartition", "find", "index", "count",
          "match", "search", "fullmatch", "findall", "finditer", "removesuffix", "removeprefix"}  # fmt: skip


def spoken(node: ast.AST) -> bool:
    """Whether an expression is, or holds, a sentence for people."""
    return any(isinstance(n, ast.Attribute) and n.attr in SPOKEN for n in ast.walk(node))


def reads_back(tree: ast.AST) -> list[int]:
    """Lines on which a sentence is compared, searched or split."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            # ``is None`` asks whether there is one, not what it says.
            asks = any(not isinstance(op, ast.Is | ast.IsNot) for op in node.ops)
            if asks and any(spoken(side) for side in (node.left, *node.comparators)):
                found.append(node.lineno)
        elif isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else ""
            own = spoken(node.func.value) if isinstance(node.func, ast.Attribute) else False
            given = any(spoken(a) for a in node.args)
            if name in ASKING and (own or (given and name in ("match", "search", "fullmatch", "findall"))):
                found.append(node.lineno)
        elif isinstance(node, ast.Subscript) and spoken(node.value):
            found.append(node.lineno)
    return found


@pytest.mark.parametrize("room", ["answers", "page", "screens", "cli", "export", "recording"])
def test_nothing_reads_a_sentence_back(room: str) -> None:
    wrong = {
        f"{path.relative_to(ROOT)}:{line}"
        for path in (PACKAGE / room).rglob("*.py")
        for line in reads_back(ast.parse(path.read_text(encoding="utf-8")))
    }
    assert wrong == set()


@pytest.mark.parametrize(
    "code",
    [
        "'would settle it' in finding.says",
        "[n for n in found.notes if n.says.startswith(f'{change.id}:')]",
        "re.search('more days?', nearest.says)",
        "first.says.split(' [')[0]",
        "caution.says == 'x'",
        "answer.headline[:3]",
    ],
)
def test_the_walk_finds_what_it_is_to_find(code: str) -> None:
    assert reads_back(ast.parse(code))


def test_a_reason_is_one_of_the_registry() -> None:
    assert Finding(("moss",), "too early", reason="too_few_units").reason in REASONS
    with pytest.raises(ValueError, match="one of"):
        Finding(("moss",), "too early", reason="not enough")
    with pytest.raises(ValueError, match="one of"):
        Confounder("a second change at once")


def strings_of(path: Path) -> dict[int, str]:
    """The strings in a file by their lines, without docstrings and what errors say."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    aside = [n.value for n in ast.walk(tree) if isinstance(n, ast.Expr)]
    aside += [part for n in ast.walk(tree) if isinstance(n, ast.Raise) for part in ast.walk(n)]
    # A door names what it hands out.
    doors = [n for n in ast.walk(tree) if isinstance(n, ast.Call) and getattr(n.func, "id", "") == "opened"]
    aside += [part for n in doors for part in ast.walk(n)]
    texts = [n for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)]
    return {n.lineno: str(n.value) for n in texts if n not in aside}


def test_no_verdict_and_no_sentence_stands_in_the_statistics() -> None:
    verdicts = {word for kind in ANSWERS for word in verdicts_of(kind)}
    assert {"avoided", "peaked", "too early", "rose"} <= verdicts
    wrong = {
        f"{path.relative_to(ROOT)}:{line}": text
        for path in (PACKAGE / "stats").rglob("*.py")
        for line, text in strings_of(path).items()
        if text in verdicts or (text.count(" ") > 4 and "=" not in text)
    }
    assert wrong == {}
