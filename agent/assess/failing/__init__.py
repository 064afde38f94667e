"""Instruments that show what cannot be true."""
