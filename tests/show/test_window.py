from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pygame
import pytest

from station.errors import DeviceTrouble
from station.show import window as window_module
from station.show.layout import Box
from station.show.window import Window, display_available


@pytest.fixture
def window() -> Iterator[Window]:
    opened = Window(320, 180, keys=np.full((60, 80, 3), 200, np.uint8))
    yield opened
    opened.close()
    opened.close()  # safe to repeat


def shown() -> np.ndarray:
    """What is on the window's surface, (height, width, 3) RGB."""
    return pygame.surfarray.array3d(pygame.display.get_surface()).swapaxes(0, 1)


def test_a_picture_keeps_its_colours_and_its_sides(window: Window) -> None:
    image = np.zeros((180, 320, 3), np.uint8)
    image[:, :100] = (10, 20, 250)
    window.show(image)
    image[:] = 0  # the window has its own copy by now
    assert tuple(shown()[90, 50]) == (250, 20, 10)
    assert tuple(shown()[90, 200]) == (0, 0, 0)


def test_a_window_of_another_size_shows_the_whole_picture(window: Window) -> None:
    pygame.display.set_mode((640, 400), pygame.RESIZABLE)  # as when somebody pulls at its corner
    image = np.full((180, 320, 3), 90, np.uint8)
    image[:, :160] = 200
    window.show(image)
    assert shown()[200, 100].tolist() == [200] * 3
    assert shown()[200, 630].tolist() == [90] * 3
    assert not shown()[10].any()  # 16:10 leaves bars of 20 above and below
    assert shown()[25, 100].all()


def test_a_part_is_shown_alone(window: Window) -> None:
    image = np.full((180, 320, 3), 90, np.uint8)
    window.show(image)
    image[:] = 200
    window.show_part(image, Box(100, 40, 20, 30))
    lit = (shown() == 200).all(axis=2)
    assert lit.sum() == 20 * 30
    assert lit[40:70, 100:120].all()


def test_in_a_larger_window_a_part_is_at_its_place_in_the_enlarged_picture(window: Window) -> None:
    pygame.display.set_mode((640, 400), pygame.RESIZABLE)
    image = np.full((180, 320, 3), 90, np.uint8)
    window.show(image)
    image[40:70, 100:120] = 200
    window.show_part(image, Box(90, 30, 40, 50))
    in_part = shown()
    window.show(image)
    assert np.abs(in_part.astype(int) - shown()).max() <= 1
    assert in_part[20 + 2 * 55, 2 * 110].tolist() == [200] * 3


def test_a_part_does_not_show_through_the_card(window: Window) -> None:
    image = np.zeros((180, 320, 3), np.uint8)
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_h, unicode="h"))
    window.events()
    window.show(image)
    before = shown()
    window.show_part(image, Box(150, 80, 30, 30))
    assert (shown() == before).all()


def test_a_picture_of_another_size_is_refused(window: Window) -> None:
    with pytest.raises(ValueError, match=r"shows \(320, 180\) pictures"):
        window.show(np.zeros((100, 100, 3), np.uint8))


@pytest.mark.parametrize(
    ("key", "command"),
    [
        (pygame.K_q, "end"), (pygame.K_ESCAPE, "end"), (pygame.K_SPACE, "pause"),
        (pygame.K_p, "pause"), (pygame.K_PERIOD, "pause"), (pygame.K_b, "pause"),
        (pygame.K_RIGHT, "next"), (pygame.K_PAGEDOWN, "forward"), (pygame.K_LEFT, "previous"),
        (pygame.K_PAGEUP, "previous"), (pygame.K_r, "repeat"), (pygame.K_RETURN, "go"),
        (pygame.K_KP_ENTER, "go"), (pygame.K_F5, "go"), (pygame.K_UP, "rate_up"),
        (pygame.K_DOWN, "rate_down"), (pygame.K_KP_PLUS, "speed_up"),
        (pygame.K_MINUS, "speed_down"), (pygame.K_l, "limit_up"), (pygame.K_k, "limit_down"),
        (pygame.K_f, "feedback"), (pygame.K_s, "sound"), (pygame.K_c, "strip"),
        (pygame.K_h, "help"), (pygame.K_F1, "help"),
    ],
)  # fmt: skip
def test_keys_become_commands(window: Window, key: int, command: str) -> None:
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=key, unicode=""))
    pygame.event.post(pygame.event.Event(pygame.KEYUP, key=key))
    assert [event.command for event in window.events()] == [command]
    assert window.events() == ()


def test_typed_signs_and_closing_and_unknown_keys(window: Window) -> None:
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_x, unicode="x"))
    for sign in "+10":
        pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=0, unicode=sign))
    pygame.event.post(pygame.event.Event(pygame.QUIT))
    assert [event.command for event in window.events()] == ["speed_up", "1", "0", "quit"]


def test_help_lays_the_card_over_the_picture(window: Window) -> None:
    image = np.zeros((180, 320, 3), np.uint8)
    for on in (True, False):
        pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_h, unicode="h"))
        window.events()
        window.show(image)
        assert window.help_shown is on
        assert bool(shown()[90, 160].any()) is on
        assert not shown()[5, 5].any()
    assert not image.any()


def test_without_a_display_the_trouble_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise pygame.error("no available video device")

    monkeypatch.setattr(pygame.display, "set_mode", refuse)
    with pytest.raises(DeviceTrouble, match=r"no available video device.*--headless"):
        Window(320, 180)
    assert not pygame.display.get_init()


def test_an_unseen_window_is_no_window(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pygame.display, "get_driver", lambda: "offscreen")
    monkeypatch.delenv("SDL_VIDEODRIVER")
    monkeypatch.setattr(pygame.display, "init", lambda: None)
    with pytest.raises(DeviceTrouble, match="only 'offscreen'"):
        Window(320, 180)


def test_display_available(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(window_module.sys, "platform", "linux")
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    assert not display_available()
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    assert display_available()
    monkeypatch.delenv("WAYLAND_DISPLAY")
    monkeypatch.setattr(window_module.sys, "platform", "win32")
    assert display_available()


def test_how_large_the_picture_is_against_the_full_screen(
    window: Window, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(window, "_desktop", (1280, 800))  # 16:10: the picture fills 1280 x 720
    assert window.share == pytest.approx(0.25)
    pygame.display.set_mode((640, 400), pygame.RESIZABLE)
    assert window.share == pytest.approx(0.5)


def test_arrow_keys_and_typed_signs_reach_the_pages(window: Window) -> None:
    for key, text in ((pygame.K_LEFT, ""), (pygame.K_TAB, "\t"), (pygame.K_a, "a")):
        pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=key, unicode=text))
    found = [(one.face, one.text) for one in window.answers()]
    assert found == [("Left", ""), ("Tab", ""), ("A", "a")]
