"""How the boat drifts: its track through set and leeway, its fan, safe water, the motor."""
