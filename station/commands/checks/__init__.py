"""The checks of a bay, one kind of device each; `station check` runs them all."""
