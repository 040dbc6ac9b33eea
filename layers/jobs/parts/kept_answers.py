"""What a request answers that files leave open, and the area file keeps."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from layers.area.loading import keys_in
from layers.jobs.options import Request, options_of
from seabed.errors import AreaError, OutputError, SeabedError

NEEDED: Final = {
    "date_order": "", "length_unit": "", "heights_unit": "heights", "currents_unit": "currents",
    "flood_toward": "currents", "crs": "grid",
}  # fmt: skip
"""Fields that answer what a file leaves open, and the field that names the file where one does."""
ANSWERS: Final = (*NEEDED, "timezone", "sign", "grid_unit", "variable", "vertical_datum")
"""These, and what overrules a guess."""


def answers_of(request: Request) -> dict[str, Any]:
    """Give what a request answers that files leave open and the area file is to keep, by key.

    It keeps what it does not say yet, of its own files; and all where that is asked for.

    Raises SeabedError if that is asked for and no area file is named.
    """
    path: Path | None = getattr(request, "area", None)
    every = bool(getattr(request, "keep_answers", False))
    if path is None:
        if every:
            raise SeabedError(
                "there is no area file to keep them in",
                key="keep_answers",
                do="Name it with {area}; write one with {seabed area}.",
            )
        return {}
    options = options_of(type(request))
    answers = {}
    for name in ANSWERS if every else NEEDED:
        value = getattr(request, name, None)
        foreign = not every and NEEDED[name] and getattr(request, NEEDED[name], None)
        if name in options and value is not None and not foreign:
            answers[options[name].overrules] = value
    known = keys_in(path) if answers and not every else ()
    return {key: value for key, value in answers.items() if key not in known}


def keep_answers(area_file: Path, answers: dict[str, Any]) -> str:
    """Write answers into an area file, whose comments stay; say which."""
    from layers.area.editing import change_area

    keys = {tuple(key.split(".")): value for key, value in answers.items()}
    try:
        change_area(area_file, keys)
    except (AreaError, OutputError) as error:
        return f"Your answers are not kept: {error}"
    lines = (f"[{section}] {key} = {json.dumps(value)}" for (section, key), value in keys.items())
    return f"Kept in {area_file}: {', '.join(lines)}."
