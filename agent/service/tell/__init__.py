"""Who is told what, when, and by which way."""
