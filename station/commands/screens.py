"""Opens the runner's screen: painter, window, recorder."""

from __future__ import annotations

from pathlib import Path

from station.live import Screen
from station.settings import read_words
from station.show.displays import canvas, canvas_here
from station.show.keys import keys_card
from station.show.legibility import text_scale
from station.show.painter import Painter
from station.show.window import Window
from station.values import Bay

WIDTH, HEIGHT = 1280, 720
MOST_VIDEO_FPS = 60.0


def open_screen(
    window: bool, video: bool, bay: Bay, path: Path, still: Path, live: bool
) -> Screen | None:
    """Open what is asked for; None where nothing is to be drawn.

    Args:
        window: Open a window.
        video: Record what the screen shows, once `record` is called.
        bay: Its screen and distance set the text's size, its language the words.
        path: Of the recorded screen.
        still: Of the one picture that is kept beside it.
        live: The recorder must not hold up the loop.

    Raises:
        BadInput: There are no words in the bay's language.
        DeviceTrouble: No window can be opened.
    """
    if not (window or video):
        return None
    words = read_words(bay.language)
    size = (
        canvas_here(bay.screen_lines, whole=False)
        if window
        else canvas(bay.screen_lines, False, None)
    )
    scale = text_scale(bay.screen_diagonal_m, bay.viewing_distance_m, *size)
    painter = Painter(*size, words, scale, bay.show_legs)
    shown = None
    if window:
        shown = Window(*size, keys=keys_card(*size, words, scale))

    if not video:
        return Screen(painter, shown, coach_strip=bay.coach_strip)
    # Its library is loaded for a film only, and here: nothing sounds yet that it could hold up.
    from station.show.recorder import VideoRecorder, save_still

    def recorder(fps: float) -> VideoRecorder:
        return VideoRecorder(path, *size, min(fps, MOST_VIDEO_FPS), live)

    return Screen(painter, shown, recorder, lambda image: save_still(still, image), bay.coach_strip)
