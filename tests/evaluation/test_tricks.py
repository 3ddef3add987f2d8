"""A trick that is switched off is off where the tool uses it."""

import subprocess
import sys

import pytest

from tests.evaluation.tricks import TRICKS
from tests.paths import ROOT

USED_IN = {
    "malloc arenas": "stance.analysis:limit_malloc_arenas",
    "modules left out": "stance.people.landmarker:modules_left_out",
    "thread priority": "stance.video.prefetch:lower_thread_priority",
    "one thread for libraries": "stance.watching.pipeline:single_threaded_libraries",
    "decoding threads": "stance.video.reader:decoding_threads",
    "templates compiled once": "stance.reports.pages:template_cache",
    "a core for each worker": "stance.academy.worker:keep_to_a_core",
}

CODE = """
import pkgutil, sys
from tests.evaluation.tricks import TRICKS, switch_off
switch_off(sys.argv[1])
assert pkgutil.resolve_name(sys.argv[2]) is TRICKS[sys.argv[1]].plain
"""


@pytest.mark.parametrize("trick", TRICKS)
def test_a_trick_that_is_switched_off_is_off_where_it_is_used(trick: str) -> None:
    subprocess.run([sys.executable, "-c", CODE, trick, USED_IN[trick]], cwd=ROOT, check=True)
