"""The unattended visit: what a runner is asked, what is offered, and when a person must come."""
