"""What is said in pyproject, constraints, README and Makefile agrees with what is there."""

from __future__ import annotations

import contextlib
import importlib
import re
import sys
from pathlib import Path
from typing import Any

import pytest
from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import station

if sys.version_info >= (3, 11):
    import tomllib
else:
    import tomli as tomllib

ROOT = Path(__file__).resolve().parents[1]
PYTHONS = ("3.10", "3.11", "3.12")
# The folders that installed code reads, and where the wheel puts them.
SHIPPED = {
    "config": "station/_config",
    "shared": "station/_shared",
    "demo": "station/_demo",
}


@pytest.fixture(scope="module")
def project() -> dict[str, Any]:
    with (ROOT / "pyproject.toml").open("rb") as file:
        return tomllib.load(file)


def applies(requirement: Requirement, python: str) -> bool:
    environment = {**default_environment(), "python_version": python, "extra": ""}
    return requirement.marker is None or requirement.marker.evaluate(environment)


def pins(python: str) -> dict[str, str]:
    """Return name: version of constraints.txt for one Python; each name once."""
    found: dict[str, str] = {}
    for line in (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines():
        if not line or line.startswith("#"):
            continue
        requirement = Requirement(line)
        (pin,) = requirement.specifier
        assert pin.operator == "==", line
        if applies(requirement, python):
            name = canonicalize_name(requirement.name)
            assert name not in found, f"{name} is pinned twice for Python {python}"
            found[name] = pin.version
    return found


@pytest.mark.parametrize("python", PYTHONS)
def test_pins_satisfy_every_need(project: dict[str, Any], python: str) -> None:
    needs = project["project"]["dependencies"] + project["project"]["optional-dependencies"]["dev"]
    pinned = pins(python)
    for need in map(Requirement, needs):
        if applies(need, python):
            version = pinned[canonicalize_name(need.name)]
            assert need.specifier.contains(version), f"{need} against {version}, Python {python}"


@pytest.mark.parametrize("python", PYTHONS)
def test_one_opencv_only(python: str) -> None:
    assert [name for name in pins(python) if name.startswith("opencv")] == ["opencv-contrib-python"]


def test_pose_package_is_exact(project: dict[str, Any]) -> None:
    needs = {r.name: r for r in map(Requirement, project["project"]["dependencies"])}
    assert str(needs["mediapipe"].specifier) == "==0.10.21"
    assert str(needs["opencv-contrib-python"].specifier) == "==4.11.0.86"


def test_version_is_the_package_s(project: dict[str, Any]) -> None:
    assert project["tool"]["hatch"]["version"]["path"] == "station/__init__.py"
    assert re.fullmatch(r"\d+\.\d+\.\d+", station.__version__)


def test_wheel_carries_every_file_that_code_reads(project: dict[str, Any]) -> None:
    wheel = project["tool"]["hatch"]["build"]["targets"]["wheel"]
    assert wheel["sources"] == SHIPPED
    included = [ROOT / entry.lstrip("/") for entry in wheel["include"]]
    needed = [p for folder in ("config", "shared") for p in (ROOT / folder).rglob("*")]
    needed += [ROOT / "demo" / "scenario.toml", ROOT / "station" / "__init__.py"]
    for path in (p for p in needed if not p.is_dir()):
        assert any(path == entry or entry in path.parents for entry in included), path


def test_shipped_files_are_there() -> None:
    for name in ("config/bay.toml", "config/plans", "config/words", "shared", "demo/scenario.toml"):
        assert (ROOT / name).exists(), f"{name} is what the wheel ships, and is not here"


def readme() -> str:
    return (ROOT / "README.md").read_text(encoding="utf-8")


def test_readme_names_the_commands_that_help_lists(
    project: dict[str, Any], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    module, function = project["project"]["scripts"]["station"].split(":")
    command = getattr(importlib.import_module(module), function)
    monkeypatch.setattr(sys, "argv", ["station", "--help"])
    with contextlib.suppress(SystemExit):
        command()
    listed = set(re.findall(r"[a-z]+", capsys.readouterr().out))
    quoted = " ".join(re.findall(r"`([^`]+)`", readme()))
    named = set(re.findall(r"\bstation ([a-z]+)\b", quoted))
    assert named >= {"demo", "run", "replay", "plans"}
    assert named <= listed, f"named, but not in station --help: {named - listed}"


def test_readme_names_make_targets_that_exist() -> None:
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.M))
    assert {"demo", "test", "lint", "bench", "prove", "clean", "help"} <= targets
    for page in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / page).read_text(encoding="utf-8")
        assert set(re.findall(r"^    make ([a-z]+)", text, re.M)) <= targets, page


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_pages_name_files_that_exist(page: str) -> None:
    text = (ROOT / page).read_text(encoding="utf-8")
    links = re.findall(r"\]\((?!https?:)([^)#]+)\)", text)
    paths = re.findall(r"`((?:station|tests|config|shared|demo)/[\w./-]+\.\w+)`", text)
    ships = tuple(SHIPPED.values())
    for name in links + paths:
        assert name.startswith(ships) or (ROOT / name).exists(), f"{page} names {name}"


def test_readme_says_what_the_station_is_not() -> None:
    text = " ".join(readme().split())
    for words in ("never drives the belt", "not the stop device", "promises no injury prevention"):
        assert words in text
