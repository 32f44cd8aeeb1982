"""Prove that the coach's page works in a real browser beside a live session.

The whole session runs on real pictures at the pace of a camera; a headless Chromium is the coach's
phone. Before, during and after it is looked from outside what listens and what the page shows: the
page's own changes are noted by the browser, what the station knew and when by its own calls.

    python tests/proofs/coach_page.py [--seconds 45] [--pictures FOLDER]

Prints one JSON line; exits 1 where a bound does not hold, 3 where no browser can be driven.
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from kit.extra import LibraryMissing, independent
from kit.overheard import Overheard, free_port, listens
from kit.pictures import PacedPictures, Pictures
from kit.running import options, served, tell
from kit.session import run_session

from station.live.session import Session
from station.simulate.parameters import GaitParameters

CHROMIUM = ("/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome")
PRESS_S, LANDING_S = 0.5, 0.3
LEAST_TARGET_PX = 44.0
"""WCAG 2.2, success criterion 2.5.5 (target size, enhanced)."""
LEAST_CONTRAST = 4.5
"""WCAG 2.2, 1.4.3 (contrast, minimum)."""
WATCH = """() => { window.seen = [];
  new MutationObserver(() => window.seen.push([Number(document.body.dataset.landings), Date.now()]))
    .observe(document.body, {attributes: true, attributeFilter: ["data-landings"]}); }"""
TARGETS = """() => [...document.querySelectorAll("button, summary, input")].map((one) => {
  const box = one.getBoundingClientRect();
  return [one.textContent.trim().slice(0, 20), box.width, box.height]; })
  .filter(([, wide, high]) => wide > 0 && high > 0)"""
WIDEST = "() => document.documentElement.scrollWidth"
CONTRASTS = """() => {
  const light = (text) => { const [r, g, b] = text.match(/[\\d.]+/g).map(Number).map((v) => v / 255)
    .map((v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const behind = (one) => { for (; one; one = one.parentElement) {
    const colour = getComputedStyle(one).backgroundColor;
    if (!/, 0\\)$/.test(colour)) return colour; } return "rgb(255, 255, 255)"; };
  return [...document.querySelectorAll("main:not([hidden]) *")]
    .filter((one) => one.getClientRects().length && [...one.childNodes].some((n) => n.nodeType === 3
      && n.textContent.trim()))
    .map((one) => { const style = getComputedStyle(one);
      const ink = one instanceof SVGElement ? style.fill : style.color;
      const two = [light(ink), light(behind(one))].sort((a, b) => b - a);
      return [one.textContent.trim().slice(0, 20), (two[0] + 0.05) / (two[1] + 0.05)]; }); }"""


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options("The coach's page in a browser.", seconds=45.0, pictures=("", "keep"))
    independent("playwright")
    with served():
        yield prove(asked.seconds, Path("out/coach_page") if asked.pictures else None)


def prove(seconds: float, kept: Path | None) -> dict[str, object]:
    """Run the session here and the browser beside it."""
    port = free_port()
    told: dict[str, Any] = {"listened_before": listens(port)}
    source = PacedPictures(Pictures(GaitParameters(rate_spm=172.0), 30.0, 8.0), seconds + 5.0)
    with Overheard() as heard, tempfile.TemporaryDirectory() as name:
        browsing = threading.Thread(target=_guarded, args=(told, heard, port, kept))
        browsing.start()
        page = {"coach_page": True, "coach_page_host": "127.0.0.1", "coach_page_port": port}
        run_session(source, Path(name), 172.0, seconds, feedback="every step", bay=page)
        told["listens_after"] = listens(port)
        browsing.join(60.0)
    if "fault" in told:
        raise LibraryMissing(f"the browser could not be driven: {told['fault']}")
    delays_s = landing_delays_s(heard.landings, told.pop("seen", []))
    told |= {
        "landings_judged": len(heard.landings),
        "landings_seen": len(delays_s),
        "landing_seen_s_50_95_most": [
            round(float(v), 3) for v in np.percentile(delays_s, (50, 95, 100))
        ] if delays_s else None,
    }  # fmt: skip
    holds = {
        "nothing listens when off": not told["listened_before"] and not told["listens_after"],
        "wrong code refused": told.get("refused") is True,
        "presses in time": max(told.get("press_s", [9.9])) <= PRESS_S,
        "landings in time": bool(delays_s) and float(np.percentile(delays_s, 95)) <= LANDING_S,
        "back after a drop": told.get("back_s", 99.0) < 5.0,
        "other origin refused": told.get("other_origin", {}).get("states") == 0,
        "told of the end": told.get("over") is True,
        "targets": told.get("least_target_px", 0.0) >= LEAST_TARGET_PX,
        "no wider than the screen": max(told.get("widest_px", {"": 9}).values()) <= 0,
        "contrast": told.get("least_contrast", 0.0) >= LEAST_CONTRAST,
    }
    return {"proof": "coach_page", "holds": all(holds.values()), "each": holds, **told}


def landing_delays_s(known: list[tuple[int, float]], seen: list[list[float]]) -> list[float]:
    """Return for each landing how long after the verdict the page had it, seconds."""
    delays = []
    for number, at_s in known:
        when = next((ms / 1000.0 for count, ms in seen if count >= number), None)
        if when is not None and seen[0][0] < number:
            delays.append(when - at_s)
    return delays


def _guarded(told: dict[str, Any], heard: Overheard, port: int, kept: Path | None) -> None:
    try:
        browse(told, heard, port, kept)
    except Exception as fault:
        told["fault"] = f"{type(fault).__name__}: {fault}"


def browse(told: dict[str, Any], heard: Overheard, port: int, kept: Path | None) -> None:
    """Be the coach."""
    from playwright.sync_api import sync_playwright

    _until(lambda: heard.session is not None and listens(port), 60.0)
    program = next((path for path in CHROMIUM if Path(path).exists()), None)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program)
        phone = browser.new_context(viewport={"width": 390, "height": 844}, device_scale_factor=2)
        page = phone.new_page()
        faults: list[str] = []
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        page.goto(f"http://127.0.0.1:{port}/")
        page.wait_for_selector("#join:not([hidden])")
        _picture(page, kept, "join")
        page.fill("#code", f"{(int(heard.code()) + 1) % 1_000_000:06d}")
        page.click("#join-form button")
        page.wait_for_function("document.getElementById('join-said').textContent !== ''")
        told["refused"] = page.is_hidden("#coach")
        page.fill("#code", heard.code())
        page.click("#join-form button")
        page.wait_for_selector("#coach:not([hidden])")
        page.evaluate(WATCH)
        _until(lambda: len(heard.landings) >= 6, 60.0)
        told["press_s"] = [
            _pressed(page, heard, key, of)
            for key, of in (("rate_up", _rate), ("speed_down", _belt))
        ]
        page.wait_for_timeout(1500)
        _picture(page, kept, "phone")
        boxes = page.evaluate(TARGETS)
        told["least_target_px"] = min(min(wide, high) for _, wide, high in boxes)
        told["widest_px"] = {"phone": page.evaluate(WIDEST) - 390}
        contrasts = page.evaluate(CONTRASTS)
        told["least_contrast"] = round(min(value for _, value in contrasts), 2)
        page.click("#more summary")
        for name, wide, high in (("tablet", 1024, 768), ("tablet_upright", 768, 1024)):
            page.set_viewport_size({"width": wide, "height": high})
            page.wait_for_timeout(600)
            _picture(page, kept, name)
            told["widest_px"][name] = page.evaluate(WIDEST) - wide
        page.set_viewport_size({"width": 390, "height": 844})
        told["back_s"] = _dropped(page)
        told["other_origin"] = _elsewhere(phone, port)
        page.wait_for_selector("#over:not([hidden])", timeout=120_000)
        told["over"] = True
        told["seen"] = page.evaluate("window.seen")
        _picture(page, kept, "over")
        told["page_faults"] = faults
        browser.close()


def _rate(session: Session) -> object:
    return session.coaching.target_spm


def _belt(session: Session) -> object:
    return session.coaching.progress.status().belt_speed


def _pressed(page: Any, heard: Overheard, key: str, of: Callable[[Session], object]) -> float:
    """Return how long after the tap the station had done it, seconds."""
    session = heard.session
    assert session is not None
    before, begun_s = of(session), time.monotonic()
    page.evaluate(f"document.querySelector('[data-press={key}]').click()")
    _until(lambda: of(session) != before, 10.0)
    return round(time.monotonic() - begun_s, 3)


def _dropped(page: Any) -> float:
    """Cut the connection, and return how long until states come again, seconds."""
    page.evaluate("socket.close()")
    begun_s = time.monotonic()
    page.wait_for_selector("#lost:not([hidden])", timeout=10_000)
    page.wait_for_selector("#lost", state="hidden", timeout=30_000)
    return round(time.monotonic() - begun_s, 3)


def _elsewhere(context: Any, port: int) -> dict[str, int]:
    """Open the socket from a page of another origin; return how it ended and what it was told."""
    page = context.new_page()
    page.route("http://127.0.0.1:9797/", lambda route: route.fulfill(body="<p>elsewhere"))
    page.goto("http://127.0.0.1:9797/")
    found: dict[str, int] = page.evaluate(
        f"""() => new Promise((told) => {{ let states = 0;
            const one = new WebSocket("ws://127.0.0.1:{port}/live");
            one.onmessage = () => {{ states += 1; }};
            one.onclose = (event) => told({{code: event.code, states}}); }})"""
    )
    page.close()
    return found


def _picture(page: Any, kept: Path | None, name: str) -> None:
    if kept is not None:
        kept.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(kept / f"{name}.png"), full_page=True)


def _until(there: Callable[[], bool], longest_s: float) -> None:
    end_s = time.monotonic() + longest_s
    while not there():
        if time.monotonic() > end_s:
            raise TimeoutError("what was waited for did not come")
        time.sleep(0.002)


if __name__ == "__main__":
    sys.exit(tell("coach_page", results()))
