"""Clips whose first picture is not shown at time zero, as cameras and editors write them."""

from pathlib import Path

import av


def write_shifted(path: Path, clip: Path, seconds: float) -> None:
    """Copy a clip with all its times shifted; no picture is coded anew."""
    keep_times = {"avoid_negative_ts": "disabled"}
    with av.open(str(clip)) as source, av.open(str(path), "w", options=keep_times) as target:
        stream = source.streams.video[0]
        copy = target.add_stream_from_template(stream)
        for packet in source.demux(stream):
            if packet.pts is None or packet.dts is None:
                continue
            ticks = round(seconds / packet.time_base)
            packet.pts, packet.dts = packet.pts + ticks, packet.dts + ticks
            packet.stream = copy
            target.mux(packet)
    with av.open(str(path)) as written:
        first = written.streams.video[0]
        assert abs(float(first.start_time * first.time_base) - seconds) < 0.01
