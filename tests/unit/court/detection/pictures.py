"""Pictures of courts for the tests of the detection, and the stripes that are in them.

The pictures are not the renderer's: polygons filled by OpenCV at several times the size, projected
by OpenCV, so that nothing here shares code with what is tested.
"""

import cv2
import numpy as np

from stance.court.camera import Camera, floor_point
from stance.court.detection.stripes import Stripes
from stance.court.dimensions import court_lines

SIZE = (1280, 720)
WHITE, GREEN, WOOD, BLUE = (240, 240, 238), (70, 125, 95), (190, 145, 95), (45, 55, 120)
GREY, YELLOW, RED = (120, 124, 126), (235, 215, 80), (190, 50, 45)


def half_lines(back, service, inset, half_width, tramline, width=0.04):
    """Painted rectangles (x0, x1, y0, y1) of one half of a racket sport's court, metres.

    Distances to the outer edges, as the laws of badminton and of tennis state them.
    """
    sides = [half_width, half_width - tramline]
    lines = [
        (s * x - (s > 0) * width, s * x + (s < 0) * width, -back, 0.0)
        for x in sides
        for s in (-1, 1)
    ]
    across = [(back - width, back), (service, service + width)]
    if inset:
        across.append((back - inset - width, back - inset))
    lines += [(-half_width, half_width, -b, -a) for a, b in across]
    return [*lines, (-width / 2, width / 2, -back if inset else -service, -service if inset else 0)]


def both_halves(half):
    return half + [(-b, -a, -d, -c) for a, b, c, d in half]


# Laws of Badminton, Law 1 and Diagram A; written out anew.
BADMINTON = both_halves(half_lines(6.70, 1.98, 0.76, 3.05, 0.46))
# ITF Rules of Tennis, rule 1: 23.77 x 10.97 m, singles 8.23 m, service line 6.40 m from the net.
TENNIS = both_halves(half_lines(11.885, 6.40, 0.0, 5.485, 1.37, 0.05))
# FIVB rules, rule 1: 18 x 9 m, attack lines 3 m from the net, centre line, 50 mm.
VOLLEYBALL = [
    (-4.5, -4.45, -9, 9),
    (4.45, 4.5, -9, 9),
    (-4.5, 4.5, -9, -8.95),
    (-4.5, 4.5, 8.95, 9),
    (-4.5, 4.5, -0.025, 0.025),
    (-4.5, 4.5, -3, -2.95),
    (-4.5, 4.5, 2.95, 3),
]


def camera_at(place, target, focal=950.0, size=SIZE):
    """A level camera at a place (metres) that looks at a point of the floor."""
    place, target = np.array(place, float), np.array(target, float)
    ahead = (target - place) / np.linalg.norm(target - place)
    right = np.cross(ahead, [0, 0, 1.0])
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(ahead, right), ahead])
    matrix = np.array([[focal, 0, size[0] / 2], [0, focal, size[1] / 2], [0, 0, 1]])
    return Camera(matrix, rotation, -rotation @ place, size)


BEHIND = camera_at((0.8, -11.5, 2.4), (0.0, -2.5, 0.0), 900)
CORNER = camera_at((4.6, -10.0, 2.2), (-0.5, -3.0, 0.0))
SIDE = camera_at((8.5, -4.0, 2.6), (0.0, -3.6, 0.0), 800)
FRONT = camera_at((-1.2, 6.5, 3.0), (0.2, -3.5, 0.0))
# Long lenses on stands behind one end, the second longer than phones' by far.
STAND = camera_at((0.0, -25.0, 8.4), (0.0, -0.5, 0.0), 2180)
FAR_STAND = camera_at((0.1, -41.0, 10.0), (0.0, -0.5, 0.0), 4300)


# An action camera and OpenCV's radial terms of its lens.
WIDE = camera_at((3.8, -8.5, 2.4), (-0.3, -3.4, 0.0), 680)
WIDE_LENS = (-0.25, 0.07)


