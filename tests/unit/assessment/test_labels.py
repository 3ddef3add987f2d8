"""Names, date and session put into a result."""

from stance.assessment.labels import label_result
from stance.court.viewpoint import filming_of
from stance.results.json_format import to_json
from tests.unit.results.invented import invented_result, parse_result


def test_labels_travel_with_the_result():
    unlabelled = invented_result()
    result = label_result(unlabelled, {"A": "J-07"}, "2026-03-14", "week 3")
    assert result.date == "2026-03-14" and result.session == "week 3"
    assert result.filming == filming_of(unlabelled)
    data = to_json(result)
    assert data["players"][0]["name"] == "J-07" and data["filming"]["view"] == result.filming.view
    assert parse_result(data) == result
    for added in ("date", "session", "filming"):
        del data[added]
    del data["players"][0]["name"]
    assert parse_result(data).players[0].name == ""
