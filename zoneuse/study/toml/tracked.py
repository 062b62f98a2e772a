"""Cameras, outlines of zones and tables of tracks in study.toml."""

from __future__ import annotations

from collections.abc import Sequence

from ..model import Camera, Dated, Declaration, Outline, Point, Span, TrackTable, View
from .fields import Notes, Table, is_number, overlap

_PAIR = "a pair of numbers such as [60, 45]"
_POINTS = "three points or more, such as [[0, 0], [30, 0], [30, 20]]"
_FOUR = "four points such as [[102, 88], [1180, 92], [1175, 690], [98, 700]], no three of them on a line"
COLUMNS = ("frame", "at", "animal", "x", "y", "confidence", "antenna")
WIDE = ("x", "y", "confidence")
AT_IS = ("iso", "s", "ms")
# A longer outline than any enclosure needs; its edges are held against each other.
_MOST_POINTS = 1000


def _points_of(value: object) -> tuple[Point, ...] | None:
    if not isinstance(value, list) or len(value) > _MOST_POINTS:
        return None
    found = []
    for pair in value:
        if not isinstance(pair, list) or len(pair) != 2 or not all(is_number(v) for v in pair):
            return None
        found.append((float(pair[0]), float(pair[1])))
    return tuple(found)


def area_of(points: Sequence[Point]) -> float:
    """Twice the signed area of a polygon."""
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, (*points[1:], *points[:1]), strict=True))


def outlines(table: Table) -> tuple[Outline, ...]:
    """``outline`` of a zone: its points for the only camera, or a list of dated ones with a camera each."""
    value = table.take("outline")
    if value is None:
        return ()
    if isinstance(value, list) and value and isinstance(value[0], list):
        points = _outline_points(table, "outline")
        return (Outline("", Span(), points),) if points else ()
    found = []
    for row in table.rows("outline"):
        span, camera, points = row.span(), row.text("camera"), _outline_points(row, "points")
        row.done()
        if points:
            found.append(Outline(camera, span, points))
    for i, one in enumerate(found):
        if any(one.camera == other.camera and overlap(one.span, other.span) for other in found[i + 1 :]):
            table.wrong(
                "outline",
                "two at one time",
                "one outline for a camera at a time",
                "Give the earlier one an until",
            )
            break
    return tuple(found)


def _outline_points(table: Table, key: str) -> tuple[Point, ...]:
    value = table.take(key, required=True, expected=_POINTS)
    if value is None:
        return ()
    points = _points_of(value)
    if points is None or len(points) < 3 or not area_of(points):
        table.wrong(key, value, _POINTS)
        return ()
    if _crosses_itself(points):
        table.wrong(key, value, "points in the order in which one walks around the zone",
                    "Put the points in order; its edges cross each other now")  # fmt: skip
        return ()
    return points


def _crosses_itself(points: Sequence[Point]) -> bool:
    edges = list(zip(points, (*points[1:], *points[:1]), strict=True))
    return any(
        _cross(*edges[i], *edges[j])
        for i in range(len(edges))
        for j in range(i + 2, len(edges))
        if (i, j) != (0, len(edges) - 1)
    )


