"""What was measured by hand: typed, kept, compared."""
