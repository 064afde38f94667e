"""Runs of the feed's bench with a known truth, through the agent's own path; `python -m tests.scenarios`."""
