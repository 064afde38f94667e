"""A simulated building gateway that plays an invented site to an MQTT broker.

It shares nothing with the agent but the broker: its physics, its topics and its clock are its own,
so that the demonstration does not agree with itself by construction.
"""
