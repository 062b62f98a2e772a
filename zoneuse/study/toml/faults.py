"""What is wrong where study.toml cannot be read at all: the line with a mark under it, and the usual cause."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from ..problems import ProblemError, fault

_AT = re.compile(r"\(at line (\d+), column (\d+)\)")
_WIDEST = 100
_CURLY = "“”„‟‘’‚«»"
_VALUE = r"^\s*(?P<key>[^=#\[]+?)\s*=\s*"


def toml_fault(path: Path, text: str, error: Exception) -> ProblemError:
    """The one fault that stops the reading. ``error``: what the parser said."""
    lines = text.splitlines()
    message = str(error)
    found = _AT.search(message)
    number, column = (int(found[1]), int(found[2])) if found else (len(lines), 1)
    # What is missing at the end of a line is noticed on a later one.
    for i in range(number, max(0, number - 40), -1):
        if i <= len(lines) and (cause := _cause(lines[i - 1], lines[: i - 1])):
            at = column if i == number else len(lines[i - 1]) + 1
            return _told(path, lines, i, cause[0] or at, cause[1])
    if still_open := _left_open(lines[:number]):
        return _told(
            path, lines, still_open, len(lines[still_open - 1]) + 1, "a bracket is opened and not closed"
        )
    return _told(path, lines, min(number, len(lines)), column, _by_message(message))


def _left_open(lines: list[str]) -> int:
    """The last line of name = value before the fault whose brackets do not close; 0 where there is none."""
    depth, opened = 0, 0
    for number, line in enumerate(lines, 1):
        code = re.sub(r'"[^"]*"', "", _without_comment(line))
        if re.match(_VALUE, code) and depth == 0:
            opened = number
        depth += sum(code.count(c) for c in "[{") - sum(code.count(c) for c in "]}")
    return opened if depth > 0 else 0


def _told(path: Path, lines: list[str], number: int, column: int, cause: str) -> ProblemError:
    line = lines[number - 1] if lines else ""
    start = max(0, column - _WIDEST // 2)
    shown = line[start : start + _WIDEST].replace("\t", " ")
    mark = " " * max(0, min(column - 1 - start, len(shown))) + "^"
    return fault(
        "not-toml", path, f"line {number}", f"cannot be read at the mark\n    {shown}\n    {mark} {cause}"
    )


def _by_message(message: str) -> str:
    lower = message.lower()
    if "overwrite" in lower or "twice" in lower or "already" in lower or "redefin" in lower:
        return "this name stands here a second time; each may stand once in its section"
    if "exceeds the limit" in lower:
        return "a number of thousands of digits"
    if "date" in lower:
        return "there is no such date or time; write 2026-02-20, or 2026-02-20T19:30:00"
    if "unterminated" in lower or "end of document" in lower:
        return "a quotation mark or bracket is opened and not closed"
    return 'written otherwise than name = value; a text stands in "quotes", a section\'s name in [brackets]'


def _cause(line: str, before: list[str]) -> tuple[int, str] | None:
    """The column of the mark from 1 (0: where the parser stopped), and what to write instead."""
    code = _without_comment(line)
    for look in _LOOKS:
        if cause := look(code):
            return cause
    header = re.fullmatch(r"\s*\[+([^\[\]]+)\]+\s*", code)
    if header and any(_without_comment(other).strip() == code.strip() for other in before):
        if code.strip().startswith("[["):
            return None
        return 1, f"[{header[1].strip()}] stands here a second time; put both parts under one"
    return None


def _without_comment(line: str) -> str:
    """The line up to a # that does not stand within quotes."""
    quoted = ""
    for i, letter in enumerate(line):
        if letter in "\"'" and quoted in ("", letter):
            quoted = "" if quoted else letter
        elif letter == "#" and not quoted:
            return line[:i].rstrip()
    return line.rstrip()


def _curly(code: str) -> tuple[int, str] | None:
    bare = re.sub(r'"[^"]*"', lambda m: " " * len(m[0]), code)
    at = next((i for i, c in enumerate(bare) if c in _CURLY), None)
    return None if at is None else (at + 1, 'a curly quote; write the straight one, "')


