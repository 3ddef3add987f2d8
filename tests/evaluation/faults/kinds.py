"""The kinds of cases."""

from tests.evaluation.faults import inputs, pages, runs, trials
from tests.evaluation.faults.cases import Kind

# A run is given up by itself.
_RUN_S = 900.0

# One case is one or two whole runs, which may take so long.
_LONGEST_S = 120.0

KINDS = {
    "clips": Kind(inputs.try_clip, 150, ("clip",)),
    "gaps": Kind(inputs.try_gaps, 30, ("clip",)),
    "courts": Kind(inputs.try_court, 900),
    "rosters": Kind(inputs.try_roster, 900),
    "kept": Kind(inputs.try_kept, 900, ("results",)),
    "names": Kind(inputs.try_name, 300, ("results",)),
    "pages": Kind(pages.try_page, 900),
    "stops": Kind(trials.stop_step, 300, ("steps",)),
    "together": Kind(trials.run_two, 200, ("steps",)),
    "full": Kind(trials.fill_disk, 200, ("steps",), own_mounts=True),
    "readonly": Kind(trials.take_rights, 100, ("steps",), own_mounts=True),
    "kills": Kind(runs.kill_run, 20, ("runs",), _LONGEST_S, _RUN_S),
    "twice": Kind(runs.run_twice, 4, ("runs",), _LONGEST_S, _RUN_S),
    "network": Kind(runs.run_without_network, 2, ("runs",), _LONGEST_S, _RUN_S),
    "repeats": Kind(runs.repeat_run, 20, ("runs",), _LONGEST_S, _RUN_S),
}
