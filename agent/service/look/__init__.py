"""What other processes and pages see of the store; it only reads, but for an acknowledgement."""
