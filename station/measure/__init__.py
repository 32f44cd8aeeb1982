"""Pure measurement: from poses to landings and steps."""

from station.measure.gait_meter import GaitMeter

__all__ = ["GaitMeter"]
