"""The columns of layers and tables that say what the points can show."""

from geoqa.records.columns import Column, ColumnType, Table

_DIRECTION = Column(
    "direction", ColumnType.TEXT, None, "horizontal or vertical; NULL where it concerns both."
)

SUPPORT = Table(
    "support",
    "Support of the statement",
    "Polygon",
    "The mapped area in bands of distance to the nearest point that counts, and whether the statement holds "
    "there. Empty where the mapped area is not known.",
    (
        _DIRECTION,
        Column(
            "statement",
            ColumnType.TEXT,
            None,
            "holds, within the hull of the points and half their usual spacing around it; else carried on.",
        ),
        Column("distance_from_m", ColumnType.REAL, "m", "Nearest that a place of this part is to a point."),
        Column(
            "distance_to_m", ColumnType.REAL, "m", "Farthest that a place of this part is from every point."
        ),
        Column("area_m2", ColumnType.REAL, "m²", "Area of this part."),
        Column("share", ColumnType.REAL, None, "Share of the mapped area."),
    ),
)

NEXT_POINTS = Table(
    "next_points",
    "Places for further points",
    "Point",
    "Places of the mapped area farthest from every point that counts for the plan (for the height where none "
    "does).",
    (
        Column("rank", ColumnType.INTEGER, None, "1 for the place farthest from all points."),
        Column("distance_m", ColumnType.REAL, "m", "To the nearest point, or to a place of a better rank."),
    ),
)

EVIDENCE = Table(
    "evidence",
    "What the points can show",
    None,
    "Blind spots, outliers, influence and fitness of the points that count.",
    (
        Column("kind", ColumnType.TEXT, None, "provable, blind spot, outliers, influence or fitness."),
        Column("name", ColumnType.TEXT, None, "Limit, effect, scale of the search, point or topic."),
        _DIRECTION,
        Column("value", ColumnType.REAL, None, "The figure, in the unit of the column unit."),
        Column("demand", ColumnType.REAL, None, "What it is held against, in the same unit."),
        Column("unit", ColumnType.TEXT, None, "Unit of value and demand."),
        Column(
            "grade",
            ColumnType.TEXT,
            None,
            "in order, stated, weak or not known; NULL where nothing is graded.",
        ),
        Column("sentence", ColumnType.TEXT, None, "The same in words."),
    ),
)

EVIDENCE_LAYERS = (SUPPORT, NEXT_POINTS)

INFLUENCE_COLUMNS = tuple(
    Column(
        f"influence_{name}", ColumnType.REAL, None, f"Share in the {name} sum of squares; NULL if not used."
    )
    for name in ("horizontal", "vertical")
)

SIZE_COLUMNS = tuple(
    Column(name, ColumnType.REAL, unit, meaning)
    for name, unit, meaning in (
        ("mean_interval_low_m", "m", "Lower end of the two-sided 95 % interval of the mean."),
        ("mean_interval_high_m", "m", "Upper end of the two-sided 95 % interval of the mean."),
        ("skewness", None, "Skewness, divisors n."),
        ("quantile683_m", "m", "68.3 % quantile of the sizes, linear between ranks."),
        ("quantile95_m", "m", "95 % quantile of the sizes, linear between ranks."),
        ("error50_m", "m", "LE50, or CE50 by exact integration for horizontal."),
        ("error90_m", "m", "LE90, or CE90 by exact integration for horizontal."),
        ("error95_m", "m", "LE95, or CE95 by exact integration for horizontal."),
    )
)
