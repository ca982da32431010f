"""The columns of every delivered layer and table: the one list behind layers, CSV, GeoJSON and docs.

Names are lower case, words joined by an underscore, the unit last. Residuals are product minus
survey. A missing value is NULL (empty in CSV), never 0.
"""

from geoqa.records.columns import Column, ColumnType, Table
from geoqa.records.evidence_tables import EVIDENCE, EVIDENCE_LAYERS, INFLUENCE_COLUMNS, SIZE_COLUMNS
from geoqa.records.usgs_table import SURVEY_POINTS


def _text(name: str, meaning: str) -> Column:
    return Column(name, ColumnType.TEXT, None, meaning)


def _real(name: str, unit: str | None, meaning: str) -> Column:
    return Column(name, ColumnType.REAL, unit, meaning)


def _count(name: str, meaning: str) -> Column:
    return Column(name, ColumnType.INTEGER, None, meaning)


def _flag(name: str, meaning: str) -> Column:
    return Column(name, ColumnType.BOOLEAN, None, meaning)


_ID = _text("id", "Name of the point, as in the file of points.")
_EXAGGERATION = _real("exaggeration", None, "How many times larger than nature the geometry is drawn.")
_HORIZONTAL_USE = (
    _flag("horizontal_used", "True where the point counts for horizontal accuracy."),
    _text("horizontal_reason", "Why it does not count for horizontal accuracy; NULL where it does."),
)
_RESIDUAL_PLAN = (
    _real("residual_east_m", "m", "East residual, product minus survey."),
    _real("residual_north_m", "m", "North residual, product minus survey."),
)
_HORIZONTAL_LENGTH = _real("residual_horizontal_m", "m", "Length of the horizontal residual.")
_TARGET_PLACE = (
    _real(
        "target_row_px",
        "px",
        "Row of the target centre, from the upper edge of the raster; pixel centres at .5.",
    ),
    _real(
        "target_col_px",
        "px",
        "Column of the target centre, from the left edge of the raster; pixel centres at .5.",
    ),
    _real("target_sigma_row_px", "px", "Standard deviation of the row, 1 sigma."),
    _real("target_sigma_col_px", "px", "Standard deviation of the column, 1 sigma."),
    _real("target_correlation", None, "Correlation of row and column, -1 to 1."),
    _real("target_score", None, "How sure the locator is that this is a target, 0 to 1."),
    _text("target_flags", "What was noticed about the target, joined by “; ”."),
    _text("target_reason", "Why the target is not simply found; NULL where it is."),
)
_TARGET_KIND = _text("target_kind", "Kind of target that was recognised.")
_TARGET_STATUS = _text(
    "target_status", "found, suspect, ambiguous, not found, marked, outside or not sought."
)

_SURVEY_QUALITY = (
    _count("occupations", "Occupations that the surveyed position is the mean of."),
    _count("shots", "Rows of the files that it is the mean of."),
    _real("repeat_east_m", "m", "Largest difference of its occupations, east; NULL where there is one."),
    _real("repeat_north_m", "m", "Largest difference of its occupations, north; NULL where there is one."),
    _real("repeat_up_m", "m", "Largest difference of its occupations, up; NULL where there is one."),
    _real("sigma_reported_east_m", "m", "Standard deviation east as the files give it, median of its shots."),
    _real(
        "sigma_reported_north_m", "m", "Standard deviation north as the files give it, median of its shots."
    ),
    _real("sigma_reported_up_m", "m", "Standard deviation up as the files give it, median of its shots."),
    _text("survey_flags", "What was noticed about its survey, joined by “; ”."),
    _text("survey_reasons", "The same in sentences where there is more to say, joined by “; ”."),
)

