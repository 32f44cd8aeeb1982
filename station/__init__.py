"""Landing Station: a live feedback station beside a treadmill."""

__version__ = "0.1.0"
