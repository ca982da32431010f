"""Logs of receivers: GGA and GST sentences. Positions are invented.

Two sentences with their checksums stand in many published manuals: the GGA of an example of the sentence
(48°07.038' N, 11°31.000' E, *47) and the GST of a receiver maker's help page (*6A).
"""

import re
from functools import reduce
from operator import xor

import numpy as np
import pytest

from geoqa.errors import InputError
from geoqa.readers.points import READERS, PointsRequest, read_points
from geoqa.readers.points._nmea_sentences import sentences
from geoqa.readers.points.nmea import READER
from geoqa.records.points import FixType
from geoqa.units import LinearUnit

PUBLISHED = (
    b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n"
    b"$GPGST,172814.0,0.006,0.023,0.020,273.6,0.023,0.020,0.031*6A\r\n"
)


def summed(text):
    """Return a sentence with its checksum: exclusive or of all between $ and *."""
    return f"${text}*{reduce(xor, text.encode()):02X}"


def gga(utc="101500.00", lat="4851.0722502", lon="01101.2901884", **changed):
    """Return a GGA sentence with some fields changed."""
    fields = {
        "ns": "N",
        "ew": "E",
        "quality": "4",
        "altitude": "384.120",
        "separation": "47.118",
        "unit": "M",
    }
    fields |= changed
    return summed(
        f"GNGGA,{utc},{lat},{fields['ns']},{lon},{fields['ew']},{fields['quality']},18,0.7,{fields['altitude']},"
        f"{fields['unit']},{fields['separation']},M,1.0,0007"
    )


def gst(utc="101500.00", sigmas="0.011,0.010,0.018"):
    return summed(f"GNGST,{utc},0.9,0.012,0.009,21.4,{sigmas}")


@pytest.fixture
def read(tmp_path):
    """Return a function that reads the log of some lines."""

    def read_log(*lines, name="rover.nmea", **request):
        path = tmp_path / name
        path.write_bytes("\r\n".join(lines).encode("latin-1"))
        return read_points(str(path), PointsRequest(**request))

    return read_log


@pytest.fixture
def message(read):
    """Return a function that gives the sentence with which a log is refused."""

    def refused(*lines, **request):
        with pytest.raises(InputError) as caught:
            read(*lines, **request)
        assert "\n" not in str(caught.value)
        assert str(caught.value).startswith("rover.nmea")
        return str(caught.value)

    return refused


def test_published_checksums_are_right():
    found, damaged = sentences(PUBLISHED, "manual.nmea")
    assert [sentence.kind for sentence in found] == ["GGA", "GST"]
    assert damaged == []
    assert found[1].seconds == 17 * 3600 + 28 * 60 + 14
    for place in (10, 20, 40):
        spoiled = bytearray(PUBLISHED)
        spoiled[place] ^= 1
        assert sentences(bytes(spoiled), "manual.nmea")[1] == [1]


def test_position_is_degrees_and_minutes_with_the_ellipsoidal_height(read):
    points = read(gga())
    # By hand: 48° + 51.0722502'/60 and 11° + 1.2901884'/60; 384.120 m + 47.118 m.
    np.testing.assert_allclose(points.coordinates, [[11.02150314, 48.85120417, 431.238]], rtol=0, atol=1e-11)
    assert points.geographic
    assert (points.crs, points.height_unit) == (None, LinearUnit.METRE)
    assert points.ellipsoidal
    assert points.attributes["receiver_separation"] == ("47.118",)
    assert points.attributes["time"] == ("10:15:00.00Z",)
    assert points.ids == ("rover:1",)


def test_south_and_west_are_negative(read):
    points = read(gga(ns="S", ew="W", lat="0030.0000000", lon="00006.0000000"))
    np.testing.assert_allclose(points.coordinates[0, :2], [-0.1, -0.5], rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    ("quality", "fix"),
    [
        *(("4", FixType.FIXED), ("5", FixType.FLOAT), ("1", FixType.AUTONOMOUS)),
        *(("2", FixType.AUTONOMOUS), ("3", FixType.AUTONOMOUS), ("9", FixType.AUTONOMOUS)),
    ],
)
def test_quality_is_the_fix(read, quality, fix):
    assert read(gga(quality=quality)).fixes == (fix,)


def test_standard_deviations_come_from_the_sentence_of_the_same_time(read):
    points = read(
        gst("101501.00", "0.021,0.020,0.028"),
        gga(),
        gst("101500.000", "0.011,0.010,0.018"),
        gga("101501"),
        gga("101502.00"),
        gst("101503.00"),
    )
    # GST: latitude, longitude, height; ours: east, north, up.
    np.testing.assert_array_equal(
        points.sigma_m, [[0.010, 0.011, 0.018], [0.020, 0.021, 0.028], [np.nan] * 3]
    )


