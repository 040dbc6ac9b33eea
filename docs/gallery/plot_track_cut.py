"""
A track cut into runs and drifts
================================

Every second of a track is in exactly one piece.
"""

import matplotlib.pyplot as plt

import layers

fixes, _ = layers.example_trip()
fixes, report = layers.clean(fixes)
pieces = layers.cut(fixes)

axes = plt.figure(figsize=(8, 3), layout="constrained").gca()
colours = {"run": "tab:grey", "drift": "tab:green", "hold": "tab:orange", "gap": "white"}
for piece in pieces.itertuples():
    axes.axvspan(piece.start, piece.end, color=colours[piece.kind], alpha=0.5)
    axes.text(piece.start, piece.sog_mps + 0.1, f" {piece.kind}")
    axes.hlines(piece.sog_mps, piece.start, piece.end, color="black")
axes.set(
    ylabel="speed over the ground, m/s",
    title=f"Speed by piece: {report.sentences()[0]}",
    ylim=(0, 3.2),
)
plt.show()
