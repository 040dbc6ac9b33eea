"""Files changed by chance: bytes, words, parts of HDF5, cells of databases, members of archives."""

from __future__ import annotations

import io
import json
import random
import re
import shutil
import sqlite3
import struct
import zipfile
from pathlib import Path
from typing import Any

import h5py
import numpy as np
from byte_damage import harmed

NUMBERS = (
    "0", "-1", "1e308", "-1e308", "1e-300", "1e999", "nan", "inf", "-inf", "720", "90.0001", "1,5",
    "0x10", "", "9" * 400, "9" * 5000, "0." + "3" * 3000, "2031-06-14", "24:60", "-0", "1_000", "٣",
)  # fmt: skip
WORDS = (
    "\0", "\n", "\r", "\t", "\ufeff", ";", ",", '"', "'", "<", "&", "]]>", "#", "=", "null", "true",
    "[" * 3000, "{" * 3000, "a." * 4000 + "b", "x" * 5000, "é" * 2000, "\ufffd",
)  # fmt: skip
LARGEST = 50_000_000  # characters of a changed record
NUMBER, WORD = re.compile(r"-?\d+(\.\d+)?"), re.compile(r"\b\w+")
PACKED = tuple(
    struct.pack(form, value)
    for form, value in (
        ("<I", 0), ("<I", 0xFFFFFFFF), ("<I", 0x7FFFFFFF), (">I", 0x7FFFFFFF), ("<I", 0x10000),
        ("<d", 1e308), ("<d", float("nan")), ("<d", -1.0), ("<d", 1e-300), ("<d", 720.0),
        ("<f", float("inf")), ("<f", 3e38), (">d", 1e308), (">d", 0.0), ("<Q", 1 << 40),
        ("<Q", (1 << 64) - 1),
    )
)  # fmt: skip
VALUES = (
    0, -1, 1, 2**31, 2**62, 1e308, 1e-300, -1e308, float("nan"), float("inf"), 720.0, "",
    "x" * 5000, "EPSG:4978", "2031", b"\xff\xfe", 4978, 9, 8, 3,
)  # fmt: skip
TEXT = {
    ".asc", ".xyz", ".csv", ".txt", ".gpx", ".nmea", ".toml", ".json", ".vrt", ".hdr", ".grd-text",
}  # fmt: skip


def mutated(whole: Path, target: Path, seed: int) -> None:
    """Write a changed copy of a file."""
    chance = random.Random(seed)
    how = chance.random()
    data = whole.read_bytes()
    kind = whole.suffix
    if data.startswith(b"\x89HDF") and how < 0.6:
        shutil.copy(whole, target)
        _change_parts(target, chance)
    elif data.startswith(b"SQLite") and how < 0.6:
        shutil.copy(whole, target)
        _change_rows(target, chance)
    elif data.startswith(b"PK") and how < 0.8:
        target.write_bytes(_repacked(data, chance))
    elif kind == ".json" and how < 0.5:
        target.write_text(_with_other_value(json.loads(data), chance), encoding="utf-8")
    elif kind in TEXT and how < 0.7:
        target.write_bytes(_reworded(data, chance))
    elif how < 0.85:
        target.write_bytes(harmed(data, chance.getrandbits(32)))
    else:
        target.write_bytes(_overwritten(data, chance))


def _reworded(data: bytes, chance: random.Random) -> bytes:
    """Put hostile numbers and words in place of some; or repeat, or drop, a line."""
    text = data.decode("utf-8", errors="replace")
    for _ in range(chance.randint(1, 4)):
        how, start = chance.random(), chance.randrange(len(text) + 1)
        kind = NUMBER if how < 0.5 else WORD
        at = kind.search(text, start) or kind.search(text)
        if how < 0.75 and at:
            value = chance.choice(NUMBERS if how < 0.5 else WORDS)
            text = text[: at.start()] + value + text[at.end() :]
        else:
            lines = text.splitlines(keepends=True) or [""]
            at_line = chance.randrange(len(lines))
            lines[at_line] *= chance.choice((0, 2, 300 if len(text) < 20_000 else 2))
            text = "".join(lines)
    return text.encode("utf-8", errors="replace")


