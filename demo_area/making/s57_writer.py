"""A small S-57 cell, written record by record.

After IHO S-57 edition 3.1, part 3 (data structure), and ISO/IEC 8211: little-endian binary fields,
positions times 10**7, soundings times 10.
"""

from __future__ import annotations

import struct
from pathlib import Path

FT, UT = b"\x1e", b"\x1f"
SCALE, SOUNDING_SCALE = 10_000_000, 10

DEFINITIONS = {
    "0001": (b"0500;&   ", "ISO 8211 Record Identifier", "", "(b12)"),
    "DSID": (b"1600;&   ", "Data set identification field",
             "RCNM!RCID!EXPP!INTU!DSNM!EDTN!UPDN!UADT!ISDT!STED!PRSP!PSDN!PRED!PROF!AGEN!COMT",
             "(b11,b14,2b11,3A,2A(8),R(4),b11,2A,b11,b12,A)"),
    "DSSI": (b"1600;&   ", "Data set structure information field",
             "DSTR!AALL!NALL!NOMR!NOCR!NOGR!NOLR!NOIN!NOCN!NOED!NOFA", "(3b11,8b14)"),
    "DSPM": (b"1600;&   ", "Data set parameter field",
             "RCNM!RCID!HDAT!VDAT!SDAT!CSCL!DUNI!HUNI!PUNI!COUN!COMF!SOMF!COMT",
             "(b11,b14,3b11,b14,4b11,2b14,A)"),
    "FRID": (b"1600;&   ", "Feature record identifier field",
             "RCNM!RCID!PRIM!GRUP!OBJL!RVER!RUIN", "(b11,b14,2b11,2b12,b11)"),
    "FOID": (b"1600;&   ", "Feature object identifier field", "AGEN!FIDN!FIDS", "(b12,b14,b12)"),
    "ATTF": (b"2600;&-A ", "Feature record attribute field", "*ATTL!ATVL", "(b12,A)"),
    "FSPT": (b"2600;&   ", "Feature record to spatial record pointer field",
             "*NAME!ORNT!USAG!MASK", "(B(40),3b11)"),
    "VRID": (b"1600;&   ", "Vector record identifier field", "RCNM!RCID!RVER!RUIN",
             "(b11,b14,b12,b11)"),
    "VRPT": (b"2600;&   ", "Vector record pointer field", "*NAME!ORNT!USAG!TOPI!MASK",
             "(B(40),4b11)"),
    "SG2D": (b"2600;&   ", "2-D coordinate field", "*YCOO!XCOO", "(2b24)"),
    "SG3D": (b"2600;&   ", "3-D coordinate field", "*YCOO!XCOO!VE3D", "(3b24)"),
}  # fmt: skip
ISOLATED, CONNECTED, EDGE, FEATURE = 110, 120, 130, 100


def record(fields, *, describing=False):
    """One ISO 8211 record of (tag, bytes) fields."""
    directory, area = b"", b""
    for tag, data in fields:
        directory += f"{tag}{len(data):05d}{len(area):05d}".encode()
        area += data
    directory += FT
    base = 24 + len(directory)
    kind = "3LE1 09" if describing else " D     "
    leader = f"{base + len(area):05d}{kind}{base:05d}{' ! ' if describing else '   '}5504"
    return leader.encode() + directory + area


def describing_record():
    tree = (
        "0001DSIDDSIDDSSI0001DSPM0001FRIDFRIDFOIDFRIDATTFFRIDFSPT0001VRIDVRIDVRPTVRIDSG2DVRIDSG3D"
    )
    fields = [("0000", b"0000;&   " + UT + tree.encode() + FT)]
    for tag, (control, name, labels, form) in DEFINITIONS.items():
        body = control + name.encode() + UT + labels.encode() + UT + form.encode() + FT
        fields.append((tag, body))
    return record(fields, describing=True)


class Cell:
    """Collects vector and feature records, then writes them."""

    def __init__(self):
        self.vectors, self.features, self.next_id = [], [], 1

    def identity(self):
        self.next_id += 1
        return self.next_id

    def vector(self, kind, fields):
        number = self.identity()
        self.vectors.append([("VRID", struct.pack("<BIHB", kind, number, 1, 1) + FT), *fields])
        return struct.pack("<BI", kind, number)

    def point(self, x, y):
        place = struct.pack("<ii", round(y * SCALE), round(x * SCALE))
        return self.vector(ISOLATED, [("SG2D", place + FT)])

    def soundings(self, triples):
        places = b"".join(
            struct.pack("<iii", round(y * SCALE), round(x * SCALE), round(d * SOUNDING_SCALE))
            for x, y, d in triples
        )
        return self.vector(ISOLATED, [("SG3D", places + FT)])

    def node(self, x, y):
        place = struct.pack("<ii", round(y * SCALE), round(x * SCALE))
        return self.vector(CONNECTED, [("SG2D", place + FT)])

    def edge(self, places):
        """An edge from node to node; the same node twice if it closes."""
        closed = places[0] == places[-1]
        first = self.node(*places[0])
        last = first if closed else self.node(*places[-1])
        ends = b"".join(
            name + struct.pack("<BBBB", 255, 255, topology, 255)
            for name, topology in ((first, 1), (last, 2))
        )
        between = b"".join(
            struct.pack("<ii", round(y * SCALE), round(x * SCALE)) for x, y in places[1:-1]
        )
        return self.vector(EDGE, [("VRPT", ends + FT), ("SG2D", between + FT)])

    def feature(self, code, primitive, names, attributes=None):
        """Primitive: 1 point, 2 line, 3 area.  Attributes: code -> text."""
        number = self.identity()
        usage = 1 if primitive == 3 else 255
        orientation = 1 if primitive > 1 else 255
        fields = [
            ("FRID", struct.pack("<BIBBHHB", FEATURE, number, primitive, 2, code, 1, 1) + FT),
            ("FOID", struct.pack("<HIH", 1, number, 1) + FT),
        ]
        if attributes:
            data = b"".join(
                struct.pack("<H", key) + text.encode("latin-1") + UT
                for key, text in attributes.items()
            )
            fields.append(("ATTF", data + FT))
        pointers = b"".join(name + struct.pack("<BBB", orientation, usage, 255) for name in names)
        fields.append(("FSPT", pointers + FT))
        self.features.append(fields)

    def write(self, path: Path) -> Path:
        name = path.name.encode()
        general = (
            struct.pack("<BIBB", 10, 1, 1, 5) + name + UT + b"1" + UT + b"0" + UT
            + b"20310101" + b"20310101" + b"03.1" + struct.pack("<B", 1) + UT + b"2.0" + UT
            + struct.pack("<BH", 1, 1) + UT
        )  # fmt: skip
        structure = struct.pack("<3B8I", 2, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0)
        parameters = (
            struct.pack(
                "<BIBBBIBBBBII", 20, 1, 2, 12, 12, 20_000, 1, 1, 1, 1, SCALE, SOUNDING_SCALE
            )
            + UT
        )
        records = [
            [("DSID", general + FT), ("DSSI", structure + FT)],
            [("DSPM", parameters + FT)],
            *self.vectors,
            *self.features,
        ]
        data = describing_record()
        for number, fields in enumerate(records, 1):
            data += record([("0001", struct.pack("<H", number) + FT), *fields])
        path.write_bytes(data)
        return path
