"""What takes hours and days: hours summed up, what is usual, and what rests on them."""