def _open_quote(code: str) -> tuple[int, str] | None:
    if '"""' in code or "'''" in code or code.replace('\\"', "").count('"') % 2 == 0:
        return None
    return len(code) + 1, 'a quotation mark is missing: write " before and after a text'


def _decimal_comma(code: str) -> tuple[int, str] | None:
    bare = re.sub(r'"[^"]*"', lambda m: " " * len(m[0]), code)
    for found in re.finditer(r"=\s*(-?\d+),(\d+)(?=\s*(?:[,}]|$))", bare):
        return found.start(1) + len(found[1]) + 1, f"a decimal comma; write {found[1]}.{found[2]}"
    return None


def _date(code: str) -> tuple[int, str] | None:
    bare = re.sub(r'"[^"]*"', lambda m: " " * len(m[0]), code)
    if found := re.search(r"=\s*(\d{4})-(\d{1,2})-(\d{1,2})(?!\d)", bare):
        if len(found[2]) < 2 or len(found[3]) < 2:
            right = f"{found[1]}-{int(found[2]):02d}-{int(found[3]):02d}"
            return found.start(1) + 1, f"a date takes two digits for month and day; write {right}"
        month, day = int(found[2]), int(found[3])
        if not (1 <= month <= 12 and 1 <= day <= 31):
            return found.start(1) + 1, "there is no such date; write year-month-day, as in 2026-02-20"
    if found := re.search(r"=\s*(\d{1,2})[./](\d{1,2})[./](\d{4})", bare):
        right = f"{found[3]}-{int(found[2]):02d}-{int(found[1]):02d}"
        return found.start(1) + 1, f"a date is written year-month-day: {right}"
    if found := re.search(r"=\s*(\d{1,2}:\d{2})\s*(?=[,}\]]|$)", bare):
        return found.start(1) + 1, f'a clock time stands in quotes: "{found[1]}"'
    return None


def _name(code: str) -> tuple[int, str] | None:
    """Ids take plain letters; what is shown is the label."""
    header = re.match(r"\s*\[+\s*([^\[\]]*)\]*\s*$", code)
    bare = header[1] if header else (m["key"] if (m := re.match(_VALUE, code)) else "")
    if '"' in bare or not bare:
        return None
    start = code.index(bare)
    strange = next(
        (i for i, c in enumerate(bare) if not (c.isascii() and (c.isalnum() or c in "._- ="))), None
    )
    if strange is not None:
        plain = "an id takes the letters a to z, digits, _ and -; the label may be anything"
        return start + strange + 1, plain
    if header and " " in bare.strip():
        return start + bare.index(" ") + 1, f"an id has no spaces; write [{bare.strip().replace(' ', '_')}]"
    if header and not code.rstrip().endswith("]"):
        return len(code) + 1, "the bracket ] is missing"
    return None


def _bare_text(code: str) -> tuple[int, str] | None:
    found = re.search(r"=\s*([A-Za-zÀ-ÿ][^\"'\[\]{},]*)", re.sub(r'"[^"]*"', lambda m: " " * len(m[0]), code))
    if not found or found[1].strip() in ("true", "false", "inf", "nan"):
        return None
    word = found[1].strip()
    if word.lower() in ("true", "false", "yes", "no", "on", "off"):
        right = "true" if word.lower() in ("true", "yes", "on") else "false"
        return found.start(1) + 1, f"write {right}, in small letters"
    return found.start(1) + 1, f'a text stands in quotes: "{word}"'


def _no_value(code: str) -> tuple[int, str] | None:
    if re.fullmatch(r"\s*[\w.-]+\s*=\s*", code):
        return len(code) + 1, "nothing stands behind the ="
    if re.fullmatch(r"\s*[\w-]+(\s*:\s*|\s+)\S.*", code) and "=" not in code:
        return 1, "a name and its value have = between them"
    return None


_LOOKS: tuple[Callable[[str], tuple[int, str] | None], ...] = (
    _curly, _open_quote, _date, _decimal_comma, _name, _bare_text, _no_value,
)  # fmt: skip
