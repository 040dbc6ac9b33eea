"""Line and lead in running water: its shape, the lead it needs, and the current that it shows."""
