"""Reports without their pictures, which cost the most, unless a test asks for them."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def _no_drawing(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the drawing out; what is said does not hang on it."""
    if "drawn" in request.fixturenames:
        return
    monkeypatch.setattr("station.keep.report.chart.draw", lambda *_: "<svg></svg>")


@pytest.fixture
def drawn() -> None:
    """Let pictures be drawn."""
