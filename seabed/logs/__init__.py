"""What devices record: readers of GPX, of NMEA 0183 sentences and of delimited text."""

from seabed.logs.delimited import read_delimited_fixes
from seabed.logs.fixes import FileFixes, to_utc
from seabed.logs.gpx import read_gpx_fixes
from seabed.logs.kinds import log_kind
from seabed.logs.nmea import read_nmea_fixes

__all__ = [
    "FileFixes",
    "log_kind",
    "read_delimited_fixes",
    "read_gpx_fixes",
    "read_nmea_fixes",
    "to_utc",
]
