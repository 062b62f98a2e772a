"""Dark and dim: the one look of the recorder, forced so that no setting can turn a night screen white."""

from __future__ import annotations

from textual.content import Content
from textual.theme import Theme

NIGHT = Theme(
    name="zoneuse-night",
    primary="#8a7a5c",
    secondary="#6f7f78",
    warning="#c9a25a",
    error="#d0805a",
    success="#8fa08a",
    accent="#b39a6b",
    foreground="#a39c8e",
    background="#0b0a09",
    surface="#100f0d",
    panel="#161412",
    dark=True,
    variables={
        "wall": "#4d483f",
        "muted": "#7d766a",
        "key": "#c2b184",
        "who": "#d8cfb8",
        "input-cursor-background": "#a39c8e",
        "block-cursor-background": "#3a352c",
        "block-cursor-foreground": "#d8cfb8",
        "scrollbar": "#2a2620",
        "scrollbar-background": "#0b0a09",
    },
)
CSS = """
Screen { background: $background; color: $foreground; }
WatchScreen #first-lines { height: auto; max-height: 5; }
WatchScreen.narrow #said { height: 2; }
#banner { height: auto; display: none; background: $error; color: #0b0a09; text-style: bold; padding: 0 1; }
#bar { height: 1; color: $wall; }
#ask { height: auto; max-height: 4; color: $who; }
WatchScreen #ask { height: 2; }
WatchScreen.round #ask { height: 3; }
WatchScreen.several #ask { height: auto; max-height: 5; }
#choices { height: 2; }
#said { height: 1; color: $success; }
#buttons { height: 2; color: $muted; }
.box { width: 100%; height: auto; max-height: 100%; border: round $wall; padding: 0 1; background: $surface; }
/* Of a fixed height: one that fits its text is laid out twice, and real terminals showed the first. */
.page { height: 100%; scrollbar-gutter: stable; }
Box { align: center bottom; background: $background 60%; }
OptionList { background: $surface; border: none; height: auto; max-height: 1fr; padding: 0; }
#text { height: 1; background: $panel; }
/* The cautions are seen whole: it is the list that scrolls. */
StartScreen { overflow: hidden; }
StartScreen #rows { height: 1fr; max-height: 100%; }
#cautions { height: auto; }
StartScreen.low #first-lines { max-height: 4; }
StartScreen.low #cautions { display: none; }
"""


def warned(text: str, lines: int = 1) -> Content:
    """So many first lines are what must be seen first, where the text begins with an exclamation mark."""
    if not text.startswith("! "):
        return Content(text)
    rows = text.split("\n")
    rest = "".join(f"\n{row}" for row in rows[lines:])
    return Content.assemble(("\n".join(rows[:lines]), "bold $warning"), rest)
