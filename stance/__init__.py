"""Measure how a badminton defender stands for the smash, from one phone clip.

What stands in `__all__` is the public library; each part is loaded when it is first used. A clip
and, where the court is marked, its court file are analysed:

>>> import stance
>>> clip = "sample_clips/rear_corner_rally.mp4"
>>> court = "sample_clips/rear_corner_rally.court.json"
>>> analysis = stance.analyse(clip, court, stance.AnalysisOptions(hand="left"))
>>> (player,) = analysis.result.players
>>> player.title, player.half, player.hand
('Player A', 'near', 'left')
>>> position = player.ready_positions[0]
>>> print(f"feet {position.lead_angle_deg:.0f} degrees, {position.stance_class}")
feet 25 degrees, over_side_on

The report's files are written into a folder; result.json among them holds the `Result`:

>>> from tempfile import TemporaryDirectory
>>> with TemporaryDirectory() as folder:
...     stance.write_analysis(analysis, clip, folder)
...     result = stance.read_result(folder)
>>> isinstance(result, stance.Result), result.clip.file
(True, 'rear_corner_rally.mp4')

What a block of training changed shows between results from before and after it, here by the same
clip under two names:

>>> from dataclasses import replace
>>> later = replace(result, clip=replace(result.clip, sha256="another"))
>>> change = stance.compare([result], [later]).whole
>>> change.classes["over_side_on"].difference
0.0

The players of an academy are screened for a habit by a roster, a table with a line for each player
in each clip; a `stance.Store` is the folder that keeps results, so that no clip is analysed twice:

>>> import csv
>>> from pathlib import Path
>>> lines = [
...     ("player", "clip", "court", "hand"),
...     ("Mia", Path(clip).resolve(), Path(court).resolve(), "right"),
... ]
>>> with TemporaryDirectory() as folder:
...     table = Path(folder) / "roster.csv"
...     with table.open("w", newline="") as file:
...         csv.writer(file).writerows(lines)
...     screening = stance.screen(stance.read_roster(table), stance.Store(Path(folder) / "results"))
>>> [(player.player, player.flag) for player in screening.players]
[('Mia', 'too_few')]
"""

from importlib import import_module

__version__ = "0.2.0"

# Loaded on demand: the command line's help must not wait for the libraries of the analysis. What
# type checkers know of it stands in __init__.pyi.
_PARTS = {
    "AnalysisOptions": "stance.assessment.options:AnalysisOptions",
    "Result": "stance.results.model:Result",
    "Store": "stance.academy.result_store:Store",
    "analyse": "stance.analysis:analyse",
    "compare": "stance.comparison.compare:compare",
    "read_result": "stance.results.json_format:read_result",
    "read_roster": "stance.academy.roster:read_roster",
    "screen": "stance.academy.screen:screen_roster",
    "write_analysis": "stance.reports.writing:write_analysis",
}

__all__ = list(_PARTS)


def __getattr__(name: str) -> object:
    """Load a part of the public library."""
    if name not in _PARTS:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, _, part = _PARTS[name].partition(":")
    return getattr(import_module(module), part)


def __dir__() -> list[str]:
    """Names of this module, with the public library's."""
    return sorted({*globals(), *__all__})
