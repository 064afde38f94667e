"""The past gone over once more in memory, and set beside what is recorded."""
