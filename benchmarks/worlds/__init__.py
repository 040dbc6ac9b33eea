"""Worlds that differ in what the methods assume, and what the methods make of each.

``python -m benchmarks.worlds [PART ...] [--seeds FIRST COUNT]`` prints one table.  Seeds below
`TOLD` are for tuning; what the documentation reports is measured on seeds from `TOLD` on.
"""

TOLD = 1000
