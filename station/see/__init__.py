"""Eyes of the station: frame sources (camera, clip), the pose model, and pose sources (trace)."""
