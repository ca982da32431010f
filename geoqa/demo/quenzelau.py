"""The gravel pit Quenzelau: an invented place, written by `geoqa demo`."""

from geoqa.demo.site import Block, Hedge, Parcel, Pile, Pit, Pond, Site, Spot, Track

_PIT = Pit(centre=(128.0, 84.0), half_axes_m=(70.0, 52.0))
_POND = Pond(centre=(97.0, 76.0), half_axes_m=(18.0, 12.0), depth_m=2.6, level_m=405.6)
_SAND, _PALE, _GREY, _DARK = (
    (212.0, 190.0, 146.0),
    (206.0, 200.0, 188.0),
    (168.0, 166.0, 162.0),
    (146.0, 136.0, 122.0),
)

_Q, _X = "quadrant-panel", "x-panel"
_SPOTS = (
    Spot("CP01", (20.0, 38.0), _Q, "mown meadow, south"),
    Spot("CP02", (44.0, 27.6), _X, "verge at the crossing of the farm tracks"),
    Spot("CP03", (17.0, 104.0), _Q, "mown meadow, north"),
    Spot("CP04", (26.0, 121.5), _X, "yard in front of the barn", cover="hard"),
    Spot("CP05", (84.0, 140.5), _Q, "grass north of the pit"),
    Spot("CP06", (150.0, 141.0), _X, "grass north of the pit"),
    Spot("CP07", (198.0, 120.0), _Q, "grass east of the pit"),
    Spot("CP08", (132.0, 84.0), _Q, "floor of the pit, middle", cover="hard"),
    Spot("CP09", (98.0, 98.0), _X, "floor of the pit, north of the pond"),
    Spot("CP10", (108.0, 58.5), _Q, "floor of the pit, south"),
    Spot("CP11", (158.0, 103.0), _X, "floor of the pit, between the stockpiles", cover="hard"),
    Spot("CP12", (88.0, 27.6), _Q, "verge of the farm track"),
    Spot("CP13", (168.0, 32.0), _X, "grass south of the pit"),
    Spot("CP14", (203.5, 40.5), _Q, "haul road, crest", cover="hard"),
    Spot("CP15", (183.0, 58.5), _X, "haul road, on the ramp", cover="hard"),
    Spot("CP16", (50.0, 72.0), _Q, "unmown meadow, grass above the panel's edge", cover="vegetated"),
    Spot("CP17", (188.0, 134.0), _X, "grass east of the pit", laid=False),
    Spot("CP18", (59.0, 116.5), _Q, "under the edge of the trees", fix="float"),
    Spot("GC01", (33.0, 66.0), _Q, "mown meadow, used in the processing", role="control"),
    Spot("GC02", (148.0, 62.0), _Q, "floor of the pit, used in the processing", role="control", cover="hard"),
    Spot("HP01", (207.5, 33.5), "none", "haul road", cover="hard"),
    Spot("HP02", (39.0, 52.0), "none", "farm track", cover="hard"),
    Spot("HP03", (23.0, 118.5), "none", "yard in front of the barn", cover="hard"),
    Spot("HP04", (126.0, 22.5), "none", "farm track", cover="hard"),
    Spot("HP05", (122.0, 94.0), "none", "floor of the pit", cover="hard"),
    Spot("HP06", (201.0, 58.0), "none", "yard with containers", cover="hard"),
)

