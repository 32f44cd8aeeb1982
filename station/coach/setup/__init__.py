"""Setting a bay up: one step after the other, as values and pure state; no device is touched."""
