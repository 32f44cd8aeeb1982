"""Reads plans, bay profiles and words from TOML files into the frozen values of the station."""

from station.settings.bay import read_bay
from station.settings.plan import read_plan
from station.settings.plan_limits import check_plan_against_bay
from station.settings.words import read_words

__all__ = ["check_plan_against_bay", "read_bay", "read_plan", "read_words"]
