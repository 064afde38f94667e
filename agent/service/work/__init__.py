"""The work on each module, live and late: registered, assessed, its hours, its alarms."""
