"""An invented SINEX 2.02 file, by the columns of the format's description (IERS, 1 December 2006)."""

HEADER = "%=SNX 2.02 OWN 25:190:00000 OWN 25:182:54000 25:182:75600 P 00003 2 S"
POSITION_M = (-1639017.8123, -3669418.2047, 4937331.9561)
SIGMA_M = (0.0061, 0.0082, 0.0094)
COVARIANCE_M2 = (
    (3.72100e-05, 1.55062e-05, -1.26148e-05),
    (1.55062e-05, 6.72400e-05, -4.39356e-05),
    (-1.26148e-05, -4.39356e-05, 8.83600e-05),
)
# 2025, day 182, 64800 s: 181.75 of 365 days.
EPOCH_TEXT, EPOCH = "25:182:64800", 2025 + 181.75 / 365


def estimate(index, kind, value, sigma, *, key=("BASE", "A", "1"), epoch=EPOCH_TEXT, unit=None):
    """Return one line of SOLUTION/ESTIMATE."""
    code, point, solution = key
    unit = unit or ("m" if kind.startswith("STA") else "m/y")
    return (
        f" {index:5d} {kind:<6} {code:<4} {point:>2} {solution:>4} {epoch:<12} {unit:<4} 2 "
        f"{value: 21.14E} {sigma:11.5E}"
    )


def estimates(values=POSITION_M, sigmas=SIGMA_M, start=1, kinds=("STAX", "STAY", "STAZ"), **more):
    """Return the three lines of a position or a velocity."""
    return [
        estimate(start + place, kind, value, sigma, **more)
        for place, (kind, value, sigma) in enumerate(zip(kinds, values, sigmas, strict=True))
    ]


def element(row, column, *values):
    """Return one line of a matrix."""
    return f" {row:5d} {column:5d} " + " ".join(f"{value: 21.14E}" for value in values)


def lower(matrix):
    """Return the lines of a lower triangle, three elements at the most in each."""
    return [
        element(row, column, *values[column - 1 : min(column + 2, row)])
        for row, values in enumerate(matrix, start=1)
        for column in range(1, row + 1, 3)
    ]


def upper(matrix):
    """Return the lines of an upper triangle."""
    return [
        element(row, column, *values[column - 1 : column + 2])
        for row, values in enumerate(matrix, start=1)
        for column in range(row, len(values) + 1, 3)
    ]


def block(title, lines):
    """Return a block with its frame and a remark."""
    return [f"+{title}", "*a remark in between", *lines, f"-{title}"]


def sinex(
    lines=None, matrix=None, title="SOLUTION/MATRIX_ESTIMATE L COVA", header=HEADER, frame="ITRF2020", up=1.8
):
    """Return the text of a file."""
    blocks = [header]
    if frame is not None:
        blocks += block("FILE/REFERENCE", [f" {'REFERENCE FRAME':<18} {frame:<60}"])
    blocks += block(
        "SITE/ID",
        [" BASE  A --------- P INVENTED BASE POINT    245 55 41.2  51  2 40.9  1048.4"],
    )
    if up is not None:
        line = f" BASE  A    1 P 25:182:54000 25:182:75600 UNE {up:8.4f} {0.0:8.4f} {0.0:8.4f}"
        blocks += block("SITE/ECCENTRICITY", [line])
    blocks += block("SOLUTION/ESTIMATE", estimates() if lines is None else lines)
    if matrix != []:
        blocks += block(title, lower(COVARIANCE_M2) if matrix is None else matrix)
    return "\n".join([*blocks, "%ENDSNX", ""])
