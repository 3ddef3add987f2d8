"""Places from several views, some of which may be wrong."""

import itertools
from collections.abc import Sequence

import numpy as np

from stance.court.camera import Camera, depth, project
from stance.types import FloatArray
from tests.evaluation.real_recording.reference import JOINT_NAMES, JOINTS

# Joints that a model swaps together when it takes a back for a front, or crossed legs for
# parallel ones.
SWAPPED_TOGETHER = (("shoulder",), ("hip",), ("knee", "ankle", "heel", "toe"))
# Reprojection error, in pixels, beyond which a view counts for little.
OUTLYING_PIXELS = 12.0


def triangulate(
    cameras: Sequence[Camera], pixels: FloatArray, weights: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Find places from several views, some of which may be wrong.

    Every set of two or more views proposes a place; the one with the smallest robust error
    (Cauchy's, scale `OUTLYING_PIXELS`) is refined by reweighted least squares over all views.

    Parameters
    ----------
    pixels : (views, n, 2)
    weights : (views, n)

    Returns
    -------
    places (n, 3) metres; picture minus projection (views, n, 2) pixels; robust error (n,)
    """
    matrices = np.array(
        [
            camera.matrix @ np.column_stack([camera.rotation, camera.translation])
            for camera in cameras
        ]
    )

    def misses(places: FloatArray) -> FloatArray:
        return np.asarray(pixels - [project(camera, places) for camera in cameras])

    def cost(missed: FloatArray) -> FloatArray:
        squares = np.sum(missed**2, axis=-1) / OUTLYING_PIXELS**2
        squares = np.where(np.isnan(squares), np.inf, squares)
        return np.asarray(np.sum(weights * np.log1p(squares), axis=0))

    views = range(len(cameras))
    sets = [chosen for size in views[1:] for chosen in itertools.combinations(views, size + 1)]
    proposals = np.array(
        [
            _linear(pixels, np.isin(views, chosen)[:, None] * np.ones_like(weights), matrices)
            for chosen in sets
        ]
    )
    costs = np.array([cost(misses(proposal)) for proposal in proposals])
    places = proposals[np.argmin(costs, axis=0), np.arange(pixels.shape[1])]
    for _ in range(10):
        missed = misses(places)
        trust = weights / (1 + np.sum(missed**2, axis=-1) / OUTLYING_PIXELS**2)
        # Dividing by depth turns the linear equations' error into one in pixels.
        depths = np.array([depth(camera, places) for camera in cameras])
        places = _linear(pixels, np.sqrt(trust) / depths, matrices)
    missed = misses(places)
    return places, missed, cost(missed)


def unswap(cameras: Sequence[Camera], pixels: FloatArray, weights: FloatArray) -> int:
    """Change left and right back where a view took one for the other; return how often.

    Of all ways to swap views, for each group of joints and frame, the one with the smallest
    robust error is taken, and of two that only differ by swapping everything, the one with
    fewer swaps.

    Parameters
    ----------
    pixels : (views, frames, joints, 2), changed in place
    weights : (views, frames, joints), changed in place
    """
    partner = np.arange(len(JOINTS)) ^ 1
    views, frames = pixels.shape[:2]
    swaps = sorted(itertools.product((False, True), repeat=views), key=sum)
    swaps = swaps[: 2 ** (views - 1)]
    changed = 0
    for group in SWAPPED_TOGETHER:
        joints = [i for i, name in enumerate(JOINT_NAMES) if name.split("_")[1] in group]
        costs = []
        for swap in swaps:
            order = np.where(np.array(swap)[:, None], partner[joints], joints)
            tried = np.take_along_axis(pixels, order[:, None, :, None], axis=2)
            trust = np.take_along_axis(weights, order[:, None], axis=2)
            cost = triangulate(cameras, tried.reshape(views, -1, 2), trust.reshape(views, -1))[2]
            costs.append(cost.reshape(frames, -1).sum(axis=1))
        for frame, best in enumerate(np.argmin(costs, axis=0)):
            for view in np.flatnonzero(swaps[best]):
                pixels[view, frame, joints] = pixels[view, frame, partner[joints]]
                weights[view, frame, joints] = weights[view, frame, partner[joints]]
                changed += 1
    return changed


def _linear(pixels: FloatArray, weights: FloatArray, matrices: FloatArray) -> FloatArray:
    """Direct linear transformation (Hartley and Zisserman, 2nd edition, section 12.2).

    Parameters
    ----------
    pixels : (views, n, 2)
    weights : (views, n)
    matrices : (views, 3, 4)

    Returns
    -------
    (n, 3) metres
    """
    equations = pixels[..., None] * matrices[:, None, 2:] - matrices[:, None, :2]
    equations = np.moveaxis(equations * weights[..., None, None], 0, 1)
    stacked = equations.reshape(len(equations), -1, 4) / 1000
    solution = np.linalg.svd(stacked)[2][:, -1]
    return np.asarray(solution[:, :3] / solution[:, 3:])
