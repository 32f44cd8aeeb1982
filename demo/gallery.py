"""Paint the gallery: `python demo/gallery.py [FOLDER]`, pictures of every screen.

Each screen of `demo/screens.py` in 1280 x 720 and in 1920 x 1080, and some upright, as large as on
the screen. Without a folder the gallery beside the code is painted anew, and the README's screens.
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

PICTURES = Path(__file__).parent / "pictures"
SIZES = ((1280, 720), (1920, 1080))
UPRIGHT = (1080, 1920)
SHOWN_UPRIGHT = ("01-within", "02-ahead", "17-belt-waits", "32-what-just-happened")
README = {
    "window": "01-within", "ahead": "02-ahead", "what-just-happened": "32-what-just-happened",
    "belt-waits": "17-belt-waits", "coach-strip": "26-coach-strip",
}  # fmt: skip
"""Screens in the README, and how they are called there."""
README_WIDE = 960
QUALITY = 80


def save(path: Path, image: np.ndarray) -> None:
    """Write a picture as WebP, which keeps such flat grounds in half of JPEG's room."""
    path.parent.mkdir(parents=True, exist_ok=True)
    cv2.imwrite(str(path.with_suffix(".webp")), image, [cv2.IMWRITE_WEBP_QUALITY, QUALITY])


def save_small(path: Path, image: np.ndarray) -> None:
    """Write a picture of the README, shrunk."""
    high = round(image.shape[0] * README_WIDE / image.shape[1])
    small = cv2.resize(image, (README_WIDE, high), interpolation=cv2.INTER_AREA)
    cv2.imwrite(str(path.with_suffix(".jpg")), small, [cv2.IMWRITE_JPEG_QUALITY, 85])


def main(folder: Path | None = None) -> None:
    """Paint everything into `folder`."""
    words, shown = read_words("en"), scenes()
    gallery = folder or PICTURES / "gallery"
    for wide, high in SIZES:
        size, painter = f"{wide}x{high}", Painter(wide, high, words)
        for name, scene in shown.items():
            save(gallery / size / name, painter.paint(scene))
        save(gallery / size / "90-keys", keys_card(wide, high, words))
    painter = Painter(*UPRIGHT, words)
    for name in SHOWN_UPRIGHT:
        save(gallery / f"{UPRIGHT[0]}x{UPRIGHT[1]}" / name, painter.paint(shown[name]))
    if folder is None:
        painter = Painter(*SIZES[0], words)
        for told, name in README.items():
            save_small(PICTURES / told, painter.paint(shown[name]))


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:2]))
