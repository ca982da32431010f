"""A small invented site for tests: `python -m geoqa.demo.fixture FOLDER` writes it.

The corner of a quarry: part of its bank, a stockpile, a track, bushes and a container, 35 m × 25 m.
"""

import sys
from pathlib import Path

from geoqa.demo.scenario import write_site
from geoqa.demo.site import Block, Hedge, Pile, Pit, Site, Spot, Track

_Q, _X = "quadrant-panel", "x-panel"

QUARRY_CORNER = Site(
    name="Quarry corner Tollbrack",
    crs="EPSG:25832",
    height_system="EPSG:7837",
    south_west=(571300.0, 5713150.0),
    size_m=(35.0, 25.0),
    cell_m=0.25,
    pixel_m=0.05,
    ground_m=268.0,
    rise=(0.010, 0.006),
    seed=20260207,
    strip_m=5.0,
    jpeg_quality=90,
    pit=Pit(
        centre=(40.0, 34.0),
        half_axes_m=(26.0, 21.0),
        bank_depths_m=(1.6, 0.6),
        bank_widths_m=(5.0, 3.0),
        bench_m=5.0,
        ramp_bearing_deg=20.0,
    ),
    piles=(Pile((28.0, 18.5), (28.0, 18.5), 3.0, 1.9, (168.0, 166.0, 162.0)),),
    tracks=(Track(((-3.0, 4.0), (10.0, 5.0), (22.0, 4.0), (38.0, 6.0)), 3.2, 1.0, True),),
    hedges=(Hedge((2.5, 17.0), (5.0, 22.0), 3, (0.7, 1.5), 0.5),),
    blocks=(Block((9.0, 19.5), 6.1, 2.45, 2.6, 62.0, (62.0, 98.0, 128.0), False, 0.3),),
    spots=(
        Spot("CP01", (5.0, 8.5), _Q, "grass, west"),
        Spot("CP02", (18.0, 7.0), _X, "grass beside the track"),
        Spot("CP03", (31.0, 7.7), _Q, "grass, east"),
        Spot("CP04", (31.6, 21.6), _X, "quarry floor", cover="hard"),
        Spot("CP05", (22.0, 19.0), _Q, "bank"),
        Spot("CP06", (13.5, 12.5), _X, "grass, middle", laid=False),
        Spot("HP01", (12.0, 4.0), "none", "track", cover="hard"),
        Spot("HP02", (28.6, 22.9), "none", "quarry floor", cover="hard"),
    ),
)


def write_fixture(folder: Path) -> Path:
    """Write the quarry corner to a folder and return the path of its settings.

    Raises
    ------
    OutputError
        When the folder cannot be written, or holds files of these names from elsewhere.
    """
    return write_site(folder, QUARRY_CORNER)


if __name__ == "__main__":
    write_fixture(Path(sys.argv[1]))
