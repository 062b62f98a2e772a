"""A page read as a browser's parser would, to look at its structure without one."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "br", "hr", "img", "link", "input", "path", "use"}


@dataclass
class Element:
    tag: str
    attrs: dict[str, str]
    inside: tuple[str, ...]
    children: list[Element] = field(default_factory=list)
    words: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        return "".join([*self.words, *(c.text for c in self.children)])

    def all(self, *tags: str) -> list[Element]:
        found = [self] if self.tag in tags else []
        return found + [e for c in self.children for e in c.all(*tags)]


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("root", {}, ())
        self.open = [self.root]
        self.wrong: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        if len(names) != len(set(names)):
            self.wrong.append(f"{tag} has an attribute twice")
        one = Element(tag, {k: v or "" for k, v in attrs}, tuple(e.tag for e in self.open))
        self.open[-1].children.append(one)
        if tag not in VOID:
            self.open.append(one)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        one = Element(tag, {k: v or "" for k, v in attrs}, tuple(e.tag for e in self.open))
        self.open[-1].children.append(one)

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        if self.open[-1].tag != tag:
            self.wrong.append(f"</{tag}> closes <{self.open[-1].tag}>")
        else:
            self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].words.append(data)


def read_page(page: str) -> tuple[Element, list[str]]:
    """The document as a tree, and what is not well-formed in it."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    return reader.root, reader.wrong + [f"<{e.tag}> is never closed" for e in reader.open[1:]]
