"""What makes the demo area: one module for each thing that is made."""