def _side(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _cross(a: Point, b: Point, c: Point, d: Point) -> bool:
    return _side(a, b, c) * _side(a, b, d) < 0 and _side(c, d, a) * _side(c, d, b) < 0


def camera(name: str, table: Table) -> Camera:
    size = table.take("size")
    pair = _points_of([size]) if size is not None else None
    if size is not None and (pair is None or min(pair[0]) <= 0):
        table.wrong("size", size, f"width and height above 0: {_PAIR}")
        pair = None
    views = []
    for row in table.rows("points"):
        span, seen, are = row.span(), _four(row, "seen"), _four(row, "are")
        row.done()
        if seen and are:
            views.append(Dated(span, View(seen, are)))
    for i, one in enumerate(views):
        if any(overlap(one.span, other.span) for other in views[i + 1 :]):
            table.wrong(
                "points", "two at one time", "one set of points at a time", "Give the earlier one an until"
            )
            break
    table.done()
    return Camera(name, pair[0] if pair else None, tuple(views))


def _four(table: Table, key: str) -> tuple[Point, ...]:
    value = table.take(key, required=True, expected=_FOUR)
    if value is None:
        return ()
    points = _points_of(value) or ()
    lines = [points[:i] + points[i + 1 :] for i in range(4)] if len(points) == 4 else []
    if not lines or any(not area_of(three) for three in lines):
        table.wrong(key, value, _FOUR)
        return ()
    return points


def track_table(name: str, table: Table) -> TrackTable:
    columns = _columns(table.table("columns", required=True), COLUMNS)
    wide = {who: _columns(t, WIDE) for who, t in table.named("wide").items()}
    read = TrackTable(
        id=name,
        camera=table.text("camera"),
        columns=columns,
        wide=wide,
        names=_texts(table.table("names")),
        antennas=_texts(table.table("antennas")),
        at_is=table.choice("at_is", AT_IS, default="iso"),
        rate=_positive(table, "rate"),
        every_s=table.whole("every_s", 60, most=86_400),
        holds_s=_positive(table, "holds_s"),
        gap_s=_positive(table, "gap_s"),
        least_confidence=table.number("least_confidence"),
        fastest=_positive(table, "fastest"),
        border=table.number("border") or 0.0,
    )
    table.done(must_count=True)
    _check_shape(read, table)
    return read


def _positive(table: Table, key: str) -> float | None:
    value = table.number(key)
    if value is not None and value <= 0:
        table.wrong(key, value, "a number above 0")
        return None
    return value


def _columns(table: Table | None, known: tuple[str, ...]) -> dict[str, str]:
    if table is None:
        return {}
    found = {k: text for k in known if (text := table.text(k, expected="the name of a column of the table"))}
    table.done(must_count=True)
    return found


def _texts(table: Table | None) -> dict[str, str]:
    return {} if table is None else {key: table.text(key, True) for key in table.values}


def _check_shape(read: TrackTable, table: Table) -> None:
    """A table says when (frame and rate, or at), who, and where (x and y, or an antenna)."""
    has = read.columns.keys()
    if ("frame" in has) == ("at" in has):
        table.wrong("columns", dict(read.columns), "either frame (with rate) or at")
    if "frame" in has and read.rate is None:
        table.notes.fault(
            "missing", table.at("rate"), "is missing", "pictures a second, such as 25", "Add rate = …"
        )
    if read.wide:
        lacking = next((who for who, c in read.wide.items() if not {"x", "y"} <= c.keys()), None)
        if lacking or has & {"animal", "x", "y", "antenna"}:
            table.wrong(
                "wide", lacking or dict(read.columns), "x and y for each animal, and only the time in columns"
            )
    elif not ({"x", "y"} <= has) ^ ("antenna" in has):
        table.wrong("columns", dict(read.columns), "x and y, or antenna")
    if "antenna" in has and not read.antennas:
        table.notes.fault("missing", table.at("antennas"), "is missing", 'antennas = {R1 = "burrow"}',
                          "Say which zone each antenna stands for")  # fmt: skip
    if read.border < 0:
        table.wrong("border", read.border, "0 or more")


def check_tracked(declared: Declaration, notes: Notes) -> None:
    """Cameras, zones and animals that outlines and tables of tracks speak of are there."""
    cameras = declared.cameras
    for zone in declared.zones.values():
        for one in zone.outlines:
            if one.camera and one.camera not in cameras:
                notes.unknown(f"zones.{zone.id}.outline", one.camera, cameras, "camera")
            elif not one.camera and len(cameras) > 1:
                notes.fault("which-camera", f"zones.{zone.id}.outline", "does not say which camera it is of",
                            "a camera's id", 'Write outline = [{camera = "…", points = […]}]')  # fmt: skip
    for table in declared.tracks.values():
        _check_table(declared, table, notes)


def _check_table(declared: Declaration, table: TrackTable, notes: Notes) -> None:
    place = f"tracks.{table.id}"
    if table.camera and table.camera not in declared.cameras:
        notes.unknown(f"{place}.camera", table.camera, declared.cameras, "camera")
    elif not table.camera and len(declared.cameras) > 1 and not table.antennas:
        notes.fault("which-camera", f"{place}.camera", "is missing", "a camera's id", "Add camera = …")
    _check_names(declared, table, notes)
    alone = not table.wide and "animal" not in table.columns
    if alone and len(declared.animals) != 1:
        notes.fault("which-animal", f"{place}.columns", "does not say whose positions these are",
                    "a column of animals", 'Add animal = "…" to columns')  # fmt: skip
    if not table.antennas and not outlined(declared, table):
        notes.fault("no-outline", place, "no zone has an outline for its camera", "outline = [[x, y], …] on zones",
                    "Give each zone that the camera sees its outline")  # fmt: skip


def _check_names(declared: Declaration, table: TrackTable, notes: Notes) -> None:
    place = f"tracks.{table.id}"
    for antenna, zone in table.antennas.items():
        if zone not in declared.zones:
            notes.unknown(f"{place}.antennas.{antenna}", zone, declared.zones, "zone")
    for theirs, animal in table.names.items():
        if animal not in declared.animals:
            notes.unknown(f"{place}.names.{theirs}", animal, declared.animals, "animal")
    for who in table.wide:
        if table.names.get(who, who) not in declared.animals:
            notes.unknown(f"{place}.wide.{who}", who, declared.animals, "animal")


def outlined(declared: Declaration, table: TrackTable) -> list[tuple[str, Outline]]:
    """The zones with an outline for the camera of a table."""
    return outlines_of(declared, camera_of(declared, table))


def camera_of(declared: Declaration, table: TrackTable) -> str:
    """The camera of a table: the one it names, else the only one; "" where the study has none."""
    return table.camera or next(iter(declared.cameras), "")


def outlines_of(declared: Declaration, camera: str) -> list[tuple[str, Outline]]:
    """The zones with an outline for a camera."""
    return [
        (zone.id, one)
        for zone in declared.zones.values()
        for one in zone.outlines
        if (one.camera or camera) == camera
    ]
