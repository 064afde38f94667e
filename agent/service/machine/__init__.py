"""What this machine gives: its clock, the store's lock, secrets, certificates, the way to the broker."""
