"""Many recordings worked through one after the other: found, run, written down, gone on with."""
