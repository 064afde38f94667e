"""What Prometheus scrapes."""
