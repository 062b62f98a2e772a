"""The whole page: one file that needs no network and no script, for a screen, a phone and paper."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from .. import __version__
from ..answers.finding import trust_said
from ..pictures import clock_said, day_said
from ..study import fault, refuse_overwriting, visible
from .gathered import Gathered, Step, gather
from .markup import each_once, name, numbered, section, table, text
from .sections import by_answer as sections
from .sections.changes import changed
from .sections.climate import climate
from .sections.five_sentences import five
from .sections.methods import cautions_section, methods_section
from .sections.retreats import retreats

if TYPE_CHECKING:
    from ..answers.study import FilterOptions, Study

_METHODS_OF = {
    "where": ["Unit of evidence", "Use against offer"], "chosen": ["Conditions"], "changes": ["Changes"],
    "climate": ["Drying"], "retreats": ["Retreats"], "observers": ["Observers"], "plan": ["Plan"],
}  # fmt: skip
_TITLES = {
    "where": "Where they are", "chosen": "Which conditions are chosen", "changes": "What changes did",
    "watched": "When you watched",
    "climate": "Heat, moisture and water", "retreats": "Retreats and company", "activity": "What they do",
    "observers": "Do observers agree", "plan": "What to watch next", "vet": "For the veterinarian",
    "methods": "How this was made", "rests": "What it rests on", "cautions": "Cautions",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class PageMade:
    """When and by which command the page is made; nothing below asks the clock."""

    at: datetime
    command: str
    vet: bool = False


def report_html(study: Study, asked: FilterOptions, made: PageMade, step: Step = lambda _: None) -> str:
    """The page as text. The same study, filters and ``made`` give the same bytes."""
    found = gather(study, asked, made.at, step)
    step("page")
    parts = {
        "where": sections.where(found), "chosen": sections.chosen(found), "changes": changed(found),
        "watched": sections.watched(found), "climate": climate(found), "retreats": retreats(found),
        "activity": sections.activity(found),
        **{n: sections.more(n, _TITLES[n], answer) for n, answer in found.more.items()},
    }  # fmt: skip
    if made.vet:
        from .vet_sheet import vet_section

        parts["vet"] = vet_section(study, found, made.at)
    wanted = [m for key, listed in _METHODS_OF.items() if parts.get(key) for m in listed]
    parts["methods"] = methods_section([*wanted, "How far to trust it", "What stays out"])
    parts["rests"] = _rests_on(study, found, made)
    parts["cautions"] = cautions_section()
    return _page(found, parts, made)


def _page(found: Gathered, parts: dict[str, str], made: PageMade) -> str:
    declared = found.declared
    css = Path(__file__).with_name("report.css").read_text(encoding="utf-8")
    title = text(declared.title)
    species = f"<i>{name(declared.species)}</i>. " if declared.species else ""
    links = "".join(f'<li><a href="#{k}">{text(_TITLES[k])}</a></li>' for k, body in parts.items() if body)
    said = "".join(
        f"<li><strong>{text(s.about)}</strong><span>{text(s.says)}"
        + (f' <span class="trust">({text(trust_said(s.trust))})</span>' if s.trust else "")
        + "</span></li>"
        for s in five(found)
    )
    body = each_once("\n".join(part for part in parts.values() if part))
    return numbered(
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="generator" content="zoneuse {__version__}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        # Nothing may be fetched or run, whatever a label tries.
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        '<meta name="color-scheme" content="light dark">\n'
        f"<title>{title}</title>\n<style>\n{css}</style>\n</head>\n<body>\n"
        f'<header><h1>{name(declared.title)}</h1><p class="lead">{species}'
        f"Made on {day_said(made.at.astimezone(declared.timezone).date())} from what was recorded in this study.</p>"
        "</header>\n"
        f'<main>\n<section id="answer"><h2 class="headline">{text(found.zones.headline)}</h2>'
        f"{sections.enclosure(found)}"
        f'<ol class="answer">{said}</ol></section>\n'
        f'<nav aria-label="On this page"><ul>{links}</ul></nav>\n'
        f'<div class="rest">\n{body}\n</div>\n</main>\n</body>\n</html>\n'
    )


def _rests_on(study: Study, found: Gathered, made: PageMade) -> str:
    """Data counts, and how to make this page again."""
    did, declared = found.zones.effort, found.declared
    out = study.moments["out"]
    observers = sorted({s.observer for s in study.journals.sessions.values() if s.watched})
    counts: list[tuple[str, object]] = [
        ("Sessions", did.get("sessions", 0)), ("Days", did.get("days", 0)),
        ("Moments seen", f"{did.get('moments', 0):,}"),
        ("Moments not found", f"{did.get('unseen', 0):,}"), ("Scans missed", f"{did.get('missed', 0):,}"),
        ("Guesses, counted", did.get("guesses", 0)), ("Rows kept out of shares", f"{int((out != '').sum()):,}"),
        ("Observers", ", ".join(observers) or "–"), ("Changes on record", len(found.changes)),
        ("Loggers", len(declared.loggers)), ("Zones with readings", found.climate.effort.get("zones", 0)),
        ("Records that could not be read", found.left_out),
    ]  # fmt: skip
    seeds = sorted(
        {a.seed for a in (found.zones, found.prefer, found.shifts, found.retreats) if a.seed is not None}
    )
    again = (
        f"<dl><dt>Command</dt><dd><code>{text(made.command)}</code></dd>"
        f"<dt>Version</dt><dd>zoneuse {__version__}, study format 1</dd>"
        f"<dt>Made</dt><dd>{text(clock_said(made.at, declared.timezone))} ({text(str(declared.timezone))})</dd>"
        f"<dt>Seed of random draws</dt><dd>{', '.join(map(str, seeds)) or 'none'}</dd></dl>"
    )
    return section("rests", "What it rests on", table("Counts", ("What", "How many"), counts), again)


def place_for(path: Path, force: bool = False) -> Path:
    """Where a page may be written. Raises ProblemError without its folder, or where another file is in its place."""
    final = path.resolve()
    shown = visible(str(path))
    if not final.parent.is_dir():
        raise fault(
            "no-folder",
            shown,
            "",
            "its folder is not there",
            "a folder that exists",
            remedy="Make it, or name another",
        )
    refuse_overwriting(path, force)
    return final
