"""Which pictures no other needs, from NAL units made by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.video.skippable import (
    CodedPicture,
    choose_skippable,
    nal_length_bytes,
    read_access_unit,
)

# H.264 (Table 7-1), nal_unit_type with nal_ref_idc in the bits above.
DELIMITER, SEI = b"\x09\x10", b"\x06\x05"
NON_REFERENCE_SLICE, REFERENCE_SLICE, KEY_SLICE = b"\x01\x00", b"\x21\x00", b"\x65\x88"
PICTURE_PARAMETERS = b"\x68\x00"

# H.265 (Table 7-1), nal_unit_type one bit to the left, nuh_temporal_id_plus1 in the second byte.
HEVC_DELIMITER, HEVC_PICTURE_PARAMETERS = b"\x46\x01", b"\x44\x01"
TRAIL_N, TRAIL_N_LAYER_2, TRAIL_R, KEY = b"\x00\x01", b"\x00\x03", b"\x02\x01", b"\x26\x01"


def with_lengths(units: list[bytes], length_bytes: int = 4) -> bytes:
    """NAL units as MP4 holds them."""
    return b"".join(len(unit).to_bytes(length_bytes, "big") + unit for unit in units)


def with_start_codes(units: list[bytes]) -> bytes:
    """NAL units as a byte stream holds them."""
    return b"".join(b"\x00\x00\x01" + unit for unit in units)


@pytest.mark.parametrize(
    ("units", "disposable"),
    [
        ([DELIMITER, SEI, NON_REFERENCE_SLICE, NON_REFERENCE_SLICE], True),
        ([NON_REFERENCE_SLICE, REFERENCE_SLICE], False),
        ([KEY_SLICE], False),
        ([DELIMITER, SEI], False),
        # Later pictures may need the parameters.
        ([PICTURE_PARAMETERS, NON_REFERENCE_SLICE], False),
    ],
)
def test_a_picture_of_h264_is_disposable_where_all_its_units_say_so(units, disposable):
    expected = CodedPicture(disposable, 0)
    assert read_access_unit("h264", with_lengths(units), 4) == expected
    assert read_access_unit("h264", with_start_codes(units), 0) == expected


@pytest.mark.parametrize(
    ("units", "disposable", "temporal_id"),
    [
        ([HEVC_DELIMITER, TRAIL_N_LAYER_2], True, 2),
        ([TRAIL_N, TRAIL_N], True, 0),
        ([TRAIL_R], False, 0),
        ([TRAIL_N, TRAIL_R], False, 0),
        ([KEY], False, 0),
        ([HEVC_PICTURE_PARAMETERS, TRAIL_N], False, 0),
    ],
)
def test_a_picture_of_hevc_is_disposable_in_its_sub_layer(units, disposable, temporal_id):
    expected = CodedPicture(disposable, temporal_id)
    assert read_access_unit("hevc", with_lengths(units), 4) == expected
    assert read_access_unit("hevc", with_start_codes(units), 0) == expected


@given(
    st.lists(st.sampled_from([NON_REFERENCE_SLICE, REFERENCE_SLICE, SEI]), min_size=1),
    st.sampled_from([1, 2, 4]),
    st.integers(0, 40),
)
def test_it_does_not_matter_how_units_are_parted(units, length_bytes, padding):
    units = [unit + b"\xff" * padding for unit in units]
    assert read_access_unit(
        "h264", with_lengths(units, length_bytes), length_bytes
    ) == read_access_unit("h264", with_start_codes(units), 0)


@given(st.sampled_from(["h264", "hevc"]), st.binary(max_size=60), st.sampled_from([0, 1, 2, 4]))
def test_damaged_bytes_are_read_to_their_end(codec, access_unit, length_bytes):
    assert read_access_unit(codec, access_unit, length_bytes).temporal_id >= -1


@pytest.mark.parametrize(
    ("codec", "record", "length_bytes"),
    [
        ("h264", b"\x01\x64\x00\x1f\xff\xe1", 4),
        ("h264", b"\x01\x64\x00\x1f\xfd\xe1", 2),
        ("h264", b"\x00\x00\x00\x01\x67\x64", 0),
        ("h264", b"", 0),
        ("hevc", b"\x01" + bytes(20) + b"\x0f\x03", 4),
        ("hevc", b"\x01" + bytes(20) + b"\x0c\x03", 1),
        ("hevc", b"\x00\x00\x00\x01" + bytes(20), 0),
    ],
)
def test_the_configuration_record_tells_how_units_are_parted(codec, record, length_bytes):
    assert nal_length_bytes(codec, record) == length_bytes


def coded(kinds: str) -> dict[int, CodedPicture]:
    """Pictures 10 apart in the order shown: `.` disposable, `#` needed."""
    return {10 * n: CodedPicture(kind == ".", 0) for n, kind in enumerate(kinds)}


@pytest.mark.parametrize(
    ("kinds", "longest_step", "skipped"),
    [
        ("#.#.#", 20, (10, 30)),
        ("#...#", 20, (10, 30)),
        ("#...#", 40, (10, 20, 30)),
        ("#.#.#", 19, ()),
        # The first and the last picture are always decoded.
        ("...", 20, (10,)),
        ("", 20, ()),
    ],
)
def test_disposable_pictures_are_skipped_as_far_as_the_steps_allow(kinds, longest_step, skipped):
    assert choose_skippable(coded(kinds), longest_step) == skipped


def test_of_temporal_layers_only_the_highest_is_skipped():
    layers = {10 * n: CodedPicture(True, n % 2) for n in range(5)}
    assert choose_skippable(layers, 20) == (10, 30)


def test_pictures_are_skipped_in_the_order_shown_not_that_of_coding():
    shown = coded("#.#.#")
    assert choose_skippable({n: shown[n] for n in (0, 20, 10, 40, 30)}, 20) == (10, 30)


def test_nothing_is_skipped_where_pictures_are_coded_too_far_from_where_they_are_shown():
    shown = coded("#." * 20)
    late = {n: shown[n] for n in (*range(0, 200, 10), *range(210, 400, 10), 200)}
    assert choose_skippable(late, 20) == ()
