"""What people are told of alarms, and the ways to them."""
