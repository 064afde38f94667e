"""What is promised of readings, assessments and alarms, tried by kills, broker, disk and damaged files."""
