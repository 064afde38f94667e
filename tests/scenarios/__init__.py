"""Runs of the feed's bench with a known truth, driven through the agent's own path; `python -m tests.scenarios`."""
