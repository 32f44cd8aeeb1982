"""Paint the gallery: `python demo/gallery.py [FOLDER]`, small pictures of every screen.

Each screen of `demo/screens.py` in 1280 x 720; some in 1920 x 1080 and upright, shrunk to be kept
beside the code. Then sheets that show all of one size at a glance.
"""

from __future__ import annotations

import sys
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from demo.screens import scenes
from station.settings.words import read_words
from station.show.keys import keys_card
from station.show.painter import Painter

FOLDER = Path(__file__).parent / "pictures" / "gallery"
UPRIGHT = ("01-within", "02-ahead", "17-belt-waits", "32-what-just-happened")
LARGE = ("01-within", "02-ahead", "11-rest", "32-what-just-happened")
QUALITY = 82


def save(path: Path, image: np.ndarray, wide: int) -> None:
    """Write a picture, shrunk to `wide` pixels."""
    high = round(image.shape[0] * wide / image.shape[1])
    small = cv2.resize(image, (wide, high), interpolation=cv2.INTER_AREA)
    path.parent.mkdir(parents=True, exist_ok=True)
    cv2.imwrite(str(path), small, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])


def main(folder: Path = FOLDER) -> None:
    """Paint everything into `folder`."""
    words, shown = read_words("en"), scenes()
    painter = Painter(1280, 720, words)
    for name, scene in shown.items():
        save(folder / f"{name}.jpg", painter.paint(scene), 800)
    save(folder / "90-keys.jpg", keys_card(1280, 720, words), 800)
    large, upright = Painter(1920, 1080, words), Painter(1080, 1920, words)
    for name in LARGE:
        save(folder / f"{name}-1920x1080.jpg", large.paint(shown[name]), 1280)
    for name in UPRIGHT:
        save(folder / f"{name}-1080x1920.jpg", upright.paint(shown[name]), 540)


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:2]))
