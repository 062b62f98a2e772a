"""Edits of study.toml's text through tomlkit, each put where a person would write it.

tomlkit keeps the comments that stand above a section at the end of the section before it. So whatever is added to
a section goes in front of them, and whatever is removed leaves them behind.

The values that tomllib reads are changed by the same edits and must agree with the text afterwards: a file in which
they do not is left alone.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import tomlkit
from tomlkit.container import Container
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, InlineTable, Item, Null, Table, Whitespace

from .edits import GONE, NAMED, Edit, MovedTo, Place, changed_values


class EditError(Exception):
    """The file is written in a way that cannot be changed without touching what else is in it."""


def edited(text: str, edits: Sequence[Edit]) -> str:
    """The text with these edits done and all else as it was. Raises EditError where that cannot be."""
    try:
        wanted = changed_values(tomllib.loads(text), edits)
        for edit in edits:
            if isinstance(edit.value, MovedTo):
                text = _with_other_head(text, edit.place, edit.value.place)
        document = tomlkit.parse(text if text.endswith("\n") or not text else text + "\n")
        for edit in edits:
            if not isinstance(edit.value, MovedTo):
                _change_document(document, edit)
        after = tomlkit.dumps(document)
        agrees = tomllib.loads(after) == wanted
    except (TOMLKitError, LookupError, TypeError, AttributeError, ValueError) as error:
        raise EditError(str(error)) from error
    if not agrees:
        raise EditError("what would be written is not what was meant")
    return after


def _with_other_head(text: str, old: Place, new: Place) -> str:
    """Sections under another name, and all else as it was; that it says the same is looked at afterwards."""
    head = r"\s*\.\s*".join(re.escape(str(name)) for name in old)
    return re.sub(rf"(?m)^([ \t]*\[+[ \t]*){head}(?=[ \t]*[.\]])", rf"\g<1>{'.'.join(map(str, new))}", text)


@dataclass(frozen=True, slots=True)
class _Piece:
    """A section where it stands in the file: ``table`` is what holds its keys, ``inside`` what it lies in."""

    path: Place
    table: Any
    inside: Any


def _change_document(document: tomlkit.TOMLDocument, edit: Edit) -> None:
    """Do one edit in a document. What tomlkit cannot do raises its own errors, or comes out wrong."""
    pieces = list(_pieces(document, (), document))
    mine = [p for p in pieces if p.path == edit.place]
    if edit.value is GONE and mine:
        for piece in mine:
            _remove_section(pieces, piece)
        return
    holders = _holders(pieces, edit.place)
    depth = len(holders[0].path)
    if depth < _depth_of_section(edit.place) and _in_sections(document, pieces, edit.place[0]):
        if edit.value is not GONE:
            _add_section(document, pieces, edit)
        return
    holder = next((p for p in holders if edit.place[depth] in p.table), holders[-1])
    _change_section(holder.table, edit.place[depth:], edit.value)


def _holders(pieces: Sequence[_Piece], place: Place) -> list[_Piece]:
    """The pieces of the innermost section a place lies in."""
    above = [p for p in pieces if p.path == place[: len(p.path)] and p.path != place]
    depth = max(len(p.path) for p in above)
    return [p for p in above if len(p.path) == depth]


def _depth_of_section(place: Place) -> int:
    """How many names head the section a place should lie in: two in [zones.NAME], one in [watching]."""
    if len(place) == 1:
        return 0
    return 2 if place[0] in NAMED else 1


def _in_sections(document: Any, pieces: Sequence[_Piece], kind: str | int) -> bool:
    """Whether a kind of thing is written as sections, or not written yet."""
    return kind not in document or any(p.path[:1] == (kind,) for p in pieces)


def _pieces(container: Any, path: Place, inside: Any) -> Iterator[_Piece]:
    """The document itself, then every section in the order of the file."""
    if not path:
        yield _Piece((), container, container)
    for key, item in _body(container):
        if isinstance(item, Table) and key is not None and not key.is_dotted():
            here = (*path, key.key)
            if not item.is_super_table():
                yield _Piece(here, item, container)
            yield from _pieces(item, here, container)


def _body(container: Any) -> list[tuple[Any, Item]]:
    """The lines of a section as tomlkit keeps them: (key or None, item)."""
    inner = container if isinstance(container, Container) else container.value
    body: list[tuple[Any, Item]] = inner.body
    return body


def _made(value: Any, many_lines: bool = False) -> Item:
    """A value as it is written inside a section: on one line, a sketch on several."""
    if isinstance(value, dict):
        table = tomlkit.inline_table()
        for key, inner in value.items():
            table.append(key, _made(inner))
        return table
    if isinstance(value, list):
        array = tomlkit.array()
        for inner in value:
            array.append(_made(inner))
        return array.multiline(many_lines and len(value) > 1)
    made: Item = tomlkit.item(value)
    return made


# --- keys -----------------------------------------------------------------------------------------------------


def _change_section(table: Any, rest: Place, value: Any) -> None:
    name, deeper = rest[0], rest[1:]
    if not deeper:
        if value is GONE:
            if name in table:
                table.remove(name)
        elif name in table:
            table[name] = _made(value, name == "sketch")
        else:
            _add_key(table, str(name), _made(value, name == "sketch"))
    elif name in table:
        _change_inside(table[name], deeper, value)
    elif value is not GONE:
        nested = changed_values({}, [Edit(rest, value)])[str(name)]
        _add_key(table, str(name), _made(nested))


def _change_inside(value: Any, rest: Place, new: Any) -> None:
    """Inside a value: a list, or a table on one line."""
    for name in rest[:-1]:
        if isinstance(value, dict) and name not in value:
            if new is not GONE:
                at = rest.index(name)
                nested = changed_values({}, [Edit(rest[at:], new)])[str(name)]
                value[name] = _made(nested)
            return
        value = value[name]
    last = rest[-1]
    if new is GONE:
        if isinstance(value, list):
            del value[int(last)]
        elif last in value:
            del value[last]
    elif isinstance(value, AoT) and last == len(value):
        value.append(_section(new))
    elif isinstance(value, list) and last == len(value):
        value.append(_made(new))
    elif isinstance(value, InlineTable) and last not in value:
        value.append(str(last), _made(new))
    else:
        value[last] = _made(new)


def _add_key(table: Any, name: str, item: Item) -> None:
    """Add a key below the last one, above the comments that head what follows."""
    if isinstance(table, tomlkit.TOMLDocument):
        # Its keys stand before the first section, and below them the comments that head it.
        last = [
            key for key, value in table.body if key is not None and not isinstance(value, Table | AoT | Null)
        ][-1]
        table._insert_after(last, name, item)
        return
    heading = _cut_heading(table)
    table.append(name, item)
    _body(table).extend(heading)


def _cut_heading(table: Any) -> list[tuple[Any, Item]]:
    """Take away, and return, the blank line after the last key and all that follows it."""
    body = _body(table)
    last = max(
        (i for i, (key, item) in enumerate(body) if key is not None and not isinstance(item, Null)),
        default=-1,
    )
    start = next((i for i in range(last + 1, len(body)) if isinstance(body[i][1], Whitespace)), len(body))
    heading = body[start:]
    del body[start:]
    return heading


# --- sections -------------------------------------------------------------------------------------------------


def _section(values: dict[str, Any]) -> Table:
    table = tomlkit.table()
    for key, inner in values.items():
        table.add(key, _made(inner))
    return table


def _add_section(document: Any, pieces: Sequence[_Piece], edit: Edit) -> None:
    """A new section below the last of its kind, or at the end of the file."""
    depth = _depth_of_section(edit.place)
    values = changed_values({}, [edit])
    for name in edit.place[:depth]:
        values = values[str(name)]
    new, name = _section(values), str(edit.place[depth - 1])
    kind = [p for p in pieces if len(p.path) == depth == 2 and p.path[0] == edit.place[0]]
    last = _last_within(pieces, kind[-1]) if kind else pieces[-1]
    heading = _cut_heading(last.table) if last.path else []
    if last.path and not kind:
        _body(last.table).extend(heading)
    if last.path and not (len(kind) > 1 and _close_together(kind)):
        _body(last.table).append((None, Whitespace("\n")))
    if kind:
        kind[-1].inside.append(name, new)
        _body(new).extend(heading)
    elif depth == 2:
        above = tomlkit.table(is_super_table=True)
        above.append(name, new)
        document.append(str(edit.place[0]), above)
    else:
        document.append(name, new)


def _close_together(kind: Sequence[_Piece]) -> bool:
    """Whether the keeper writes these sections without a blank line between."""
    return not any(_ends_blank(p.table) for p in kind)


def _last_within(pieces: Sequence[_Piece], piece: _Piece) -> _Piece:
    """The last section that stands inside a section: [loggers.L1.accuracy] in [loggers.L1]."""
    inner = [p for p in pieces if p.path[: len(piece.path)] == piece.path]
    return inner[-1]


def _ends_blank(table: Any) -> bool:
    body = _body(table)
    return bool(body) and isinstance(body[-1][1], Whitespace)


def _remove_section(pieces: Sequence[_Piece], piece: _Piece) -> None:
    """Take a section out; what heads the next one stays, at the end of what stands before."""
    heading = _cut_heading(_last_within(pieces, piece).table)
    at = pieces.index(piece)
    before = pieces[at - 1]
    piece.inside.remove(str(piece.path[-1]))
    if before.path:
        _body(before.table).extend(heading[1:] if _ends_blank(before.table) else heading)
    elif heading:
        _hang_on(before.table, "".join(item.as_string() for _, item in heading))


def _hang_on(document: Any, text: str) -> None:
    """Comments go on after the last line before the first section, which tomlkit counts: it must stay one line."""
    body = _body(document)
    first = next(i for i, (_, item) in enumerate(body) if isinstance(item, Table | AoT))
    last = body[first - 1][1]
    if isinstance(last, Whitespace):
        body[first - 1] = (None, Whitespace(last.as_string() + text))
    else:
        last.trivia.trail += text
