"""A player's observations through the clip; those of long ago lie in the spill file."""

from collections.abc import Iterable, Sequence
from typing import overload

from stance.people.landmarks import Pose
from stance.people.observation import Observation, ObservationId
from stance.people.settings import SETTINGS
from stance.runtime.spill_file import SpillFile


class PoseHistory(Sequence[Pose | None]):
    """A player's poses, one for each frame in which they were looked for; None where not seen.

    Those of long ago are moved to the spill file and come back as copies, under the same
    observation ids.

    Parameters
    ----------
    spill_file
        where poses of long ago are put
    observations
        those of the first frames
    """

    def __init__(
        self, spill_file: SpillFile, observations: Iterable[Observation | None] = ()
    ) -> None:
        self._spill_file = spill_file
        # Observations, or the places of those that are in the spill file.
        self._entries: list[Observation | int | None] = list(observations)
        # All before are in the spill file; what was put there last, and its place.
        self._first_in_memory = 0
        self._spilled_last: tuple[ObservationId, int] | None = None

    def __len__(self) -> int:
        return len(self._entries)

    @overload
    def __getitem__(self, number: int) -> Pose | None: ...

    @overload
    def __getitem__(self, number: slice) -> list[Pose | None]: ...

    def __getitem__(self, number: int | slice) -> Pose | None | list[Pose | None]:
        if isinstance(number, slice):
            return [self[one] for one in range(*number.indices(len(self)))]
        observation = self.observation(number)
        return None if observation is None else observation.pose

    def observation(self, number: int) -> Observation | None:
        """Return the observation of a number, None where the player was not seen."""
        entry = self._entries[number]
        if isinstance(entry, int):
            spilled: Observation = self._spill_file.get(entry)
            return spilled
        return entry

    @property
    def seen(self) -> list[bool]:
        """Whether the player was seen, for each frame."""
        return [entry is not None for entry in self._entries]

    def append(self, observation: Observation | None) -> None:
        """Add what was seen in a later frame; move what is far back to the spill file."""
        self._entries.append(observation)
        if observation is not None:
            self._spill()

    def insert(self, number: int, observation: Observation) -> None:
        """Put an observation between two others."""
        self._entries.insert(number, observation)

    def replace(self, number: int, observation: Observation | None) -> None:
        """Put an observation in the place of another."""
        self._entries[number] = observation

    def replace_rest(self, last: int, observation: Observation) -> None:
        """Replace an observation everywhere it was kept while the player rested.

        Parameters
        ----------
        last
            number of the last entry that holds the observation to be replaced
        observation
            in its place
        """
        known = self.observation(last)
        assert known is not None
        for number in range(last, -1, -1):
            kept = self.observation(number)
            if kept is None:
                continue
            if kept.id != known.id:
                break
            self._entries[number] = observation
            self._first_in_memory = min(self._first_in_memory, number)

    def exchange(self, first: int, other: "PoseHistory", first_of_other: int) -> None:
        """Exchange all entries from a number on with another player's."""
        mine, theirs = self._entries[first:], other._entries[first_of_other:]
        self._entries[first:], other._entries[first_of_other:] = theirs, mine
        self._first_in_memory = min(self._first_in_memory, first)
        other._first_in_memory = min(other._first_in_memory, first_of_other)

    def _spill(self) -> None:
        """Move observations that are far back to the spill file, one kept at rest only once."""
        end = len(self._entries) - SETTINGS.player.poses_in_memory
        for number in range(self._first_in_memory, end):
            entry = self._entries[number]
            if isinstance(entry, Observation):
                if self._spilled_last is None or self._spilled_last[0] != entry.id:
                    self._spilled_last = entry.id, self._spill_file.put(entry)
                self._entries[number] = self._spilled_last[1]
            self._first_in_memory = number + 1
