"""What looks like a mistake of mapping, scaling or wiring."""
