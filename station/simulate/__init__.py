"""The simulated runner: its gait with exact truth, its picture, its listening."""
