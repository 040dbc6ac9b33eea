"""``seabed demo``: the main job on the invented sound that comes along."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from layers.cli import options as o

if TYPE_CHECKING:
    from layers.area import Area
    from layers.cli.trips.outings import Trips

__all__ = ["EXAMPLES", "demo"]

EXAMPLES = """\
Example:

  seabed demo --out demo_out
"""

KINDS: Final = (".toml", ".tif", ".csv", ".gpx", ".000")


def demo(out: o.OutFolder = Path("demo_out"), as_json: o.Json = False) -> None:
    """Try it all on an invented sound that comes along.

    Scouts the sound, works out four trips on it, and says where the results are.
    """
    from layers.cli import bottom
    from layers.cli.outputs import keep_inputs
    from layers.cli.progress import progress
    from layers.cli.settings import area_of
    from layers.cli.trips import outings
    from layers.jobs.scout import whole

    folder = out / "area"
    copied = [folder / source.name for source in demo_files()]
    results = [*outings.trip_files(out / "trip").values(),
               *whole.scout_files(out / "scout").values()]  # fmt: skip
    keep_inputs([*copied, *results], demo_files())
    keep_inputs(results, copied)
    steps = 1 + outings.TRIP_STEPS + whole.SCOUT_STEPS
    with progress(steps, quiet=as_json) as step:
        step("copying the demo area")
        copy_demo_area(folder)
        area = area_of(folder / "area.toml")
        step("reading depths")
        scouted = whole.scout_area(bottom.open_area_surface(area), area, step)
        found = whole.write_scout(out / "scout", scouted, area, step)
        structure, charted = scouted.structure, scouted.prospects.charted
        tracks = sorted(folder.glob("trip_*.gpx"))
        trips = outings.work_out(
            tracks, [folder / "catches.csv"], area, structure.grid, step,
            edges=structure.edges, features=structure.features,
        )  # fmt: skip
        files = outings.write_trip(
            out / "trip", trips, area, scouted.named, step,
            hazards=None if charted is None else charted.hazards,
        )  # fmt: skip
    _tell(
        trips, {**files, "scouted": found["map"], "report": found["report"]}, area, as_json=as_json
    )


def demo_folder() -> Path:
    """Where the demo area is: in the installed package, else in the checkout.

    Raises
    ------
    SeabedError
        If it is in neither.
    """
    import layers
    from seabed.errors import SeabedError

    package = Path(layers.__file__).parent
    for folder in (package / "demo_area", package.parent / "demo_area"):
        if (folder / "area.toml").is_file():
            return folder
    raise SeabedError(
        "the demo area is missing from this installation", do="Install seabed-layers again."
    )


def demo_files() -> list[Path]:
    """Files of the demo area that are copied."""
    return sorted(path for path in demo_folder().iterdir() if path.suffix in KINDS)


def copy_demo_area(target: Path) -> None:
    """Copy the demo area's files, each whole or not at all."""
    import shutil

    from seabed.files import replacing

    for source in demo_files():
        with replacing(target / source.name) as partial:
            shutil.copyfile(source, partial)


def _tell(trips: Trips, files: dict[str, Path], area: Area, *, as_json: bool) -> None:
    from layers.cli.commands.trip import tell_trip
    from layers.cli.showing import print_json, print_places, print_ranking, records
    from layers.cli.trips.score_files import print_scores

    if as_json:
        print_json({"files": files, "lines": records(trips.lines)})
        return
    print(f"{area.name}: an invented sound, invented fish, an invented rule.\n")
    tell_trip(trips)
    print()
    print_ranking(trips.lines, area)
    print()
    print_scores(trips.scores, area)
    print()
    print_places(
        files,
        {
            "map": "Map",
            "marks": "Marks",
            "ranking": "Ranking",
            "scouted": "Map of the bottom",
            "report": "Where to look first",
        },
    )
