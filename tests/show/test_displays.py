import pygame
import pytest

from station.errors import DeviceTrouble
from station.show.displays import canvas, desktop_size


def test_the_first_displays_size_and_nothing_is_left_open(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DISPLAY", ":7")
    monkeypatch.setattr(pygame.display, "get_desktop_sizes", lambda: [(1920, 1080), (800, 600)])
    assert desktop_size() == (1920, 1080)
    assert not pygame.display.get_init()


def test_without_a_display_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("station.show.window.sys.platform", "linux")
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    with pytest.raises(DeviceTrouble, match="neither DISPLAY nor WAYLAND_DISPLAY"):
        desktop_size()


def test_a_display_that_cannot_be_opened_is_a_devices_trouble(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refuse() -> None:
        raise pygame.error("cannot connect")

    monkeypatch.setenv("DISPLAY", ":7")
    monkeypatch.setattr(pygame.display, "init", refuse)
    with pytest.raises(DeviceTrouble, match="cannot connect"):
        desktop_size()
    assert not pygame.display.get_init()


@pytest.mark.parametrize(
    ("lines", "whole", "desktop", "size"),
    [
        (720, False, None, (1280, 720)),
        (720, False, (3840, 2160), (1280, 720)),
        (1080, False, (2560, 1600), (1920, 1080)),
        (720, False, (1080, 1920), (720, 1280)),
        (720, True, (1080, 1920), (720, 1280)),
        (720, True, (1024, 768), (960, 720)),
        (1080, True, (1920, 1200), (1728, 1080)),
        (720, True, (5120, 1440), (1680, 720)),
    ],
)
def test_the_picture_has_the_displays_shape(
    lines: int, whole: bool, desktop: tuple[int, int] | None, size: tuple[int, int]
) -> None:
    assert canvas(lines, whole, desktop) == size
