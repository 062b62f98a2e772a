"""A package's door: the names it hands out, fetched from its files when somebody asks for them.

Going through a door then loads the one file that is asked for, and not all that stand behind it.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from importlib import import_module
from types import ModuleType
from typing import Any


class _Room(ModuleType):
    """A package in which a name at the door stands before a file of the same name, whichever is loaded first."""

    def __setattr__(self, name: str, value: object) -> None:
        # The import of a file names it in its package.
        if not (isinstance(value, ModuleType) and name in self.__all__):
            super().__setattr__(name, value)


def opened(package: str, where: Mapping[str, str]) -> Callable[[str], Any]:
    """The ``__getattr__`` of a package whose names stand in its files: ``where`` gives each file's, with blanks.

    AttributeError for any other name.
    """
    files = {name: file for file, names in where.items() for name in names.split()}
    room = sys.modules[package]
    room.__class__ = _Room

    def fetch(name: str) -> Any:
        if name not in files:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        found = getattr(import_module(f"{package}.{files[name]}"), name)
        setattr(room, name, found)
        return found

    return fetch
