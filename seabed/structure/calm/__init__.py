"""NoiseSettings: how much there is, soundings that stand alone, and the ground without either."""
