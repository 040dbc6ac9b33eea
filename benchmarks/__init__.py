"""Speed, as ratios to reference libraries in the same run: ``python -m benchmarks [names]``.

Each module here with a ``run() -> list[Row]`` is a benchmark; its name selects it.
"""
