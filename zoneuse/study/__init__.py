"""What the keeper declares: study.toml, its names, clock and quantities."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..door import opened

if TYPE_CHECKING:
    from .clock import (
        ANY_TIME,
        SLOTS,
        YEARS,
        TwiceError,
        from_ms,
        hours_since_lights_on,
        iso_local,
        only_utc,
        parse_duration_h,
        parse_when,
        slot_at,
        spoken_time,
        study_day,
        to_ms,
        to_utc,
        zone_offered,
    )
    from .draft.dated import written
    from .draft.draft import PENDING, Draft, open_draft
    from .draft.forms import FormLine, Thing, Typing
    from .draft.written import choice, clock_pair, number
    from .durable import STUDY_FILE, make_folder, put_in_place, refuse_overwriting, sync_folder, write_whole
    from .keys import ANIMALS, begins, composed, free_key, typed_so_far
    from .labels import defused, in_words, visible
    from .model import (
        MEASURES,
        METHODS,
        ONLY,
        ROLES,
        Dated,
        Declaration,
        Group,
        Heard,
        Logger,
        Outline,
        Phase,
        Placement,
        Span,
        TrackTable,
        View,
        value_at,
    )
    from .names import (
        UnknownNameError,
        find_behaviour,
        find_who,
        find_zone,
        here,
        home,
        zones_known,
        zones_of,
    )
    from .problems import Problem, ProblemError, fault
    from .quantities import (
        DERIVED,
        QUANTITIES,
        Quantity,
        celsius_to_fahrenheit,
        fahrenheit_to_celsius,
        in_order,
        modelled,
        moisture,
        not_measured,
        quantity,
    )
    from .regular import read_regular, refuse_elsewhere, require_regular, sha256_of
    from .sketch import (
        NOTHING,
        Room,
        SketchDrawing,
        SketchFigure,
        draw,
        figure_at,
        grid_for,
        room_lines,
        with_all,
    )
    from .time_zones import nearest_time_zones, time_zone_named
    from .toml.edit import NewZone, add_zone, edit_study, read_text
    from .toml.edits import Edit
    from .toml.fields import shown
    from .toml.file import FILE_NAME, load_declaration, read_declaration
    from .toml.heard import FAHRENHEIT
    from .toml.rules import all_keys, focal_collisions
    from .toml.starter import (
        BEHAVIOURS,
        Beginning,
        blank_text,
        copy_study,
        create_study,
        local_timezone,
        refuse_used,
        starter_text,
        zone_ids_and_keys,
    )
    from .toml.toml_text import EditError, edited
    from .toml.tracked import camera_of, outlined, outlines_of
    from .treatments import find_phase, find_treatment, read_under, under_of, under_words
    from .user_folders import user_folder
    from .watching_times import Window, parse_window

__all__ = [
    "ANIMALS",
    "ANY_TIME",
    "BEHAVIOURS",
    "DERIVED",
    "FAHRENHEIT",
    "FILE_NAME",
    "MEASURES",
    "METHODS",
    "NOTHING",
    "ONLY",
    "PENDING",
    "QUANTITIES",
    "ROLES",
    "SLOTS",
    "STUDY_FILE",
    "YEARS",
    "Beginning",
    "Dated",
    "Declaration",
    "Draft",
    "Edit",
    "EditError",
    "FormLine",
    "Group",
    "Heard",
    "Logger",
    "NewZone",
    "Outline",
    "Phase",
    "Placement",
    "Problem",
    "ProblemError",
    "Quantity",
    "Room",
    "SketchDrawing",
    "SketchFigure",
    "Span",
    "Thing",
    "TrackTable",
    "TwiceError",
    "Typing",
    "UnknownNameError",
    "View",
    "Window",
    "add_zone",
    "all_keys",
    "begins",
    "blank_text",
    "camera_of",
    "celsius_to_fahrenheit",
    "choice",
    "clock_pair",
    "composed",
    "copy_study",
    "create_study",
    "defused",
    "draw",
    "edit_study",
    "edited",
    "fahrenheit_to_celsius",
    "fault",
    "figure_at",
    "find_behaviour",
    "find_phase",
    "find_treatment",
    "find_who",
    "find_zone",
    "focal_collisions",
    "free_key",
    "from_ms",
    "grid_for",
    "here",
    "home",
    "hours_since_lights_on",
    "in_order",
    "in_words",
    "iso_local",
    "load_declaration",
    "local_timezone",
    "make_folder",
    "modelled",
    "moisture",
    "nearest_time_zones",
    "not_measured",
    "number",
    "only_utc",
    "open_draft",
    "outlined",
    "outlines_of",
    "parse_duration_h",
    "parse_when",
    "parse_window",
    "put_in_place",
    "quantity",
    "read_declaration",
    "read_regular",
    "read_text",
    "read_under",
    "refuse_elsewhere",
    "refuse_overwriting",
    "refuse_used",
    "require_regular",
    "room_lines",
    "sha256_of",
    "shown",
    "slot_at",
    "spoken_time",
    "starter_text",
    "study_day",
    "sync_folder",
    "time_zone_named",
    "to_ms",
    "to_utc",
    "typed_so_far",
    "under_of",
    "under_words",
    "user_folder",
    "value_at",
    "visible",
    "with_all",
    "write_whole",
    "written",
    "zone_ids_and_keys",
    "zone_offered",
    "zones_known",
    "zones_of",
]
__getattr__ = opened(
    __name__,
    {
        "clock": (
            "ANY_TIME SLOTS TwiceError YEARS from_ms hours_since_lights_on iso_local only_utc "
            "parse_duration_h parse_when slot_at spoken_time study_day to_ms to_utc zone_offered"
        ),
        "draft.dated": "written",
        "draft.draft": "Draft PENDING open_draft",
        "draft.forms": "FormLine Thing Typing",
        "draft.written": "choice clock_pair number",
        "durable": "STUDY_FILE make_folder put_in_place refuse_overwriting sync_folder write_whole",
        "keys": "ANIMALS begins composed free_key typed_so_far",
        "labels": "defused in_words visible",
        "model": (
            "Dated Declaration Group Heard Logger MEASURES METHODS ONLY Outline Phase Placement ROLES Span "
            "TrackTable View value_at"
        ),
        "names": "UnknownNameError find_behaviour find_who find_zone here home zones_known zones_of",
        "problems": "Problem ProblemError fault",
        "quantities": (
            "DERIVED QUANTITIES Quantity celsius_to_fahrenheit fahrenheit_to_celsius in_order modelled "
            "moisture not_measured quantity"
        ),
        "regular": "read_regular refuse_elsewhere require_regular sha256_of",
        "sketch": "NOTHING Room SketchDrawing SketchFigure draw figure_at grid_for room_lines with_all",
        "time_zones": "nearest_time_zones time_zone_named",
        "toml.edit": "NewZone add_zone edit_study read_text",
        "toml.edits": "Edit",
        "toml.fields": "shown",
        "toml.file": "FILE_NAME load_declaration read_declaration",
        "toml.heard": "FAHRENHEIT",
        "toml.rules": "all_keys focal_collisions",
        "toml.starter": (
            "BEHAVIOURS Beginning blank_text copy_study create_study local_timezone refuse_used starter_text "
            "zone_ids_and_keys"
        ),
        "toml.toml_text": "EditError edited",
        "toml.tracked": "camera_of outlined outlines_of",
        "treatments": "find_phase find_treatment read_under under_of under_words",
        "user_folders": "user_folder",
        "watching_times": "Window parse_window",
    },
)