CHECKPOINTS = Table(
    "checkpoints",
    "Checkpoints",
    "Point Z",
    "Surveyed points in the frame of the products with residuals and use. Coordinates are in the unit of "
    "the CRS, the third one as well; the columns hold metres.",
    (
        _ID,
        _text("source_file", "File the point was read from."),
        _count("source_line", "Line or feature number in that file."),
        _text("role", "check, control, mark (known mark) or unused."),
        _text("fix", "GNSS solution: fixed, float or autonomous."),
        _text("cover", "Ground cover: hard, bare or vegetated."),
        _text("session", "Session of the survey."),
        _text("target", "Kind of target as the survey names it; none for a height-only point."),
        _text("time", "Time of the survey, as in the file; of the first shot where there are several."),
        _text("occupation", "Occupation, as in the file; of the first shot where there are several."),
        _text("antenna_height", "Antenna height, as in the file; of the first shot likewise."),
        _text("separation", "Geoid separation, as in the file."),
        _text("description", "Description, as in the file."),
        _real("survey_easting_m", "m", "Surveyed easting in the common frame."),
        _real("survey_northing_m", "m", "Surveyed northing in the common frame."),
        _real("survey_height_m", "m", "Surveyed height of the ground in the common frame."),
        _real("product_easting_m", "m", "Easting of the target centre in the orthomosaic."),
        _real("product_northing_m", "m", "Northing of the target centre in the orthomosaic."),
        _real(
            "product_height_m",
            "m",
            "Height of the elevation raster at the surveyed place, or given with a mark.",
        ),
        *_RESIDUAL_PLAN,
        _real(
            "residual_up_m",
            "m",
            "Vertical residual, product minus survey: above zero the product is too high.",
        ),
        _HORIZONTAL_LENGTH,
        *_SURVEY_QUALITY,
        *INFLUENCE_COLUMNS,
        _real("sigma_survey_east_m", "m", "Standard deviation of the survey, east, 1 sigma."),
        _real("sigma_survey_north_m", "m", "Standard deviation of the survey, north, 1 sigma."),
        _real("sigma_survey_up_m", "m", "Standard deviation of the survey, up, 1 sigma."),
        _real(
            "sigma_product_east_m",
            "m",
            "Standard deviation of the measurement in the product, east, 1 sigma.",
        ),
        _real(
            "sigma_product_north_m",
            "m",
            "Standard deviation of the measurement in the product, north, 1 sigma.",
        ),
        _real(
            "sigma_product_up_m", "m", "Standard deviation of the measurement in the product, up, 1 sigma."
        ),
        *_HORIZONTAL_USE,
        _flag("vertical_used", "True where the point counts for vertical accuracy."),
        _text("vertical_reason", "Why it does not count for vertical accuracy; NULL where it does."),
        _TARGET_STATUS,
        _TARGET_KIND,
        *_TARGET_PLACE,
        _text("surface_status", "sampled, no data, outside, not sought or given."),
        _text("surface_reason", "Why there is no height; NULL where there is one."),
        _real("surface_slope_percent", "percent", "Steepest slope of the plane fitted around the point."),
        _real("surface_slope_deg", "deg", "The same slope as an angle."),
        _real("surface_roughness_m", "m", "Root mean square deviation of the cells from that plane."),
        _real("surface_relief_m", "m", "Largest deviation of a cell from that plane."),
        _real("surface_slope_effect_m", "m", "Rise of that plane over the horizontal residual."),
        _text("height_system", "Vertical CRS of the heights, “ellipsoidal” or “not stated”."),
        _real("epoch_year", "year", "Coordinate epoch of the common frame, decimal year."),
        _text("steps", "Operations that brought the point into the common frame, with what each changed."),
    ),
)

RESIDUAL_VECTORS = Table(
    "residual_vectors",
    "Residual vectors (exaggerated)",
    "LineString",
    "From the surveyed place to the place in the product, drawn larger than nature by the factor in "
    "the column exaggeration.",
    (
        _ID,
        *_RESIDUAL_PLAN,
        _HORIZONTAL_LENGTH,
        _real("azimuth_deg", "deg", "Direction of the vector, clockwise from grid north."),
        _EXAGGERATION,
        *_HORIZONTAL_USE,
    ),
)

ERROR_ELLIPSES = Table(
    "error_ellipses",
    "Error ellipses, 95 % (exaggerated)",
    "Polygon",
    "Ellipse around the head of each residual vector that holds the true one with 95 % probability, from the "
    "standard deviations of survey and target centre; drawn larger than nature as the vectors are.",
    (
        _ID,
        _real("probability", None, "Probability of the ellipse."),
        _real("semi_major_m", "m", "Semi-major axis, in nature."),
        _real("semi_minor_m", "m", "Semi-minor axis, in nature."),
        _real("azimuth_deg", "deg", "Direction of the major axis, clockwise from grid north, 0 to 180."),
        _text("basis", "What is in it: survey and target, target only, survey only."),
        _EXAGGERATION,
        *_HORIZONTAL_USE,
    ),
)

