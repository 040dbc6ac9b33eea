"""The pages of the desk, one module each: what they show, and what their forms ask of the jobs."""