QUENZELAU = Site(
    name="Gravel pit Quenzelau",
    crs="EPSG:25832",
    height_system="EPSG:7837",
    south_west=(634210.0, 5342760.0),
    size_m=(220.0, 160.0),
    cell_m=0.20,
    pixel_m=0.04,
    ground_m=412.0,
    rise=(0.006, -0.008),
    seed=20260418,
    pit=_PIT,
    pond=_POND,
    piles=(
        Pile((118.0, 113.0), (118.0, 113.0), 8.0, 5.2, _SAND),
        Pile((136.0, 116.0), (136.0, 116.0), 7.0, 4.4, _PALE),
        Pile((152.0, 112.0), (152.0, 112.0), 6.0, 3.6, _GREY),
        Pile((164.0, 90.0), (172.0, 100.0), 5.0, 3.0, _DARK),
        Pile((120.0, 52.0), (136.0, 49.0), 4.5, 2.6, _SAND),
    ),
    tracks=(
        Track(((226.0, 2.0), (206.0, 36.0), (188.0, 56.0), (166.0, 66.0), (150.0, 76.0), (143.0, 96.0)), 6.5),
        Track(((150.0, 76.0), (128.0, 70.0), (120.0, 90.0), (126.0, 102.0)), 4.0, 0.6),
        Track(
            ((37.0, -6.0), (40.0, 30.0), (37.0, 60.0), (39.0, 92.0), (33.0, 116.0), (30.0, 124.0)),
            3.2,
            1.0,
            True,
        ),
        Track(
            ((-6.0, 25.5), (40.0, 26.5), (100.0, 24.0), (150.0, 21.0), (196.0, 25.0), (206.0, 36.0)),
            3.4,
            1.0,
            True,
        ),
    ),
    hedges=(
        Hedge((6.0, 34.0), (7.0, 150.0), 26, (1.6, 3.6)),
        Hedge((10.0, 150.0), (205.0, 148.0), 34, (1.4, 3.8), 2.5),
        Hedge((52.0, 120.0), (66.0, 136.0), 9, (1.2, 3.0), 3.0),
        Hedge((206.0, 60.0), (211.0, 140.0), 14, (1.3, 3.2), 2.0),
        Hedge((80.0, 60.0), (92.0, 62.0), 5, (0.7, 1.4), 1.5),
        Hedge((64.0, 66.0), (70.0, 100.0), 7, (0.6, 1.3), 3.0),
    ),
    blocks=(
        Block((24.0, 132.0), 22.0, 12.0, 5.0, 78.0, (142.0, 92.0, 76.0), True, 0.0),
        Block((38.5, 138.0), 9.0, 6.0, 3.4, 78.0, (132.0, 134.0, 136.0), True, 0.9),
        Block((199.0, 66.0), 6.1, 2.45, 2.6, 20.0, (62.0, 98.0, 128.0), False, 0.3),
        Block((202.5, 67.5), 6.1, 2.45, 2.6, 20.0, (176.0, 172.0, 160.0), False, 0.3),
        Block((143.0, 101.5), 4.6, 3.2, 3.5, 30.0, (196.0, 160.0, 52.0), False, 0.8),
        Block((139.4, 108.6), 13.0, 1.0, 4.0, 334.0, (92.0, 96.0, 100.0), False, 0.5),
        Block((147.6, 106.4), 11.0, 1.0, 3.4, 42.0, (92.0, 96.0, 100.0), False, 0.5),
        Block((127.4, 104.6), 5.2, 2.6, 2.6, 70.0, (222.0, 176.0, 44.0), False, 0.0),
        Block((126.4, 104.3), 1.7, 1.5, 3.4, 70.0, (54.0, 58.0, 62.0), False, 0.0),
        Block((124.2, 103.4), 1.3, 3.0, 1.2, 70.0, (96.0, 92.0, 84.0), False, 0.0),
    ),
    parcels=(
        Parcel(9.0, 37.0, 29.0, 114.0, (124.0, 138.0, 80.0), 0.0, 7.0),
        Parcel(-5.0, 204.0, -5.0, 19.5, (180.0, 168.0, 112.0), 0.6, 0.0, 12.0),
        Parcel(42.5, 57.0, 29.0, 112.0, (112.0, 126.0, 74.0), 0.16),
    ),
    yards=(((24.0, 121.0), 8.0), ((202.0, 60.0), 8.0)),
    tyre_marks=60,
    spots=_SPOTS,
)
