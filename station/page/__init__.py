"""The coach's page: served on the local network while a session wants it, and only then."""
