"""A player's observations through the clip."""

from collections.abc import Iterable, Sequence
from typing import overload

from stance.people.landmarks import Pose
from stance.people.observation import Observation


class PoseHistory(Sequence[Pose | None]):
    """A player's poses, one for each frame in which they were looked for; None where not seen.

    Parameters
    ----------
    observations
        those of the first frames
    """

    def __init__(self, observations: Iterable[Observation | None] = ()) -> None:
        self._observations = list(observations)

    def __len__(self) -> int:
        return len(self._observations)

    @overload
    def __getitem__(self, number: int) -> Pose | None: ...

    @overload
    def __getitem__(self, number: slice) -> list[Pose | None]: ...

    def __getitem__(self, number: int | slice) -> Pose | None | list[Pose | None]:
        if isinstance(number, slice):
            return [self[one] for one in range(*number.indices(len(self)))]
        observation = self._observations[number]
        return None if observation is None else observation.pose

    def observation(self, number: int) -> Observation | None:
        """Return the observation of a number, None where the player was not seen."""
        return self._observations[number]

    @property
    def seen(self) -> list[bool]:
        """Whether the player was seen, for each frame."""
        return [observation is not None for observation in self._observations]

    def append(self, observation: Observation | None) -> None:
        """Add what was seen in a later frame."""
        self._observations.append(observation)

    def insert(self, number: int, observation: Observation) -> None:
        """Put an observation between two others."""
        self._observations.insert(number, observation)

    def replace(self, number: int, observation: Observation | None) -> None:
        """Put an observation in the place of another."""
        self._observations[number] = observation

    def replace_rest(self, last: int, observation: Observation) -> None:
        """Replace an observation everywhere it was kept while the player rested.

        Parameters
        ----------
        last
            number of the last entry that holds the observation to be replaced
        observation
            in its place
        """
        known = self._observations[last]
        assert known is not None
        for number in range(last, -1, -1):
            kept = self._observations[number]
            if kept is None:
                continue
            if kept.id != known.id:
                break
            self._observations[number] = observation

    def exchange(self, first: int, other: "PoseHistory", first_of_other: int) -> None:
        """Exchange all entries from a number on with another player's."""
        mine, theirs = self._observations[first:], other._observations[first_of_other:]
        self._observations[first:], other._observations[first_of_other:] = theirs, mine
