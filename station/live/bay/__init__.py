"""The unattended bay's loop: visits one after the other on one camera, one screen, one speaker."""
