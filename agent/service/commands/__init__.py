"""What people tell the running agent."""
