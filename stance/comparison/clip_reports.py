"""The reports of clips, for pages over many clips: links to them, and their key pictures."""

import functools
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote

from stance.assessment.picture_key import PictureKey
from stance.reports.clip import REPORT_FILE
from stance.reports.kept_pictures import read_key_pictures
from stance.results.model import PlayerResult, Result


@dataclass(frozen=True)
class ClipReports:
    """Where clips' reports lie.

    Attributes
    ----------
    folders
        by the checksum of the clip; a clip without an entry has none
    page_folder
        of the page that links to them
    """

    folders: Mapping[str, Path] = field(default_factory=dict)
    page_folder: Path = Path()

    def link(self, result: Result, player: PlayerResult | None = None, number: int = 0) -> str:
        """Address of a clip's report as the page has it; empty where there is none.

        Parameters
        ----------
        result
            of the clip
        player, number
            whose which ready position, from 1, is to be shown; None for the report's top
        """
        file = self._find(result)
        if file is None:
            return ""
        anchor = ""
        if player is not None:
            anchor = f"#player-{result.players.index(player) + 1}-{number}"
        try:
            address = quote(Path(os.path.relpath(file, self.page_folder)).as_posix())
        except ValueError:
            # Windows knows no way from one drive to another.
            address = file.absolute().as_uri()
        return address + anchor

    def picture(self, result: Result, player: PlayerResult, number: int) -> str:
        """Address of a ready position's key picture, whole in itself; empty where there is none."""
        file = self._find(result)
        return (
            "" if file is None else _read_pictures(file).get(PictureKey(player.player, number), "")
        )

    def _find(self, result: Result) -> Path | None:
        folder = self.folders.get(result.clip.sha256)
        file = None if folder is None else folder / REPORT_FILE
        return file if file is not None and file.is_file() else None


NO_REPORTS = ClipReports()
"""Where no report is at hand."""


# A report's pictures take megabytes: those of an academy would fill the memory.
@functools.lru_cache(maxsize=16)
def _read_pictures(report: Path) -> dict[PictureKey, str]:
    return read_key_pictures(report)
