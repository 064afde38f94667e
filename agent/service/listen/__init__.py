"""Listening at the broker beside a running agent."""
