"""Ways under power between drifts: the least cost over safe water."""
