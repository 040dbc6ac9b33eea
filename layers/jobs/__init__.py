"""The jobs: a request in, a result and its files out, whichever door asks for it.

Every job is a frozen dataclass whose fields are what can be asked.  Its ``run`` computes, writes
the results into a folder and gives them back; it prints nothing.

Examples
--------
>>> from layers.jobs.scout import ScoutRequest
>>> request = ScoutRequest(grid=("sound.tif",), band="17-25 ft")
>>> result = request.run()  # doctest: +SKIP
>>> result.files["map"]  # doctest: +SKIP
PosixPath('scouted/map.html')
"""
