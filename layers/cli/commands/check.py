"""Say what files are, what is wrong with them, and what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layers.jobs.check import Checked, CheckResult

EXAMPLES = """\
Examples:

  seabed check sound.tif trip_1.gpx catches.csv tide_table.csv area.toml

  seabed check survey.tif --sign depth --grid-unit ft

Exit code 2 if a file cannot be used as it is, else 0.
"""


def show(result: CheckResult) -> None:
    """Print the files one below the other."""
    print("\n\n".join("\n".join(_lines(one)) for one in result.checked))
    for sentence in result.notes:
        print(sentence)


def _lines(checked: Checked) -> list[str]:
    wide = max(map(len, checked.facts), default=0)
    facts = [f"  {name:<{wide}}  {value}" for name, value in checked.facts.items() if value]
    wrong = [f"  ! {what.rstrip('.')}. {do}".rstrip() for what, do in checked.wrong]
    return [f"{checked.file}: {checked.kind}", *facts, *(wrong or ["  nothing wrong"])]
