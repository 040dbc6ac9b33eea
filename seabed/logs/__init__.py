"""What devices record: readers of GPX, of NMEA 0183 sentences and of delimited text."""

from seabed.logs.delimited import read_delimited_fixes as read_delimited_fixes
from seabed.logs.fixes import FileFixes as FileFixes
from seabed.logs.fixes import log_kind as log_kind
from seabed.logs.fixes import to_utc as to_utc
from seabed.logs.gpx import read_gpx_fixes as read_gpx_fixes
from seabed.logs.nmea import read_nmea_fixes as read_nmea_fixes