def drawn(camera, layers, floor, distortion=0.0, noise=2.0, net=False, hangs=(0.0, 0.0)):
    """A picture of a floor, upright and RGB, with layers of painted lines: (rectangles, colour).

    `distortion` is OpenCV's first radial term, or its first two. `hangs` is by how much the net
    is too high at the posts and, beyond that, in the middle, metres.
    """
    scale = 3
    matrix = camera.matrix.copy()
    matrix[:2] *= scale
    width, height = (side * scale for side in camera.image_size)
    canvas = np.full((height, width, 3), floor, np.uint8)
    vector = cv2.Rodrigues(camera.rotation)[0]
    lens = radial_terms(distortion)

    def paint(outline, colour):
        seen = outline @ camera.rotation.T + camera.translation
        if (seen[:, 2] < 0.3).all():
            return
        outline = outline[seen[:, 2] > 0.3]
        pixels = cv2.projectPoints(outline, vector, camera.translation, matrix, lens)[0][:, 0]
        # cv2.fillPoly counts from the middle of the first pixel, in sixteenths here.
        points = np.round((np.clip(pixels, -2e4, 2e4) - 0.5) * 16).astype(np.int32)
        cv2.fillPoly(canvas, [points], colour, cv2.LINE_8, 4)

    for rectangles, colour in layers:
        for x0, x1, y0, y1 in rectangles:
            t = np.linspace(0, 1, 60)[:, None]
            corners = np.array([[x0, y0, 0], [x1, y0, 0], [x1, y1, 0], [x0, y1, 0.0]])
            edges = [a + t * (b - a) for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)]
            paint(np.concatenate(edges), colour)
    if net:
        x = np.linspace(-3.05, 3.05, 21)
        bow = 1 - (x / 3.05) ** 2
        top = 1.55 - 0.026 * bow + hangs[0] + hangs[1] * bow
        tape = np.column_stack([x, np.zeros_like(x), top])
        paint(np.concatenate([tape, tape[::-1] - [0, 0, 0.075]]), WHITE)
    small = cv2.resize(canvas, camera.image_size, interpolation=cv2.INTER_AREA).astype(float)
    ramp = np.linspace(0.85, 1.1, camera.image_size[0])[None, :, None]
    small = small * ramp + np.random.default_rng(0).normal(0, noise, small.shape)
    packed = cv2.imencode(
        ".jpg", np.clip(small, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 80]
    )[1]
    return cv2.imdecode(packed, cv2.IMREAD_COLOR)


def floor_errors(true, found, distortion=0.0, shift=0.0):
    """Errors (n,) metres of floor points of the half y < 0 in the picture, up to a half turn."""
    grid = np.array(
        [[x + shift, y, 0.0] for x in np.linspace(-3, 3, 7) for y in np.linspace(-6.6, 0, 12)]
    )
    seen = grid @ true.rotation.T + true.translation
    grid = grid[seen[:, 2] > 0.3]
    vector = cv2.Rodrigues(true.rotation)[0]
    pixels = cv2.projectPoints(
        grid, vector, true.translation, true.matrix, radial_terms(distortion)
    )[0][:, 0]
    inside = ((pixels > 0) & (pixels < true.image_size)).all(axis=1)
    places = floor_point(found, pixels[inside])[:, :2]
    grid = grid[inside, :2] - [shift, 0]
    return min((np.linalg.norm(places - sign * grid, axis=1) for sign in (1, -1)), key=np.max)


def radial_terms(distortion):
    """OpenCV's distortion coefficients of one radial term or two."""
    terms = np.atleast_1d(distortion).astype(float)
    return np.concatenate([terms, np.zeros(4 - len(terms))])


def lab(picture):
    """A picture (height, width, 3) uint8 RGB in CIE L*a*b*, float32."""
    return cv2.cvtColor(picture.astype(np.float32) / np.float32(255), cv2.COLOR_RGB2LAB)


def pixels_of(camera, places):
    """Pixels (n, 2) of places (n, 2) on the floor, by OpenCV."""
    points = np.column_stack([places, np.zeros(len(places))])
    vector = cv2.Rodrigues(camera.rotation)[0]
    return cv2.projectPoints(points, vector, camera.translation, camera.matrix, None)[0][:, 0]


def stripes_of(camera, lines=None):
    """White stripes (n) on green where a camera sees the middles of painted lines, in parts.

    `lines` : (x, y) each with (smallest, largest), metres; the court's own where left out.
    """
    ends, widths = [], []
    for x, y in [(line.x, line.y) for line in court_lines()] if lines is None else lines:
        middle, extent = np.array([sum(x), sum(y)]) / 2, np.array([x[1] - x[0], y[1] - y[0]])
        along = np.eye(2)[int(np.argmax(extent))]
        across = (along[::-1] * extent.min()) / 2
        at = np.linspace(-0.5, 0.5, 21) * extent.max()
        places = middle + at[:, None] * along
        seen = np.column_stack([places, np.zeros(21)]) @ camera.rotation[2] + camera.translation[2]
        pixels = pixels_of(camera, places)
        inside = (seen > 0.3) & ((pixels > 0) & (pixels < camera.image_size)).all(axis=1)
        if inside.sum() < 2:
            continue
        # The longest part that is in the picture.
        first, last = np.flatnonzero(inside)[[0, -1]]
        ends.append(pixels[[first, last]])
        sides = [pixels_of(camera, places[[first, last]] + s * across).mean(0) for s in (-1, 1)]
        course = (pixels[last] - pixels[first]) / np.linalg.norm(pixels[last] - pixels[first])
        widths.append(abs(np.cross([*(sides[1] - sides[0]), 0], [*course, 0])[2]))
    count = len(ends)
    inside, outside = np.tile([90.0, 0, 0], (count, 1)), np.tile([50.0, -20, 10], (count, 1))
    return Stripes(np.array(ends), np.array(widths), inside, outside)


def homography_of(camera):
    """(3, 3) court places (x, y, 1) to homogeneous pixels."""
    columns = np.column_stack([camera.rotation[:, 0], camera.rotation[:, 1], camera.translation])
    return camera.matrix @ columns
