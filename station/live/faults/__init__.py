"""What goes wrong in a session: found, told once, shown while it lasts, kept with its times."""
