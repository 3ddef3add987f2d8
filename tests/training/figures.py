"""How well the network in `models/` reads portraits whose truth is known."""

import numpy as np

from stance.directions import ERRORS, Reader, errors_of
from stance.portrait import PORTRAIT_PIXELS
from tests.rendering.cameras import VIEWS
from tests.rendering.skeleton import JOINT_NAMES
from tests.training.portraits import SIZE, Portraits

_CUT = slice((SIZE - PORTRAIT_PIXELS) // 2, (SIZE + PORTRAIT_PIXELS) // 2)


def truth_of(portraits: Portraits, row: int) -> tuple[np.ndarray, float, float]:
    """What the network should say of a portrait; elevation and metres per pixel it is told."""
    joints, rotation = portraits.joints[row], portraits.rotation[row]

    def pair(name: str) -> np.ndarray:
        return joints[[JOINT_NAMES.index(f"{side}_{name}") for side in ("left", "right")]]

    away = rotation[2, :2] / np.linalg.norm(rotation[2, :2])
    axes = np.stack([rotation[0, :2], away])
    feet = (pair("heel") + pair("toe")) / 2 * (1.0, 1.0, 0.0)
    seen = feet @ rotation.T + portraits.translation[row]
    pixels = seen @ portraits.matrix[row].T
    places = (pixels[:, :2] / pixels[:, 2:] - _CUT.start) / PORTRAIT_PIXELS
    hips, shoulders, knees, ankles = (pair(n) for n in ("hip", "shoulder", "knee", "ankle"))
    lines = [axes @ (p[1] - p[0])[:2] for p in (hips, shoulders)]
    thigh, shin = knees - hips, ankles - knees
    long = np.linalg.norm(thigh, axis=-1), np.linalg.norm(shin, axis=-1)
    bend = np.arccos(np.clip((thigh * shin).sum(axis=-1) / long[0] / long[1], -1, 1))
    offset = axes @ (hips.mean(axis=0) - feet.mean(axis=0))[:2]
    said = np.concatenate([*(line / np.linalg.norm(line) for line in lines), places.ravel(), bend,
                           offset, [np.linalg.norm(hips[1] - hips[0]), np.mean(long[0] + long[1])]])
    scale = seen[:, 2].mean() / portraits.matrix[row, 0, 0]
    return said, float(np.arcsin(-rotation[2, 2])), float(scale)


def print_errors(portraits: Portraits) -> None:
    """Print mean absolute errors and how often 95 % intervals hold, view by view."""
    reader = Reader()
    errors, sizes, scales = [], [], []
    for row, picture in enumerate(portraits.pictures):
        true, elevation, scale = truth_of(portraits, row)
        said, size = reader.read(np.ascontiguousarray(picture[_CUT, _CUT]), elevation, scale)
        errors.append(errors_of(said, true))
        sizes.append(size)
        scales.append(100.0 * scale)
    error, size, centimetres = np.array(errors), np.array(sizes), np.array(scales)[:, None]
    print(f"{'view':<8}{'n':>5} hips: bias   MAE  95 %  over 60 | "
          "shoulders | feet line across, down cm | knees | 95 % intervals hold: "
          + ", ".join(ERRORS))
    for view in (*VIEWS, "all"):
        rows = (portraits.view == view) | (view == "all")
        if not rows.any():
            continue
        e, mean = error[rows], np.abs(error[rows]).mean(axis=0)
        line = np.abs(e[:, 2:4] * centimetres[rows]).mean(axis=0)
        hold = (np.abs(e) <= 1.96 * size[rows]).mean(axis=0)
        print(f"{view:<8}{rows.sum():5d}{e[:, 0].mean():11.2f}{mean[0]:6.2f}"
              f"{np.percentile(np.abs(e[:, 0]), 95):6.1f}{(np.abs(e[:, 0]) > 60).sum():9d} | "
              f"{mean[1]:9.2f} | {line[0]:12.2f}, {line[1]:11.2f} | {mean[6:].mean():5.2f} | "
              + " ".join(f"{100 * h:.1f}" for h in hold))
