"""What the boat needs of a day: a launch with water enough, and power."""
