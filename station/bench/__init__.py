"""Accuracy and cost of the measurement on this machine: simulated runners and recorded trials."""
