"""Tone synthesis, the beat and the speakers."""
