"""What several jobs share: settings of the area, the bottom, outputs, answers, words."""
