"""Invented academies of players whose habits are known, for tests."""

import numpy as np

from stance.academy.jobs import Job, Outcome
from stance.academy.labelling import label_results
from stance.academy.roster import Row
from stance.academy.screen import screen_players
from tests.unit.invented import drawn_result


def screen_invented(players, seed=0, certain=False, feet_too=False, failing=()):
    """Screen players given as name -> list of (side-on, positions, date) clips.

    `failing` are reasons why clips of a further player, Z, can't be used.
    """
    random = np.random.default_rng(seed)
    rows, outcomes = [], {}
    for name, clips in players.items():
        shared = tuple(random.standard_normal(2))
        for side_on, positions, date in clips:
            result = drawn_result(
                random, side_on, positions, shared=shared, certain=certain, feet_too=feet_too
            )
            job = Job(result.clip.file, blur_faces=True)
            rows.append(Row(len(rows) + 2, name, job, "U11" if name < "M" else "U13", date))
            outcomes[job] = Outcome(job, result.clip.sha256[32:], result)
    for reason in failing:
        job = Job(f"{reason}.mp4")
        rows.append(Row(len(rows) + 2, "Z", job))
        outcomes[job] = Outcome(job, reason=reason)
    return screen_rows(rows, outcomes)


def screen_rows(rows, outcomes, **options):
    """Screen the rows of a roster with their outcomes."""
    labelled = label_results(rows, outcomes)
    return screen_players(rows, outcomes, labelled.results, labelled.notices, **options)