def _with_other_value(record: Any, chance: random.Random) -> str:
    """Change, repeat or remove a part of a record, which stays JSON."""
    for _ in range(chance.randint(1, 3)):
        holder = record
        while True:
            keys = list(holder if isinstance(holder, dict) else range(len(holder)))
            if not keys:
                break
            key = chance.choice(keys)
            if isinstance(holder[key], dict | list) and chance.random() < 0.7:
                holder = holder[key]
                continue
            how = chance.random()
            if how < 0.1:
                del holder[key]
            elif how < 0.2 and isinstance(holder[key], list):
                room = LARGEST // (len(json.dumps(record)) + 1)  # three of 5000 make gigabytes
                holder[key] *= min(chance.choice((2, 100, 5000)), max(room, 1))
            else:
                values = [one for one in VALUES if not isinstance(one, bytes)]
                holder[key] = chance.choice([*values, None, True, [], {}, [[1.0]], ["2031"] * 2])
            break
    return json.dumps(record)


def _overwritten(data: bytes, chance: random.Random) -> bytes:
    content = bytearray(data)
    for _ in range(chance.randint(1, 3)):
        piece = chance.choice(PACKED)
        at = chance.randrange(max(1, min(len(content), 4096)))
        content[at : at + len(piece)] = piece
    return bytes(content)


def _repacked(data: bytes, chance: random.Random) -> bytes:
    """Change a member of an archive and pack it again."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", 8) as new:
        names = old.namelist()
        spoilt = chance.choice(names)
        for name in names:
            part = old.read(name)
            if name == spoilt:
                part = (
                    _reworded(part, chance)
                    if chance.random() < 0.7
                    else harmed(part, chance.getrandbits(32))
                )
            new.writestr(name, part)
    return out.getvalue()


def _change_rows(path: Path, chance: random.Random) -> None:
    """Put anything into a cell of any table, or do away with a table."""
    with sqlite3.connect(path) as book:
        book.execute("PRAGMA writable_schema = ON")
        book.execute("PRAGMA synchronous = OFF")
        tables = [
            row[0] for row in book.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        ]
        try:
            for _ in range(chance.randint(1, 3)):
                table = chance.choice(tables)
                if chance.random() < 0.1:
                    book.execute(f'DROP TABLE "{table}"')
                    continue
                columns = [row[1] for row in book.execute(f'PRAGMA table_info("{table}")')]
                value = chance.choice((*VALUES, None, chance.randbytes(20), "GP\0\1" + "x" * 20))
                if isinstance(value, int) and abs(value) > 2**62:
                    value = float(value)
                book.execute(f'UPDATE "{table}" SET "{chance.choice(columns)}" = ?', (value,))
        except (sqlite3.Error, IndexError):
            pass
    book.close()


def _change_parts(path: Path, chance: random.Random) -> None:
    """Change an attribute, numbers, shape or type of a part of an HDF5 file, or remove it."""
    with h5py.File(path, "a") as file:
        names: list[str] = []
        file.visit(names.append)
        for _ in range(chance.randint(1, 3)):
            name = chance.choice(names)
            if name not in file:
                continue
            part, how = file[name], chance.random()
            try:
                if how < 0.4:
                    holder = chance.choice([part, file, part.parent])
                    key = chance.choice([*holder.attrs, "units", "scale_factor", "crs_wkt"])
                    if chance.random() < 0.2:
                        holder.attrs.pop(key, None)
                    else:
                        holder.attrs[key] = chance.choice(VALUES)
                elif how < 0.5:
                    del file[name]
                elif isinstance(part, h5py.Dataset):
                    _change_data(file, name, part, chance)
            except (TypeError, ValueError, OSError, KeyError, RuntimeError):
                continue


def _change_data(file: h5py.File, name: str, part: h5py.Dataset, chance: random.Random) -> None:
    if part.size is not None and part.size > 1e6:
        return
    values = part[()]
    if chance.random() < 0.3:
        del file[name]
        shape = chance.choice([(), (0,), (1,), (2, 2), (300_000, 300_000), (3, 0), (2, 3, 4)])
        kind = chance.choice(["f4", "i8", "S3", "u1", "c8"])
        big = np.prod(shape, dtype=float) > 1e6
        file.create_dataset(name, shape, kind, chunks=(1000, 1000) if big else None)
    elif np.size(values):
        flat = np.array(values).ravel()
        at = chance.randrange(flat.size)
        field = chance.choice(flat.dtype.names) if flat.dtype.names else None
        value = chance.choice([one for one in VALUES if isinstance(one, int | float)])
        with np.errstate(all="ignore"):
            if field:
                flat[field][at] = np.array(value).astype(flat.dtype[field])
            else:
                flat[at] = np.array(value).astype(flat.dtype)
        part[...] = flat.reshape(np.shape(values))
