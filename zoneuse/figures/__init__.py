"""Pictures drawn: a description (``zoneuse.pictures``) as SVG in a page, and as a file of SVG, PNG or PDF.

``drawn`` makes shapes of a description, ``written`` writes shapes, ``files`` goes by the ending of a file's name.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..door import opened

if TYPE_CHECKING:
    from .files import drawn_as
    from .written.svg import inline, standalone

__all__ = [
    "drawn_as",
    "inline",
    "standalone",
]
__getattr__ = opened(
    __name__,
    {
        "files": "drawn_as",
        "written.svg": "inline standalone",
    },
)
