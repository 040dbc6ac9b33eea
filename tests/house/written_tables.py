"""One table written in every way that people and programs write tables."""

from __future__ import annotations

import datetime as dt
import zipfile
from collections.abc import Callable
from pathlib import Path
from xml.sax.saxutils import escape

import openpyxl

Rows = list[list[str]]


def parted(rows: Rows, separator: str, end: str = "\n") -> str:
    def cell(text: str) -> str:
        quoted = separator in text or '"' in text or "\n" in text
        return f'"{text.replace(chr(34), chr(34) * 2)}"' if quoted else text

    return end.join(separator.join(map(cell, row)) for row in rows) + end


def with_commas(rows: Rows) -> Rows:
    """Decimal commas in all cells that are plain numbers."""
    return [
        [cell.replace(".", ",") if cell.replace(".", "", 1).lstrip("-").isdigit() else cell
         for cell in row]
        for row in rows
    ]  # fmt: skip


def dressed(rows: Rows) -> Rows:
    """A title above, a blank row, a blank column before and after, a note below."""
    width = len(rows[0])
    wide = [["", *row, ""] for row in rows]
    return [
        ["Written by hand, in June"] + [""] * (width + 1), [""] * (width + 2), wide[0],
        [""] * (width + 2), *wide[1:], [""] * (width + 2),
    ]  # fmt: skip


WAYS: dict[str, tuple[str, Callable[[Rows], bytes]]] = {
    "comma": (".csv", lambda rows: parted(rows, ",").encode()),
    "semicolon, decimal commas": (".csv", lambda r: parted(with_commas(r), ";").encode()),
    "comma, quoted decimal commas": (".csv", lambda r: parted(with_commas(r), ",").encode()),
    "tab, UTF-16": (".txt", lambda rows: parted(rows, "\t", "\r\n").encode("utf-16")),
    "bar, cp1252": (".csv", lambda rows: parted(rows, "|").encode("cp1252")),
    "byte order mark, CR": (".csv", lambda rows: parted(rows, ";", "\r").encode("utf-8-sig")),
    "sep=": (".csv", lambda rows: ("sep=;\r\n" + parted(rows, ";", "\r\n")).encode()),
    "title, blanks": (".csv", lambda rows: parted(dressed(rows), ",").encode()),
    "title of commas": (
        ".csv", lambda rows: ("Sea, wind, weather; June\n" + parted(rows, ";")).encode()
    ),
    "note below": (".csv", lambda rows: (parted(rows, ",") + "\nAll times are ours\n").encode()),
    "comments": (".csv", lambda r: ("# made, by: hand\n" + parted(r, ";") + "# end\n").encode()),
    "no last line end": (".csv", lambda rows: parted(rows, ",").rstrip("\n").encode()),
}  # fmt: skip


def write_way(folder: Path, rows: Rows, way: str) -> Path:
    ending, written = WAYS[way]
    path = folder / f"table{ending}"
    path.write_bytes(written(rows))
    return path


def typed(cell: str) -> object:
    """What a spreadsheet makes of a cell that is typed in."""
    for make in (float, dt.datetime.fromisoformat, dt.time.fromisoformat):
        try:
            value = make(cell)
        except ValueError:
            continue
        naive = not isinstance(value, dt.datetime) or value.tzinfo is None
        return value if naive else cell
    return cell or None


def write_xlsx(path: Path, sheets: dict[str, Rows]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append([typed(cell) for cell in row])
    book.save(path)
    return path


def write_ods(path: Path, sheets: dict[str, Rows]) -> Path:
    """OpenDocument 1.2 (part 1, 9.1 and 19.385), numbers and dates as typed values."""

    def cell(text: str) -> str:
        value, shown = typed(text), f"<text:p>{escape(text)}</text:p>"
        if isinstance(value, float):
            return f'<table:table-cell office:value-type="float" office:value="{value!r}"/>'
        if isinstance(value, dt.datetime):
            return (
                '<table:table-cell office:value-type="date" '
                f'office:date-value="{value.isoformat()}">{shown}</table:table-cell>'
            )
        if isinstance(value, dt.time):
            return (
                '<table:table-cell office:value-type="time" office:time-value='
                f'"PT{value.hour:02d}H{value.minute:02d}M{value.second:02d}S"/>'
            )
        kind = ' office:value-type="string"' if text else ""
        return f"<table:table-cell{kind}>{shown if text else ''}</table:table-cell>"

    tables = "".join(
        f'<table:table table:name="{escape(name)}">'
        + "".join(f"<table:table-row>{''.join(map(cell, row))}</table:table-row>" for row in rows)
        + "</table:table>"
        for name, rows in sheets.items()
    )
    spaces = " ".join(
        f'xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{short}:1.0"'
        for short in ("office", "table", "text")
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {spaces} '
        f'office:version="1.2"><office:body><office:spreadsheet>{tables}</office:spreadsheet>'
        "</office:body></office:document-content>"
    )
    mime = "application/vnd.oasis.opendocument.spreadsheet"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("mimetype", mime)
        packed.writestr("content.xml", content)
        packed.writestr(
            "META-INF/manifest.xml",
            "<manifest:manifest "
            'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
            f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{mime}"/>'
            "</manifest:manifest>",
        )
    return path
