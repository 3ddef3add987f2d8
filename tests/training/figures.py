"""How well the network in `models/` reads rectified crops whose truth is known, and from where."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from stance.court.camera import Camera, camera_centre, floor_jacobian, floor_point
from stance.measures.network_outputs import (
    ERRORS,
    FACTORS_FILE,
    FEET_PLACES,
    TARGETS,
    combine_readings,
    distance_apart,
    error_factors,
    own_errors,
)
from stance.measures.orientation import WIDTHS, OrientationNetwork, line_yaw
from stance.measures.rectified_crop import RECTIFIED_FACTOR, RECTIFIED_PIXELS
from stance.runtime.model_files import models_folder, network_card
from tests.evaluation.limits import PHONE_FOCAL_PX, seen_limit
from tests.rendering.cameras import VIEWS
from tests.rendering.skeleton import JOINT_NAMES
from tests.training.crops import SIZE, Crops, truth_of
from tests.training.prediction_errors import prediction_errors

_CUT = slice((SIZE - RECTIFIED_PIXELS) // 2, (SIZE + RECTIFIED_PIXELS) // 2)

# Where the phone stood, for the picture from above: metres away and metres high.
DISTANCES_M = (3.0, 5.0, 8.0, 12.5)
HEIGHTS_M = (1.0, 2.0, 3.6)


@dataclass(frozen=True)
class Readings:
    """What is predicted of crops as a ready position's measures, and what is true.

    Attributes
    ----------
    errors, sizes : (stills, errors) in the order of `ERRORS`: errors and standard errors
    own_sizes : (stills, errors) standard errors that the network itself predicts
    feet_sizes : (stills, 2, 2) standard errors of lead angle and stagger, of these alone and of how
        far two readings are apart
    centimetres : (stills,) of a crop pixel
    hip_yaw, lead_angle, stagger : (stills, 3) predicted, standard error, true; degrees and metres
    elevation : (stills,) radians at which the phone looks down on the player
    bearing : (stills,) degrees from straight behind the player to the phone, positive to the right
    side : (stills,) 1 for right-handers, -1 for left-handers
    distance, height : (stills,) metres of the phone
    view : (stills,)
    """

    errors: np.ndarray
    sizes: np.ndarray
    own_sizes: np.ndarray
    feet_sizes: np.ndarray
    centimetres: np.ndarray
    hip_yaw: np.ndarray
    lead_angle: np.ndarray
    stagger: np.ndarray
    elevation: np.ndarray
    bearing: np.ndarray
    side: np.ndarray
    distance: np.ndarray
    height: np.ndarray
    view: np.ndarray


def read(crops: Crops) -> Readings:
    """Read crops as the tool does."""
    reader, truth = OrientationNetwork(), truth_of(crops)
    count = len(crops.row)
    predicted, sizes = np.empty((count, len(TARGETS))), np.empty((count, len(ERRORS)))
    true = truth.targets.copy()
    true[:, FEET_PLACES] = (
        (truth.points[:, len(JOINT_NAMES) :] - _CUT.start) / RECTIFIED_PIXELS
    ).reshape(count, 4)
    scale = np.exp(truth.scale)
    own_sizes, feet_sizes = np.empty((count, len(ERRORS))), np.empty((count, 2, 2))
    yaws, leads, staggers, places = [], [], [], []
    for row, picture in enumerate(crops.pictures):
        readings = reader.read_twice(
            [_of_width(picture, width) for width in WIDTHS],
            float(truth.elevation[row]),
            float(scale[row]),
        )
        predicted[row], sizes[row] = combine_readings(readings)
        own_sizes[row] = own_errors(readings)
        matrix = crops.matrix[row].copy()
        matrix[:2, 2] -= _CUT.start
        camera = Camera(
            matrix,
            crops.rotation[row],
            crops.translation[row],
            (RECTIFIED_PIXELS, RECTIFIED_PIXELS),
        )
        hand = str(crops.hand[row])
        found, real = (
            _measures(camera, values, sizes[row], hand) for values in (predicted[row], true[row])
        )
        for part, alone in enumerate((own_sizes[row], distance_apart(readings))):
            of_part = _measures(camera, predicted[row], alone, hand)
            feet_sizes[row, :, part] = of_part[1][1], of_part[2][1]
        yaws.append((*found[0], real[0][0]))
        leads.append((*found[1], real[1][0]))
        staggers.append((*found[2], real[2][0]))
        places.append(camera_centre(camera) - (*crops.joints[row, :, :2].mean(axis=0), 0.0))
    away = np.array(places)
    return Readings(
        prediction_errors(predicted, true),
        sizes,
        own_sizes,
        feet_sizes,
        100.0 * scale,
        np.array(yaws),
        np.array(leads),
        np.array(staggers),
        truth.elevation,
        np.degrees(np.arctan2(away[:, 0], -away[:, 1])),
        np.where(crops.hand == "right", 1.0, -1.0),
        np.hypot(away[:, 0], away[:, 1]),
        away[:, 2],
        crops.view,
    )


def _of_width(picture: np.ndarray, width: float) -> np.ndarray:
    """Cut a crop of a width out of one with a margin."""
    zoom = RECTIFIED_FACTOR / width
    # Pixel centres are at whole numbers here, in crops at .5.
    shift = RECTIFIED_PIXELS / 2 - zoom * SIZE / 2 + (zoom - 1) / 2
    return cv2.warpAffine(
        picture,
        np.array([[zoom, 0.0, shift], [0.0, zoom, shift]]),
        (RECTIFIED_PIXELS, RECTIFIED_PIXELS),
        flags=cv2.INTER_LINEAR,
    )


def _measures(
    camera: Camera,
    predicted: np.ndarray,
    sizes: np.ndarray,
    hand: str,
) -> tuple[tuple[float, float], tuple[float, float], tuple[float, float]]:
    """Hip yaw, lead angle and stagger, each with its standard error."""
    away = camera.rotation[2, :2] / np.linalg.norm(camera.rotation[2, :2])
    side = 1.0 if hand == "right" else -1.0
    hips = side * predicted[:2] @ np.stack([camera.rotation[0, :2], away])
    pixels = predicted[FEET_PLACES].reshape(2, 2) * RECTIFIED_PIXELS
    left, right = floor_point(camera, pixels)[:, :2]
    racket, other = (right, left) if hand == "right" else (left, right)
    line = racket - other
    spread = floor_jacobian(camera, pixels.mean(axis=0)) * sizes[2:4]
    spread = spread @ spread.T
    across = np.array([-line[1], line[0]]) / (line @ line)
    return (
        (float(line_yaw(np.zeros(2), hips, hand)), float(sizes[0])),
        (
            float(line_yaw(other, racket, hand)),
            float(np.degrees(np.sqrt(across @ spread @ across))),
        ),
        (float(line[1]), float(np.sqrt(spread[1, 1]))),
    )


def off(triples: np.ndarray) -> np.ndarray:
    """Errors (stills,) of angles (stills, 3), degrees, around the circle."""
    return (triples[:, 0] - triples[:, 2] + 180.0) % 360.0 - 180.0


def print_errors(readings: Readings) -> None:
    """Print mean absolute errors and how often 95 % intervals hold, view by view."""
    print(
        f"{'view':<8}{'n':>5} hips: bias   MAE  95 %  slope over 60 | shoulders | feet line "
        "across, down cm | knees | 95 % intervals hold: " + ", ".join(ERRORS)
    )
    for view in (*VIEWS, "all"):
        rows = (readings.view == view) | (view == "all")
        if not rows.any():
            continue
        e = readings.errors[rows]
        mean = np.abs(e).mean(axis=0)
        line = np.abs(e[:, 2:4] * readings.centimetres[rows, None]).mean(axis=0)
        hold = (np.abs(e) <= 1.96 * readings.sizes[rows]).mean(axis=0)
        true = readings.hip_yaw[rows, 2]
        slope = np.polyfit(true, true + off(readings.hip_yaw[rows]), 1)[0]
        print(
            f"{view:<8}{rows.sum():5d}{e[:, 0].mean():11.2f}{mean[0]:6.2f}"
            f"{np.percentile(np.abs(e[:, 0]), 95):6.1f}{slope:7.3f}"
            f"{(np.abs(e[:, 0]) > 60).sum():8d} | "
            f"{mean[1]:9.2f} | {line[0]:12.2f}, {line[1]:11.2f} | {mean[6:].mean():5.2f} | "
            + " ".join(f"{100 * h:.1f}" for h in hold)
        )
    print(
        f"\n{'view':<8}{'height':>10}{'n':>5} lead angle: MAE  hold   limit | stagger, cm: MAE  "
        "hold   limit | hips:   MAE  limit"
    )
    for view in VIEWS:
        for low, high in zip(HEIGHTS_M, HEIGHTS_M[1:], strict=False):
            rows = (readings.view == view) & (readings.height >= low) & (readings.height < high)
            if rows.any():
                print(f"{view:<8}{low:4.1f} to {high:.1f}{rows.sum():5d}{_floor(readings, rows)}")


def fit_factors(readings: Sequence[Readings]) -> None:
    """Write the factors with which 95 % intervals of what the network itself predicts hold 95 % of
    these truths, put together."""
    content = network_card(FACTORS_FILE)
    in_sizes = np.concatenate([np.abs(part.errors) / part.own_sizes for part in readings])
    off_by = np.percentile(in_sizes, 95, axis=0) / 1.96
    content["factors"] = {
        name: round(float(value), 4)
        for name, value in zip(ERRORS, error_factors() * off_by, strict=True)
    }
    (models_folder() / FACTORS_FILE).write_text(json.dumps(content, indent=1) + "\n")
    error_factors.cache_clear()


def _floor(readings: Readings, rows: np.ndarray) -> str:
    """Errors of lead angle and stagger beside what perfect landmarks would give."""
    limits = np.array(
        [
            seen_limit(e, PHONE_FOCAL_PX / np.hypot(d, h), bearing, side * yaw, side * lead)
            for e, d, h, bearing, side, yaw, lead in zip(
                readings.elevation[rows],
                readings.distance[rows],
                readings.height[rows],
                readings.bearing[rows],
                readings.side[rows],
                readings.hip_yaw[rows, 2],
                readings.lead_angle[rows, 2],
                strict=True,
            )
        ]
    ).mean(axis=0)
    lead, stagger = readings.lead_angle[rows], readings.stagger[rows]
    short = np.abs(stagger[:, 0] - stagger[:, 2])
    return (
        f"{np.abs(off(lead)).mean():16.2f}"
        f"{(np.abs(off(lead)) <= 1.96 * lead[:, 1]).mean():6.2f}{limits[1]:8.2f} | "
        f"{100 * short.mean():16.2f}{(short <= 1.96 * stagger[:, 1]).mean():6.2f}"
        f"{100 * limits[2]:8.2f} | "
        f"{np.abs(off(readings.hip_yaw[rows])).mean():11.2f}{limits[0]:7.2f}"
    )


def print_shared(readings: Readings, stances: int) -> None:
    """Print which part of the errors' variance the stances of one person in one place share.

    The intraclass correlation of one-way random effects, ICC(1): P. E. Shrout and J. L. Fleiss,
    "Intraclass correlations: uses in assessing rater reliability", Psychological Bulletin 86
    (1979) 420-428.
    """
    for name, errors in (
        ("hip yaw", off(readings.hip_yaw)),
        ("lead angle", off(readings.lead_angle)),
    ):
        groups = errors.reshape(-1, stances)
        between = stances * groups.mean(axis=1).var(ddof=1)
        within = groups.var(axis=1, ddof=1).mean()
        share = (between - within) / (between + (stances - 1) * within)
        print(
            f"{name}: {len(groups)} people in {stances} stances each share {share:.2f} of the "
            "errors' variance"
        )


def draw_map(readings: Readings, path: Path) -> None:
    """Draw from above what the errors are where the phone stands, for two heights.

    Wedges are the four views, rings the distances; each cell says mean absolute errors.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=(13, 12), layout="constrained")
    measures = (
        ("hip yaw, degrees", np.abs(off(readings.hip_yaw)), (3.0, 7.0)),
        ("lead angle, degrees", np.abs(off(readings.lead_angle)), (1.0, 5.0)),
    )
    for column, (title, errors, span) in enumerate(measures):
        for row, (low, high) in enumerate(zip(HEIGHTS_M, HEIGHTS_M[1:], strict=False)):
            axes = figure.add_subplot(2, 2, 2 * row + column + 1, projection="polar")
            axes.set_theta_zero_location("S")
            axes.set_title(f"{title}\nphone {low:.0f} to {high:.1f} m high", pad=18)
            for first, last in ((0, 20), (20, 65), (65, 125), (125, 180)):
                for near, far in zip(DISTANCES_M, DISTANCES_M[1:], strict=False):
                    from_behind = np.abs(readings.bearing)
                    rows = (
                        (from_behind >= first)
                        & (from_behind < last + 1e-9)
                        & (readings.distance >= near)
                        & (readings.distance < far)
                        & (readings.height >= low)
                        & (readings.height < high)
                    )
                    if rows.sum() >= 8:
                        _cell(axes, (first, last), (near, far), float(errors[rows].mean()), span)
            axes.set_ylim(0, DISTANCES_M[-1])
            axes.grid(visible=False)
            axes.set_yticks(DISTANCES_M, [f"{d:g} m" for d in DISTANCES_M], fontsize=8)
            axes.set_rlabel_position(132)
            axes.set_xticks(
                np.radians([0, 42, 90, 180, 270, 318]),
                ["behind", "corner", "side", "front, beyond the net", "side", "corner"],
            )
            axes.text(0, 0, "player", ha="center", va="center")
    figure.savefig(path, dpi=75)


def _cell(
    axes: Any,
    angles: tuple[float, float],
    rings: tuple[float, float],
    error: float,
    span: tuple[float, float],
) -> None:
    """Colour a cell on both sides and write its error into it."""
    from matplotlib import colormaps

    colour = colormaps["viridis_r"]((error - span[0]) / (span[1] - span[0]))
    pale = sum(colour[:3]) > 1.5
    middle = np.radians(sum(angles) / 2)
    width = np.radians(angles[1] - angles[0])
    # Both sides of the player, or one wedge straight behind or in front.
    wedges = (
        [(0.0, 2 * width)]
        if angles[0] == 0
        else [(np.pi, 2 * width)]
        if angles[1] == 180
        else [(middle, width), (-middle, width)]
    )
    for at, wide in wedges:
        axes.bar(at, rings[1] - rings[0], wide, rings[0], color=colour, edgecolor="white")
        axes.text(
            at,
            sum(rings) / 2,
            f"{error:.1f}",
            ha="center",
            va="center",
            color="black" if pale else "white",
        )