FOUND_TARGETS = Table(
    "found_targets",
    "Target centres",
    "Point",
    "Centres of the targets in the orthomosaic, found or marked.",
    (
        _ID,
        _TARGET_STATUS,
        _TARGET_KIND,
        _real("easting_m", "m", "Easting of the centre."),
        _real("northing_m", "m", "Northing of the centre."),
        *_TARGET_PLACE,
        *_HORIZONTAL_USE,
    ),
)

TESTED_AREA = Table(
    "tested_area",
    "Tested area",
    "Polygon",
    "Convex hull of the points that count, one for either direction; none for fewer than three points.",
    (
        _text("direction", "horizontal or vertical."),
        _count("point_count", "Number of points that count."),
        _real("area_m2", "m²", "Area of the hull."),
    ),
)

STATISTICS = Table(
    "statistics",
    "Statistics of the residuals",
    None,
    "Figures of the points that count, by group, and the three accuracy figures.",
    (
        _text("grouping", "used points, the name of a grouping (cover, session, role …), or accuracy."),
        _text("group_name", "The group; NULL where there is only one."),
        _text("component", "east, north, up, horizontal; or horizontal, vertical for accuracy."),
        _count("point_count", "Number of residuals."),
        _real("mean_m", "m", "Mean."),
        _real("std_m", "m", "Standard deviation about the mean, divided by n − 1."),
        _real("rmse_m", "m", "Root mean square error, divided by n, mean included."),
        _real("rmse_interval_low_m", "m", "Lower end of the two-sided 95 % interval of the RMSE."),
        _real("rmse_interval_high_m", "m", "Upper end of the two-sided 95 % interval of the RMSE."),
        _real("rmse_lower95_m", "m", "One-sided lower 95 % bound of the RMSE."),
        _real("rmse_upper95_m", "m", "One-sided upper 95 % bound of the RMSE."),
        _real("median_m", "m", "Median."),
        _real("nmad_m", "m", "Normalised median absolute deviation."),
        _real("max_abs_m", "m", "Largest absolute residual, or longest vector."),
        *SIZE_COLUMNS,
        _text("relative_to", "What an accuracy figure is relative to."),
    ),
)

JUDGEMENTS = Table(
    "judgements",
    "Judgements",
    None,
    "The limits of the requirement and the clauses of the standards, held against the residuals.",
    (
        _text("standard", "Id of the standard, or requirement."),
        _text("clause", "Clause of the standard."),
        _text("quantity", "What is judged."),
        _real("value", None, "The figure compared, in the unit of the column unit."),
        _text("unit", "Unit of value and limit."),
        _real("limit_value", None, "The limit, in the unit of the column unit."),
        _text(
            "verdict", "met, not met, not assessed; proved, not contradicted, failed, undecidable, not asked."
        ),
        _text("sentence", "The statement."),
        _count("point_count", "Number of points behind it."),
        _count("point_count_required", "Number of points that the standard asks for."),
        _text("caveats", "What limits the statement, joined by “; ”."),
    ),
)

FINDINGS = Table(
    "findings",
    "Findings",
    None,
    "Possible causes of what is systematic in the residuals.",
    (
        _text("diagnosis", "Id of the cause."),
        _text("verdict", "present, absent or cannot tell."),
        _count("rank", "1 for the likeliest."),
        _text("evidence", "What speaks for or against it."),
        _text("advice", "What to do next."),
        _text("quantities", "Estimated figures with standard deviation and unit, joined by “; ”."),
        _text("predicted_rmse", "RMSE in metres to expect after the cure, joined by “; ”."),
        _text("not_separable_from", "Causes that these points cannot tell from it, joined by “; ”."),
        _text("point_ids", "Points concerned, joined by “; ”."),
    ),
)

PROVENANCE = Table(
    "provenance",
    "Provenance",
    None,
    "What is needed to get the same numbers again.",
    (
        _text(
            "topic",
            "decision, trial, created, frame, input, grid, version, setting, assumption, message or caution.",
        ),
        _text("name", "Name of the entry."),
        _text("value", "Its value."),
        _text("sha256", "SHA-256 of a file; of a sample of it where the file is large."),
    ),
)

LAYERS = (CHECKPOINTS, RESIDUAL_VECTORS, ERROR_ELLIPSES, FOUND_TARGETS, TESTED_AREA, *EVIDENCE_LAYERS)
TABLES = (*LAYERS, STATISTICS, JUDGEMENTS, EVIDENCE, FINDINGS, PROVENANCE)
BY_NAME = {table.name: table for table in (*TABLES, SURVEY_POINTS)}
