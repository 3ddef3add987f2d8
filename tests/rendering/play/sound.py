"""The sound track: hits of both sides, shoes, another court, the hall."""

import os
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from scipy.signal import butter, sosfilt

from tests.rendering.arrays import FloatArray
from tests.rendering.play.attacker import NOBODY
from tests.rendering.play.clip import Person, Play, source

RATE = 44100
SPEED_OF_SOUND = 343.0
LOUDNESS_AT_M = 4.0  # a hit at this distance is heard at full level
FAR_PLACE = np.array([0.0, 4.0, 1.5])
HIT_BAND_HZ = (2000.0, 5000.0)
OTHER_COURT_HITS_PER_S = 0.35
SQUEAK_SHARE = 0.25


@dataclass(frozen=True)
class _Noise:
    """A sound at a time, at a level of 0 to 1."""

    time_s: float
    level: float
    samples: FloatArray


def draw_sound(play: Play) -> FloatArray:
    """The track of a clip (samples,), -1..1 at RATE samples a second."""
    rng = source(play.seed, play.split, "sound")
    duration_s = len(play.frame_times) / play.frame_rate
    noises = [*_hits(rng, play), *_squeaks(rng, play), *_other_court(rng, duration_s)]
    track = _hall(rng, int(duration_s * RATE))
    for noise in noises:
        start = round(noise.time_s * RATE)
        part = track[start : start + len(noise.samples)]
        part += noise.level * noise.samples[: len(part)]
    return np.clip(rng.uniform(0.3, 1.1) * track, -1.0, 1.0)


def add_sound(path: Path, samples: FloatArray) -> None:
    """Put a track (samples,) into a video file as AAC, beside its pictures as they are."""
    target = path.with_name(f".{path.stem}-sound.partial.mp4")
    with (
        av.open(str(path)) as silent,
        av.open(str(target), "w", options={"movflags": "+faststart"}) as loud,
    ):
        pictures = loud.add_stream_from_template(silent.streams.video[0])
        sound = loud.add_stream("aac", rate=RATE, layout="mono")
        for packet in silent.demux(silent.streams.video[0]):
            if packet.dts is not None:
                packet.stream = pictures
                loud.mux(packet)
        for frame in _audio_frames(samples):
            loud.mux(sound.encode(frame))
        loud.mux(sound.encode(None))
    os.replace(target, path)


def _audio_frames(samples: FloatArray) -> Sequence[av.AudioFrame]:
    """The track in the pieces that AAC takes."""
    frames = []
    for start in range(0, len(samples), 1024):
        piece = samples[None, start : start + 1024].astype(np.float32)
        frame = av.AudioFrame.from_ndarray(piece, format="fltp", layout="mono")
        frame.sample_rate, frame.pts = RATE, start
        frame.time_base = Fraction(1, RATE)
        frames.append(frame)
    return frames


def _hits(rng: np.random.Generator, play: Play) -> list[_Noise]:
    """Every contact of both sides, later and softer from farther away."""
    if play.opposite == NOBODY:
        return []
    contacts = [(play.attacker, e.contact_s, e.kind) for e in play.rally.exchanges]
    for person in play.defenders:
        own = [e for e in person.rally.exchanges if e.plays]
        contacts += [(person, e.own_contact_s, e.own_kind) for e in own]
    if play.rally.own_serve_s is not None:
        contacts.append((play.defender, play.rally.own_serve_s, "serve"))
    hits = []
    for person, time_s, kind in contacts:
        distance = _distance(play, person, time_s)
        hard = {"smash": 1.0, "clear": 0.8, "drive": 0.7}.get(kind, 0.4)
        level = 0.8 * hard * rng.uniform(0.7, 1.2) * min(1.0, LOUDNESS_AT_M / distance)
        hits.append(_Noise(time_s + distance / SPEED_OF_SOUND, level, _click(rng)))
    return hits


