"""A player's poses come back as they were seen, exchanged or replaced."""

from stance.people.pose_history import PoseHistory
from tests.unit.people.made_people import observed, pose_at


def test_poses_are_those_of_the_observations_and_missed_ones_stay_missed() -> None:
    given = [None if number % 7 == 3 else observed(pose_at(0.01 * number)) for number in range(20)]
    poses = PoseHistory()
    for observation in given:
        poses.append(observation)
    assert len(poses) == 20
    assert poses.seen == [observation is not None for observation in given]
    for number, wanted in enumerate(given):
        assert poses.observation(number) is wanted
        assert poses[number] is (None if wanted is None else wanted.pose)
    assert [pose is None for pose in poses[2:5]] == [False, True, False]


def test_players_keep_their_own_poses_though_some_are_exchanged() -> None:
    mine, theirs = (PoseHistory() for _ in range(2))
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
    poses = PoseHistory()
    given = [*before, *[resting] * (300)]
    # Missed once in between.
    given[-3] = None
    for observation in given:
        poses.append(observation)
    poses.replace_rest(len(poses) - 1, better)
    ids = [None if o is None else o.id for o in map(poses.observation, range(len(poses)))]
    wanted = [None if o is None else better.id if o.id == resting.id else o.id for o in given]
    assert ids == wanted
