"""The day: hours, lines chosen, passes laid, the plan and its timetable."""
