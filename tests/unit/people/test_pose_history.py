"""Poses of long ago lie in a file and come back as they were."""

import numpy as np

from stance.people.pose_history import PoseHistory
from stance.people.settings import SETTINGS
from stance.runtime.spill_file import SpillFile
from tests.unit.people.made_people import observed, pose_at

IN_MEMORY = SETTINGS.player.poses_in_memory


class CountingSpillFile(SpillFile):
    """A file that counts what is put there."""

    count = 0

    def put(self, thing: object) -> int:
        self.count += 1
        return super().put(thing)


def test_poses_of_long_ago_are_spilled_and_come_back_as_they_were() -> None:
    given = [None if number % 7 == 3 else observed(pose_at(0.01 * number)) for number in range(150)]
    # A player at rest keeps the observation.
    given[20:40] = [given[20]] * 20
    given += [given[-1]] * 150
    with CountingSpillFile() as spill_file:
        poses = PoseHistory(spill_file)
        for observation in given:
            poses.append(observation)
        # Each observation is written once, whoever rests for how long.
        far_back = {o.id for o in given[: len(given) - IN_MEMORY] if o is not None}
        assert spill_file.count == len(far_back)
        back = list(poses)
        assert [pose is not None for pose in back] == poses.seen
        for number, wanted in enumerate(given):
            found = poses.observation(number)
            assert (found is None) == (wanted is None)
            if found is not None and wanted is not None:
                assert found.id == wanted.id
                np.testing.assert_array_equal(found.pose.pixels, wanted.pose.pixels)
                np.testing.assert_array_equal(found.pose.world, wanted.pose.world)
                np.testing.assert_array_equal(found.pose.visibility, wanted.pose.visibility)
        assert [pose is None for pose in poses[2:5]] == [False, True, False]


def test_the_latest_poses_stay_in_memory() -> None:
    with SpillFile() as spill_file:
        poses = PoseHistory(spill_file)
        given = [observed(pose_at(0.0)) for _ in range(3 * IN_MEMORY)]
        for observation in given:
            poses.append(observation)
        latest = [poses.observation(number) for number in range(-IN_MEMORY, 0)]
        assert all(one is two for one, two in zip(latest, given[-IN_MEMORY:], strict=True))
        before = poses.observation(-IN_MEMORY - 1)
        assert before is not None
        assert before is not given[-IN_MEMORY - 1]


def test_players_keep_their_own_poses_though_those_spilled_are_exchanged() -> None:
    with SpillFile() as spill_file:
        mine, theirs = (PoseHistory(spill_file) for _ in range(2))
        places: list[list[float]] = []
        for poses, side, length in ((mine, -1.0, 200), (theirs, 1.0, 300)):
            given = [observed(pose_at(side + 0.001 * number)) for number in range(length)]
            for observation in given:
                poses.append(observation)
            places.append([observation.pose.pixels[0, 0] for observation in given])
        mine.exchange(50, theirs, 150)
        mine.append(observed(pose_at(0.0)))
        wanted = (
            [*places[0][:50], *places[1][150:], pose_at(0.0).pixels[0, 0]],
            places[1][:150] + places[0][50:],
        )
        for poses, those in zip((mine, theirs), wanted, strict=True):
            assert [pose.pixels[0, 0] for pose in poses if pose is not None] == those


def test_an_observation_is_replaced_back_to_where_a_long_rest_began() -> None:
    resting, better = observed(pose_at(0.0)), observed(pose_at(0.1))
    before = [observed(pose_at(-1.0)) for _ in range(5)]
    with SpillFile() as spill_file:
        poses = PoseHistory(spill_file)
        given = [*before, *[resting] * (3 * IN_MEMORY)]
        # Missed once in between.
        given[-3] = None
        for observation in given:
            poses.append(observation)
        poses.replace_rest(len(poses) - 1, better)
        ids = [None if o is None else o.id for o in map(poses.observation, range(len(poses)))]
    wanted = [None if o is None else better.id if o.id == resting.id else o.id for o in given]
    assert ids == wanted
