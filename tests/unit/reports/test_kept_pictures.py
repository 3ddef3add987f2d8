"""Key pictures found again in a report that was written."""

import base64

import cv2
import numpy as np

from stance.assessment.picture_key import PictureKey
from stance.reports.clip import report_html
from stance.reports.kept_pictures import picture_source, read_key_pictures
from tests.unit.results.invented import invented_player, invented_result


def test_key_pictures_of_a_report_are_found_by_player_and_number(tmp_path):
    shades = {1: 60, 2: 180}
    pictures = {
        PictureKey("A", number): np.full((90, 60, 3), shade, np.uint8)
        for number, shade in shades.items()
    }
    file = tmp_path / "report.html"
    file.write_text(report_html(invented_result(invented_player()), pictures, overlay=False))
    found = read_key_pictures(file)
    assert found.keys() == pictures.keys()
    for key, source in found.items():
        content = np.frombuffer(base64.b64decode(source.split("base64,")[1]), np.uint8)
        image = cv2.imdecode(content, cv2.IMREAD_COLOR)
        assert image.shape == (90, 60, 3) and abs(image.mean() - shades[key.number]) < 3


def test_pictures_of_other_moments_are_not_taken_for_key_pictures(tmp_path):
    file = tmp_path / "report.html"
    source = picture_source(PictureKey("A", 1, "landing"), b"jpeg")
    file.write_text(f'<img src="{source}">')
    assert read_key_pictures(file) == {}


def test_no_report_gives_no_pictures_and_nothing_but_data_is_let_through(tmp_path):
    assert read_key_pictures(tmp_path / "report.html") == {}
    file = tmp_path / "report.html"
    file.write_text('<img src="data:image/jpeg;picture=A-1;base64,AAAA&quot; onload=x">')
    assert read_key_pictures(file) == {
        PictureKey("A", 1): "data:image/jpeg;picture=A-1;base64,AAAA"
    }
