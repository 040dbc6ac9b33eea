"""The jobs: a request in, a result and its files out, whichever door asks for it.

`layers.jobs.requests` says what can be asked of each.  The ``run`` of the module of that name
computes, writes the results into a folder and gives them back; it prints nothing.

Examples
--------
>>> from layers.jobs import tide
>>> from layers.jobs.requests import TideRequest
>>> water = tide.run(TideRequest(currents="0.8 kn toward 40", date="2031-06-14"))
>>> water.notes[0]
'No tide heights are named. Give {heights}, or heights under [water].'
"""
