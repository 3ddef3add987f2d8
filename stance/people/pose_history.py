"""A player's poses through the clip; those of long ago lie in the spill file."""

from collections.abc import Iterable, Sequence
from typing import overload

from stance.people.landmarks import Pose
from stance.runtime.spill_file import SpillFile

# Poses of so many looks stay at hand; what is asked of a player while following goes no further
# back, but where a spell is long.
_AT_HAND = 100


class PoseHistory(Sequence[Pose | None]):
    """A player's poses, one for each look; None where the player was not seen.

    Those of long ago are put aside. They come back as copies.

    Parameters
    ----------
    aside : where poses are put
    poses : those of the first looks
    """

    def __init__(self, aside: SpillFile, poses: Iterable[Pose | None] = ()) -> None:
        self._aside = aside
        # PoseHistory, or the places of those that are put aside.
        self._entries: list[Pose | int | None] = list(poses)
        # All before are put aside; the pose that was last put there, and its place.
        self._first_here = 0
        self._latest: tuple[Pose, int] | None = None

    def __len__(self) -> int:
        return len(self._entries)

    @overload
    def __getitem__(self, number: int) -> Pose | None: ...

    @overload
    def __getitem__(self, number: slice) -> list[Pose | None]: ...

    def __getitem__(self, number: int | slice) -> Pose | None | list[Pose | None]:
        if isinstance(number, slice):
            return [self._pose(entry) for entry in self._entries[number]]
        return self._pose(self._entries[number])

    def __setitem__(self, number: int, pose: Pose | None) -> None:
        self._entries[number] = pose

    def _pose(self, entry: Pose | int | None) -> Pose | None:
        """What an entry stands for."""
        return self._aside.get(entry) if isinstance(entry, int) else entry

    @property
    def seen(self) -> list[bool]:
        """Whether the player was seen, for each look."""
        return [entry is not None for entry in self._entries]

    def append(self, pose: Pose | None) -> None:
        """Add the pose of a later look."""
        self._entries.append(pose)

    def insert(self, number: int, pose: Pose) -> None:
        """Put the pose of a look between two others."""
        self._entries.insert(number, pose)

    def exchange(self, first: int, other: "PoseHistory", first_of_other: int) -> None:
        """Exchange all poses from a number on with another player's."""
        mine, theirs = self._entries[first:], other._entries[first_of_other:]
        self._entries[first:], other._entries[first_of_other:] = theirs, mine
        self._first_here = min(self._first_here, first)
        other._first_here = min(other._first_here, first_of_other)

    def put_aside(self, last: Pose) -> None:
        """Put poses aside that are far back, but for the last one seen.

        A player at rest keeps the pose, and whether it is the same object is asked for.
        """
        for number in range(self._first_here, len(self._entries) - _AT_HAND):
            pose = self._entries[number]
            if pose is last:
                return
            if isinstance(pose, Pose):
                if self._latest is None or self._latest[0] is not pose:
                    self._latest = pose, self._aside.put(pose)
                self._entries[number] = self._latest[1]
            self._first_here = number + 1
