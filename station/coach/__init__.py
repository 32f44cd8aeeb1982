"""Decides: plans, drill progress, landing verdicts, feedback, and what is to be shown."""