def _squeaks(rng: np.random.Generator, play: Play) -> list[_Noise]:
    """Shoes at some of the steps, and soft thuds at the others."""
    squeaks = []
    for person in (*play.defenders, play.attacker):
        if person is None:
            continue
        for foot in person.motion.feet:
            for _, end_s in foot.moving():
                distance = _distance(play, person, end_s)
                near = min(1.0, LOUDNESS_AT_M / distance)
                squeak = rng.uniform() < SQUEAK_SHARE
                samples = _squeak(rng) if squeak else _thud(rng)
                level = (0.25 if squeak else 0.1) * rng.uniform(0.3, 1.0) * near
                squeaks.append(_Noise(end_s + distance / SPEED_OF_SOUND, level, samples))
    return squeaks


def _other_court(rng: np.random.Generator, duration_s: float) -> list[_Noise]:
    """Hits of another court at random times, in two halls of three."""
    if rng.uniform() < 1 / 3:
        return []
    count = rng.poisson(OTHER_COURT_HITS_PER_S * duration_s)
    return [
        _Noise(float(time_s), float(rng.uniform(0.03, 0.25)), _click(rng))
        for time_s in rng.uniform(0, duration_s, count)
    ]


def _distance(play: Play, person: Person | None, time_s: float) -> float:
    """From the camera to somebody at a time, metres."""
    place = FAR_PLACE
    if person is not None:
        place = person.joints(np.array([time_s]))[0].mean(axis=0)
    return float(np.linalg.norm(place - play.camera.centre))


def _click(rng: np.random.Generator) -> FloatArray:
    """A racket's hit: broadband, with a short attack and echo."""
    times = np.arange(int(0.12 * RATE)) / RATE
    attack, decay = rng.uniform(0.005, 0.010), rng.uniform(0.008, 0.02)
    envelope = np.minimum(times / attack, 1.0) * np.exp(-np.maximum(times - attack, 0) / decay)
    envelope += 0.12 * np.exp(-times / 0.04) * (times > attack)
    edges = np.array(HIT_BAND_HZ) * rng.uniform(0.85, 1.15)
    return _normalised(_band(rng.standard_normal(len(times)), *edges) * envelope)


def _squeak(rng: np.random.Generator) -> FloatArray:
    """A sole on the floor: a short, rising or falling tone."""
    seconds, pitch = rng.uniform(0.04, 0.14), rng.uniform(1200, 3800)
    times = np.arange(int(seconds * RATE)) / RATE
    phase = 2 * np.pi * (pitch * times + rng.uniform(-3000, 3000) * times**2)
    tone = np.sin(phase + 0.4 * np.sin(2 * np.pi * rng.uniform(60, 160) * times))
    return _normalised(tone * np.sin(np.pi * times / seconds) ** 0.7)


def _thud(rng: np.random.Generator) -> FloatArray:
    """A foot on the floor: low and short."""
    times = np.arange(int(0.08 * RATE)) / RATE
    low = _band(rng.standard_normal(len(times)), 60.0, rng.uniform(200, 500))
    return _normalised(low * np.exp(-times / rng.uniform(0.015, 0.03)))


def _hall(rng: np.random.Generator, count: int) -> FloatArray:
    """Noise of the hall: air, lamps, voices far away."""
    air = _normalised(_band(rng.standard_normal(count), 80.0, rng.uniform(400, 1500)))
    hiss = _normalised(rng.standard_normal(count))
    times = np.arange(count) / RATE
    hum = np.sin(2 * np.pi * 100.0 * times)
    levels = rng.uniform((0.005, 0.002, 0.0), (0.06, 0.02, 0.004))
    return levels[0] * air + levels[1] * hiss + levels[2] * hum


def _band(noise: FloatArray, low: float, high: float) -> FloatArray:
    """The part of a noise (samples,) between two frequencies, hertz."""
    sections = butter(2, (low, high), btype="bandpass", fs=RATE, output="sos")
    return np.asarray(sosfilt(sections, noise))


def _normalised(samples: FloatArray) -> FloatArray:
    return samples / max(float(np.abs(samples).max()), 1e-9)
