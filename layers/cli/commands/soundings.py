"""``seabed soundings``: own depths from a sounder's log, laid on an open grid."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from layers.cli import options as o

if TYPE_CHECKING:
    from layers.area import Area
    from layers.cli.soundings.sounding import Sounded, Wishes
    from layers.water import Heights

__all__ = ["EXAMPLES", "soundings"]

EXAMPLES = """\
Examples:

  seabed soundings sounder.nmea --area area.toml --grid sound.tif --out soundings

  seabed soundings june.gpx july.gpx --grid sound.tif --no-tide --transducer "0.4 m" --out soundings
"""

FROM = ("transducer", "surface", "keel")


def soundings(
    *,
    logs: Annotated[
        list[Path],
        typer.Argument(
            metavar="LOG",
            help="Sounder's logs: NMEA 0183, GPX or CSV with depths.",
        ),
    ],
    area: o.AreaFile = None,
    grid: o.GridFiles = None,
    out: o.OutFolder = Path("soundings"),
    heights: o.HeightsFile = None,
    no_tide: Annotated[
        bool, typer.Option("--no-tide", help="Take no tide off; only the shape counts then.")
    ] = False,
    transducer: Annotated[
        str | None,
        typer.Option(
            metavar="LENGTH",
            help='Transducer below the waterline, like "0.4 m".  [area file, else as the log]',
        ),
    ] = None,
    draft: Annotated[
        str | None,
        typer.Option(metavar="LENGTH", help='Keel below the waterline, like "0.5 m".  [area file]'),
    ] = None,
    depths_from: Annotated[
        str | None,
        typer.Option(
            metavar="WORD",
            help="What depths are from: transducer, surface or keel.  [as the kind of log]",
            autocompletion=o.words_of("transducer", "surface", "keel"),
        ),
    ] = None,
    lag: Annotated[
        str, typer.Option(metavar="TIME", help='How late the sounder is: "1.2 s"; auto finds it.')
    ] = "auto",
    cell: Annotated[
        str | None,
        typer.Option(
            metavar="LENGTH",
            help="About how large cells of the result are.  [by how dense soundings lie]",
        ),
    ] = None,
    reach: Annotated[
        str | None,
        typer.Option(
            metavar="LENGTH",
            help="Further from soundings than this it is blank.  [by how rough the bottom is]",
        ),
    ] = None,
    tide_error: Annotated[
        str | None,
        typer.Option(metavar="LENGTH", help="Standard deviation of the tide.  [default: 0.2 m]"),
    ] = None,
    next_lines: Annotated[
        str,
        typer.Option("--next", metavar="LENGTH", help="Length of lines to sound next; 0 m: none."),
    ] = "2 nm",
    band: o.Band = None,
    day: Annotated[
        str | None,
        typer.Option("--date", metavar="DAY", help="UTC day of logs that say none: 2031-06-14."),
    ] = None,
    salvage: Annotated[
        bool, typer.Option("--salvage", help="Of a damaged GPX keep what comes before the damage.")
    ] = False,
    timezone: o.Timezone = None,
    units: o.Units = None,
    grid_words: o.GridOptions,
    as_json: o.Json = False,
) -> None:
    """Lay own soundings on an open depth grid.

    They are read, cleaned, freed of the tide and the sounder's lag, compared where lines cross,
    gridded with their uncertainty, and merged.
    """
    from layers.cli import settings
    from layers.cli.outputs import files_of, keep_inputs
    from layers.cli.progress import progress

    if no_tide:
        _means_nothing({"--tide-error": tide_error, "--heights": heights})
    chosen = settings.area_of(
        area,
        units=units,
        band=band,
        timezone=timezone,
        grid=grid_words,
    )
    wishes = _wishes(
        chosen,
        transducer=transducer,
        draft=draft,
        depths_from=depths_from,
        lag=lag,
        cell=cell,
        reach=reach,
        tide_error=tide_error or "0.2 m",
        next_lines=next_lines,
        salvage=salvage,
        day=day,
    )
    tide = None if no_tide else _tide(chosen, heights)
    from layers.cli import bottom
    from layers.cli.soundings import sounding
    from layers.exports.soundings_file import soundings_beside

    keep_inputs(
        sounding.sounding_files(out).values(),
        [*logs, *(grid or []), heights, *files_of(chosen)],
    )
    with progress(sounding.SOUNDING_STEPS, quiet=as_json) as step:
        surface = bottom.open_area_surface(chosen, grid or ())
        written = soundings_beside(sounding.sounding_files(out)["soundings"])
        with written as begin:
            found = sounding.sound(logs, surface, chosen, wishes, tide, step, settled=begin)
            files = sounding.write_sounded(out, found, chosen, step)
    _tell(found, files, chosen, tided=tide is not None, as_json=as_json)


def _means_nothing(given: dict[str, object]) -> None:
    from seabed.errors import SeabedError

    for name, value in given.items():
        if value is not None:
            raise SeabedError(
                "means nothing with --no-tide", where=name, do="Leave out one of them."
            )


def _wishes(  # every option is a word to be read
    area: Area,
    *,
    transducer: str | None,
    draft: str | None,
    depths_from: str | None,
    lag: str,
    cell: str | None,
    reach: str | None,
    tide_error: str,
    next_lines: str,
    salvage: bool,
    day: str | None,
) -> Wishes:
    from layers.cli.settings import day_of, length_of
    from layers.cli.soundings.sounding import Wishes
    from seabed.errors import SeabedError
    from seabed.soundings import Mounting

    if depths_from is not None and depths_from not in FROM:
        raise SeabedError(
            f"{depths_from!r} can't be right", where="--depths-from", do=f"Use {', '.join(FROM)}."
        )

    def metres(word: str | None, option: str, *, least: float = 0.0) -> float | None:
        if word is None:
            return None
        length = length_of(word, option)
        if length < least:
            raise SeabedError(
                f"{word!r} is less than {least:g} m", where=option, do="Give a greater length."
            )
        return length

    below = metres(transducer, "--transducer")
    keel = metres(draft, "--draft")
    return Wishes(
        mounting=Mounting(
            transducer_m=area.boat.transducer_m if below is None else below,
            draft_m=area.boat.draft_m if keel is None else keel,
            measured_from=depths_from,
        ),
        lag_s=None if lag == "auto" else _lag_s(lag),
        cell_m=metres(cell, "--cell", least=0.1),
        reach_m=metres(reach, "--reach", least=0.1),
        tide_sigma_m=metres(tide_error, "--tide-error") or 0.0,
        next_m=metres(next_lines, "--next") or 0.0,
        timezone=area.timezone,
        salvage=salvage,
        day=None if day is None else day_of(day, "UTC"),
    )


def _lag_s(word: str) -> float:
    from layers.cli.settings import clock_offset_s
    from seabed.errors import SeabedError

    if word.split()[:1] == ["0"]:
        return 0.0
    seconds = clock_offset_s(word, option="--lag")
    if abs(seconds) > 60.0:
        raise SeabedError(
            f"{word!r} is more than a minute",
            where="--lag",
            do="Give seconds: a sounder is not so late.",
        )
    return seconds


def _tide(area: Area, heights: Path | None) -> Heights:
    from layers.cli.settings import heights_of
    from layers.water import read_heights
    from seabed.errors import WaterError

    if heights is not None:
        return read_heights(heights, timezone=area.timezone)
    found = heights_of(area)
    if found is None:
        raise WaterError(
            "no tide heights are named",
            file=area.file,
            do="Name them with --heights, or under [water] heights in the area file; or go "
            "without: --no-tide.",
        )
    return found


def _tell(
    found: Sounded, files: dict[str, Path], area: Area, *, tided: bool, as_json: bool
) -> None:
    from layers.cli.showing import print_json, print_places
    from layers.cli.soundings.words import sounding_answer, sounding_lines

    if as_json:
        print_json({"files": files, **sounding_answer(found)})
        return
    for line in sounding_lines(found, area, tided=tided):
        print(line)
    print()
    labels = {
        "merged": "Merged grid",
        "own_depth": "Own grid",
        "picture": "Picture",
        "next_lines": "Sound next",
        "crossovers": "Crossovers",
        "soundings": "Soundings",
    }
    print_places(files, {key: label for key, label in labels.items() if key in files})
