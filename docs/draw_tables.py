"""Draws each table to fill in, with its example: ``python docs/draw_tables.py``."""

from __future__ import annotations

from pathlib import Path

from layers.area import Units
from layers.jobs.area import EXAMPLES, headings_of
from seabed.markup import markup_text

PICTURES = Path(__file__).with_name("pictures")
METRIC = Units(depth="m", distance="km", speed="kn", fish="cm")
LETTER, ROW, PAD = 7.3, 24, 9
STYLE = (
    "text{font:12px ui-monospace,monospace;fill:#222}.h{font-weight:700}"
    "rect{fill:#fff;stroke:#b8bec6}.t{fill:#e9edf2}"
)


def rows_of(name: str) -> list[list[str]]:
    """Give the headings of a table and the rows of its example."""
    return [headings_of(METRIC)[name], *(row.split(",") for row in EXAMPLES[name])]


def picture_of(name: str) -> str:
    """Draw a table as SVG."""
    rows = rows_of(name)
    widths = [max(map(len, column)) * LETTER + 2 * PAD for column in zip(*rows, strict=True)]
    parts = []
    for number, row in enumerate(rows):
        left, top = 0.5, number * ROW + 0.5
        kind = ("t", "h") if number == 0 else ("", "")
        for width, cell in zip(widths, row, strict=True):
            parts += [
                f'<rect class="{kind[0]}" x="{left:.1f}" y="{top}" width="{width:.1f}" '
                f'height="{ROW}"/>',
                f'<text class="{kind[1]}" x="{left + PAD:.1f}" y="{top + 16}">'
                f"{markup_text(cell)}</text>",
            ]
            left += width
    wide, high = sum(widths) + 1, len(rows) * ROW + 1
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.0f}" height="{high}" '
        f'viewBox="0 0 {wide:.1f} {high}" role="img">\n<style>{STYLE}</style>\n'
        + "\n".join(parts)
        + "\n</svg>\n"
    )


def main() -> None:
    """Write every picture."""
    for name in EXAMPLES:
        path = PICTURES / f"table_{name}.svg"
        path.write_text(picture_of(name), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