def test_same_time_of_another_day_is_not_mixed_up(read):
    points = read(
        gga(), gst(sigmas="0.01,0.01,0.01"), *[gga("101530.00")] * 5, gga(), gst(sigmas="0.02,0.02,0.02")
    )
    np.testing.assert_array_equal(points.sigma_m[[0, -1], 0], [0.01, 0.02])


def test_zero_is_no_standard_deviation(read):
    assert np.isnan(read(gga(), gst(sigmas="0.000,,0.018")).sigma_m[0, :2]).all()


def test_notes_say_what_the_numbers_are(read):
    notes = read(gga(), gga("101501.00")).notes
    assert len(notes) == 2
    assert "positions of the antenna" in notes[0]
    assert "“rover:1”" in notes[0]
    assert "ellipsoidal" in notes[1]


def test_what_is_no_measured_position_is_left_out_and_counted(read):
    empty = summed("GNGGA,101459.00,,,,,0,00,99.9,,,,,,")
    points = read(empty, gga(quality="6"), gga(quality="8"), gga(), gga(separation="", quality="5"))
    assert len(points) == 2
    np.testing.assert_array_equal(points.lines, [4, 5])
    assert np.isnan(points.coordinates[1, 2])
    assert "plan only, without altitude or geoid separation: 1 positions" in points.notes[2]
    assert "left out, without a fix, keyed in, reckoned or simulated: 3 sentences" in points.notes[3]


def test_damaged_sentences_are_left_out_and_counted(read):
    whole = gga()
    without = gga("101501.00").partition("*")[0]
    points = read(whole[:30], whole, whole.replace("384.120", "394.120"), without)
    np.testing.assert_array_equal(points.lines, [2])
    assert "with a wrong checksum or none: 3 sentences, the first in line 1" in points.notes[-1]


def test_other_sentences_binary_data_and_time_stamps_are_passed_over(read):
    points = read("$GNRMC,1*00", "\xb5b\x01\x07\x00" + gga(), f"2026-05-01 10:15:01 {gga('101501.00')}", "")
    np.testing.assert_array_equal(points.lines, [2, 3])


def test_four_decimals_of_minutes_are_refused(message):
    # geodesy: 0.0001' of a nautical mile of 1852 m is 0.19 m.
    found = message(gga(), gga(lat="4851.0722", lon="01101.2902"))
    assert "line 2" in found
    assert "4 decimals of minutes, 0.19 m on the ground" in found
    assert "6 decimals" in message(gga(lon="01101.290188"))
    assert "0 decimals" in message(gga(lat="4851"))


@pytest.mark.parametrize(
    ("changed", "parts"),
    [
        ({"altitude": "384.1"}, ["“384.1”", "centimetre"]),
        ({"separation": "47"}, ["“47”", "centimetre"]),
        ({"unit": "F"}, ["“384.120,F” is no length in metres"]),
        ({"altitude": "high"}, ["“high,M” is no length"]),
        ({"lat": "4861.0722502"}, ["“4861.0722502,N” is no position"]),
        ({"ns": "E"}, ["“4851.0722502,E” is no position"]),
        ({"ew": "EW"}, ["is no position"]),
        ({"lon": ""}, ["“,E” is no position"]),
        ({"lat": "9151.0722502"}, ["latitude 91.85", "±90"]),
    ],
)
def test_sentence_that_is_whole_and_wrong_is_refused(message, changed, parts):
    found = message(gga(**changed))
    for part in ["line 1", *parts]:
        assert part in found


def test_log_without_a_position_is_refused(message):
    assert "none of 0 GGA sentences is a measured position, and 1 sentences" in message(gga()[:-1] + "x")
    assert "none of 2 GGA sentences" in message(gga(quality="0"), gga(quality="8"))
    assert "Log GGA" in message(gst())


def test_columns_and_layout_are_refused(message):
    assert "has no columns" in message(gga(), layout="PLLH")
    assert "has no columns" in message(gga(), columns={"id": "time"})


@pytest.mark.parametrize("name", ["rover.txt", "rover.log", "rover.NMEA"])
def test_log_is_known_by_its_content(read, tmp_path, name):
    assert len(read("$GNRMC,1*00", gga(), name=name)) == 1
    readers = [reader.id for reader in READERS.all().values() if reader.can_read(tmp_path / name)]
    assert readers == [READER.id]


def test_table_that_speaks_of_sentences_is_a_table(read):
    points = read("id,easting,northing,raw", f'A,1,2,"{gga()}"', name="points.txt")
    assert points.ids == ("A",)


def test_sentences_of_the_example_are_whole():
    assert len(re.findall(r"\*", READER.example)) == 5
    assert sentences(READER.example.encode(), "x")[1] == []
