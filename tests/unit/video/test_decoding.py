"""Times of decoded pictures increase whatever the file says."""

from fractions import Fraction
from types import SimpleNamespace

from stance.video import decoding
from stance.video.decoding import decode_frames


def test_missing_and_repeated_times_are_mended(monkeypatch):
    ticks = [5, 6, 6, None, 8, 7, 9, -300, -299]
    pictures = [SimpleNamespace(pts=tick) for tick in ticks]
    monkeypatch.setattr(
        decoding, "decode_pictures", lambda container, stream, without: iter(pictures)
    )
    stream = SimpleNamespace(time_base=Fraction(1), guessed_rate=Fraction(1))
    times, kept = zip(*decode_frames(None, stream), strict=True)  # type: ignore[arg-type]
    assert times == (0, 1, 2, 3, 4, 5, 6)
    assert [picture.pts for picture in kept] == [5, 6, None, 8, 9, -300, -299]
