"""Likely causes, ranked: the signs, the faults that bring them, and one wrong sensor instead."""
