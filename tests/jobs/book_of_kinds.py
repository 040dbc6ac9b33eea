"""Beginnings of files, and what they are."""

KINDS = [
    ("a.toml", "", "area file"),
    ("a.gpx", "", "GPX"),
    ("a.xml", '<?xml version="1.0"?><gpx version="1.1">', "GPX"),
    ("a.csv", "time,species,length_in,kept\n", "catch log"),
    ("a.csv", "# my log\nDate;Time;Species\n", "catch log"),
    ("a.csv", "sep=;\r\nDate;Time;Species\r\n", "catch log"),
    ("a.csv", "Date,Time,Length\n", "catch log"),
    ("a.csv", "time,lat,lon,released\n", "catch log"),
    ("a.csv", "Date|Time|Note\n", "catch log"),  # a time is all that one needs
    ("a.csv", "time,height_m,kind\n", "table of tide heights"),
    ("a.csv", "Date,Time,Height (ft)\n", "table of tide heights"),
    ("a.csv", "time,event,speed_kn\n", "table of currents"),
    ("a.csv", "time,lat,lon,depth_m\n", "track log"),
    ("a.csv", "time,x,y,z\n", "depth grid"),
    ("a.csv", "lon,lat,depth\n", "depth grid"),
    ("a.xyz", "-33.4 46.2 5.0\n", "depth grid"),
    ("a.log", "$IIDBT,036.41,f,011.10,M,005.99,F*25\n", "sounder's log"),
    ("a.gpkg", "", "GeoPackage"),
    ("a.txt", "We left before dawn, and drifted over the bar.\nTwo boats were there.\n", "text"),
    ("a.txt", "The tide was high at 9, so that we fished the ledge until low water.\n", "text"),
    ("a.md", "# The bar\n\nOn 14 June we drifted over it with the flood, and caught 3.\n", "text"),
    ("a.csv", "easting east of here,northing,level\n1,2,3\n4,5,6\n7,8,9\n", "depth grid"),
    ("a.txt", "466000 5118000 4.5\n466004 5118000 4.6\n", "depth grid"),
    ("a.asc", "ncols 3\nnrows 3\n", "depth grid"),
]
