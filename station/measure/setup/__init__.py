"""What is measured once, while a bay is set up: pure functions of pictures, times and points."""
