"""Where the project's files lie that tests and commands use."""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SAMPLE_CLIPS = ROOT / "sample_clips"
DATA = ROOT / "tests" / "data"
