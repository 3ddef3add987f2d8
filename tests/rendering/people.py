"""Random people: bodies, clothes and colours, drawn from the part of each range a split may use."""

import numpy as np

from tests.rendering.body import Phenotype
from tests.rendering.figure import Outfit
from tests.rendering.garments import PATTERNS
from tests.rendering.splits import comb

# Age in years, the model's age parameter, mean height of boys and girls in metres (rounded
# from common growth tables).
AGES = (8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 30.0, 55.0)
AGE_PARAMETERS = (0.25, 0.31, 0.37, 0.45, 0.53, 0.60, 0.68, 0.80)
BOYS_HEIGHT = (1.28, 1.38, 1.49, 1.63, 1.73, 1.77, 1.79, 1.77)
GIRLS_HEIGHT = (1.27, 1.38, 1.51, 1.60, 1.63, 1.64, 1.66, 1.64)

SKIN_TONES = (
    (0.96, 0.82, 0.73),
    (0.90, 0.72, 0.60),
    (0.82, 0.62, 0.48),
    (0.68, 0.48, 0.35),
    (0.50, 0.34, 0.25),
    (0.34, 0.22, 0.16),
)
HAIR_COLOURS = (
    (0.07, 0.06, 0.06),
    (0.16, 0.11, 0.08),
    (0.30, 0.19, 0.11),
    (0.48, 0.33, 0.18),
    (0.72, 0.57, 0.34),
    (0.55, 0.53, 0.52),
)


def draw_phenotype(rng: np.random.Generator, split: str) -> Phenotype:
    """A random body: a child of 8 up to an older adult, either sex, any usual build."""
    girl = rng.uniform() < 0.5
    years = 8.0 + 10.0 * comb(rng, split) if rng.uniform() < 0.5 else 18.0 + 35.0 * rng.uniform()
    mean = np.interp(years, AGES, GIRLS_HEIGHT if girl else BOYS_HEIGHT)
    stature = mean * (1.0 + 0.10 * (2.0 * comb(rng, split) - 1.0))
    face = rng.dirichlet((0.7, 0.7, 0.7)) + 0.01
    return Phenotype(
        gender=float(np.clip((1.0 if girl else 0.0) + rng.normal(0, 0.08), 0, 1)),
        age=float(np.interp(years, AGES, AGE_PARAMETERS)),
        muscle=0.25 + 0.6 * comb(rng, split),
        weight=0.15 + 0.65 * comb(rng, split),
        height=0.2 + 0.6 * comb(rng, split),
        proportions=0.3 + 0.6 * comb(rng, split),
        cupsize=float(rng.uniform(0.2, 0.7)),
        face=(float(face[0]), float(face[1]), float(face[2])),
        stature_m=float(stature),
    )


def draw_outfit(rng: np.random.Generator, gender: float) -> Outfit:
    """Random clothes, skin and hair."""
    female = gender > 0.5
    skirt = bool(female and rng.uniform() < 0.35)
    leg = float(rng.uniform(0.92, 0.99) if rng.uniform() < 0.25 else rng.uniform(0.24, 0.47))
    sleeve = float(rng.uniform(0.85, 0.97) if rng.uniform() < 0.2 else rng.uniform(0.05, 0.42))
    long_hair = rng.uniform() < (0.75 if female else 0.15)
    return Outfit(
        skin=_near(rng, SKIN_TONES),
        hair=_near(rng, HAIR_COLOURS),
        shirt=_cloth_colour(rng),
        shirt_second=_cloth_colour(rng),
        shirt_pattern=int(rng.choice(PATTERNS)),
        trousers=_cloth_colour(rng, dark=rng.uniform() < 0.6),
        trousers_second=_cloth_colour(rng),
        trousers_pattern=int(rng.choice(PATTERNS)) if rng.uniform() < 0.2 else 0,
        socks=_cloth_colour(rng) if rng.uniform() < 0.3 else _grey(rng, 0.75, 0.95),
        shoes=_cloth_colour(rng) if rng.uniform() < 0.6 else _grey(rng, 0.75, 0.95),
        soles=_grey(rng, 0.6, 0.95) if rng.uniform() < 0.75 else _cloth_colour(rng),
        sleeve=sleeve,
        leg=min(leg, 0.3) if skirt else leg,
        skirt=skirt,
        looseness=float(rng.uniform(0.2, 1.0)),
        sock=float(rng.uniform(0.06, 0.3)),
        hair_length=float(rng.uniform(0.7, 1.0) if long_hair else rng.uniform(0.1, 0.7)),
        tail=float(rng.uniform(0.12, 0.32)) if long_hair and rng.uniform() < 0.6 else 0.0,
    )


def _near(rng: np.random.Generator, colours) -> tuple[float, float, float]:
    """A mixture of two neighbouring colours of a list."""
    place = rng.uniform(0, len(colours) - 1)
    low = int(min(place, len(colours) - 2))
    mixed = np.array(colours[low]) + (place - low) * (
        np.array(colours[low + 1]) - np.array(colours[low])
    )
    return _triple(np.clip(mixed + rng.normal(0, 0.015, 3), 0.03, 0.98))


def _cloth_colour(rng: np.random.Generator, dark: bool = False) -> tuple[float, float, float]:
    """A random colour of cloth: grey or coloured, dark or bright."""
    if rng.uniform() < 0.35:
        return _grey(rng, 0.06, 0.35) if dark else _grey(rng, 0.06, 0.95)
    hue, strength = rng.uniform(0, 2 * np.pi), rng.uniform(0.2, 1.0)
    value = rng.uniform(0.15, 0.45) if dark else rng.uniform(0.3, 0.95)
    waves = 0.5 + 0.5 * np.cos(hue + np.array([0.0, 2.1, 4.2]))
    return _triple(value * (1.0 - strength * (1.0 - waves)))


def _grey(rng: np.random.Generator, low: float, high: float) -> tuple[float, float, float]:
    return _triple(np.clip(rng.uniform(low, high) + rng.normal(0, 0.015, 3), 0.03, 0.98))


def _triple(values) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])
