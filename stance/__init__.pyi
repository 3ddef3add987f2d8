from stance.academy.result_store import Store as Store
from stance.academy.roster import read_roster as read_roster
from stance.academy.screen import screen_roster
from stance.analysis import analyse as analyse
from stance.assessment.options import AnalysisOptions as AnalysisOptions
from stance.comparison.compare import compare as compare
from stance.reports.writing import write_analysis as write_analysis
from stance.results.json_format import read_result as read_result
from stance.results.model import Result as Result

__version__: str

screen = screen_roster
