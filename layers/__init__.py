"""What lies over the bottom: water, boats, fish, maps.  Imports ``seabed``, never the reverse."""
