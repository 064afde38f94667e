"""What was measured by hand, against the telemetry of its minute."""
