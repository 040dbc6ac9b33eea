"""The current learned from own drifts: model, fit and file."""
