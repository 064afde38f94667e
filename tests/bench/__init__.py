"""What all runs of the feed's bench through the agent's own path have in common."""
