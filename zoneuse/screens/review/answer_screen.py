"""One answer: its sentence first, then the findings, the table, the charts, and what to be careful of."""

from __future__ import annotations

from collections.abc import Sequence

from textual.binding import Binding

from ...answers.finding import trust_said
from ...answers.registry import AnswerKind
from ...study import Group, visible
from ...study.model import Animal
from ..recorder.panels import Chip
from .background.crossing import Given, SentFinding
from .base import BACK, FILTERS, KEYS, NARROW, ReviewScreen
from .drawing.blocks import (
    BLANK,
    OpenAnswer,
    Opens,
    OpenSessions,
    Pressed,
    TextBlock,
    heading,
    plain_lines,
    table,
    wrapped,
)
from .drawing.charts import charts
from .drawing.intervals import ChartSpace
from .drawing.pictured import pictured

_MORE = Pressed("more")
_LONG_TABLE, _SHORT_TABLE = 24, 12


class AnswerScreen(ReviewScreen):
    """Left and right go from answer to answer."""

    BINDINGS = [  # noqa: RUF012 - Textual reads it so
        Binding("left", "beside(-1)", show=False),
        Binding("right", "beside(1)", show=False),
    ]

    def __init__(self, name: str) -> None:
        super().__init__()
        self.answer = name
        self._all_rows = False

    @property
    def question(self) -> AnswerKind:
        return next(q for q in self.review.questions if q.name == self.answer)

    def title_words(self) -> str:
        number = self.review.questions.index(self.question) + 1
        words = f"{number} {self.question.short} · {visible(self.review.declared.title)}"
        return words if self.narrow else f"{number} {self.question.short} · {self.question.title}"

    def keys(self) -> Sequence[Chip]:
        ahead = (Chip("←", "", action="left"), Chip("→", "" if self.narrow else "next", action="right"))
        return (Chip("⏎", "open", action="open"), *ahead, BACK, FILTERS, KEYS)

    def blocks(self, width: int) -> Sequence[TextBlock]:
        problems = self.review.problems.get(self.answer)
        if problems is not None:
            said = [wrapped(p, width, "- ", "  ") for p in problems]
            return [
                wrapped("This cannot be answered:", width),
                *said,
                BLANK,
                wrapped(_AGAIN, width, style="$muted"),
            ]
        given = self.review.given.get(self.answer)
        if given is None:
            return [wrapped("Being worked out …", width, style="$muted")]
        return self._said(given, width)

    def _said(self, given: Given, width: int) -> list[TextBlock]:
        drawn = pictured(given, width)
        blocks = self._first(given, drawn, width)
        first = [] if drawn or self.answer != "plan" else self._table(given, width)
        # What to do next is a table: it is the picture of a plan.
        blocks += first
        blocks += [BLANK] if blocks and (given.findings or given.notes) else []
        blocks += [_finding(f, given, width) for f in given.findings]
        blocks += [wrapped(note, width, "· ", "  ") for note in given.notes]
        blocks += [] if first else self._table(given, width)
        if drawn and self.answer != "climate":
            blocks += charts(self._drawn(given, width))
        if given.cautions:
            blocks += heading("Careful", width)
            blocks += [wrapped(caution, width, "- ", "  ") for caution in given.cautions]
        everything = OpenSessions("all sessions", ())
        return [*blocks, BLANK, plain_lines("All the sessions behind this", opens=everything)]

    def _first(self, given: Given, drawn: list[TextBlock], width: int) -> list[TextBlock]:
        """The sentence and the picture."""
        blocks = [wrapped(given.headline, width)] if given.headline else []
        if self.answer == "climate" or not drawn:
            # Its days ahead come before its ranges.
            blocks += charts(self._drawn(given, width))
        return [*blocks, BLANK, *drawn] if drawn else blocks

    def _table(self, given: Given, width: int) -> list[TextBlock]:
        rows = given.rows
        if not self._all_rows:
            rows = rows[: len(rows) - given.hidden]
            # The charts say it better than a page of rows.
            rows = rows[:_SHORT_TABLE] if len(rows) > _LONG_TABLE else rows
        hidden = len(given.rows) - len(rows)
        made = table(given.headings, rows, width, width < NARROW)
        blocks = [BLANK, *made] if made else []
        if hidden:
            words = f"{hidden:,} more row{'' if hidden == 1 else 's'}: Enter shows them"
            blocks.append(plain_lines(words, style="$muted", opens=_MORE))
        return blocks

    def _drawn(self, given: Given, width: int) -> ChartSpace:
        declared = self.review.declared
        # What has no key goes by its number where there is no room for its name.
        places = dict.fromkeys(z.place for z in declared.zones.values())
        keys = {place: str(i) for i, place in enumerate(places, 1)}
        keys |= {z.place: z.key for z in declared.zones.values() if z.key}
        everyone: list[Animal | Group] = [*declared.animals.values(), *declared.groups.values()]
        keys |= {one.id: one.key or str(i) for i, one in enumerate(everyone, 1)}
        return ChartSpace(given, width, width < NARROW, keys, declared.fahrenheit)

    def chosen(self, opens: Opens) -> None:
        if opens == _MORE:
            self._all_rows = True
            self.show()
        elif self.answer == "climate" and isinstance(opens, OpenSessions) and opens.about:
            # Readings stand behind the climate, not sessions.
            from .readings import ReadingsScreen

            self.app.push_screen(
                ReadingsScreen(tuple(a for a in opens.about if a in self.review.declared.zones))
            )
        else:
            super().chosen(opens)

    def action_left(self) -> None:
        self.action_beside(-1)

    def action_right(self) -> None:
        self.action_beside(1)

    def action_beside(self, way: int) -> None:
        questions = self.review.questions
        at = (questions.index(self.question) + way) % len(questions)
        self.review.open(OpenAnswer(questions[at].name))


_AGAIN = (
    "F5 looks at the files again; zoneuse check says what is wrong in a study, with its place and a remedy."
)


def _finding(finding: SentFinding, given: Given, width: int) -> TextBlock:
    trust = f" ({trust_said(finding.standing)})" if finding.standing else ""
    title = ", ".join(visible(given.labels.get(a, a)) for a in finding.about)
    opens = OpenSessions(title, finding.about)
    return wrapped(f"{finding.says}{trust}", width, "· ", "  ", opens=opens)
