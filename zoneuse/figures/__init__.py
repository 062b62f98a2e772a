"""Pictures drawn: a description (``zoneuse.pictures``) as SVG in a page, and as a file of SVG, PNG or PDF.

``drawn`` makes shapes of a description, ``written`` writes shapes, ``files`` goes by the ending of a file's name.
"""

from __future__ import annotations

from .files import drawn_as
from .written.svg import inline, standalone

__all__ = ["drawn_as", "inline", "standalone"]
